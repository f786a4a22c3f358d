"""The pattern language of wordings and cues, compiled to spaCy's `Matcher`.

`{fan} {spin}` is the words of concept `fan`, then those of `spin`, with up to three filler words between: it matches
"fans don't even spin". `word` matches by stem, `=word` exactly, `a|b|{c}` one of them, `x?` may be missing, `#` is a
number, `..` and `...` are gaps of up to 3 and 6 words that never cross the end of a phrase; `~` is a gap of up to 12
that does, within the sentence ("{load} ~ {turn-off}": "whenever I play, the whole thing shuts off").
A pattern is compiled when its words first turn up together, so that thousands of patterns cost little.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, Protocol, TypeVar

from spacy.matcher import Matcher

from intake.words import Word, normal_forms, split, stem

if TYPE_CHECKING:
    from spacy.tokens import Doc, Span

    from intake.terms import Terms

Owner = TypeVar("Owner")

_ACROSS = "~"
_GAPS = {"..": 3, "...": 6, _ACROSS: 12}
_MOST_FILLERS = 3
_JOIN_MARKS = (",", "/", ":", '"', "'", "’", "“", "”", "*", "~", "&")
_NUMBER = "#"


@dataclass(frozen=True, slots=True)
class Element:
    """One place of a pattern: the stems and the exact words that may stand there; or a gap of up to `gap` words."""

    stems: frozenset[str] = frozenset()
    norms: frozenset[str] = frozenset()
    number: bool = False
    optional: bool = False
    gap: int = 0
    across: bool = False  # a gap that may cross the end of a phrase

    @property
    def keys(self) -> frozenset[str]:
        """What to look for in a sentence before the matcher is run at all (see `key_places`)."""
        exact = {f"={norm}" for norm in self.norms}
        return self.stems | exact | ({_NUMBER} if self.number else set())

    def plain(self) -> list[Any]:
        """Give what `of_plain` makes the element of again; no stem and no word has a bar in it, which parts choices."""
        return ["|".join(sorted(self.stems)), "|".join(sorted(self.norms)), *_FLAGS(self)]

    @classmethod
    def of_plain(cls, plain: Sequence[Any]) -> "Element":
        """Make the element of what `plain` gave."""
        stems, norms, *flags = plain
        return cls(frozenset(stems.split("|") if stems else ()), frozenset(norms.split("|") if norms else ()), *flags)

    def tests(self) -> list[dict[str, Any]]:
        """The token tests of spaCy's matcher, one of which must hold."""
        if self.gap:
            # Its length is looked at after the match: the matcher would try every way to fill a bounded gap.
            return [{"OP": "*"} if self.across else {"TAG": {"IN": ["WORD", "NUM", "JOIN"]}, "OP": "*"}]
        tests: list[dict[str, Any]] = []
        tests += [{"LEMMA": {"IN": sorted(self.stems)}}] if self.stems else []
        tests += [{"ORTH": {"IN": sorted(self.norms)}}] if self.norms else []
        tests += [{"TAG": "NUM"}] if self.number else []
        return [test | {"OP": "?"} for test in tests] if self.optional else tests


_FLAGS = attrgetter("number", "optional", "gap", "across")


class Match(NamedTuple):
    """A match in a doc: tokens start..end (half-open), `literal` those that the pattern names (no filler, no gap)."""

    start: int
    end: int
    literal: frozenset[int]


class Known(Protocol):
    """What a pattern is parsed against."""

    terms: "Terms"

    def concept(self, name: str) -> Element:
        """Give the element that matches any word of a concept; raise `KeyError` where there is none."""


def parse(text: str, known: Known) -> Iterator[Element]:
    """Yield the elements of a pattern; terms of several words become one element, as they do in a message.

    Raises `KeyError` for an unknown concept and `ValueError` for an empty or wrong pattern.
    """
    plain: list[Word] = []
    elements: list[Element] = []
    for piece in [*text.split(), ""]:
        if piece and _is_plain(piece):
            plain += split(piece)
            continue
        elements += [Element(frozenset([stem(word.norm)])) for word in known.terms.merge(plain)]
        plain = []
        elements += [_element(piece, known)] if piece else []
    if all(element.gap or element.optional for element in elements):
        raise ValueError("it names no word that must be there")
    yield from elements


def _is_plain(piece: str) -> bool:
    return piece in ("?", "=") or (piece not in _GAPS and not set(piece) & set("{}|?#="))


@lru_cache(maxsize=50_000)
def compound(choice: str) -> tuple[str, ...]:
    """Give the words of a plain choice of a pattern: "self-built" -> ("self", "built"); none for anything else."""
    return tuple(word.norm for word in split(choice)) if _is_plain(choice) else ()


@lru_cache(maxsize=50_000)
def _forms(choice: str) -> tuple[str, ...]:
    return tuple(form for word in split(choice) for form in normal_forms(word.norm))


def _element(piece: str, known: Known) -> Element:
    if piece in _GAPS:
        return Element(gap=_GAPS[piece], across=piece == _ACROSS)
    optional = piece.endswith("?") and len(piece) > 1
    stems: set[str] = set()
    norms: set[str] = set()
    number = False
    for choice in piece.removesuffix("?").split("|"):
        if choice == _NUMBER:
            number = True
        elif choice.startswith("{") and choice.endswith("}"):
            concept = known.concept(choice[1:-1])
            stems |= concept.stems
            norms |= concept.norms
        elif choice.startswith("=") and len(choice) > 1:
            norms.add(choice[1:].lower())
        elif choice and not set(choice) & set("{}=#"):
            stems.add(stem(" ".join(compound(choice))))
        else:
            raise ValueError(f"{choice or piece!r} is not a word, a {{concept}}, '#' or a gap")
    return Element(frozenset(stems), frozenset(norms), number, optional)


@dataclass(frozen=True)
class Pattern(Generic[Owner]):
    """A parsed pattern and what it stands for."""

    text: str
    elements: tuple[Element, ...]
    owner: Owner

    @cached_property
    def needs(self) -> tuple[frozenset[str], ...]:
        """The keys of the elements that must be there."""
        return tuple(element.keys for element in self.elements if not element.optional and not element.gap)

    @cached_property
    def steps(self) -> tuple[int, ...]:
        """How far each needed element may stand behind the one before, at most."""
        steps: list[int] = []
        step = 0
        for element in self.elements:
            step += element.gap or 1 + _MOST_FILLERS
            if not element.gap and not element.optional:
                steps.append(step)
                step = 0
        return tuple(steps)

    def may_match(self, places: Mapping[str, list[int]]) -> bool:
        """Tell whether the needed words stand in order and near enough; far cheaper than the matcher."""
        here_at_all = places.keys()
        for keys in self.needs:  # most fall at this, and it costs little
            if here_at_all.isdisjoint(keys):
                return False
        reached: set[int] | None = None
        for keys, step in zip(self.needs, self.steps, strict=True):
            here = {place for key in keys.intersection(places) for place in places[key]}
            if reached is not None:
                here = {place for place in here if any(0 < place - before <= step for before in reached)}
            if not here:
                return False
            reached = here
        return True

    @property
    def words(self) -> Iterator[str]:
        """The plain words that the pattern itself names, for the vocabulary."""
        for piece in self.text.split():
            for choice in piece.rstrip("?").split("|"):
                if choice not in _GAPS and not choice.startswith("{"):
                    yield from _forms(choice.lstrip("="))


class PatternSet(Generic[Owner]):
    """Patterns with an index by the two rarest words that each needs; `find` runs those that can match at all."""

    def __init__(
        self,
        fillers: frozenset[str],
        patterns: Sequence[Pattern[Owner]],
        index: Sequence[Mapping[str, Sequence[int]]] | None = None,
    ) -> None:
        self._patterns = patterns
        self._filler = {"LEMMA": {"IN": sorted({*fillers, *_JOIN_MARKS})}, "TAG": {"IN": ["WORD", "NUM", "JOIN"]}}
        self._has_fillers = bool(fillers)
        self._rarest, self._second = index_of(patterns) if index is None else index
        self._matchers: dict[int, tuple[Matcher, list[int]]] = {}

    def __iter__(self) -> Iterator[Pattern[Owner]]:
        """Give the patterns in the order of the files."""
        return iter(self._patterns)

    def find(self, span: "Span") -> Iterator[tuple[Pattern[Owner], Match]]:
        """Yield the matches in `span`, pattern by pattern in the order of the files."""
        places = key_places(span)
        rarest, second = (_numbers(index, places) for index in (self._rarest, self._second))
        for number in sorted(rarest & second):
            pattern = self._patterns[number]
            if pattern.may_match(places):
                yield from ((pattern, match) for match in self._matches(number, span))

    def _matches(self, number: int, span: "Span") -> Iterator[Match]:
        matcher, limits = self._matcher(number, span.doc)
        found: dict[tuple[int, int], frozenset[int]] = {}
        hits: Any = matcher(span, with_alignments=True)  # with four parts, which the type of spaCy leaves out
        for _, start, end, alignment in hits:
            if any(limit and alignment.count(place) > limit for place, limit in enumerate(limits)):
                continue
            first = span.start + start
            named = frozenset(first + n for n, place in enumerate(alignment) if not limits[place])
            found.setdefault((first, span.start + end), named)
        for (start, end), named in sorted(found.items()):
            if not any(_is_inside(other, (start, end)) for other in found):
                yield Match(start, end, named)

    def _matcher(self, number: int, doc: "Doc") -> tuple[Matcher, list[int]]:
        if number not in self._matchers:
            places, limits = self._places(self._patterns[number].elements)
            matcher = Matcher(doc.vocab)
            matcher.add("pattern", [list(tests) for tests in product(*places)])
            self._matchers[number] = matcher, limits
        return self._matchers[number]

    def _places(self, elements: tuple[Element, ...]) -> tuple[list[list[dict[str, Any]]], list[int]]:
        """The tests of each place, fillers between; and how many words a filler or gap may be (0: a named word)."""
        places: list[list[dict[str, Any]]] = []
        limits: list[int] = []
        for before, element in zip((None, *elements), elements, strict=False):
            if self._has_fillers and before is not None and not before.gap and not element.gap:
                places.append([self._filler | {"OP": f"{{0,{_MOST_FILLERS}}}"}])
                limits.append(_MOST_FILLERS)
            places.append(element.tests())
            limits.append(element.gap)
        return places, limits


def index_of(patterns: Sequence[Pattern[Any]]) -> tuple[dict[str, list[int]], dict[str, list[int]]]:
    """Give the numbers of the patterns by each key of the element that is rarest among them all, and of the next one.

    A pattern that needs one element only stands under it in both.
    """
    first: dict[str, list[int]] = {}
    second: dict[str, list[int]] = {}
    common = Counter(key for pattern in patterns for keys in pattern.needs for key in keys)
    for number, pattern in enumerate(patterns):
        rarest = sorted(pattern.needs, key=lambda keys: (sum(common[key] for key in keys), sorted(keys)))
        for index, keys in ((first, rarest[0]), (second, rarest[min(1, len(rarest) - 1)])):
            for key in sorted(keys):
                index.setdefault(key, []).append(number)
    return first, second


def _numbers(index: Mapping[str, Sequence[int]], keys: Iterable[str]) -> set[int]:
    return set().union(*(index[key] for key in keys if key in index))


def key_places(span: "Span") -> dict[str, list[int]]:
    """Where the stems, the exact words (with "=") and the numbers ("#") stand in `span`."""
    places: dict[str, list[int]] = {}
    for place, token in enumerate(span):
        for key in (token.lemma_, f"={token.text}", *([_NUMBER] if token.tag_ == "NUM" else [])):
            places.setdefault(key, []).append(place)
    return places


def _is_inside(inner: tuple[int, int], outer: tuple[int, int]) -> bool:
    return inner != outer and outer[0] <= inner[0] and inner[1] <= outer[1]
