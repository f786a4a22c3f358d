"""Sentence tables: what a sentence says, and beside it the near sentence that must read differently.

A sign before the finding: "+" present, "-" absent, "?" hedged (then "?+" or "?-").
"""

import pytest

from intake import read_complaint
from tests.intake.small import BASE

pytestmark = pytest.mark.usefixtures("wordings_alone")


def told(message):
    """The findings of a message as a set of signed ids."""
    return {
        ("?" if f.certainty == "hedged" else "") + ("+" if f.state == "present" else "-") + f.id
        for f in read_complaint(message, BASE).told
    }


# NegEx: pre-negation, post-negation, pseudo-negation, termination, lists (Chapman et al. 2001, J Biomed Inform 34:301,
# and the method's public trigger list). Each row is a published behaviour put into words of this trade.
NEGEX = [
    ("No picture but fans spin.", "-picture +fans-spin"),
    ("A picture but no fans spin.", "+picture -fans-spin"),
    ("No lights, fans or beeps.", "-power-light -fans-spin -beeps"),
    ("Lights come on, no fans or beeps.", "+power-light -fans-spin -beeps"),
    ("Fans spin without any beeps.", "+fans-spin -beeps"),
    ("Fans do not spin, it beeps.", "-fans-spin +beeps"),
    ("It doesnt beep.", "-beeps"),
    ("It does beep.", "+beeps"),
    ("Not only smoke but also a burning smell.", "+smoke +burning-smell"),
    ("Not smoke but a burning smell.", "-smoke +burning-smell"),
    ("There is no change in the smoke.", "+smoke"),
    ("There is no smoke.", "-smoke"),
    ("Fans are fine, no smoke.", "+fans-spin -smoke"),
    ("No fans spinning, lights on.", "-fans-spin +power-light"),
    ("No fans spinning, no lights on.", "-fans-spin -power-light"),
    ("Fans are not spinning and the display is black.", "-fans-spin -picture"),
    ("Fans are spinning and the display is not black.", "+fans-spin +picture"),
    ("I can not rule out smoke.", "?+smoke"),
    ("I can not see smoke.", "-smoke"),
    ("There is no doubt that smoke came out.", "+smoke"),
    ("Without the gpu there is a picture.", "+picture"),
    ("Even without the beeps there is no picture.", "-beeps -picture"),
    ("Smoke: no", "-smoke"),
    ("Smoke: yes", "+smoke"),
    ("smell? none", "-burning-smell"),
    ("smell? yes", "+burning-smell"),
    ("Smoke: no / smell? none", "-smoke -burning-smell"),
    ("The light is absent.", "-power-light"),
    ("The light is on.", "+power-light"),
]

# ConText: historical, hypothetical, experiencer, hedged (Harkema et al. 2009, J Biomed Inform 42:839), with the
# triggers that this trade needs and that the clinical lists lack.
CONTEXT = [
    ("History of crashes.", ""),
    ("It crashes.", "+crashes-under-load"),
    ("If there is smoke, unplug it.", ""),
    ("There is smoke, I unplugged it.", "+smoke"),
    ("My brother had smoke.", ""),
    ("We had smoke.", "+smoke"),
    ("Possible smoke.", "?+smoke"),
    ("It used to crash.", ""),
    ("It crashes now.", "+crashes-under-load"),
    ("Could it be smoke?", ""),
    ("Previous crash last year.", ""),
    ("My other pc beeps, this one has no picture.", "-picture"),
    ("I thought it was smoke.", ""),
    ("It used to beep but now the fans do not spin.", "-fans-spin"),
    ("Last year there was smoke. Now the fans do not spin.", "-fans-spin"),
    ("Maybe the fans spin.", "?+fans-spin"),
    ("Is it smoke?", ""),
    ("is it the smoke or does it beep", ""),
    ("It beeps, right?", "+beeps"),
    ("It beeps, is it the supply?", "+beeps"),
    ("Why does it beep?", "+beeps"),
    ("Does it matter that the fans spin? The screen is black.", "-picture"),
]

NEGATION_FORMS = [
    ("not a single beep", "-beeps"),
    ("a single beep", "+beeps"),
    ("no fans or lights", "-fans-spin -power-light"),
    ("without any beep", "-beeps"),
    ("fans don't spin", "-fans-spin"),
    ("fans don’t even spin", "-fans-spin"),
    ("fans donâ€™t spin", "-fans-spin"),
    ("fans dont spin", "-fans-spin"),
    ("FANS DONT SPIN", "-fans-spin"),
    ("fans wont spin", "-fans-spin"),
    ("fans cannot spin", "-fans-spin"),
    ("fans do spin", "+fans-spin"),
    ("nothing lights up", "+power-light"),  # the pattern names the word: its polarity is built in
    ("neither fans nor lights", "-fans-spin -power-light"),
    ("no fans, lights or beeps", "-fans-spin -power-light -beeps"),
    ("no fans, lights, beeps", "-fans-spin -power-light -beeps"),
    ("no fans, no lights and no beeps", "-fans-spin -power-light -beeps"),
    ("it don't beep no more, no lights", "-beeps -power-light"),
    ("it never beeps nothing", "-beeps"),
    ("it is never without smoke", "+smoke"),
    ("it does not beep or crash", "-beeps -crashes-under-load"),
    ("it does not beep and it crashes", "-beeps +crashes-under-load"),
    ("can't hear the fans", "-fans-spin"),
    ("the fan is mine", ""),
    ("it does not work with the new fans", ""),
    ("any beeps? no. smoke: yes", "-beeps +smoke"),
    ("no beeps and the fans spin", "-beeps +fans-spin"),
    ("no beeps and fans spin", "-beeps +fans-spin"),
    ("no beeps\nfans spin", "-beeps +fans-spin"),
    ("no beeps - fans spin", "-beeps +fans-spin"),
    ("no beeps; fans spin", "-beeps +fans-spin"),
    ("no beeps though fans spin", "-beeps +fans-spin"),
    ("it wont beep i see smoke", "-beeps +smoke"),
    ("no fan noise", "-fan-noise"),
    ("a fan noise", "+fan-noise"),
    ("screen not dark", "+picture"),
]

CORRECTIONS = [
    ("No lights… well, the light on the board is on.", "+power-light"),
    ("The light is on. No wait, no lights.", "-power-light"),
    ("There was smoke. There is no smoke now.", "+smoke"),  # a danger sign once stated stays
]

BARE = [
    ("It won't turn on.", "+wont-start"),
    ("It won't turn on, no fans, no lights.", "+dead -fans-spin -power-light"),
    ("It won't turn on, no fans.", "+wont-start -fans-spin"),
    ("It won't turn on but the lights come on.", "+power-light"),
    ("It won't turn on, nothing happens.", "+dead"),
]

SPELLING = [
    ("the fasn dont spin", "-fans-spin"),
    ("the fna does not spin", ""),  # three letters stay as they are: most abbreviations of the trade have three
    ("the moniter is black", "-picture"),
    ("the mointor is blakc", "-picture"),
    ("nothign happens", "+dead"),
    ("burnign smell", "+burning-smell"),
    ("a burning smel", "+burning-smell"),
    ("smoek came out", "+smoke"),
    ("he spoke to me", ""),
    ("the powersupply: tried another powersupply", "+supply-swapped"),
    ("tried another power-supply", "+supply-swapped"),
    ("replaced the mother board", "+part-replaced"),
    ("smooooke", "+smoke"),
    ("3beeps", "+beeps"),
]


@pytest.mark.parametrize(
    ("message", "expected"),
    [*NEGEX, *CONTEXT, *NEGATION_FORMS, *CORRECTIONS, *BARE, *SPELLING],
    ids=lambda value: value,
)
def test_a_sentence_says_what_it_says(message, expected):
    """Every row of the tables."""
    assert told(message) == set(expected.split())


@pytest.mark.parametrize(
    ("message", "finding", "detail"),
    [
        ("Swapped the lead, no change.", "lead-swapped", "no change"),
        ("Swapped the lead. Same result.", "lead-swapped", "no change"),
        ("Swapped the lead.", "lead-swapped", None),
        ("No difference with the swapped lead; swapped lead again", "lead-swapped", "no change"),
        ("Tried another supply and now it boots.", "supply-swapped", "cured"),
        ("Tried another supply, nothing", "supply-swapped", "no change"),
        ("I replaced the graphics card", "part-replaced", "graphics"),
        ("I replaced the memory stick", "part-replaced", "memory"),
    ],
)
def test_a_trial_carries_its_outcome_and_an_event_its_part(message, finding, detail):
    """After it, before it, in the next sentence."""
    assert {f.id: f.detail for f in read_complaint(message, BASE).told} == {finding: detail}


def test_two_trials_with_their_own_outcomes():
    """Each outcome goes to the trial before it."""
    reading = read_complaint("Tried another socket, no change. Tried another supply and that fixed it.", BASE)
    assert {f.id: f.detail for f in reading.told} == {"other-outlet-tried": "no change", "supply-swapped": "cured"}


def test_a_trial_told_of_last_year_is_still_a_trial():
    """Trials and events are told of the past by nature."""
    assert told("Last year I replaced the memory.") == {"+part-replaced"}


def test_a_contradiction_is_kept_to_be_asked():
    """The later statement wins, and the id is listed."""
    assert read_complaint("No lights… well, the light on the board is on.", BASE).contradictions == ("power-light",)
    assert read_complaint("The light is on and the screen is black.", BASE).contradictions == ()


def test_the_edge_quotes_the_modifier():
    """Harkema et al. 2009 keep the modifier with its target."""
    message = "So far there were no beeps."
    (edge,) = read_complaint(message, BASE).edges
    assert (edge.category, edge.modifier, edge.finding) == ("negated", "no", "beeps")
    assert message[edge.modifier_start : edge.modifier_end] == "no"
    assert message[edge.start : edge.end] == "beeps"
