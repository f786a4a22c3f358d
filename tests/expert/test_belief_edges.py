"""The belief at its edges: what no complaint lists, what is excluded altogether, what may not be changed."""

from dataclasses import FrozenInstanceError

import pytest

from expert.belief import Belief, posterior, priors_of, rank
from expert.evidence import Evidence
from knowledge import shipped_base
from knowledge.models import Cause, Complaint, KnowledgeBase

SHIPPED = shipped_base()


def _base(count: int) -> KnowledgeBase:
    names = [f"cause-{number}" for number in range(count)]
    return KnowledgeBase(causes=tuple(Cause.model_construct(id=name, title=name, part="board") for name in names))


def test_what_a_complaint_does_not_list_is_rarer_than_anything_that_it_lists():
    """For every complaint of the shipped base; else the list would say nothing."""
    unlisted = 0
    for complaint in SHIPPED.complaints:
        priors = priors_of(SHIPPED, {complaint.id})
        listed = min(priors[cause] for cause in complaint.priors)
        others = [prior for cause, prior in priors.items() if cause not in complaint.priors]
        assert all(0 < prior < listed for prior in others)
        unlisted += len(others)
    assert unlisted


def test_the_floor_is_one_in_a_thousand():
    """By hand: 0.5 is listed for the one cause, 0.001 taken for the other; 0.001 / 0.501 = 1 / 501."""
    dead = Complaint.model_construct(id="dead", share=1.0, priors={"cause-0": (0.5, "C")})
    base = _base(2).model_copy(update={"complaints": (dead,)})
    assert priors_of(base, {"dead"}) == pytest.approx({"cause-0": 500 / 501, "cause-1": 1 / 501})


def test_where_all_is_excluded_what_is_left_still_sums_to_one():
    """By hand: 25 causes alike, each excluded as firmly; there is nothing to scale to, and each keeps a 25th."""
    base = _base(25)
    priors = {cause.id: 0.04 for cause in base.causes}
    evidence = [Evidence(cause.id, -3.0, frozenset(), f"r-{cause.id}", "exclude") for cause in base.causes]
    ranked = rank(base, priors, evidence)
    assert {cause.status for cause in ranked} == {"excluded"}
    assert [cause.probability for cause in ranked] == pytest.approx([1 / 25] * 25)


def test_what_was_concluded_cannot_be_changed():
    """A belief is handed from one to the next; none of them may write in it."""
    base = _base(1)
    priors = {"cause-0": 1.0}
    ranked = rank(base, priors, [])
    belief = Belief(ranked, priors, posterior(priors, []), (), {})
    with pytest.raises(FrozenInstanceError):
        ranked[0].probability = 0.5
    with pytest.raises(FrozenInstanceError):
        belief.causes = ()
