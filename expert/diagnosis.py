"""Consistency-based diagnosis: which sets of faulty parts explain everything that was observed.

observations ──▶ conflicts (some part in here is bad) ──▶ minimal hitting sets = minimal diagnoses ──▶ posterior
After Reiter, A theory of diagnosis from first principles, AIJ 32 (1987), and de Kleer & Williams, Diagnosing multiple
faults, AIJ 32 (1987). The fault models are weak: a bad part may behave well for once, so that every superset of a
diagnosis is a diagnosis too, and only further observations tell them apart.
"""

from collections.abc import Collection, Iterable, Mapping
from itertools import combinations
from math import fsum, prod

Parts = frozenset[str]


def minimal_hitting_sets(conflicts: Iterable[Collection[str]]) -> tuple[Parts, ...]:
    """Give every minimal set of parts that has one in each conflict, the smallest sets first, then by name.

    Conflict by conflict (Berge, Hypergraphs, 1989): a set that hits the next one stays, every other one is extended
    by each of its parts, and what holds a smaller one falls out. No conflict: nothing need be faulty, one empty set.
    A conflict without parts cannot be hit: no set at all.
    Example: {a, b} {a, c} gives {a} and {b, c}.
    """
    found: list[Parts] = [frozenset()]
    for conflict in sorted({frozenset(conflict) for conflict in conflicts}, key=_by_size):
        hitting = [parts for parts in found if parts & conflict]
        extended = {parts | {part} for parts in found if not parts & conflict for part in conflict}
        found = hitting + [parts for parts in extended if not any(smaller <= parts for smaller in hitting)]
    return tuple(sorted(found, key=_by_size))


def fewest(diagnoses: Collection[Parts]) -> tuple[Parts, ...]:
    """Give the diagnoses with the fewest parts; a minimal one need not be among them."""
    least = min(map(len, diagnoses), default=0)
    return tuple(parts for parts in diagnoses if len(parts) == least)


def conflict_of_swap(in_use: Collection[str], good: Collection[str]) -> Parts:
    """Give the conflict that is left when the trouble stays although `good` parts were put in (and still are).

    It says nothing about the part that was taken out; only if there is one fault is that part cleared by it.
    """
    return frozenset(in_use) - frozenset(good)


def diagnosis_posterior(
    conflicts: Iterable[Collection[str]], priors: Mapping[str, float], most: int | None = None
) -> dict[Parts, float]:
    """Give the probability of each set of faulty parts that hits every conflict, summing to 1; most probable first.

    The faults are independent with these priors, and an observation counts only in that it must be possible:
    P(D) is in proportion to the product of p over D and of 1 - p over the rest. `most` bounds the number of faulty
    parts, which makes it an approximation that leaves out the rarest. Empty where no set is possible.
    Example: the classic circuit of three multipliers and two adders at .01 gives .478026 for each single fault.
    """
    wanted = [frozenset(conflict) for conflict in conflicts]
    parts = sorted(priors)
    weights = {
        frozenset(chosen): prod(priors[part] if part in chosen else 1.0 - priors[part] for part in parts)
        for size in range((len(parts) if most is None else min(most, len(parts))) + 1)
        for chosen in combinations(parts, size)
        if all(conflict.intersection(chosen) for conflict in wanted)
    }
    total = fsum(weights.values())
    ranked = sorted(weights.items(), key=lambda item: (-item[1], _by_size(item[0])))
    return {chosen: weight / total for chosen, weight in ranked if weight > 0.0}


def marginals(posterior: Mapping[Parts, float]) -> dict[str, float]:
    """Give for each part the probability that it is among the faulty ones, by name."""
    parts = sorted(frozenset().union(*posterior))
    return {part: fsum(share for chosen, share in posterior.items() if part in chosen) for part in parts}


def _by_size(parts: Parts) -> tuple[int, list[str]]:
    return len(parts), sorted(parts)
