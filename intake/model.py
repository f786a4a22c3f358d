"""What a model makes of clauses: their words in, the log odds of each finding and state out.

A small network (Kim, Convolutional neural networks for sentence classification, 2014): every word a vector, filters
over three words in a row, and of each filter the greatest answer in the clause and the sum of all. Beside it a logistic
regression on hashed pieces of the text (Weinberger et al., Feature hashing for large scale multitask learning, 2009)
and on what the wordings have found. `python -m tests.train` makes its numbers from the corpus, the same ones at every
run; nothing is learned while reading.
"""

import json
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple
from zlib import crc32

import numpy

PLACES = 2**14  # where the hashed pieces fall
SIDE = 1  # words on either side of one that a filter sees
BLANK, UNKNOWN = 0, 1  # rows of `vectors`: no word (zeros), and a word that was not learned
NUMBERS = Path(__file__).with_name("model.npz")
NAMES = Path(__file__).with_name("model.json")
_LETTERS = 4  # of a piece of a word
_EDGE = "|"

Label = tuple[str, str]  # a finding with its state: ("fans-spin", "absent")


class View(NamedTuple):
    """What is seen of some spans of words, a row for each."""

    peaks: Any  # the greatest answer of each filter
    sums: Any  # of its answers
    sizes: Any  # words
    told: Any  # 1 for each label that the wordings found in the span, else 0
    pieces: Any  # the numbers of its pieces, added up for each label
    counts: Any  # pieces

    def joined(self, left: Sequence[int], right: Sequence[int]) -> "View":
        """Give what is seen of these spans taken together two by two."""
        return View(
            numpy.maximum(self.peaks[left], self.peaks[right]),
            self.sums[left] + self.sums[right],
            self.sizes[left] + self.sizes[right],
            numpy.maximum(self.told[left], self.told[right]),
            self.pieces[left] + self.pieces[right],
            self.counts[left] + self.counts[right],
        )

    def followed_by(self, other: "View") -> "View":
        """Give the rows of both."""
        return View(*(numpy.concatenate(both) for both in zip(self, other, strict=True)))


class Model(NamedTuple):
    """The numbers: V known words, D numbers a word, F filters, L labels.

    `labels` has L of them, `words` the row of each known word in `vectors` (V, D); `filters` is (2 SIDE + 1) D, F and
    `thresholds` F; `weights` is 2 F, L; `trust` is L, L: what a label that the wordings found adds to the odds of each;
    `pieces` are int8, PLACES rows with L columns, and `scales` (L) what makes odds of them; `offsets` is L.
    """

    labels: tuple[Label, ...]
    words: Mapping[str, int]
    vectors: Any
    filters: Any
    thresholds: Any
    weights: Any
    trust: Any
    pieces: Any
    scales: Any
    offsets: Any

    def answers(self, rows: Sequence[int]) -> Any:
        """Give the answer of each filter at each word; `rows` are those of the words, BLANK between sentences."""
        vectors = numpy.pad(self.vectors[rows].astype(numpy.float32), ((SIDE, SIDE), (0, 0)))
        seen = numpy.hstack([vectors[at : at + len(rows)] for at in range(2 * SIDE + 1)])
        return numpy.maximum(seen @ self.filters + self.thresholds, 0)

    def odds(self, view: View) -> Any:
        """Give the natural logarithm of the odds: a row for each span, a column for each label."""
        means = view.sums / numpy.sqrt(view.sizes + 1)[:, None]
        network = numpy.hstack([view.peaks, means]) @ self.weights + view.told @ self.trust
        return network + view.pieces * self.scales / numpy.sqrt(view.counts)[:, None] + self.offsets


@cache
def shipped_model() -> Model:
    """Give the model that comes with this package."""
    names = json.loads(NAMES.read_text("utf-8"))
    with numpy.load(NUMBERS, allow_pickle=False) as numbers:
        arrays = {name: _wide(name, numbers[name]) for name in numbers.files}
    labels = tuple((finding, state) for finding, state in names["labels"])
    return Model(labels, {word: row for row, word in enumerate(names["words"], start=UNKNOWN + 1)}, **arrays)


def _wide(name: str, numbers: Any) -> Any:
    return numbers if name in ("pieces", "vectors") else numbers.astype(numpy.float32)


def pieces_of(stems: Sequence[str]) -> list[int]:
    """Give the places of the pieces of a clause: its stems, pairs and triples of them, four letters of each in turn."""
    edged = [_EDGE, *stems, _EDGE]
    pairs = (" ".join(pair) for pair in pairwise(edged))
    triples = (" ".join(edged[at : at + 3]) for at in range(len(edged) - 2))
    found = {place for word in stems for place in _of_word(word)}
    return sorted(found.union(map(_place, pairs), map(_place, triples)))


@lru_cache(maxsize=20_000)
def _of_word(word: str) -> tuple[int, ...]:
    whole = f"^{word}$"
    letters = (whole[at : at + _LETTERS] for at in range(len(whole) - _LETTERS + 1))
    return tuple(map(_place, (word, *letters)))


def _place(piece: str) -> int:
    return crc32(piece.encode()) % PLACES
