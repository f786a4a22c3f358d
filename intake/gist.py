"""What a message says as a whole, by its words and by what the encoder makes of them: the third model.

The other two look at clause by clause; a logistic regression over the different words, scaled to length one, and over
the mean and the greatest of each number that the encoder gives to the pieces, sees what only many clauses tell. Beside
the labels it tells messages of no fault of the owner's machine from the others: a lamp that smokes, a neighbour's
machine, a letter of thanks hold words of danger that mean nothing here. It has learned from messages of many words:
of a few it makes little.
"""

from collections.abc import Collection, Mapping
from typing import Any, NamedTuple

import numpy

_FEW = 40  # different words; by judgement


class Gist(NamedTuple):
    """V stems, D numbers a piece, L labels, a column for each and a last one for no fault.

    `words` is V, L + 1 in whole numbers, and `scales` (L + 1) makes weights of them; `weights` is 2 D, L + 1, `offsets`
    L + 1. `prior` is the log odds of no fault, for messages at large.
    """

    words: Any
    scales: Any
    weights: Any
    offsets: Any
    prior: Any

    def odds(self, rows: Collection[int], pooled: Any) -> tuple[Any, float]:
        """Give the natural logarithms of the odds of each label, and of no fault.

        `rows` are those of the words, each once; `pooled` is 2 D numbers. The fewer words, the nearer is what is told
        of no fault to what holds of messages at large.
        """
        some = sorted(rows)
        by_words = self.words[some].sum(axis=0, dtype=numpy.float32) * self.scales / numpy.sqrt(max(len(some), 1))
        *labels, no_fault = by_words + pooled @ self.weights + self.offsets
        share = share_of(some)
        return numpy.array(labels), float(share * no_fault + (1 - share) * self.prior)


def share_of(rows: Collection[int]) -> float:
    """Give how much a message of these words tells as a whole, from 0 to 1."""
    return min(len(rows) / _FEW, 1)


def pooled_of(seen: Any) -> Any:
    """Give the mean, then the greatest, of each number over the pieces of a message, which are the rows of `seen`."""
    return numpy.concatenate([seen.mean(axis=0), seen.max(axis=0)])


def gist_of(arrays: Mapping[str, Any]) -> Gist:
    """Make a gist of its arrays."""
    return Gist(**{name: array if name == "words" else array.astype(numpy.float32) for name, array in arrays.items()})
