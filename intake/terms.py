"""Terms of several words ("power supply"): merged into one word of the message, so that they match as one.

A longer term hides the words in it: in "the cpu fan spins" there is no bare `fan`. A pattern that spells a term out
word by word still has to match, so it gets a variant in which the term is one element.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import accumulate, combinations
from operator import or_

from intake.patterns import Element
from intake.words import Word, stem

_MOST_VARIANTS = 8

# A stretch of elements, half-open, and the terms that may stand for it.
_Stretch = tuple[tuple[int, int], frozenset[str]]


class Terms:
    """All terms of several words, stemmed; by their first word, the longest first. Those of one word are left out.

    What is in a `sealed` term stays hidden from every pattern that does not name the term itself.
    """

    def __init__(
        self,
        terms: Iterable[tuple[str, ...]],
        fillers: frozenset[str] = frozenset(),
        sealed: Iterable[tuple[str, ...]] = (),
    ) -> None:
        stems = {term for term in terms if len(term) > 1}
        self._fillers = fillers
        self._sealed = frozenset(sealed)
        self._by_first: dict[str, list[tuple[str, ...]]] = {}
        for term in sorted(stems, key=lambda term: (-len(term), term)):
            self._by_first.setdefault(term[0], []).append(term)

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        """Give the terms in a fixed order."""
        return (term for terms in self._by_first.values() for term in terms)

    def merge(self, words: Iterable[Word]) -> Iterator[Word]:
        """Merge terms, the longest first: power, supply -> "power supply"."""
        sequence = list(words)
        stems = [stem(word.norm) for word in sequence]
        at = 0
        while at < len(sequence):
            size = self._length_at(stems, at)
            group = sequence[at : at + size]
            norm = " ".join(word.norm for word in group)
            yield group[0] if size == 1 else Word(norm, group[0].start, group[-1].end)
            at += size

    def _length_at(self, stems: list[str], at: int) -> int:
        for term in self._by_first.get(stems[at], ()):
            if tuple(stems[at : at + len(term)]) == term:
                return len(term)
        return 1

    def variants(self, elements: tuple[Element, ...]) -> Iterator[tuple[Element, ...]]:
        """Yield the elements themselves, then with each stretch that some terms spell out as one element."""
        yield elements
        stretches = self._stretches(elements)
        pairs = [pair for pair in combinations(stretches, 2) if pair[0][0][1] <= pair[1][0][0]]
        for chosen in [*((stretch,) for stretch in stretches), *pairs][:_MOST_VARIANTS]:
            variant = elements
            for (start, end), terms in reversed(chosen):
                variant = (*variant[:start], Element(terms), *variant[end:])
            yield variant

    def _stretches(self, elements: tuple[Element, ...]) -> list[_Stretch]:
        found: dict[tuple[int, int], set[str]] = {}
        # Most terms end in no word of the pattern: asked first, since the rest of the search is dear.
        nothing: frozenset[str] = frozenset()
        later = list(accumulate(map(_last_words, reversed(elements[1:])), or_, initial=nothing))
        for start, (element, lasts) in enumerate(zip(elements, reversed(later), strict=True)):
            for first in _stem_words(element) if lasts else ():
                for term in self._by_first.get(first[0], ()):
                    if term[-1] in lasts and term[: len(first)] == first and term not in self._sealed:
                        for end in self._ends(term, len(first), elements, start + 1) if len(term) > len(first) else ():
                            found.setdefault((start, end), set()).add(" ".join(term))
        return [(place, frozenset(found[place])) for place in sorted(found)]

    def _ends(self, term: tuple[str, ...], at: int, elements: tuple[Element, ...], place: int) -> set[int]:
        """Where the elements that spell `term[at:]` from `place` on may end; its last word must be named."""
        if at == len(term):
            return {place}
        if place == len(elements):
            return set()
        element = elements[place]
        ends: set[int] = set()
        if element.gap:
            ends |= self._ends(term, at, elements, place + 1)
            if element.gap > 1 and at + 1 < len(term):
                less = (*elements[:place], replace(element, gap=element.gap - 1), *elements[place + 1 :])
                ends |= self._ends(term, at + 1, less, place)
            return ends
        stems = _stems(element)
        for next_at in range(at + 1, len(term) + 1):
            if " ".join(term[at:next_at]) in stems:
                ends |= self._ends(term, next_at, elements, place + 1)
        if element.optional:
            ends |= self._ends(term, at, elements, place + 1)
        if term[at] in self._fillers and at + 1 < len(term):
            ends |= self._ends(term, at + 1, elements, place)
        return ends


@lru_cache(maxsize=20_000)
def _stem_words(element: Element) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(text.split()) for text in sorted(_stems(element)))


@lru_cache(maxsize=20_000)
def _last_words(element: Element) -> frozenset[str]:
    return frozenset(words[-1] for words in _stem_words(element))


@lru_cache(maxsize=20_000)
def _stems(element: Element) -> frozenset[str]:
    return element.stems | frozenset(map(stem, element.norms))
