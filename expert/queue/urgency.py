"""How urgent a complaint is: danger first, then data at risk, then what is quick to mend.

"Quick" are the expected minutes of trying the remedies in their best order (`repair_cost`, after Kadane & Simon 1977).
"""

from collections.abc import Sequence
from typing import NamedTuple

from expert.assess import LEVELS
from expert.document import CauseItem, TriageDocument
from expert.repair_cost import repair_plan
from knowledge.models import KnowledgeBase


class Urgency(NamedTuple):
    """What the table shows of a complaint; `minutes` is None where nothing was understood that names a cause."""

    level: str | None
    hazard: str
    data_at_risk: bool
    minutes: int | None
    cause: str
    percent: int

    def key(self) -> tuple[int, bool, bool, int]:
        """Give what to sort by, the most urgent first; what was not understood comes last among its equals."""
        danger = LEVELS.index(self.level) if self.level else len(LEVELS)
        return danger, not self.data_at_risk, self.minutes is None, self.minutes or 0


def urgency_of(document: TriageDocument, base: KnowledgeBase) -> Urgency:
    """Weigh one triage."""
    raised = {hazard.id: hazard.level for hazard in document.hazards}
    # A hazard that locks what erases data is one to data: it is no danger to people.
    data = {hazard.id for hazard in base.hazards if "erase-data" in hazard.locks}
    dangers = [hazard for hazard in base.hazards if hazard.id in raised and hazard.id not in data]
    worst = min(dangers, key=lambda hazard: LEVELS.index(hazard.level), default=None)
    candidates = [cause for cause in document.causes if cause.status != "excluded"] if document.findings else []
    return Urgency(
        level=worst.level if worst else None,
        hazard=worst.title if worst else "",
        data_at_risk=any(hazard in data for hazard in raised),
        minutes=_minutes(candidates, base) if candidates else None,
        cause=candidates[0].title if candidates else "",
        percent=round(100 * candidates[0].probability) if candidates else 0,
    )


def _minutes(candidates: Sequence[CauseItem], base: KnowledgeBase) -> int:
    minutes = {cause.id: cause.minutes for cause in base.causes}
    expected, _ = repair_plan([c.probability for c in candidates], [minutes[c.id] for c in candidates])
    return round(expected)
