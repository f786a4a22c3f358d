"""Expected cost of repair: what it takes, in minutes, to mend one unknown fault by trying remedies one after another.

After Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting, CACM 38(3), 1995, and Kadane & Simon, Ann.
Statist. 5, 1977: with one fault, independent perfect remedies and fixed costs, descending p/c is the cheapest order.
Convention: the last candidate is tried (and its cost paid) like every other one, certain or not.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum, log2

Split = tuple[tuple[float, tuple[float, ...]], ...]


def repair_plan(
    probabilities: Sequence[float], minutes: Sequence[float], service: float | None = None
) -> tuple[float, tuple[int, ...]]:
    """Give the least expected minutes and the places of the remedies in the order of trying.

    `service` is the price of handing on what is not mended: the order stops where handing on is cheaper; without
    it everything is tried. The probabilities may sum to less than 1. Ties go by place.
    Example: p .4 .3 .2 .1, minutes 8 4 5 1: the order 3, 1, 0, 2 at 10.4 minutes.
    """
    order = sorted(range(len(minutes)), key=lambda i: -probabilities[i] / minutes[i])
    left, cost = 1.0, 0.0
    best, stop = (service, 0) if service is not None else (float("inf"), len(order))
    for tried, i in enumerate(order, start=1):
        cost += left * minutes[i]
        left = max(left - probabilities[i], 0.0)
        if service is not None and cost + left * service < best:
            best, stop = cost + left * service, tried
    return (cost if service is None else best), tuple(order[:stop])


@dataclass(frozen=True)
class Remedies:
    """The remedies behind the causes: which one mends each cause (by place), and the minutes of each remedy."""

    mends: tuple[int, ...]
    minutes: tuple[float, ...]
    service: float | None = None

    @classmethod
    def of(cls, remedies: Sequence[tuple[str, float]], service: float | None = None) -> "Remedies":
        """Take the remedy and its minutes for each cause; one remedy for several causes takes the longest of them."""
        longest: dict[str, float] = {}
        for remedy, minutes in remedies:
            longest[remedy] = max(minutes, longest.get(remedy, 0.0))
        places = {remedy: place for place, remedy in enumerate(longest)}
        return cls(tuple(places[remedy] for remedy, _ in remedies), tuple(longest.values()), service)

    def cost(self, probabilities: Sequence[float]) -> float:
        """Give the expected cost of repair for probabilities of the causes; causes with one remedy count together."""
        together = [0.0] * len(self.minutes)
        for remedy, probability in zip(self.mends, probabilities, strict=True):
            together[remedy] += probability
        return repair_plan(together, self.minutes, self.service)[0]

    def cost_after(self, outcomes: Split) -> float:
        """Give the expected cost of repair once one of the outcomes is seen, without the cost of looking."""
        return fsum(chance * self.cost(after) for chance, after in outcomes if chance > 0.0)


def split(probabilities: Sequence[float], likelihoods: Iterable[Sequence[float]]) -> Split:
    """Give for each outcome its probability and the probabilities of the causes after it (Bayes' rule).

    `likelihoods` has one row an outcome, with P(outcome | cause) for each cause.
    """
    outcomes = []
    for row in likelihoods:
        joint = [p * likelihood for p, likelihood in zip(probabilities, row, strict=True)]
        chance = fsum(joint)
        outcomes.append((chance, tuple(j / chance for j in joint) if chance > 0.0 else tuple(probabilities)))
    return tuple(outcomes)


def normalised(rows: Sequence[Sequence[float]]) -> list[list[float]]:
    """Make the likelihoods of the outcomes sum to 1 for each cause."""
    totals = [sum(column) for column in zip(*rows, strict=True)]
    return [[value / total for value, total in zip(row, totals, strict=True)] for row in rows]


def entropy(probabilities: Iterable[float]) -> float:
    """Give the entropy in bits."""
    return -fsum(p * log2(p) for p in probabilities if p > 0.0)


def information(probabilities: Sequence[float], outcomes: Split) -> float:
    """Give the expected information of seeing one of the outcomes, in bits: never negative."""
    return max(entropy(probabilities) - fsum(chance * entropy(after) for chance, after in outcomes), 0.0)
