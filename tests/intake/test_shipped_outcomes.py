"""How the shipped base reads the end of a trial; the sentences are invented and the readings ours, no source."""

import pytest

from intake import read_complaint
from knowledge import shipped_base


@pytest.mark.parametrize(
    ("message", "trial", "outcome"),
    [
        ("A different mains lead made no difference.", "lead-swapped", "no change"),
        ("I removed and reinserted the memory modules, nothing.", "memory-reseated", "no change"),
        ("I replaced the ram, still crashing.", "memory-swapped", "no change"),
        ("XMP disabled, same crashes.", "stock-tried", "no change"),
        ("With a different psu it boots.", "supply-swapped", "cured"),
        ("With his supply it works for ten minutes, then it dies.", "supply-swapped", "for a while"),
        ("With his supply it ran all weekend. Then it froze again on the Tuesday.", "supply-swapped", "for a while"),
        ("I swapped the power supply. It has not fixed it.", "supply-swapped", "no change"),
        ("With his supply in it started. Put mine back and it's dead again.", "supply-swapped", "cured"),
        ("I reseated the memory. It starts now, but it still freezes.", "memory-reseated", None),
        ("It freezes in games. I reseated the memory. It freezes within minutes.", "memory-reseated", "no change"),
        ("I reseated the memory. I cleared the CMOS. Neither helped.", "memory-reseated", "no change"),
        ("It was dead, so I swapped the mains lead.", "lead-swapped", None),
        ("I swapped the kettle lead. Nothing was ever spilled on it.", "lead-swapped", None),
        ("Unplugged it, held the button for thirty seconds, no change.", "power-drained", "no change"),
    ],
)
def test_a_trial_has_its_outcome(message, trial, outcome):
    """Told in the trial's own words, at its end, or for a while only; what is told beside it is none."""
    details = {found.id: found.detail for found in read_complaint(message, shipped_base()).told}
    assert trial in details
    assert details[trial] == outcome


@pytest.mark.parametrize(
    ("message", "part"),
    [
        ("I put a new card in last week, it wants two plugs.", "graphics"),
        ("I put a new wifi card in last week.", "cards"),
        ("I added a pcie card last week.", "cards"),
    ],
)
def test_a_card_of_no_named_kind_is_the_one_for_graphics(message, part):
    """Common practice, no source: it is what owners of desktops call the card."""
    assert [found.detail for found in read_complaint(message, shipped_base()).told if found.id == "part-added"] == [
        part
    ]


def test_the_sign_that_ends_a_trial_counts_beside_it():
    """The trial has all the words of the sign, and both are told."""
    found = {item.id for item in read_complaint("Tried another outlet, still dead.", shipped_base()).told}
    assert {"other-outlet-tried", "dead"} <= found


def test_what_is_said_of_a_danger_is_no_outcome_of_the_trial_before():
    """A smell that is gone has not mended the machine; "nothing" after a colon is the outcome."""
    text = "I tried a different socket: nothing. It smelled of burnt plastic but that's gone now. I tried another lead."
    found = {finding.id: finding.detail for finding in read_complaint(text, shipped_base()).told}
    assert found["other-outlet-tried"] == "no change"
    gone = read_complaint("I tried another lead. There was a smell, but it is gone now.", shipped_base())
    assert {finding.id: finding.detail for finding in gone.told}["lead-swapped"] is None


@pytest.mark.parametrize(
    ("message", "states"),
    [
        ("No picture. I tried his card and got a picture straight away.", ["absent"]),
        ("I took the card out altogether and it's got a picture.", []),
        ("There is a picture. I tried his card.", ["present"]),
        ("I tried his card, no picture.", ["absent"]),
    ],
)
def test_a_picture_that_came_with_a_trial_is_its_outcome(message, states):
    """What the machine shows by itself stands; what it still does not show is told of it as well."""
    found = read_complaint(message, shipped_base()).told
    assert [finding.state for finding in found if finding.id == "picture"] == states


@pytest.mark.parametrize(
    "message",
    [
        "If I take the plug out for a while and put it back it goes.",
        "It only comes on after I leave it unplugged overnight.",
    ],
)
def test_a_time_unplugged_is_no_drain(message):
    """Nobody held the button; that it starts afterwards is a sign of its own."""
    found = {each.id for each in read_complaint(message, shipped_base()).findings}
    assert "starts-after-unplugged" in found
    assert "power-drained" not in found
