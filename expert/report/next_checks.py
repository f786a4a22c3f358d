"""The next checks in the order in which they are made: what a danger puts first stands before what tells most."""

from expert.assess import Assessment, restrictions
from expert.decide import Decision
from expert.outlook import Outlook
from expert.planner import CheckPlan, locked_by, plan_check
from knowledge.models import KnowledgeBase


def due_check(decision: Decision) -> str:
    """Give the id of the check that the decision puts before all others; empty where it puts none."""
    return next((hazard.first for hazard in decision.hazards if hazard.first), "") if decision.kind == "first" else ""


def next_checks(base: KnowledgeBase, assessment: Assessment, decision: Decision) -> tuple[CheckPlan, ...]:
    """Give the checks as ranked, but the one that is decided on at their head.

    That is the due one even if what it needs is not on hand yet.
    """
    due = due_check(decision)
    head = next((plan for plan in assessment.checks if plan.title == decision.check), None)
    if head is None and not due:
        return assessment.checks
    head = head or _planned(base, assessment, due)
    return (head, *(plan for plan in assessment.checks if plan.id != head.id))


def _planned(base: KnowledgeBase, assessment: Assessment, name: str) -> CheckPlan:
    record = next(check for check in base.checks if check.id == name)
    lock = locked_by(record, base, *restrictions(assessment.hazards, assessment.firings))
    held = assessment.claims | assessment.belief.roots.keys()
    return plan_check(record, Outlook(base, assessment.belief, held), lock)
