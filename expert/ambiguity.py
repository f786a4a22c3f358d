"""Ambiguity: causes that nothing open to this bench can tell apart, what would tell them apart, and when to stop.

The D-matrix has a row for each cause and a column for each check; here the columns are the likelihoods of the outcomes,
and two causes are told apart by a check that settles an even question between them by more than a trifle. Causes that
are linked by pairs that nothing tells apart are one group (ambiguity group, as in MIL-STD-1309D: replaceable items
with the same fault signature). Ambiguity ends where the remedy ends: a group with one remedy is none.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import NamedTuple

from expert.belief import Belief
from expert.evidence import clip
from expert.facts import Claim
from expert.outlook import Outlook
from expert.planner import SLACK, CheckPlan, locked_by, missing, open_checks, plan_check
from expert.repair_cost import information, split
from knowledge.models import Check, KnowledgeBase

TRIFLE = 0.1887  # bits, 1 - H(3/4): what an informant tells who is right three times in four; less settles nothing
NOTHING_LISTED = "unknown"  # where the cause sits that stands for all that is not listed: nobody can replace that
MENTIONED = 0.02  # causes with less of the belief are left out


class Separator(NamedTuple):
    """A check that would tell causes of a group apart, and what is missing for it.

    `bits` is its expected information about the repair, `saves` the expected saving in minutes, its own cost taken off:
    if that is not above 0, getting what is missing is not worth it by minutes alone.
    """

    check: str
    title: str
    missing: tuple[str, ...]
    cost: float
    bits: float
    saves: float


@dataclass(frozen=True)
class Group:
    """Causes with different remedies that nothing open tells apart, the likeliest first; `probability` of them all."""

    causes: tuple[str, ...]
    probability: float
    separators: tuple[Separator, ...]


@dataclass(frozen=True)
class Ambiguity:
    """The groups, the likeliest first; `decide` says that testing costs more than it saves: stop, and decide."""

    groups: tuple[Group, ...]
    decide: bool


def find_ambiguity(
    base: KnowledgeBase,
    belief: Belief,
    held: Collection[Claim],
    plans: Sequence[CheckPlan],
    have: Collection[str] = (),
    risks: Mapping[str, str] | None = None,
    locks: Mapping[str, str] | None = None,
) -> Ambiguity:
    """Give what the checks that can be done (`plans`, the locked ones do not count) leave open.

    The other arguments are those of `planner.rank_checks`. A check that a hazard locks separates nothing here,
    whatever is missing for it.
    """
    free = {plan.id for plan in plans if plan.locked_by is None}
    remedies = {cause.id: cause.remedy for cause in base.causes}
    shares = {
        cause.id: cause.probability
        for cause in belief.causes
        if cause.status != "excluded" and cause.probability >= MENTIONED and cause.part != NOTHING_LISTED
    }
    outlook = Outlook(base, belief, held)
    beyond = [
        check
        for check in open_checks(base, held)
        if missing(check, have) and not locked_by(check, base, risks or {}, locks or {})
    ]
    groups = [
        Group(
            causes=causes,
            probability=fsum(shares[cause] for cause in causes),
            separators=_separators(causes, remedies, beyond, have, outlook),
        )
        for causes in inseparable(shares, [check for check in base.checks if check.id in free])
        if len({remedies[cause] for cause in causes}) > 1
    ]
    return Ambiguity(tuple(sorted(groups, key=lambda group: -round(group.probability, 12))), stop_testing(plans))


def stop_testing(plans: Iterable[CheckPlan]) -> bool:
    """Tell whether no check that can be done saves more minutes than it costs, one step ahead."""
    return all(plan.saves <= SLACK for plan in plans if plan.locked_by is None)


def inseparable(causes: Iterable[str], checks: Collection[Check]) -> tuple[tuple[str, ...], ...]:
    """Part the causes into groups that no check tells apart; groups and members keep the order of the causes.

    One more check never merges two groups, since it only takes links away.
    """
    order = {cause: place for place, cause in enumerate(causes)}
    groups: list[list[str]] = []
    for cause in order:
        linked = [g for g in groups if any(not tells_apart(checks, cause, member) for member in g)]
        merged = [member for g in linked for member in g]
        groups = [g for g in groups if g not in linked] + [[*merged, cause]]
    groups.sort(key=lambda g: min(order[member] for member in g))
    return tuple(tuple(sorted(group, key=order.__getitem__)) for group in groups)


def tells_apart(checks: Iterable[Check], one: str, other: str) -> bool:
    """Tell whether some check separates the two causes."""
    return any(separation(check, one, other) > TRIFLE for check in checks)


def separation(check: Check, one: str, other: str) -> float:
    """Give the bits by which a check settles an even question between two causes: 0 not at all, 1 for certain."""
    rows = [tuple(clip(o.likely.get(cause, o.otherwise)) for cause in (one, other)) for o in check.outcomes]
    totals = [fsum(column) for column in zip(*rows, strict=True)]
    return information((0.5, 0.5), split((0.5, 0.5), [[row[0] / totals[0], row[1] / totals[1]] for row in rows]))


def _separators(
    causes: Sequence[str], remedies: Mapping[str, str], checks: Iterable[Check], have: Collection[str], outlook: Outlook
) -> tuple[Separator, ...]:
    """Give the checks out of reach that tell two causes with different remedies apart, by bits per minute."""
    found = []
    for check in checks:
        pairs = ((a, b) for a in causes for b in causes if a < b and remedies[a] != remedies[b])
        if any(separation(check, a, b) > TRIFLE for a, b in pairs):
            plan = plan_check(check, outlook)
            found.append(Separator(check.id, check.title, missing(check, have), plan.cost, plan.bits, plan.saves))
    return tuple(sorted(found, key=lambda s: -round(s.bits / s.cost, 9)))
