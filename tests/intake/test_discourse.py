"""What a message is about, over sentences: where it leaves the machine to mend, and where it comes back.

The sentences are invented for this test.
"""

import pytest

from intake import read_complaint
from intake.discourse import MARKERS, is_discourse
from knowledge import shipped_base


def told(message):
    """What is found in a message, as "id=state"."""
    return {f"{found.id}={found.state}" for found in read_complaint(message, shipped_base()).told}


@pytest.mark.parametrize(
    "message",
    [
        "I only want to say thank you. You had my tower in April and the fans only twitched.",
        "Do you take donations? One of them beeps, another has bulging capacitors.",
        "We are clearing out the attic. One machine beeps, another smells burnt. Could you use them?",
        "Does anyone have a spare fan? His does not turn any more and it smells of burning.",
        "What would you buy? The cheap ones overheat and crash in a game.",
        "I hold a course for beginners. Have you a drive that clicks?",
        "My computer would not start and there was no picture. Please forget it, the strip was off.",
        "Panic over. It smelt of burning, the neighbours had a barbecue.",
        "I read in a magazine that a battery swells. It then gets hot to the touch.",
    ],
)
def test_a_purpose_carries_over_what_follows(message):
    """Nothing of it is said of the machine to mend."""
    assert told(message) == set()


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        ("Do you take donations? The old one beeps. By the way my own computer freezes.", "freezes=present"),
        ("What would you buy? The cheap ones overheat. Mine smells of burning.", "burning-smell=present"),
        ("I hold a course and have a drive that clicks. My computer freezes.", "freezes=present"),
        ("You fixed my tower, it used to crash in games. Since Monday it freezes.", "freezes=present"),
        ("Just a line to say thanks. It has been perfect since, it never freezes.", "freezes=absent"),
        # once the machine is spoken of, a purpose tells of its own sentence only
        (
            "My computer freezes. What would you buy? It smells of burning as well.",
            "freezes=present burning-smell=present",
        ),
        # near misses: no purpose at all
        ("Thank you for your time. It freezes.", "freezes=present"),
        ("Are you open on Saturday? It smells of burning.", "burning-smell=present"),
        ("Should I bring it? It freezes.", "freezes=present"),
    ],
)
def test_the_writer_comes_back_to_the_machine(message, expected):
    """By naming it, by a word that turns back, or after what is settled by a word of time."""
    assert told(message) == set(expected.split())


def test_a_smell_from_mine_is_of_mine():
    """The words before the preposition tell of the own machine as well."""
    assert told("My friend's computer froze, and there is a burning smell from mine.") == {"burning-smell=present"}


def test_only_the_cues_of_discourse_are_kept_from_the_clause():
    """Every marker, and every cue of reach `onward`."""
    cues = shipped_base().cues
    assert {cue.category for cue in cues if is_discourse(cue) and cue.reach != "onward"} == MARKERS


def test_what_might_of_happened_is_hedged():
    """As "might have" is."""
    (found,) = read_complaint("I might of knocked it over.", shipped_base()).told
    assert (found.id, found.certainty) == ("dropped", "hedged")


@pytest.mark.parametrize(
    ("message", "certainty"), [("The fans go for maybe two seconds.", "stated"), ("Maybe the fans go.", "hedged")]
)
def test_a_doubt_of_the_number_is_none_of_the_sign(message, certainty):
    """How long is what is not sure, not whether."""
    told = read_complaint(message, shipped_base()).told
    assert {found.certainty for found in told if found.id == "fans-spin"} == {certainty}
