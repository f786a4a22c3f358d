"""What one owner sent more than once, joined: the same words again, a reminder, the same letter by two ways.

Nobody compares all pairs. Complaints of one owner are compared with that owner's; those without an owner with the ones
that share part of a sketch of their text: the smallest hashes of its runs of words, after Broder, On the resemblance
and containment of documents (1997). Each is compared with the latest few of its blocks only, so that the work grows
with the length of the queue and not with its square. A few hundred bytes stay in memory for each complaint.
"""

import re
import zlib
from collections import defaultdict, deque
from collections.abc import Iterator

from rapidfuzz import fuzz

LONGEST = 600  # characters that are compared
RUN = 3  # words
SKETCH = 4  # hashes: texts that share nine runs of ten have one of them in common but once in ten thousand
LATEST = 16
SAME = 92.0  # of 100: the same text but for a word or a greeting
WITHIN = 90.0  # of 100: of one owner, the one text holds the other
FEWEST = 8  # words, below which any text may hold the other by chance


class Joiner:
    """Takes complaints one by one and finds to which earlier one each belongs."""

    def __init__(self) -> None:
        self._words: list[str] = []
        self._first: list[int] = []
        self._blocks: defaultdict[str | int, deque[int]] = defaultdict(lambda: deque(maxlen=LATEST))

    def add(self, text: str, owner: str) -> None:
        """Take the next complaint; `owner` is empty where it is not known."""
        number, words = len(self._words), _plain(text)
        self._words.append(words)
        self._first.append(number)
        blocks = [owner] if owner else _sketch(words)
        for other in sorted({other for block in blocks for other in self._blocks[block]}):
            if _is_same(words, self._words[other], bool(owner)):
                self._join(number, other)
        for block in blocks:
            self._blocks[block].append(number)

    def groups(self) -> Iterator[list[int]]:
        """Yield the places (from 0) of what belongs together, in the order of the first of each."""
        found: defaultdict[int, list[int]] = defaultdict(list)
        for number in range(len(self._words)):
            found[self._root(number)].append(number)
        yield from found.values()

    def _join(self, number: int, other: int) -> None:
        first, second = sorted((self._root(number), self._root(other)))
        self._first[second] = first

    def _root(self, number: int) -> int:
        while self._first[number] != number:
            self._first[number] = number = self._first[self._first[number]]
        return number


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text[: 4 * LONGEST].casefold()))[:LONGEST]


def _sketch(words: str) -> list[str | int]:
    each = words.split()
    runs = {" ".join(each[at : at + RUN]) for at in range(max(1, len(each) - RUN + 1))}
    return [*sorted(zlib.crc32(run.encode()) for run in runs if run)[:SKETCH]]


def _is_same(words: str, others: str, one_owner: bool) -> bool:
    if fuzz.ratio(words, others, score_cutoff=SAME):
        return True
    long_enough = min(len(set(words.split())), len(set(others.split()))) >= FEWEST
    return one_owner and long_enough and bool(fuzz.token_set_ratio(words, others, score_cutoff=WITHIN))
