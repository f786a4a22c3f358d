"""Somebody else's machine: where the stretch that tells of it begins and ends; sentences invented for this test."""

import pytest

from intake.read import reader
from intake.strangers import strangers
from knowledge import shipped_base

MACHINES = frozenset(["comput", "pc", "machin", "laptop"])
PEOPLE = frozenset(["neighbour", "friend", "colleagu"])
KIN = frozenset(["son", "wife"])


def stretches(message):
    """What `strangers` yields, as the words of the message."""
    doc = reader(shipped_base()).make_doc(message)
    doc = reader(shipped_base()).get_pipe("clauses")(doc)
    return [doc[start:last].text for start, _, last in strangers(doc, MACHINES, PEOPLE, KIN)]


@pytest.mark.parametrize(
    ("message", "told"),
    [
        ("My neighbour's computer smoked, mine beeps.", ["neighbour 's computer smoked ,"]),
        ("My friend has a computer that beeps. Mine is dead.", ["friend has a computer that beeps ."]),
        ("A colleague's pc froze. It also smoked. My pc is fine.", ["colleague 's pc froze . it also smoked ."]),
        ("Mine is dead. The neighbour's pc is well.", ["neighbour 's pc is well ."]),
        ("My pc beeps. Anna's pc does not.", ["anna 's pc does not ."]),
        (
            "My neighbour has his computer on all day, my computer is dead.",
            ["his computer on all day , my"],
        ),
        ("I have my own machine. My friend's machine is loud.", ["friend 's machine is loud ."]),
        (
            "The neighbour's laptop went. There was smoke. Ours is well.",
            ["neighbour 's laptop went . there was smoke ."],
        ),
        # near misses
        ("My neighbour's computer smoked.", []),  # the only one spoken of: it is the one to mend
        ("My son's computer smoked, mine is well.", []),  # kin write for each other
        ("My computer smoked, my friend says.", []),
        ("My neighbour came to look at my computer.", []),
    ],
)
def test_a_stretch_runs_from_the_owner_to_the_own_machine(message, told):
    """Only where an own machine is named as well."""
    assert stretches(message) == told
