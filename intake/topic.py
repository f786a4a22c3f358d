"""How likely a message tells of no fault of the owner's machine, by its words alone.

A lamp that smokes, a neighbour's machine, a letter of thanks: such messages hold words of danger that mean nothing
here. A logistic regression over the different words, scaled to length one, tells them from the others
(`python -m tests.train topic`). A few words tell little: the fewer, the nearer to what holds of messages at large.
"""

from collections.abc import Collection
from typing import Any, NamedTuple

import numpy

_FEW = 40  # different words; by judgement


class Topic(NamedTuple):
    """A weight for each row of words, the offset, and the log odds of messages at large."""

    weights: Any
    offset: Any
    prior: Any

    def odds(self, rows: Collection[int]) -> float:
        """Give the natural logarithm of the odds that a message of these words, each once, tells of no fault."""
        words = sorted(rows)
        share = min(len(words) / _FEW, 1)
        odds = self.offset + self.weights[words].sum() / numpy.sqrt(max(len(words), 1))
        return float(share * odds + (1 - share) * self.prior)
