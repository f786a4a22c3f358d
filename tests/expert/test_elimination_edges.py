"""Elimination at its edges: a part of several causes, what proves a part apart from the machine, frozen results."""

from dataclasses import FrozenInstanceError

import pytest

from expert.belief import believe
from expert.elimination import eliminate
from expert.engine import Engine
from tests.expert.samples import claims, rule
from tests.expert.test_elimination import BASE, after


def test_one_of_its_causes_is_enough_to_make_a_suspect_of_a_part():
    """The supply found bad twice leaves the memory below 1 %; a hint at the module alone, and none at its slot."""
    hinted = BASE.model_copy(update={"rules": (rule("hinted", "hint", "support:ram:slight"),)})
    firings = Engine(hinted).run(claims("meter-psu/bad, bench-psu/bad, hint"))
    status = {each.part: each for each in eliminate(hinted, believe(firings, hinted), firings).parts}
    assert status["ram"].probability < 0.05
    assert (status["ram"].status, status["gpu"].status) == ("suspect", "untested")


def test_a_part_proven_elsewhere_is_no_witness_that_another_must_be_bad():
    """By hand, after Reiter (1987): the memory is good on its own account, and so in no set of bad parts; that says
    nothing of the rest, of which any one alone explains what is seen.
    """
    explanations = after("bench-ram/good").explanations
    assert set(explanations) == {frozenset({part}) for part in ("psu", "board", "gpu")}


def test_what_was_concluded_cannot_be_changed():
    """A status is handed from one to the next; none of them may write in it."""
    found = after("bench-ram/good")
    with pytest.raises(FrozenInstanceError):
        found.explanations = ()
    with pytest.raises(FrozenInstanceError):
        found.parts[0].status = "cleared"
