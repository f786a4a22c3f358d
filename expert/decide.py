"""The decision: the one thing that comes next, computed once and then worded by the plan, the report and the letter.

assessment, plan, contradictions ──▶ decision; a plan that has to wait replaces nothing until then (`fitting`).
Danger comes before everything, what is at an end before what is begun, the data before the machine.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from expert.assess import Assessment
from expert.case import Case
from expert.contradiction import Contradiction
from expert.repair import Plan, Step
from knowledge.fit_models import Verification
from knowledge.models import Hazard, KnowledgeBase, Outcome

Kind = Literal["make-safe", "closed", "mended", "first", "settle", "replace", "check", "ask"]
TELLING = 0.02  # bits; a check that tells less does not move the ranking by a whole percentage, or hardly
WAITS: dict[Kind, str] = {"make-safe": "Decided once it is safe", "first": "Decided once the data is safe"}


@dataclass(frozen=True)
class Decision:
    """What comes next, of one `kind`, and what it rests on.

    make-safe: `hazards` of level stop stand; closed: the case is; mended: the last check cured it, and `mended` says
    how (also of a closed case); first: `check` comes before all else, because of `hazards`; settle: `settle` says what;
    replace: as the plan says; check: `check` is the next one; ask: nothing is open but the questions.
    """

    kind: Kind
    hazards: tuple[Hazard, ...] = ()
    check: str = ""
    mended: str = ""
    settle: tuple[Contradiction, ...] = ()

    @property
    def is_over(self) -> bool:
        """Whether no more is looked for: what is left is to see that all of it works."""
        return self.kind in ("closed", "mended")


def decide(
    base: KnowledgeBase, case: Case, assessment: Assessment, plan: Plan, settle: Sequence[Contradiction]
) -> Decision:
    """Give the decision; equal cases give equal decisions."""
    hazards = [raised.hazard for raised in assessment.hazards]
    cure = cure_of(base, case)
    mended = cure.mended if cure else ""
    if stops := tuple(hazard for hazard in hazards if hazard.level == "stop"):
        return Decision("make-safe", stops)
    if case.closed:
        return Decision("closed", mended=mended)
    if mended:
        return Decision("mended", mended=mended)
    done = {entry.check for entry in case.outcomes}
    if due := next((hazard for hazard in hazards if hazard.first and hazard.first not in done), None):
        return Decision("first", (due,), check=next(c.title for c in base.checks if c.id == due.first))
    if settle:
        return Decision("settle", settle=tuple(settle))
    if plan.decided:
        return Decision("replace")
    check = _next_check(base, assessment)
    return Decision("check", check=check) if check else Decision("ask")


def _next_check(base: KnowledgeBase, assessment: Assessment) -> str:
    """Give the title of the check that tells most; once none tells anything to speak of, of one that settles the part.

    A part with nearly all of the belief on it is not replaced untried while a check can clear or convict it, and what
    that check tells is little by then, since it is expected.
    """
    free = [step for step in assessment.checks if step.locked_by is None and step.bits > 0.0]
    if not free or free[0].bits >= TELLING:
        return free[0].title if free else ""
    leader = next((cause.id for cause in assessment.belief.causes if cause.status != "excluded"), "")
    part = next((cause.part for cause in base.causes if cause.id == leader), "")
    settling = {
        check.id
        for check in base.checks
        for outcome in check.outcomes
        for gives in outcome.gives
        if gives.kind in ("clear", "convict") and gives.about == part
    }
    return next((step.title for step in free if step.id in settling), free[0].title)


def cure_of(base: KnowledgeBase, case: Case) -> Outcome | None:
    """Give the outcome of the check that was done last, if that cured the machine with its own parts.

    Whatever is checked after a cure shows that the trouble was looked for again, so that the cure no longer counts.
    """
    if not case.outcomes:
        return None
    last = case.outcomes[-1]
    check = next((check for check in base.checks if check.id == last.check), None)
    outcomes = check.outcomes if check else ()
    return next((outcome for outcome in outcomes if outcome.id == last.outcome and outcome.mended), None)


def touched_by(base: KnowledgeBase, case: Case) -> frozenset[str]:
    """Give the parts that were worked on in a case that is closed or cured: they are looked over at the end."""
    part_of = {cause.id: cause.part for cause in base.causes}
    if case.closed:
        found = {part_of[case.closed.cause]} if case.closed.cause in part_of else set()
        return frozenset(case.closed.replaced) | found
    cure = cure_of(base, case)
    likely = cure.likely if cure else {}
    return frozenset({part_of[max(likely, key=likely.__getitem__)]}) if likely else frozenset()


def fitting(plan: Plan, decision: Decision, touched: Collection[str], verification: Sequence[Verification]) -> Plan:
    """Give the plan as the decision leaves it; `verification` is that of the parts `touched` of a case at an end."""
    if decision.is_over:
        steps = [
            Step(part, "keep", f"{decision.mended[:1].upper()}{decision.mended[1:]}, and the trouble is gone.")
            for part in sorted(touched)
        ]
        rest = _undecided(plan, steps if decision.mended else ())
        return replace(rest, refused=(), verification=tuple(verification), first=(), suspected=())
    until = WAITS.get(decision.kind)
    if until is None:
        return plan
    steps = [
        Step(step.part, "retest", f"{until}. {step.reason}") if step.action in ("replace", "replace-together") else step
        for step in plan.steps
    ]
    return _undecided(plan, steps)


def _undecided(plan: Plan, steps: Sequence[Step]) -> Plan:
    return replace(plan, decided=False, steps=tuple(steps), together=(), requirements=(), stuck=(), asks=())


def lock_words(base: KnowledgeBase, lock: str) -> str:
    """Say what locks a check: the title of the hazard, or the reason of the rule."""
    hazard = next((hazard.title for hazard in base.hazards if hazard.id == lock), "")
    return hazard or next((rule.because.rstrip(".") for rule in base.rules if rule.id == lock), lock)
