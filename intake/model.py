"""A linear model of what words say: the words of a clause in, the log odds of each finding and state out.

A logistic regression for each label on hashed pieces of the text (feature hashing: Weinberger et al., Feature hashing
for large scale multitask learning, 2009). `python -m tests.train` makes its numbers from the corpus, the same ones at
every run; nothing is learned while reading.
"""

import json
from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple
from zlib import crc32

import numpy

PLACES = 2**14  # where the hashed pieces fall
NUMBERS = Path(__file__).with_name("model.npy")
LABELS = Path(__file__).with_name("model.json")
_LETTERS = 4  # of a piece of a word
_EDGE = "|"


class Model(NamedTuple):
    """`numbers` are int8, PLACES rows with a column for each label; `scales` and `offsets` make log odds of their sums.

    A label is a finding with its state: ("fans-spin", "absent").
    """

    labels: tuple[tuple[str, str], ...]
    numbers: Any
    scales: Any
    offsets: Any

    def sum_of(self, pieces: Sequence[int]) -> Any:
        """Add up the rows of these pieces: a number for each label, to be added to those of further clauses."""
        return self.numbers[pieces].sum(axis=0, dtype=numpy.int64)

    def odds(self, sums: Any, sizes: Any) -> Any:
        """Give the natural logarithm of the odds: a row for each sum over so many pieces, a column for each label."""
        return sums * self.scales / numpy.sqrt(sizes)[:, None] + self.offsets


@cache
def shipped_model() -> Model:
    """Give the model that comes with this package; its numbers are read when they are looked at."""
    plain = json.loads(LABELS.read_text("utf-8"))
    return Model(
        tuple((finding, state) for finding, state in plain["labels"]),
        numpy.asarray(numpy.load(NUMBERS, mmap_mode="r", allow_pickle=False)),
        numpy.array(plain["scales"]),
        numpy.array(plain["offsets"]),
    )


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
