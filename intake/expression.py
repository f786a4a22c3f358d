"""Regular expressions that are compiled when first run, and run only where the words stand that a match must hold.

Most of the shapes of a base find nothing in most sentences, and compiling them all takes longer than reading a letter.
"""

import re
from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache
from importlib import import_module
from itertools import chain
from string import digits
from sys import maxsize
from typing import Any

# Choices of words: a match holds one of each. Lower-case ASCII; none at all where nothing is known.
Needs = Sequence[Sequence[str]]

_MOST_CHOICES = 3
# The characters beyond ASCII that `re` takes for an ASCII letter where case is ignored.
_TWINS = str.maketrans({"İ": "i", "ı": "i", "ſ": "s", "K": "k"})
_NOTHING = frozenset(["AT", "ASSERT", "ASSERT_NOT"])  # they take no characters: what is on either side is adjacent
_REPEATS = frozenset(["MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"])


class Expression:
    """An expression whose case does not matter, and what a match of it needs."""

    def __init__(self, source: str, needs: Needs = ()) -> None:
        self.source = source
        self.needs = needs

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """The compiled expression."""
        return re.compile(self.source, re.IGNORECASE)

    def finditer(self, text: str, start: int, end: int) -> Iterator[re.Match[str]]:
        """Give the matches in a span of the text."""
        return self.pattern.finditer(text, start, end) if self.may_match(folded(text[start:end])) else iter(())

    def may_match(self, here: str) -> bool:
        """Tell whether a folded text holds one word of each choice; plain loops, as this is asked of every sentence."""
        for words in self.needs:
            for word in words:
                if word in here:
                    break
            else:
                return False
        return True

    def search(self, text: str, start: int = 0, end: int = maxsize) -> re.Match[str] | None:
        """Give the first match in a span of the text."""
        return self.pattern.search(text, start, end)

    def match(self, text: str, start: int = 0, end: int = maxsize) -> re.Match[str] | None:
        """Give the match at the start of a span of the text."""
        return self.pattern.match(text, start, end)

    def fullmatch(self, text: str, start: int = 0, end: int = maxsize) -> re.Match[str] | None:
        """Give the match of a whole span of the text."""
        return self.pattern.fullmatch(text, start, end)


@lru_cache(maxsize=64)
def folded(text: str) -> str:
    """Bring a text to the form in which the words of needs are looked for."""
    if not text.isascii():
        text = "".join(str(int(sign)) if sign.isdecimal() else sign for sign in text.translate(_TWINS))
    return text.lower()


def needs_of(source: str) -> list[list[str]]:
    """Give what every match of an expression holds, the most telling choices first; looks around do not count."""
    try:
        parser: Any = import_module("re._parser")
    except ImportError:  # the parser of another Python: every expression is run everywhere
        return []
    choices = {frozenset(words) for words in _choices(parser.parse(source, re.IGNORECASE))}
    ranked = sorted(choices, key=lambda words: (-min(map(len, words)), len(words), sorted(words)))
    return [sorted(words) for words in ranked[:_MOST_CHOICES]]


def _choices(items: Any) -> Iterator[set[str]]:
    """The choices that a sequence of parsed items makes; of a run of letters the whole run."""
    run = ""
    for item, argument in chain(items, [(None, None)]):
        name = str(item)
        if name == "LITERAL" and argument < 128:
            run += chr(argument).lower()
        elif name not in _NOTHING:
            if run:
                yield {run}
            run = ""
            yield from _choices_in(name, argument)


def _choices_in(name: str, argument: Any) -> Iterator[set[str]]:
    if name == "SUBPATTERN":
        yield from _choices(argument[-1])
    elif name == "ATOMIC_GROUP":
        yield from _choices(argument)
    elif name in _REPEATS and argument[0] > 0:
        yield from _choices(argument[-1])
    elif name == "BRANCH":
        # One choice of each branch: the one whose shortest word is the longest.
        best = [max(_choices(branch), key=lambda words: min(map(len, words)), default=None) for branch in argument[1]]
        if all(best):
            yield set().union(*(words for words in best if words))
    elif name == "IN" and (signs := _signs(argument)):
        yield signs


def _signs(items: Any) -> set[str]:
    """The characters of a class, where they are few and plain; none where they are not."""
    found: set[str] = set()
    for item, argument in items:
        first, last = argument if str(item) == "RANGE" else (argument, argument)
        if str(argument) == "CATEGORY_DIGIT":
            found |= set(digits)
        elif str(item) in ("RANGE", "LITERAL") and last < 128:
            found |= {chr(code).lower() for code in range(first, last + 1)}
        else:
            return set()
    return found
