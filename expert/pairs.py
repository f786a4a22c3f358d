"""Coupled pairs: one fault that took another part with it, believed beside the single faults.

priors, pairs of the base ──▶ hypotheses (one cause, or two) ──signs──▶ posterior ──▶ marginals (expert.diagnosis)
A sign is there if either fault would cause it: noisy-OR with a leak, in the compound form of Henrion (1989), since the
tables say how often a sign is seen with the cause, whatever else may make it. What ends the trouble is the contrary:
it must end it for both, and so a good supply does not cure a machine whose board the old one took along.
"""

from collections.abc import Iterable, Mapping, Sequence
from math import fsum, prod
from typing import NamedTuple

from expert.diagnosis import Parts
from knowledge.models import Pair


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
