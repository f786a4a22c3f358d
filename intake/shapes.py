"""Expressions of the knowledge base, written out as regular ones, and what their groups say.

`{watts}` in an expression is a number, in digits or as a word, or a range of two ("500-600", "three or four").
"""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from intake.expression import Expression, Needs
from knowledge.errors import KnowledgeError
from knowledge.models import KnowledgeBase
from knowledge.shapes import NUMBERS, Naming, Piece

_NAME = re.compile(r"\{([a-z][a-z_-]*)\}")
_BLANK = r"(?:\s{1,3})"
_NUMBERS = NUMBERS | {"count"}
_DIGITS = r"\d{1,5}(?:[.,]\d{1,3})?"
_BREAK = re.compile(r"[!?;](?=\s|$)|(?<!\.)\.(?=\s|$)|\n[ \t]{0,8}(?=[^a-z \t])|\n(?=\n)|[•·]")
_WINDOW = 120  # characters on either side in which a shape looks for its company


class Span(NamedTuple):
    """A half-open span of the text."""

    start: int
    end: int


class Expressions:
    """The pieces, numerals and lights of a base; makes expressions of them, with what each is known to need."""

    def __init__(
        self, pieces: Iterable[Piece], namings: Iterable[Naming], needs: Mapping[str, Needs] | None = None
    ) -> None:
        self._needs = needs or {}
        self._pieces = {piece.id: piece.pattern for piece in pieces}
        namings = tuple(namings)
        self.numbers = {word: int(n.value) for n in namings if n.kind == "number" for word in n.words}
        self.lights = {word: n.value for n in namings if n.kind == "light" for word in n.words}
        number = f"(?:{_DIGITS}|{_any(self.numbers)})"
        self._number = rf"{number}(?:\s?(?:-|–|to|or)\s?{number})?"

    def make(self, expression: str) -> Expression:
        """Make an expression; raise `KnowledgeError` where it names a piece that is not there."""
        source = self.expand(expression)
        return Expression(source, self._needs.get(source, ()))

    def piece(self, name: str) -> Expression:
        """Make the expression of a piece by its name."""
        return self.make("{" + name + "}")

    def expand(self, expression: str, depth: int = 0) -> str:
        """Write an expression out as a regular expression, its pieces and numbers in it."""

        def named(match: re.Match[str]) -> str:
            name = match[1]
            if name in _NUMBERS:
                return rf"(?<![\w.,£$€#-])(?P<{name}>{self._number})(?:[\s-]?ish)?"
            if name == "light":
                return rf"\b(?P<light>{_any(self.lights)})\b"
            if name not in self._pieces or depth > 4:
                raise KnowledgeError([f"shapes: no piece {name!r} for {expression!r}; add one, or mend the name"])
            return "(?:" + self.expand(self._pieces[name], depth + 1) + ")"

        return _NAME.sub(named, expression.replace(" ", _BLANK))

    def number(self, words: str) -> int | float | str:
        """Read a number: 450, 3.6, 2 for "two", "500-600" for a range."""
        ends = re.split(r"\s?(?:-|–|to|or)\s?", words.lower()) if words.lower() not in self.numbers else [words.lower()]
        values = [self._single(end) for end in ends if end]
        return values[0] if len(values) == 1 else "-".join(map(str, values))

    def _single(self, word: str) -> int | float:
        if word in self.numbers:
            return self.numbers[word]
        value = float(re.sub(r",(?=\d{3}$)", "", word).replace(",", "."))
        return int(value) if value.is_integer() else value


def _any(words: Iterable[str]) -> str:
    """Any of the words, the longest first."""
    return "|".join(re.escape(word).replace(r"\ ", _BLANK) for word in sorted(words, key=lambda w: (-len(w), w)))


@lru_cache(maxsize=4)
def _expressions(pieces: tuple[Piece, ...], namings: tuple[Naming, ...]) -> Expressions:
    return Expressions(pieces, namings)


def expressions(base: KnowledgeBase) -> Expressions:
    """Give the expressions of a base; they are made once."""
    return _expressions(base.pieces, base.namings)


def sentences(text: str) -> list[Span]:
    """Split at full stops and at line ends that end a statement; a point inside a number does not end one."""
    bounds = [0, *(match.end() for match in _BREAK.finditer(text)), len(text)]
    return [Span(start, end) for start, end in pairwise(bounds) if start < end]


def around(text: str, sentence: Span, start: int, end: int) -> str:
    """The words of the sentence around a span, bounded so that the work stays linear."""
    return text[max(sentence.start, start - _WINDOW) : min(sentence.end, end + _WINDOW)]
