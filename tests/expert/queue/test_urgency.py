"""The order of urgency, on triage documents made by hand."""

import pytest

from expert.document import CauseItem, FindingItem, HazardItem, MessageSize, StageItem, TriageDocument
from expert.queue.urgency import urgency_of
from knowledge import shipped_base
from knowledge.models import Cause, KnowledgeBase

BASE = shipped_base()


def _document(hazards: list[str] = [], causes: dict[str, float] | None = None) -> TriageDocument:  # noqa: B006
    levels = {hazard.id: hazard.level for hazard in BASE.hazards}
    told = FindingItem(id="dead", state="present", quote="dead", start=0, end=4, certainty="stated", detail=None)
    return TriageDocument(
        schema="ohmbudsman.triage/1",
        message=MessageSize(characters=4, sentences=1, redactions=0),
        findings=[told] if causes else [],
        build=[],
        stage=StageItem(reached=None, fails_at=None),
        hazards=[HazardItem(id=h, level=levels[h], advice="-", rules=["r"]) for h in hazards],
        causes=[
            CauseItem(id=c, title=c, part="psu", probability=p, status="open", rules_for=[], rules_against=[])
            for c, p in (causes or {"psu-failed": 1.0}).items()
        ],
        checks=[],
        questions=[],
        trace=[],
    )


@pytest.fixture(scope="module")
def priced() -> KnowledgeBase:
    """Four causes with the minutes of the worked example."""
    known = BASE.causes[0]
    minutes = {"a": 8, "b": 4, "c": 5, "d": 1}
    causes = tuple(Cause.model_validate({**known.model_dump(), "id": i, "minutes": m}) for i, m in minutes.items())
    return BASE.model_copy(update={"causes": causes})


def test_minutes_are_those_of_the_best_order_of_remedies(priced):
    """Kadane & Simon 1977, by hand: p .4 .3 .2 .1 at 8 4 5 1 minutes; by p/c: d, b, a, c.

    1 + .9 * 4 + .6 * 8 + .2 * 5 = 10.4. The probabilities .1 (d) and .3 / 4 (b) come before .4 / 8 (a) and .2 / 5 (c).
    """
    assert urgency_of(_document(causes={"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}), priced).minutes == 10


def test_danger_comes_before_data_and_data_before_what_is_quick(priced):
    """Each step of the order decides before the next one is looked at."""
    quick, slow = {"d": 1.0}, {"a": 1.0}
    expected = [
        _document(["fire"], slow),
        _document(["mains-fault"]),
        _document(["data-loss", "overheating"], slow),
        _document(["overheating"], quick),
        _document(["coin-cell-ingestion"], slow),
        _document(["data-loss"], quick),
        _document(["data-loss"], slow),
        _document([], quick),
        _document([], slow),
        _document([]),
    ]
    keys = [urgency_of(document, priced).key() for document in expected]
    assert keys == sorted(keys)
    assert len(set(keys)) == len(keys)


def test_a_hazard_to_data_is_no_danger_to_people():
    """It has a column of its own."""
    urgency = urgency_of(_document(["data-loss"]), BASE)
    assert (urgency.level, urgency.hazard, urgency.data_at_risk) == (None, "", True)


def test_where_nothing_was_understood_no_cause_is_named():
    """The priors alone say nothing about this machine."""
    urgency = urgency_of(_document(), BASE)
    assert (urgency.cause, urgency.minutes) == ("", None)
