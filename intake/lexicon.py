"""The knowledge base as the reading needs it: concepts, multi-word terms, vocabulary, patterns."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from intake.mentions import Polarity
from intake.patterns import Element, Pattern, PatternSet
from intake.prepared import BYSTANDER, SHORTEST_JOINED, Plain, compiled
from intake.shapes import Expressions
from intake.spelling import Spelling
from intake.terms import Terms
from intake.words import Word
from knowledge.models import Finding, KnowledgeBase

Made = TypeVar("Made")
Owner = TypeVar("Owner")

# The pipeline parts are made by name from plain settings: they find their lexicon here, by its key.
LEXICONS: dict[str, "Lexicon"] = {}


@dataclass(frozen=True)
class Said:
    """What a pattern of a wording says: the finding, and whether as present, absent, or as a bare mention."""

    finding: str
    polarity: Polarity
    detail: str | None
    about: frozenset[str] = frozenset()  # stems of the things, one of which must have been named last


class Lexicon:
    """The base, compiled once; everything in it is in the order of the files.

    Made of what `prepared` gives, or compiled here and now. Raises `KnowledgeError` where a pattern is wrong.
    """

    def __init__(self, base: KnowledgeBase, plain: Plain | None = None) -> None:
        plain = compiled(base) if plain is None else plain
        self.base = base
        self.findings: dict[str, Finding] = {finding.id: finding for finding in base.findings}
        self.parts: dict[str, str] = plain["parts"]
        self.bystanders, self.strangers, self.kin = (frozenset(plain[name]) for name in (BYSTANDER, "stranger", "kin"))
        self.fillers = frozenset(plain["fillers"])
        self.terms = Terms(map(tuple, plain["terms"]))
        self.spelling = Spelling(**plain["spelling"])
        self.expressions = Expressions(base.pieces, base.namings, plain["needs"])
        self._single_terms = frozenset(plain["single terms"])
        self._run_together: dict[str, list[str]] = plain["run together"]
        elements = _Lazy(plain["elements"], Element.of_plain)
        wordings, cues, outcomes = (plain[name] for name in ("wordings", "cues", "outcomes"))
        self.wordings = PatternSet(self.fillers, _patterns(wordings, elements, _said), wordings["index"])
        self.cues = PatternSet(frozenset(), _patterns(cues, elements, base.cues.__getitem__), cues["index"])
        self.outcomes = PatternSet(self.fillers, _patterns(outcomes, elements, str), outcomes["index"])
        self.referents = frozenset(thing for _, _, owner in wordings["patterns"] for thing in owner[-1])

    def mended(self, word: str) -> tuple[str, ...]:
        """Give the word or words that were meant: ("power", "supply") for "powersuply"-like slips, else the word."""
        word = self.spelling.with_g(word)
        if self.spelling.is_real(word):
            return (word,)
        return tuple(self._run_together.get(word) or (self.spelling.mend(word) or word).split(" "))

    def joined(self, first: Word, second: Word) -> Word | None:
        """Join a word that was written apart: mother, board -> motherboard."""
        whole = first.norm + second.norm
        if second.start - first.end > 1 or len(whole) < SHORTEST_JOINED or min(len(first.norm), len(second.norm)) < 2:
            return None
        if whole not in self._single_terms or {first.norm, second.norm} <= self.spelling.words:
            return None
        return Word(whole, first.start, second.end)


class _Lazy(Sequence[Made]):
    """Things made of plain rows when they are first asked for: a message needs a few of the thousands of patterns."""

    def __init__(self, rows: Sequence[Any], make: Callable[[Any], Made]) -> None:
        self._rows = rows
        self._make = make
        self._made: dict[int, Made] = {}

    def __len__(self) -> int:
        return len(self._rows)

    def __getitem__(self, number: Any) -> Any:
        if number not in self._made:
            self._made[number] = self._make(self._rows[number])
        return self._made[number]


def _patterns(plain: Plain, elements: Sequence[Element], owner: Callable[[Any], Owner]) -> _Lazy[Pattern[Owner]]:
    def make(row: tuple[str, list[int], Any]) -> Pattern[Owner]:
        text, numbers, owned = row
        return Pattern(text, tuple(elements[number] for number in numbers), owner(owned))

    return _Lazy(plain["patterns"], make)


def _said(plain: tuple[str, Polarity, str | None, list[str]]) -> Said:
    finding, polarity, detail, about = plain
    return Said(finding, polarity, detail, frozenset(about))
