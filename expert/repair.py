"""What to do about it: keep, replace, replace together, retest; what a rebuild needs, and what is checked at the end.

status of each part ──▶ what goes ──couplings──▶ what goes with it ──▶ steps, requirements, supply rating
The plan follows what was shown, part by part; which check comes next is the planner's affair, not this one's.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from expert.build import Ask, Part
from expert.elimination import SUSPECT, PartStatus
from expert.fit import Requirement, carry_over, refused, together
from expert.planner import CheckPlan
from expert.power import Budget, budget_of
from expert.supply import Rating, cpu_plugs, plugs_needed, rating_for
from knowledge.fit_models import Coupling, Refusal, Verification
from knowledge.models import KnowledgeBase

Action = Literal["keep", "replace", "replace-together", "retest"]
ORDER: tuple[Action, ...] = ("replace", "replace-together", "retest", "keep")


@dataclass(frozen=True)
class Step:
    """What is done with one part, and why."""

    part: str
    action: Action
    reason: str


@dataclass(frozen=True)
class Plan:
    """A repair plan: the steps, what goes together, the trials that are not made, and what the new parts must be.

    `decided`: whether something is replaced now; otherwise a check can still tell, and the plan is to make it.
    `plugs` are the sockets that the supply must serve, at least: of the kept parts, and of a new board's processor.
    `asks` stand before an order is placed. `first` is what goes by itself and may take others with it; `suspected` is
    all that is bad or may be, and can be bought.
    """

    decided: bool
    steps: tuple[Step, ...]
    together: tuple[Coupling, ...]
    refused: tuple[Refusal, ...]
    requirements: tuple[Requirement, ...]
    stuck: tuple[str, ...]
    budget: Budget
    rating: Rating
    plugs: Mapping[str, int]
    asks: tuple[Ask, ...]
    verification: tuple[Verification, ...]
    first: tuple[str, ...]
    suspected: tuple[str, ...]

    def parts(self, *actions: Action) -> tuple[str, ...]:
        """Give the parts with one of the actions, in the order of the steps."""
        return tuple(step.part for step in self.steps if step.action in actions)


def plan_repair(
    base: KnowledgeBase,
    statuses: Sequence[PartStatus],
    parts: Sequence[Part],
    findings: Collection[str] = (),
    have: Collection[str] = (),
    checkable: Collection[str] = (),
    locked: Mapping[str, str] | None = None,
) -> Plan:
    """Give the plan that follows from the status of the parts.

    `parts` are those of the build, with what is known of them; `findings` those present; `have` the spares at hand;
    `checkable` the parts that a check open to this bench can still tell about (`checkable_parts`), `locked` those
    that a locked check could tell about, each with what locks it, in words (`locked_parts`).
    """
    bought = {part.id for part in base.build_parts if part.bought}
    first = _goes_first(statuses, bought, checkable)
    couplings = together(base, first, findings, have) if first else ()
    gone = set(first) | {part for coupling in couplings for part in coupling.parts}
    steps = _steps(base, statuses, parts, first, couplings, checkable, locked or {})
    kept = [part for part in parts if part.part not in gone]
    carried = carry_over(base, kept, gone)
    counts = {part.part: part.count for part in parts}
    renewed = [*kept, *(Part(part, counts.get(part, 1)) for part in sorted(gone))]
    budget = budget_of(base, renewed)
    card = next((part.words("plugs") for part in kept if part.part == "graphics"), None)
    plugs, open_plugs = plugs_needed(base, kept)
    asks_of_supply = (*budget.asks, *open_plugs)
    if "board" in gone:
        plugs |= Counter(cpu_plugs(base, budget.amps_of("cpu")))
    suspects = {status.part for status in statuses if status.status in ("suspect", "convicted")}
    return Plan(
        decided=bool(first),
        steps=steps,
        together=couplings,
        refused=refused(base, findings, suspects | gone),
        requirements=carried.requirements,
        stuck=carried.stuck,
        budget=budget,
        rating=rating_for(base, budget, card or ()),
        plugs=plugs,
        asks=tuple(dict.fromkeys([*carried.asks, *(asks_of_supply if "psu" in gone else ())])),
        verification=verification_list(base, gone, findings),
        first=first,
        suspected=tuple(part.id for part in base.build_parts if part.id in suspects and part.bought),
    )


def retesting(base: KnowledgeBase, plan: Plan, companions: Mapping[str, str]) -> Plan:
    """Have parts that may have gone with another one, each with its reason, tried again if they stay in the machine.

    What was said of them follows the reason.
    """
    staying = {step.part: step.reason for step in plan.steps if step.action in ("keep", "retest")}
    goes = {step.part for step in plan.steps} - staying.keys()
    again = {
        part: Step(part, "retest", f"{reason} {staying.get(part, '')}".strip())
        for part, reason in companions.items()
        if part not in goes
    }
    order = [kind.id for kind in base.build_parts]
    steps = [*(step for step in plan.steps if step.part not in again), *again.values()]
    steps.sort(key=lambda step: (ORDER.index(step.action), order.index(step.part)))
    return replace(plan, steps=tuple(steps))


def checkable_parts(base: KnowledgeBase, checks: Sequence[CheckPlan]) -> frozenset[str]:
    """Give the parts that the open checks can still tell about: one may clear or convict it, or saves time on it.

    What a hazard locks is left out.
    """
    part_of = {cause.id: cause.part for cause in base.causes}
    plans = {plan.id: plan for plan in checks if plan.locked_by is None}
    told: set[str] = set()
    for check in base.checks:
        if plan := plans.get(check.id):
            told |= {g.about for o in check.outcomes for g in o.gives if g.kind in ("clear", "convict")}
            if plan.saves > 0.0:
                told |= {part_of[cause] for outcome in check.outcomes for cause in outcome.likely}
    return frozenset(told)


def locked_parts(base: KnowledgeBase, checks: Sequence[CheckPlan]) -> dict[str, str]:
    """Give the parts that a locked check could clear or convict, each with what locks it."""
    locks = {plan.id: plan.locked_by for plan in checks if plan.locked_by is not None}
    told: dict[str, str] = {}
    for check in base.checks:
        if lock := locks.get(check.id):
            for outcome in check.outcomes:
                told |= {g.about: lock for g in outcome.gives if g.kind in ("clear", "convict")}
    return told


def verification_list(
    base: KnowledgeBase, touched: Collection[str], findings: Collection[str]
) -> tuple[Verification, ...]:
    """Give what is seen for oneself before the machine goes home, in the order of doing it."""
    return tuple(
        item
        for item in base.verifications
        if not (item.parts or item.findings) or set(item.parts) & set(touched) or set(item.findings) & set(findings)
    )


def _goes_first(statuses: Sequence[PartStatus], bought: Collection[str], checkable: Collection[str]) -> tuple[str, ...]:
    """Give what is replaced: the convicted; without any, the leading suspect, once no check can tell about it.

    What a cause without a part to buy, such as the mains, leaves next to no belief on is no suspect to lead.
    """
    convicted = tuple(s.part for s in statuses if s.status == "convicted" and s.part in bought)
    if convicted:
        return convicted
    likely = (s for s in statuses if s.status == "suspect" and s.probability >= SUSPECT)
    suspects = sorted(likely, key=lambda s: -s.probability)
    leading = [s.part for s in suspects[:1] if s.part in bought and s.part not in checkable and not s.ask]
    return tuple(leading)


def _steps(
    base: KnowledgeBase,
    statuses: Sequence[PartStatus],
    parts: Sequence[Part],
    first: Collection[str],
    couplings: Sequence[Coupling],
    checkable: Collection[str],
    locked: Mapping[str, str],
) -> tuple[Step, ...]:
    known = {status.part: status for status in statuses}
    coupled = {part: coupling for coupling in reversed(couplings) for part in coupling.parts}
    there = {part.part for part in parts if part.count > 0}
    steps = []
    for part in [kind.id for kind in base.build_parts if kind.id in known.keys() | there | coupled.keys()]:
        status = known.get(part)
        if part in coupled:
            steps.append(Step(part, "replace-together", _why_together(status, coupled[part])))
        elif status is not None and part in first:
            steps.append(Step(part, "replace", _why_first(status, locked.get(part))))
        elif status is None or status.status == "untested":
            if part in there:
                steps.append(Step(part, "retest", "It was not tested; it is tried before it is relied on."))
        elif status.status == "cleared":
            steps.append(Step(part, "keep", _why_kept(status)))
        else:
            steps.append(Step(part, "retest", _why_retested(status, part in checkable)))
    return tuple(sorted(steps, key=lambda step: ORDER.index(step.action)))


def _why_first(status: PartStatus, lock: str | None) -> str:
    if status.status == "convicted":
        return " ".join(ground.because for ground in status.grounds if ground.verdict == "convicts")
    much = "over 99 %" if status.probability > 0.99 else f"{100 * status.probability:.0f} %"
    share = f"{much} of the belief is on it, more than on any other part"
    why = f"what could settle it is locked ({lock})" if lock else "no check that is open to this bench can settle it"
    return f"{share}, and {why}."


def _why_together(status: PartStatus | None, coupling: Coupling) -> str:
    if status is not None and status.status == "cleared":
        return f"{coupling.because} It was not shown to be bad."
    return coupling.because


def _why_kept(status: PartStatus) -> str:
    grounds = [ground for ground in status.grounds if ground.verdict == "clears"]
    if not grounds:
        return "It was shown to be good."
    best = min(grounds, key=lambda ground: (bool(ground.assumes), ground.firing))
    return f"{best.because}{f' This takes it that {best.assumes}.' if best.assumes else ''}"


def _why_retested(status: PartStatus, is_checkable: bool) -> str:
    if status.ask:
        return status.ask
    return (
        "A check that is open to this bench can still tell." if is_checkable else "It is tried again after the repair."
    )
