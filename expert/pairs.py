"""Coupled pairs: one fault that took another part with it, believed beside the single faults.

priors, pairs of the base ──▶ hypotheses (one cause, or two) ──signs──▶ posterior ──▶ marginals (expert.diagnosis)
A sign is there if either fault would cause it: noisy-OR with a leak, in the compound form of Henrion (1989), since the
tables say how often a sign is seen with the cause, whatever else may make it. What ends the trouble is the contrary:
it must end it for both, and so a good supply does not cure a machine whose board the old one took along.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from math import fsum, log10, prod
from typing import NamedTuple

from expert.belief import FLOOR, Belief, listed_causes
from expert.diagnosis import Parts
from knowledge.models import KnowledgeBase, Pair


class Sign(NamedTuple):
    """Something seen or not seen: P(it | cause), `leak` for every cause not named; `cure` if it ends the trouble."""

    chances: Mapping[str, float]
    leak: float
    seen: bool = True
    cure: bool = False


def hypotheses(priors: Mapping[str, float], pairs: Iterable[Pair]) -> dict[Parts, float]:
    """Give the prior of every single cause and every pair, with the same total as before.

    A pair takes its share from the cause that comes first; two pairs of the same causes, one each way, are one.
    Example: supply .4, board .2, and one dead supply in ten takes the board along: .36, .2, and .04 for both.
    """
    shares = {frozenset({cause}): prior for cause, prior in priors.items()}
    for pair in pairs:
        taken = priors.get(pair.first, 0.0) * pair.chance
        both = frozenset({pair.first, pair.then})
        shares[both] = shares.get(both, 0.0) + taken
        shares[frozenset({pair.first})] = max(shares.get(frozenset({pair.first}), 0.0) - taken, 0.0)
    return shares


def pair_posterior(shares: Mapping[Parts, float], signs: Iterable[Sign]) -> dict[Parts, float]:
    """Give the posterior of the hypotheses, summing to 1, in their order; the signs are independent given each.

    Nothing is changed where no hypothesis allows what was seen: that is a contradiction, and not for arithmetic.
    """
    weights = dict(shares)
    for sign in signs:
        for causes in weights:
            chance = chance_of(sign, causes)
            weights[causes] *= chance if sign.seen else 1.0 - chance
    weights = weights if any(weights.values()) else dict(shares)
    total = fsum(weights.values()) or 1.0
    return {causes: weight / total for causes, weight in weights.items()}


def chance_of(sign: Sign, causes: Parts) -> float:
    """Give P(sign | all of these causes, and no other)."""
    chances = [sign.chances.get(cause, sign.leak) for cause in sorted(causes)]
    return prod(chances) if sign.cure else noisy_or(chances, sign.leak)


def noisy_or(chances: Sequence[float], leak: float) -> float:
    """Give P(sign) with several causes at work, each P(sign | that cause alone) with the leak in it.

    1 - (1 - leak) * product of (1 - p) / (1 - leak). One cause gives its own p; none gives the leak.
    Example: leak .1, causes .2 and .4: .466667.
    """
    if len(chances) == 1:
        return chances[0]
    if leak >= 1.0:
        return 1.0
    return 1.0 - (1.0 - leak) * prod((1.0 - max(chance, leak)) / (1.0 - leak) for chance in chances)


class Companion(NamedTuple):
    """A second part that may have gone with the first: `chance` if the first has failed, `probability` of both.

    Example: chance .12 of "supply-took-board": if it is the supply, it has taken the board with it in 12 of 100 cases.
    """

    pair: Pair
    chance: float
    probability: float


def companions(base: KnowledgeBase, belief: Belief, trials: Collection[str]) -> tuple[Companion, ...]:
    """Give every pair of the base with its probability in the light of the evidence, in the order of the base.

    `trials` are the rules and outcomes that tell what a good part in place of the old one did (`pair_weight`). They
    speak of a second fault that could not show as this complaint only through the first one: mended, that cures it.
    """
    showing = listed_causes(base, {claim.id for claim in belief.roots if claim.kind == "complaint"})
    pieces = {cause.id: {e.rule: e.weight for e in cause.counted} for cause in belief.causes}
    weights = {cause.id: cause.weight for cause in belief.causes}
    shares = hypotheses(belief.priors, base.pairs)
    for pair in base.pairs:
        first, then = (pieces.get(cause, {}) for cause in (pair.first, pair.then))
        weights[pair.id] = pair_weight(first, then, trials if pair.then in showing else ())
    known = {pair.id: frozenset({pair.first, pair.then}) for pair in base.pairs}
    sets = {cause: frozenset({cause}) for cause in belief.priors} | known
    scores = {name: log10(shares[causes] or FLOOR**3) + weights.get(name, 0.0) for name, causes in sets.items()}
    peak = max(scores.values(), default=0.0)
    odds = {name: 10.0 ** (score - peak) for name, score in scores.items()}
    total = fsum(odds.values())
    return tuple(
        Companion(pair, odds[pair.id] / (odds[pair.id] + odds[pair.first]), odds[pair.id] / total)
        for pair in base.pairs
        if pair.first in odds
    )


def pair_weight(first: Mapping[str, float], then: Mapping[str, float], trials: Collection[str]) -> float:
    """Give log10 of the ratio that the evidence has for both faults together, from the weights of each by rule.

    A sign that either would cause: noisy-OR with a small leak, in which ratios above 1 add up, less the leak that is in
    each; a sign that both would cause and that is missing: the ratios multiply. A trial with a good part needs both to
    be mended: a cure speaks for both no more than for the one that it speaks for less, no cure against both no more
    than against the one that it speaks against less.
    Example: smoke is tenfold for each: log10(19). No cure by a supply, 1/100 for the supply, even for the board: 0.
    """
    return fsum(_of_both(first.get(rule, 0.0), then.get(rule, 0.0), rule in trials) for rule in sorted({*first, *then}))


def _of_both(one: float, other: float, is_trial: bool) -> float:
    if is_trial:
        return min(one, other) if max(one, other, key=abs) > 0.0 else max(one, other)
    if max(one, other) <= 0.0:
        return one + other
    return log10(10.0 ** max(one, 0.0) + 10.0 ** max(other, 0.0) - 1.0)
