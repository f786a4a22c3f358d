"""The linter: what loads without a fault and still cannot be right, such as a rule that nothing can ever set off.

Every check of the linter has a name. A fault that is known and right is written down as `[[accepted]]`, with the
record, the check and the reason; one that is no longer needed is a fault itself. The examples of the rules and the
strata need the engine and are looked at in `expert/rule_examples.py`.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from itertools import chain, combinations
from typing import NamedTuple

from knowledge.census import cited
from knowledge.models import Check, Conclusion, Condition, KnowledgeBase, Rule

# What is held true of a case: kind, id, and the state of a finding or the outcome of a check.
Fact = tuple[str, str, str]

STATES = ("present", "absent", "unknown")
FOR, AGAINST = frozenset({"support", "confirm"}), frozenset({"weaken", "exclude"})
FACT_KINDS = ("complaint", "hazard", "reached", "fails_at")


class Flaw(NamedTuple):
    """One fault: the section and id of the record, the name of the check that found it, and what is wrong."""

    section: str
    record: str
    check: str
    text: str


def flaws(base: KnowledgeBase) -> Iterator[Flaw]:
    """Yield every fault of the base itself, check by check, in the order of the base."""
    return chain.from_iterable(look(base) for look in LOOKS)


def unaccepted(base: KnowledgeBase, found: Iterable[Flaw]) -> list[Flaw]:
    """Take out what the base accepts, and add each acceptance that nothing needs."""
    accepted = {(entry.record, entry.check) for entry in base.accepted}
    all_found = list(found)
    needed = {(flaw.record, flaw.check) for flaw in all_found}
    stale = [
        Flaw(
            "accepted", entry.record, "accepted-for-nothing", f"the check {entry.check!r} has no fault there; remove it"
        )
        for entry in base.accepted
        if (entry.record, entry.check) not in needed
    ]
    return [flaw for flaw in all_found if (flaw.record, flaw.check) not in accepted] + stale


def fact_of(condition: Condition) -> Fact:
    """Give the fact that a condition looks at, its detail left aside."""
    if condition.finding:
        return "finding", condition.finding, condition.state
    if condition.check:
        return "check", condition.check, str(condition.outcome)
    kind = next(kind for kind in FACT_KINDS if getattr(condition, kind))
    return kind, getattr(condition, kind), ""


def condition_key(condition: Condition) -> str:
    """Write a condition as the examples of rules do: `dead`, `dead=absent`, `part-replaced:memory`, `lamp/works`."""
    if condition.finding:
        detail = f":{condition.detail}" if condition.detail else ""
        return condition.finding + detail + ("" if condition.state == "present" else f"={condition.state}")
    kind, about, value = fact_of(condition)
    return f"{about}/{value}" if kind == "check" else f"{kind}:{about}"


def _added(conclusions: Iterable[Conclusion]) -> Iterator[Fact]:
    for gives in conclusions:
        if gives.finding:
            yield "finding", gives.finding, gives.state
        elif gives.kind in FACT_KINDS:
            yield gives.kind, gives.about, ""


def active_rules(base: KnowledgeBase) -> tuple[Rule, ...]:
    """Give the rules that fire: neither drafts nor withdrawn."""
    return tuple(rule for rule in base.rules if rule.status == "active")


def _conditions(base: KnowledgeBase) -> Iterator[tuple[str, str, Condition]]:
    """Every condition that decides something: of active rules, checks and questions."""
    for rule in active_rules(base):
        yield from (("rule", rule.id, condition) for condition in (*rule.when, *rule.given, *rule.unless))
    for check in base.checks:
        yield from (("check", check.id, condition) for condition in (*check.when, *check.unless))
    for question in base.questions:
        yield from (("question", question.id, condition) for condition in (*question.when, *question.unless))


def tellable(base: KnowledgeBase) -> set[str]:
    """Give the findings that somebody can tell: in words or codes, in answer to a question, by a measurement."""
    told = {wording.finding for wording in base.wordings} | {shape.finding for shape in base.code_shapes}
    return told | {question.asks for question in base.questions} | {limit.finding for limit in base.limits}


def possible_facts(base: KnowledgeBase) -> set[Fact]:
    """Give every fact that can be told, seen at a check, or concluded from such, exceptions left aside."""
    facts: set[Fact] = {("finding", finding, state) for finding in tellable(base) for state in STATES}
    for check in base.checks:
        for outcome in check.outcomes:
            facts |= {("check", check.id, outcome.id), *_added(outcome.gives)}
    waiting = list(active_rules(base))
    while ready := [rule for rule in waiting if all(fact_of(c) in facts for c in (*rule.when, *rule.given))]:
        facts.update(*(_added(rule.gives) for rule in ready))
        done = {rule.id for rule in ready}
        waiting = [rule for rule in waiting if rule.id not in done]
    return facts


def _unreachable(base: KnowledgeBase) -> Iterator[Flaw]:
    possible = possible_facts(base)
    untold = _untold(base, possible)
    detailed = {finding.id for finding in base.findings if finding.detail}
    for section, record, condition in _conditions(base):
        kind, about, value = fact_of(condition)
        if (kind, about, value) not in possible and about not in untold:
            text = f"nothing can state or conclude {kind} {about!r}" + (f" {value}" if value else "")
            yield Flaw(section, record, "unreachable", text)
        if condition.detail and about not in detailed:
            yield Flaw(
                section, record, "unreachable", f"finding {about!r} carries no detail, so not {condition.detail!r}"
            )
    for finding in untold:
        waiting = sorted({record for _, record, condition in _conditions(base) if condition.finding == finding})
        text = f"nobody can tell it and nothing concludes it; {', '.join(waiting)} wait for it in vain"
        yield Flaw("finding", finding, "finding-untold", text)


def _untold(base: KnowledgeBase, possible: set[Fact]) -> list[str]:
    """Findings that are looked at and can be in no state; told once, not at each rule that waits for them."""
    known = {about for kind, about, _ in possible if kind == "finding"}
    used = {condition.finding for _, _, condition in _conditions(base)}
    return [finding.id for finding in base.findings if finding.id in used and finding.id not in known]


def _never_holds(base: KnowledgeBase) -> Iterator[Flaw]:
    for rule in active_rules(base):
        needed = (*rule.when, *rule.given)
        states = {(condition.finding, condition.state) for condition in needed if condition.finding}
        for finding in sorted({one for (one, first), (other, second) in combinations(states, 2) if one == other}):
            yield Flaw("rule", rule.id, "never-holds", f"finding {finding!r} would have to be in two states at once")
        for condition in rule.unless:
            # "Part replaced, unless the memory was" can hold: only the detail is barred.
            if condition in needed or (not condition.detail and fact_of(condition) in map(fact_of, needed)):
                yield Flaw("rule", rule.id, "never-holds", f"{condition_key(condition)} is needed and excluded")


def _unused_findings(base: KnowledgeBase) -> Iterator[Flaw]:
    used = {condition.finding for _, _, condition in _conditions(base)}
    used |= {finding for check in base.checks for finding in check.settled_by}
    for finding in base.findings:
        if finding.id not in used:
            yield Flaw("finding", finding.id, "finding-unused", "no rule, check or question looks at it")


def _one_sided_causes(base: KnowledgeBase) -> Iterator[Flaw]:
    effects: dict[str, set[str]] = defaultdict(set)
    for rule in active_rules(base):
        for gives in rule.gives:
            effects[gives.about].add(gives.kind)
    named = {cause for check in base.checks for outcome in check.outcomes for cause in outcome.likely}
    likely = {cause for complaint in base.complaints for cause, (weight, _) in complaint.priors.items() if weight}
    for cause in base.causes:
        if not effects[cause.id] & FOR:
            yield Flaw("cause", cause.id, "cause-never-supported", "no rule supports or confirms it")
        if not effects[cause.id] & AGAINST:
            yield Flaw("cause", cause.id, "cause-never-weakened", "no rule weakens or excludes it")
        if "exclude" not in effects[cause.id]:
            yield Flaw("cause", cause.id, "cause-never-excluded", "no rule excludes it")
        if cause.id not in named:
            yield Flaw(
                "cause", cause.id, "cause-without-check", "no outcome of a check is likelier or less likely with it"
            )
        if cause.id not in likely:
            yield Flaw("cause", cause.id, "cause-without-prior", "no complaint has a prior for it")


def _pairs(base: KnowledgeBase) -> Iterator[tuple[Rule, Conclusion, Rule, Conclusion]]:
    """Pairs of conclusions drawn under the same conditions, whichever of them is evidence and whichever the setting."""
    alike: dict[tuple[frozenset[str], frozenset[str]], list[tuple[Rule, Conclusion]]] = defaultdict(list)
    for rule in active_rules(base):
        needed = frozenset(condition_key(condition) for condition in (*rule.when, *rule.given))
        barred = frozenset(condition_key(condition) for condition in rule.unless)
        alike[needed, barred] += [(rule, gives) for gives in rule.gives]
    for drawn in alike.values():
        yield from ((*one, *other) for one, other in combinations(drawn, 2))


def _twins_and_opposites(base: KnowledgeBase) -> Iterator[Flaw]:
    for one, first, other, second in _pairs(base):
        if first.about != second.about:
            continue
        where = "in the same rule" if one.id == other.id else f"as rule {one.id!r} does under the same conditions"
        if (first.kind, first.state) == (second.kind, second.state):
            yield Flaw("rule", other.id, "duplicate", f"gives {second.kind} {second.about!r} {where}")
        elif opposite(first, second):
            text = f"gives {second.kind} {second.about!r}, against {first.kind} {where.removeprefix('as ')}"
            yield Flaw("rule", other.id, "contradiction", text)


def opposite(first: Conclusion, second: Conclusion) -> bool:
    """Whether two conclusions about one id cannot both be meant."""
    kinds = {first.kind, second.kind}
    if kinds == {"finding"}:
        return first.state != second.state
    sides = bool(kinds & FOR) and bool(kinds & AGAINST)
    return sides or kinds in ({"hazard", "lift"}, {"clear", "convict"}, {"reached", "fails_at"})


def _hazards(base: KnowledgeBase) -> Iterator[Flaw]:
    conclusions = [gives for rule in active_rules(base) for gives in rule.gives]
    conclusions += [gives for check in base.checks for outcome in check.outcomes for gives in outcome.gives]
    raised = {gives.hazard for gives in conclusions}
    risks = {risk for check in base.checks for risk in check.risks}
    for hazard in base.hazards:
        if hazard.id not in raised:
            yield Flaw("hazard", hazard.id, "hazard-never-raised", "no rule and no outcome raises it")
        if not hazard.locks and hazard.level != "notice":
            yield Flaw(
                "hazard", hazard.id, "hazard-locks-nothing", f"its level is {hazard.level}, and it locks no risk"
            )
        for risk in hazard.locks:
            if risk not in risks:
                yield Flaw(
                    "hazard", hazard.id, "lock-without-check", f"no check carries the risk {risk!r} that it locks"
                )
    for rule in active_rules(base):
        seen = any(condition.finding or condition.check for condition in rule.when)
        if not seen and any(gives.lift for gives in rule.gives):
            yield Flaw("rule", rule.id, "lift-unseen", "lifts a hazard without a finding or an outcome that was seen")


def _checks(base: KnowledgeBase) -> Iterator[Flaw]:
    locked = {risk for hazard in base.hazards for risk in hazard.locks}
    for check in base.checks:
        if check.risks and not check.precautions:
            yield Flaw("check", check.id, "no-precaution", f"carries {', '.join(check.risks)} and names no precaution")
        for risk in check.risks:
            if risk not in locked:
                yield Flaw("check", check.id, "risk-without-lock", f"no hazard locks its risk {risk!r}")
        yield from _idle_outcomes(check)


def _idle_outcomes(check: Check) -> Iterator[Flaw]:
    for outcome in check.outcomes:
        if not outcome.gives and all(likely == outcome.otherwise for likely in outcome.likely.values()):
            yield Flaw(
                "check", check.id, "outcome-idle", f"outcome {outcome.id!r} changes no belief and concludes nothing"
            )


def _unconcluded(base: KnowledgeBase) -> Iterator[Flaw]:
    possible = possible_facts(base)
    for complaint in base.complaints:
        if ("complaint", complaint.id, "") not in possible:
            yield Flaw("complaint", complaint.id, "complaint-never-concluded", "no rule that can fire concludes it")
    for stage in base.stages:
        if not {("reached", stage.id, ""), ("fails_at", stage.id, "")} & possible:
            yield Flaw("stage", stage.id, "stage-never-concluded", "no rule that can fire reaches it or fails at it")


def _uncited_sources(base: KnowledgeBase) -> Iterator[Flaw]:
    used = cited(base)
    for source in base.sources:
        if source.id not in used:
            yield Flaw("source", source.id, "source-uncited", "no record names it")


LOOKS: tuple[Callable[[KnowledgeBase], Iterator[Flaw]], ...] = (
    _unreachable,
    _never_holds,
    _unused_findings,
    _one_sided_causes,
    _twins_and_opposites,
    _hazards,
    _checks,
    _unconcluded,
    _uncited_sources,
)
