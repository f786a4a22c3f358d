"""The verdict: what follows from an assessment for the bench, from the state of each part to the repair plan.

assessment ──▶ elimination, companions ──▶ repair plan ──▶ decision ──prices──▶ comparison; ambiguity beside it
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import fsum

from expert.ambiguity import Ambiguity, find_ambiguity
from expert.assess import Assessment, restrictions
from expert.belief import Belief
from expert.build import parts_of, title_of
from expert.case import Case
from expert.contradiction import Contradiction, contradictions
from expert.decide import Decision, decide, fitting, lock_words, touched_by
from expert.elimination import SUSPECT, Elimination, eliminate, trials_in_place
from expert.estimate import Comparison, compare, estimate
from expert.pairs import Companion, companions
from expert.repair import Plan, checkable_parts, locked_parts, plan_repair, retesting, verification_list
from knowledge.models import KnowledgeBase

WORTH_A_TEST = 0.02  # a companion less likely than that, if its first part has failed, is not mentioned (judgement)


@dataclass(frozen=True)
class Verdict:
    """What is known of the parts, what cannot be told apart, what to do, and what does not agree.

    `comparison` stands where something is replaced and a smaller or a larger repair would do: by the shop's price list;
    or else `lacking` says what that lacks for it.
    `companions`: parts that may have gone with a part that is replaced, or that leads, the likeliest first.
    `decision` is what comes next, and the rest agrees with it: while something comes first nothing is replaced, and
    of a case at an end nothing is left to find out.
    """

    elimination: Elimination
    ambiguity: Ambiguity
    plan: Plan
    comparison: Comparison | None
    lacking: tuple[str, ...]
    contradictions: tuple[Contradiction, ...]
    companions: tuple[Companion, ...]
    decision: Decision


def conclude(base: KnowledgeBase, case: Case, assessment: Assessment) -> Verdict:
    """Draw the verdict; equal cases give equal verdicts."""
    belief = assessment.belief
    elimination = eliminate(base, belief, assessment.firings)
    risks, locks = restrictions(assessment.hazards, assessment.firings)
    held = assessment.claims | belief.roots.keys()
    present = sorted({claim.id for claim in held if claim.kind == "finding" and claim.value == "present"})
    gone_along = _companions(base, assessment, elimination)
    plan = plan_repair(
        base,
        elimination.parts,
        parts_of(base, case.build),
        findings=present,
        have=case.have,
        checkable=checkable_parts(base, assessment.checks),
        locked={part: lock_words(base, lock) for part, lock in locked_parts(base, assessment.checks).items()},
    )
    plan = retesting(base, plan, _to_retest(base, gone_along, plan.decided))
    found = contradictions(base, case, assessment, elimination.parts)
    decision = decide(base, case, assessment, plan, found)
    touched = touched_by(base, case)
    plan = fitting(plan, decision, touched, verification_list(base, touched, present))
    comparison, lacking = _comparison(base, plan, belief)
    ambiguity = find_ambiguity(base, belief, held, assessment.checks, case.have, risks, locks)
    return Verdict(
        elimination=elimination,
        ambiguity=_agreeing(ambiguity, decision),
        plan=plan,
        comparison=comparison,
        lacking=lacking,
        contradictions=() if decision.is_over else found,
        companions=() if decision.is_over else gone_along,
        decision=decision,
    )


def _agreeing(ambiguity: Ambiguity, decision: Decision) -> Ambiguity:
    """Advise to stop testing only where something is decided, and to tell nothing apart where it is over."""
    groups = () if decision.is_over else ambiguity.groups
    return replace(ambiguity, groups=groups, decide=ambiguity.decide and decision.kind in ("settle", "replace"))


def words_of(base: KnowledgeBase, companion: Companion) -> str:
    """Say it: "Power supply failed: it may have taken the main board with it: 12 %. ..."."""
    title = next(cause.title for cause in base.causes if cause.id == companion.pair.first)
    part = title_of(base, _part(base, companion.pair.then))
    chance = f"{100 * companion.chance:.0f} %"
    return f"{title[:1].upper()}{title[1:]}: it may have taken the {part} with it: {chance}. {companion.pair.because}"


def _to_retest(base: KnowledgeBase, found: Sequence[Companion], decided: bool) -> dict[str, str]:
    """Give the parts of the pairs that ask for a test, each with the reason of the likeliest pair.

    Once something is replaced, every part that may have gone with it; before, both parts of a pair that is likely.
    """
    again: dict[str, str] = {}
    for companion in found:
        likely = companion.probability >= SUSPECT
        if decided or likely:
            again.setdefault(_part(base, companion.pair.then), words_of(base, companion))
        if likely:
            again.setdefault(_part(base, companion.pair.first), words_of(base, companion))
    return again


def _companions(base: KnowledgeBase, assessment: Assessment, elimination: Elimination) -> tuple[Companion, ...]:
    """Give the companions of the leading cause and of convicted parts, the likeliest first."""
    leading = next((cause.id for cause in assessment.belief.causes if cause.status != "excluded"), None)
    convicted = {status.part for status in elimination.parts if status.status == "convicted"}
    trials = trials_in_place(base, assessment.firings)
    found = [
        companion
        for companion in companions(base, assessment.belief, trials)
        if companion.pair.first == leading or _part(base, companion.pair.first) in convicted
        if companion.chance >= WORTH_A_TEST and _part(base, companion.pair.first) != _part(base, companion.pair.then)
    ]
    return tuple(sorted(found, key=lambda companion: -round(companion.probability, 12)))


def _part(base: KnowledgeBase, cause: str) -> str:
    return next(known.part for known in base.causes if known.id == cause)


def _comparison(base: KnowledgeBase, plan: Plan, belief: Belief) -> tuple[Comparison | None, tuple[str, ...]]:
    """Hold the smaller repair against the larger one, where there are two."""
    smaller, larger, hunted = _repairs(plan)
    if set(smaller) == set(larger):
        return None, ()
    if not base.prices:
        return None, ("There is no price list, so that this repair cannot be held against a rebuild.",)
    watts = plan.rating.watts
    trying, rebuild = estimate(base.prices, smaller, watts, hunted), estimate(base.prices, larger, watts)
    if isinstance(trying, tuple):
        return None, trying
    if isinstance(rebuild, tuple):
        return None, rebuild
    mended = fsum(c.probability for c in belief.causes if c.part in smaller and c.status != "excluded")
    return compare(trying, rebuild, min(mended, 1.0)), ()


def _repairs(plan: Plan) -> tuple[tuple[str, ...], tuple[str, ...], frozenset[str]]:
    """Give the parts of the smaller and of the larger repair, and those of the smaller one to be searched for.

    Where a part takes others with it only because its like is not to be had, the smaller repair is to hunt for that;
    elsewhere the smaller one is the plan, and the larger one renews at once all that is under suspicion.
    """
    planned = plan.parts("replace", "replace-together")
    alone = [coupling for coupling in plan.together if coupling.unless_spare]
    if not alone:
        return planned, tuple(dict.fromkeys((*planned, *(plan.suspected if planned else ())))), frozenset()
    bound = [part for coupling in plan.together if not coupling.unless_spare for part in coupling.parts]
    smaller = tuple(dict.fromkeys((*plan.first, *bound)))
    return smaller, planned, frozenset(plan.first).intersection(*(coupling.parts for coupling in alone))
