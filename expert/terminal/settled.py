"""Whether a danger has been answered: what was said about it holds until something else is told that raises it."""

from collections.abc import Sequence

from expert.assess import Assessment, RaisedHazard, claims_of_case
from expert.case import Entry, NoteEntry, WithdrawEntry, effective, fold
from knowledge.models import KnowledgeBase


def is_settled(raised: RaisedHazard, log: Sequence[Entry], assessment: Assessment, base: KnowledgeBase) -> bool:
    """Tell whether it was said what was done about a danger, and nothing has brought it up again since.

    It is brought up by a fact that it rests on, and by a word against what would lift it: not repaired after all.
    """
    done = effective(log)
    accounts = [n for n, e in enumerate(done) if isinstance(e, NoteEntry) and e.hazard == raised.hazard.id]
    if not accounts:
        return False
    since = done[accounts[-1] + 1 :]
    told = claims_of_case(fold(since))
    rests_on = (firing.stated for firing in assessment.firings if firing.rule in raised.rules)
    return not any(facts & told for facts in rests_on) and not _unlifted(raised.hazard.id, since, log, base)


def _unlifted(hazard: str, since: Sequence[Entry], log: Sequence[Entry], base: KnowledgeBase) -> bool:
    withdrawn = {entry.finding for entry in since if isinstance(entry, WithdrawEntry)}
    touched = withdrawn | {told.id for told in fold(since).findings}
    held = {(told.id, told.state) for told in fold(log).findings}
    lifts = (rule for rule in base.rules if any(gives.lift == hazard for gives in rule.gives))
    return any(c.finding in touched and (c.finding, c.state) not in held for rule in lifts for c in rule.when)
