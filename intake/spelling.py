"""Typing errors mended against our own words; a word that English knows is left alone.

The rule (lengths are those of the shorter word): no edit up to 3 letters, 1 for 4 and 5, 2 from 6 on; optimal string
alignment, so that a swap of neighbours is one edit (Damerau 1964); exactly one nearest word, a mere swap first; the
first letter the same, or swapped with the second. Our vocabulary is asked before the word-frequency list, which rates
trade words as rare.
"""

from collections.abc import Iterable, Iterator, Sequence

from rapidfuzz import process
from rapidfuzz.distance import OSA

from intake.frequency import zipf
from intake.words import shortened, stem

REAL_WORD = 3.0  # Zipf frequency (log10 per thousand million words) from which a word is no typing error
_ATTESTED = 2.0  # a made inflection that is rarer than this does not exist
_SHORTEST = 4
_FAR_COMMONER = 1.0  # Zipf steps: "nothing" is that much commoner than "nothin", "aspiring" not than "aspirin"
_SHORTEST_DROPPED = 5  # letters of a word whose g may have been dropped; "thin" is no "thing"


class Spelling:
    """The vocabulary, and the mending of one word."""

    def __init__(
        self, words: Iterable[str], stems: Iterable[str] | None = None, candidates: Sequence[str] | None = None
    ) -> None:
        self.words = frozenset(word for word in words if word.isalpha())
        self.stems = frozenset(map(stem, self.words) if stems is None else stems)
        self._candidates = _candidates(self.words) if candidates is None else candidates
        self._mended: dict[str, str | None] = {}

    def plain(self) -> dict[str, list[str]]:
        """Give the arguments that make the same vocabulary again, without stemming or looking up a word."""
        return {"words": sorted(self.words), "stems": sorted(self.stems), "candidates": list(self._candidates)}

    def knows(self, word: str) -> bool:
        """Tell whether the word, or a word with its stem, is in the vocabulary."""
        return word in self.words or stem(word) in self.stems

    def is_real(self, word: str) -> bool:
        """Tell whether English knows the word, or we do."""
        return self.knows(word) or zipf(word) >= REAL_WORD

    def mend(self, word: str) -> str | None:
        """Give the word of the vocabulary that was meant, or None: "baord" -> "board"; "bored" -> None."""
        if len(word) < _SHORTEST or not word.isalpha() or self.is_real(word):
            return None
        if word not in self._mended:
            if len(self._mended) > 20_000:
                self._mended.clear()
            self._mended[word] = self._nearest(word)
        return self._mended[word]

    def with_g(self, word: str) -> str:
        """Give back the g that was dropped: "spinnin", "spinin" -> "spinning"; other words as they are."""
        if not word.endswith("in") or len(word) < _SHORTEST_DROPPED or self.is_real(word):
            return word  # the common ones ("nothin") are spelled out by the grammar: the guard holds for all
        forms = (word + "g", f"{word[:-2]}{word[-3]}ing")
        return next((form for form in forms if zipf(form) >= max(REAL_WORD, zipf(word) + _FAR_COMMONER)), word)

    def _nearest(self, word: str) -> str | None:
        for form in shortened(word):
            if self.is_real(form):
                return form
        near = [
            ((distance, sorted(candidate) != sorted(word)), candidate)
            for candidate, distance, _ in process.extract(
                word, self._candidates, scorer=OSA.distance, score_cutoff=2, limit=20, processor=None
            )
            if distance <= allowed_edits(word, candidate) and _begins_alike(word, candidate)
        ]
        least = min((distance for distance, _ in near), default=None)
        closest = [candidate for distance, candidate in near if distance == least]
        fuller = [candidate for candidate in closest if _holds(candidate, word)]  # a letter left out: the likelier slip
        nearest = {stem(candidate): candidate for candidate in fuller or closest}
        return next(iter(nearest.values())) if len(nearest) == 1 else None


def _candidates(words: Iterable[str]) -> list[str]:
    """The vocabulary with its inflections, in a fixed order."""
    long = {word for word in words if len(word) >= _SHORTEST}
    return sorted(long | {form for word in long for form in _inflections(word) if zipf(form) >= _ATTESTED})


def allowed_edits(word: str, candidate: str) -> int:
    """How many edits may lie between the two words."""
    shorter = min(len(word), len(candidate))
    return 0 if shorter <= 3 else 1 if shorter <= 5 else 2


def _holds(candidate: str, word: str) -> bool:
    """Tell whether the letters of `word` stand in `candidate` in the same order: "freezng" in "freezing"."""
    letters = iter(candidate)
    return all(letter in letters for letter in word)


def _begins_alike(word: str, candidate: str) -> bool:
    return word[0] == candidate[0] or word[:2] == candidate[1::-1]


def _inflections(word: str) -> Iterator[str]:
    yield from (word + ending for ending in ("s", "es", "ed", "ing"))
    yield from (word + word[-1] + ending for ending in ("ed", "ing"))
    if word.endswith("e"):
        yield from (word[:-1] + ending for ending in ("ed", "ing"))
