"""Many steps looked ahead at once: the arithmetic of `expert.repair_cost` on arrays.

The planner weighs some three hundred outcomes at each answer; one by one that takes most of the time of a triage.
`expert.repair_cost` says what is computed and is what this is tested against.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from expert.repair_cost import Remedies

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ahead:
    """What a step would bring: for each outcome its probability and the place and share of the leading cause after it.

    `repair`: the expected minutes of the repair after it; `bits`, `cause_bits`: the expected information about the
    remedy and about the cause.
    """

    chances: tuple[float, ...]
    leaders: tuple[int, ...]
    shares: tuple[float, ...]
    repair: float
    bits: float
    cause_bits: float


def look_ahead(
    now: Sequence[float], remedies: Remedies, steps: Sequence[Sequence[Sequence[float]]]
) -> tuple[Ahead, ...]:
    """Give what each step would bring, in their order.

    `now`: the probabilities of the causes, summing to 1. A step has a row for each outcome with the likelihood of that
    outcome for each cause, above 0; for each cause they are made to sum to 1 over the outcomes.
    """
    if not steps:
        return ()
    belief = np.array(now)
    sizes = [len(rows) for rows in steps]
    starts = np.concatenate(([0], np.cumsum(sizes)[:-1]))
    rows = np.array([row for step in steps for row in step])
    rows /= np.repeat(np.add.reduceat(rows, starts, axis=0), sizes, axis=0)
    joint = rows * belief
    chances = joint.sum(axis=1)
    after = joint / chances[:, None]
    together = _by_remedy(after, remedies)
    repair = np.add.reduceat(chances * _costs(together, remedies), starts)
    bits = _entropy(_by_remedy(belief[None, :], remedies))[0] - np.add.reduceat(chances * _entropy(together), starts)
    cause_bits = _entropy(belief[None, :])[0] - np.add.reduceat(chances * _entropy(after), starts)
    leaders = after.argmax(axis=1)  # the first of equals
    shares = after[np.arange(len(after)), leaders]
    return tuple(
        Ahead(
            chances=tuple(chances[start : start + size].tolist()),
            leaders=tuple(leaders[start : start + size].tolist()),
            shares=tuple(shares[start : start + size].tolist()),
            repair=float(repair[step]),
            bits=max(float(bits[step]), 0.0),
            cause_bits=max(float(cause_bits[step]), 0.0),
        )
        for step, (start, size) in enumerate(zip(starts.tolist(), sizes, strict=True))
    )


def _by_remedy(causes: Array, remedies: Remedies) -> Array:
    """Add up the causes that one remedy mends."""
    order = np.argsort(remedies.mends, kind="stable")
    firsts = np.searchsorted(np.array(remedies.mends)[order], np.arange(len(remedies.minutes)))
    together: Array = np.add.reduceat(causes[:, order], firsts, axis=1)
    return together


def _costs(together: Array, remedies: Remedies) -> Array:
    """Give the expected minutes of repair of each row: the remedies by p/c, and handed on where that is cheaper."""
    minutes = np.array(remedies.minutes)
    order = np.argsort(-together / minutes, axis=1, kind="stable")
    tried = np.take_along_axis(together, order, axis=1).cumsum(axis=1)
    left = np.maximum(1.0 - tried, 0.0)
    before = np.concatenate((np.ones((len(left), 1)), left[:, :-1]), axis=1)
    spent = (before * minutes[order]).cumsum(axis=1)
    if remedies.service is None:
        whole: Array = spent[:, -1]
        return whole
    cheapest: Array = np.minimum((spent + left * remedies.service).min(axis=1), remedies.service)
    return cheapest


def _entropy(rows: Array) -> Array:
    """Give the entropy of each row in bits."""
    logs = np.log2(rows, out=np.zeros_like(rows), where=rows > 0.0)
    entropy: Array = -(rows * logs).sum(axis=1)
    return entropy
