"""Parts that the message names, with what can be read of them: "2x8 GB ddr4-3200", "650 W gold modular supply".

Shapes are found, chained where only linking words stand between them, and parted where a fact comes twice or the
part changes. A bare "graphics card" is no news; a rating, size, model, socket, count or kind makes it so.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from intake.expression import Expression, folded
from intake.reading import BuildMention
from intake.shapes import Expressions, Span, expressions, sentences
from knowledge.models import KnowledgeBase
from knowledge.shapes import NUMBERS, Shape

if TYPE_CHECKING:
    from spacy.tokens import Doc

ELSEWHERE = "elsewhere"
_LINK = 48  # characters between two shapes of one part, at most
_BACK = 80  # characters in which a part named before still lends its name
_LOOK = 100  # characters before an item in which an owner or a wish is looked for
_ISH = re.compile(r"\dish\b|\d[\s-]ish\b", re.IGNORECASE)
_THOUSANDS = {"kilowatts": "watts", "capacity_tb": "capacity_gb"}


@dataclass(frozen=True, slots=True)
class _Mark:
    """One shape found in the text."""

    start: int
    end: int
    parts: tuple[str, ...]
    worth: str
    facts: tuple[tuple[str, object], ...]


@dataclass(slots=True)
class _Item:
    """Marks that belong to one part; `parts` are those it can still be, `first` is its place among all marks."""

    first: int
    marks: list[_Mark]
    parts: tuple[str, ...]
    keys: set[str] = field(default_factory=set)

    def takes(self, mark: _Mark) -> tuple[str, ...]:
        """The parts that the item could be with this mark as well; none where a fact would come twice."""
        if self.keys & {key for key, _ in mark.facts}:
            return ()
        return tuple(part for part in self.parts if part in mark.parts)

    def add(self, mark: _Mark, parts: tuple[str, ...]) -> None:
        self.marks.append(mark)
        self.parts = parts
        self.keys |= {key for key, _ in mark.facts}


def read_build(doc: "Doc") -> list[BuildMention]:
    """List the hardware named in `doc`; `doc._.text` is the safe text with the offsets of the message."""
    return hardware_in(doc._.text, doc._.lexicon.base, doc._.lexicon.expressions)


def hardware_in(text: str, base: KnowledgeBase, known: Expressions | None = None) -> list[BuildMention]:
    """List the hardware that `text` names, in its order; `text[start:end]` are the words of each."""
    return list(_reader(base.shapes, known or expressions(base)).read(text))


_Made = tuple[Shape, Expression]


class _Reader:
    """The shapes of a base, compiled."""

    def __init__(self, shapes: Sequence[Shape], known: Expressions) -> None:
        self._known = known
        self._shapes = [(shape, known.make(shape.pattern)) for shape in shapes]
        names = ("link", "tight", "having", "wish", "others", "mine", "about-before", "about-after")
        self._piece = {name: known.piece(name) for name in names} if self._shapes else {}

    def read(self, text: str) -> Iterator[BuildMention]:
        """Find the hardware of a text, sentence by sentence; most shapes stand nowhere in it."""
        here = folded(text)
        likely = [(shape, pattern) for shape, pattern in self._shapes if pattern.may_match(here)]
        for sentence in sentences(text):
            yield from self._read(text, sentence, likely)

    def _read(self, text: str, sentence: Span, likely: Sequence[_Made]) -> Iterator[BuildMention]:
        marks = self._marks(text, sentence, likely)
        for item in self._items(text, marks):
            part = self._part_of(item, marks)
            if part and self._is_worth(text, sentence, item) and not self._is_other(text, sentence, item):
                yield _named(text, part, item)

    def _marks(self, text: str, sentence: Span, likely: Sequence[_Made]) -> list[_Mark]:
        """The shapes of a sentence without overlaps: the leftmost, and of those the longest."""
        found = [
            self._mark(text, sentence, shape, match)
            for shape, pattern in likely
            for match in pattern.finditer(text, sentence.start, sentence.end)
        ]
        kept: list[_Mark] = []
        for mark in sorted(found, key=lambda mark: (mark.start, -mark.end)):
            if not kept or mark.start >= kept[-1].end:
                kept.append(mark)
            elif (mark.start, mark.end) == (kept[-1].start, kept[-1].end):
                kept[-1] = min(kept[-1], mark, key=lambda mark: _WORTH.index(mark.worth))
        return kept

    def _mark(self, text: str, sentence: Span, shape: Shape, match: re.Match[str]) -> _Mark:
        facts: dict[str, object] = {key: self._value(key, said) for key, said in match.groupdict().items() if said}
        if shape.gives:
            key, _, meaning = shape.gives.partition("=")
            facts[key] = meaning
        for short, unit in _THOUSANDS.items():
            if short in facts:
                facts[unit] = _thousandfold(facts.pop(short))
        start, end = match.span()
        if NUMBERS & facts.keys():
            before = self._piece["about-before"].search(text, max(sentence.start, start - 16), start)
            after = self._piece["about-after"].match(text, end, sentence.end)
            start, end = before.start() if before else start, after.end() if after else end
            if before or after or _ISH.search(match[0]):
                facts["approximately"] = True
        return _Mark(start, end, shape.parts, shape.worth, tuple(facts.items()))

    def _value(self, key: str, words: str) -> object:
        if key in NUMBERS:
            return self._known.number(words)
        told = re.sub(r"\s+", " ", words)
        return told if key in ("model", "socket") else told.lower()

    def _items(self, text: str, marks: Sequence[_Mark]) -> list[_Item]:
        items: list[_Item] = []
        for at, mark in enumerate(marks):
            parts = items[-1].takes(mark) if items and self._is_linked(text, marks, at) else ()
            if parts and not self._belongs_to_next(text, marks, at, items[-1]):
                items[-1].add(mark, parts)
            else:
                items.append(_Item(at, [mark], mark.parts, {key for key, _ in mark.facts}))
        return items

    def _is_linked(self, text: str, marks: Sequence[_Mark], at: int) -> bool:
        start, end = marks[at - 1].end, marks[at].start
        return end - start <= _LINK and self._piece["link"].fullmatch(text, start, end) is not None

    def _belongs_to_next(self, text: str, marks: Sequence[_Mark], at: int, item: _Item) -> bool:
        """Tell whether a fact leans on what comes after it, not on what is before: "16 GB, | 550 W bronze supply"."""
        if at + 1 >= len(marks) or marks[at].worth == "part":
            return False
        mark, after = marks[at], marks[at + 1]
        leans = self._piece["tight"].fullmatch(text, mark.end, after.start)
        held = self._piece["tight"].fullmatch(text, item.marks[-1].end, mark.start)
        other = set(after.parts) & set(mark.parts) and not set(after.parts) & set(item.parts)
        return bool(leans and not held and other)

    def _part_of(self, item: _Item, marks: Sequence[_Mark]) -> str | None:
        """The part of an item: the only one left, else the one named before it, else the likeliest."""
        part = item.parts[0]
        if len(item.parts) > 1:
            named = next((p for p in _named_before(item, marks) if p in item.parts), None)
            if named is None and all(mark.worth in ("named", "extra") for mark in item.marks):
                return None
            part = named or part
        return None if part == ELSEWHERE else part

    def _is_worth(self, text: str, sentence: Span, item: _Item) -> bool:
        worths = {mark.worth for mark in item.marks}
        if worths & {"alone", "named"}:
            return "alone" in worths or (len(item.parts) == 1 and len(item.marks) > 1) or len(item.parts) > 1
        start = item.marks[0].start
        sized = worths >= {"had", "part"} and NUMBERS & item.keys - {"count"}
        had = self._piece["having"].search(text, max(sentence.start, start - 24), start)
        return "had" in worths and bool(sized or had)

    def _is_other(self, text: str, sentence: Span, item: _Item) -> bool:
        """Tell whether it is somebody else's, only tried out, or only wished for."""
        start = item.marks[0].start
        low = max(sentence.start, start - _LOOK)
        if self._piece["wish"].search(text, low, start):
            return True
        other = self._piece["others"].search(text, low, start)
        return other is not None and not self._piece["mine"].search(text, other.start(), start)


_WORTH = ("alone", "named", "had", "extra", "part")


def _named_before(item: _Item, marks: Sequence[_Mark]) -> Iterator[str]:
    """The parts named shortly before an item, the nearest first."""
    low = item.marks[0].start - _BACK
    for at in range(item.first - 1, -1, -1):
        if marks[at].start < low:
            return
        if marks[at].worth == "part":
            yield marks[at].parts[0]


def _thousandfold(value: object) -> int | str:
    """Thousands as ones: 1.2 -> 1200, "1-2" -> "1000-2000"."""
    ends = [round(float(end) * 1000) for end in str(value).split("-")]
    return ends[0] if len(ends) == 1 else "-".join(map(str, ends))


def _named(text: str, part: str, item: _Item) -> BuildMention:
    start, end = item.marks[0].start, item.marks[-1].end
    facts = dict(fact for mark in item.marks for fact in mark.facts)
    return BuildMention(part, text[start:end], start, end, dict(sorted(facts.items())))


@lru_cache(maxsize=4)
def _reader(shapes: tuple[Shape, ...], known: Expressions) -> _Reader:
    return _Reader(shapes, known)
