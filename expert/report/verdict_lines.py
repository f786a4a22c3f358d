"""The part of a report that says what to make of it: parts, what cannot be told apart, contradictions, and the plan."""

from typing import TypedDict

from expert.ambiguity import Group
from expert.build import title_of
from expert.elimination import PartStatus
from expert.report.chances import chances
from expert.report.decision_words import bench_words, owner_words
from expert.report.model import (
    ContradictionLine,
    DecisionLine,
    GroupLine,
    PartGround,
    PartLine,
    PlanLine,
    SeparatorLine,
    StepLine,
    VerifyLine,
)
from expert.report.wording import percent
from expert.verdict import Verdict
from knowledge.models import KnowledgeBase


class VerdictLines(TypedDict):
    """The fields of the report that come from the verdict."""

    parts: list[PartLine]
    explanations: list[list[str]]
    groups: list[GroupLine]
    decide: bool
    contradictions: list[ContradictionLine]
    plan: PlanLine


def verdict_lines(base: KnowledgeBase, verdict: Verdict) -> VerdictLines:
    """Give a verdict as the report words it."""
    titles = {cause.id: cause.title for cause in base.causes}
    return VerdictLines(
        parts=[_part(base, status) for status in verdict.elimination.parts],
        explanations=[sorted(parts) for parts in verdict.elimination.explanations],
        groups=[_group(titles, group) for group in verdict.ambiguity.groups],
        decide=verdict.ambiguity.decide,
        contradictions=[ContradictionLine(text=c.text, settle=c.question) for c in verdict.contradictions],
        plan=_plan(base, verdict),
    )


def _part(base: KnowledgeBase, status: PartStatus) -> PartLine:
    return PartLine(
        part=status.part,
        title=title_of(base, status.part),
        status=status.status,
        probability=round(status.probability, 6),
        grounds=[
            PartGround(verdict=g.verdict, firing=g.firing, because=g.because, assumes=g.assumes) for g in status.grounds
        ],
        ask=status.ask,
    )


def _group(titles: dict[str, str], group: Group) -> GroupLine:
    return GroupLine(
        causes=list(group.causes),
        titles=[titles[cause] for cause in group.causes],
        probability=round(group.probability, 6),
        separators=[
            SeparatorLine(check=s.check, title=s.title, missing=list(s.missing), saves=round(s.saves, 1))
            for s in group.separators
        ],
    )


def _plan(base: KnowledgeBase, verdict: Verdict) -> PlanLine:
    plan = verdict.plan
    is_over = verdict.decision.is_over
    return PlanLine(
        decision=DecisionLine(
            kind=verdict.decision.kind,
            text=bench_words(base, verdict.decision, plan),
            plain=owner_words(verdict.decision),
        ),
        decided=plan.decided,
        steps=[
            StepLine(part=step.part, title=title_of(base, step.part), action=step.action, reason=step.reason)
            for step in plan.steps
        ],
        refused=[f"{refusal.title}: {refusal.because}" for refusal in plan.refused],
        requirements=list(dict.fromkeys(f"{need.text} {need.because}" for need in plan.requirements)),
        stuck=list(plan.stuck),
        supply=_supply(verdict),
        along=[
            f"{c.pair.title}, {percent(c.chance)} if the first has failed: {c.pair.because}" for c in verdict.companions
        ],
        asks=[ask.text for ask in plan.asks],
        cost=_cost(verdict) if plan.decided else [],
        price=_price(verdict) if plan.decided else "",
        verification=[
            VerifyLine(id=v.id, title=v.title, plain=v.plain, how=v.how, good=v.good, source=v.source)
            for v in plan.verification
            if plan.decided or is_over
        ],
    )


def _supply(verdict: Verdict) -> list[str]:
    """Say what a supply must give, only where one is to be bought."""
    rating = verdict.plan.rating
    if "psu" not in verdict.plan.parts("replace", "replace-together") or rating.watts is None:
        return []
    better = f", better {rating.better} W" if rating.better else ""
    plugs = ", ".join(f"{count} x {plug}" for plug, count in sorted(verdict.plan.plugs.items()))
    lines = [f"At least {rating.watts} W{better}, with {rating.amps_12v:.0f} A on 12 V together.", *rating.reasons]
    return [*lines, f"Plugs: {plugs}."] if plugs else lines


def _cost(verdict: Verdict) -> list[str]:
    """Hold trying against the rebuild, by the shop's own price list; without one nothing is said of money."""
    comparison = verdict.comparison
    if comparison is None:
        return list(verdict.lacking)
    choice = "Trying first costs less" if comparison.try_first else "The rebuild at once costs less"
    return [
        f"{choice}: {comparison.first.total:.2f} to try, {comparison.expected:.2f} on average with what follows where "
        f"that does not help; the rebuild {comparison.rebuild.total:.2f}."
    ]


def _price(verdict: Verdict) -> str:
    """Say to the owner what the two ways cost, by the shop's own price list; without one, that the price is told."""
    comparison = verdict.comparison
    if comparison is None:
        return "We tell you the price before anything is ordered."
    enough = chances([comparison.probability, 1.0 - comparison.probability])[0]
    cheaper = "Beginning with the smaller one" if comparison.try_first else "Renewing all at once"
    return (
        f"There are two ways. A smaller repair costs about {comparison.first.total:.0f} (that it is enough: {enough}); "
        f"renewing at once all that may be bad costs about {comparison.rebuild.total:.0f}. {cheaper} comes cheaper on "
        "average. You decide before anything is ordered."
    )
