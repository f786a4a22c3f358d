"""How likely a message tells of no fault of the owner's machine, by its words alone.

A lamp that smokes, a neighbour's machine, a letter of thanks: such messages hold words of danger that mean nothing
here. A logistic regression over the different words, scaled to length one, tells them from the others
(`python -m tests.train topic`). A few words tell little, and are scaled to less.
"""

from collections.abc import Collection
from typing import Any, NamedTuple

FEW = 40  # different words; by judgement


def scale(words: int) -> float:
    """Give what each of this many different words counts."""
    return float(max(words, FEW) ** -0.5)


class Topic(NamedTuple):
    """A weight for each row of words, and the offset."""

    weights: Any
    offset: Any

    def odds(self, rows: Collection[int]) -> float:
        """Give the natural logarithm of the odds that a message of these words, each once, tells of no fault."""
        words = sorted(rows)
        return float(self.offset + self.weights[words].sum() * scale(len(words)))
