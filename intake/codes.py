"""Beep patterns, checkpoint codes, stop codes, status lights and temperatures, each as a finding with its detail.

"beeps three times, pauses" -> beep-code "3 beeps"; "the dram light is orange" -> status-led "memory".
Denials ("no beep code") are the wordings' affair; whether a code is of this machine and of now is the scope's.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

from intake.expression import Expression
from intake.mentions import Mention
from intake.shapes import Expressions, Span, around, expressions, sentences
from knowledge.models import KnowledgeBase
from knowledge.shapes import CodeShape, StopCode

if TYPE_CHECKING:
    from spacy.tokens import Doc

_PIECES = ("step-link", "sounding", "pattern-ends", "again", "hex", "stop-context", "not-this")
_LINK = 40  # characters between two steps of one beep pattern, at most
_HIGHEST = 0xFFFF  # stop codes are small numbers; larger ones are addresses, parameters and other errors
_LIST = re.compile(r"\s?(?:(?:,|->|→|/|\b(?:then|and|finally|next)\b)\s?){1,3}", re.IGNORECASE)


class FoundCode(NamedTuple):
    """A code in the text: the finding, its detail, and the half-open span of the words."""

    finding: str
    detail: str
    start: int
    end: int


class Step(NamedTuple):
    """One step of a beep pattern: how many beeps, and long, short or not said."""

    start: int
    end: int
    beeps: int | float | str
    length: str


def read_codes(doc: "Doc") -> list[Mention]:
    """List the mentions of codes in `doc`, made from the offsets into `doc._.text`."""
    found = codes_in(doc._.text, doc._.lexicon.base, doc._.lexicon.expressions)
    mentions = (Mention.at(doc, code.start, code.end, code.finding, code.detail) for code in found)
    return [mention for mention in mentions if mention]


def codes_in(text: str, base: KnowledgeBase, known: Expressions | None = None) -> list[FoundCode]:
    """List the codes that `text` tells, in its order; the offsets are code points of `text`."""
    reader = _reader(base.code_shapes, base.stop_codes, known or expressions(base))
    return [code for sentence in sentences(text) for code in reader.read(text, sentence)]


class _Shape(NamedTuple):
    """A shape of a code, and what must or must not stand near it."""

    record: CodeShape
    pattern: Expression
    near: Expression | None
    unless: Expression | None
    unless_before: Expression | None


class _Reader:
    """The shapes and the names of stop codes of a base, compiled."""

    def __init__(self, shapes: Sequence[CodeShape], stops: Sequence[StopCode], known: Expressions) -> None:
        self._known = known
        self._shapes: dict[str, list[_Shape]] = {}
        for shape in shapes:
            self._shapes.setdefault(shape.reads, []).append(_compiled(shape, known))
        self._names = {_plain(said): stop for stop in stops for said in (stop.name, *stop.also)}
        self._codes = {int(stop.code, 16): stop for stop in stops}
        spoken = "|".join(map(_spoken, _longest_first(self._names)))
        self._name = Expression(rf"(?<!\w)(?:{spoken})(?!\w)", [sorted({name.split()[0] for name in self._names})])
        self._piece = {name: known.piece(name) for name in (_PIECES if shapes else ())}

    def read(self, text: str, sentence: Span) -> Iterator[FoundCode]:
        """Find the codes of a sentence; where two overlap, the one that begins first and then the longer one counts."""
        found = [*self._beeps(text, sentence), *self._singles(text, sentence), *self._stops(text, sentence)]
        last: dict[str, int] = {}
        for code in sorted(found, key=_place):
            if code.start >= last.get(code.finding, -1):
                last[code.finding] = code.end
                if not self._piece["not-this"].search(text, max(sentence.start, code.start - 20), code.start):
                    yield code

    def _matches(self, text: str, sentence: Span, reads: str) -> Iterator[tuple[CodeShape, re.Match[str]]]:
        for shape in self._shapes.get(reads, ()):
            for match in shape.pattern.finditer(text, sentence.start, sentence.end):
                if _in_company(shape, text, sentence, match):
                    yield shape.record, match

    # ---- beeps ----

    def _beeps(self, text: str, sentence: Span) -> Iterator[FoundCode]:
        for shape, match in self._matches(text, sentence, "fixed"):
            yield FoundCode(shape.finding, shape.detail, *match.span())
        for shape, match in self._matches(text, sentence, "dashes"):
            digits = re.findall(r"\d", match["code"])
            yield FoundCode(shape.finding, "-".join(digits), *match.span())
        for reads, make, tell in (("step", self._step, self._told), ("sound", _sound, _imitated)):
            hits = [(shape, make(match)) for shape, match in self._matches(text, sentence, reads)]
            for chain in self._chains(text, [step for _, step in hits]):
                if detail := tell(text, sentence, chain):
                    yield FoundCode(hits[0][0].finding, detail, chain[0].start, chain[-1].end)

    def _step(self, match: re.Match[str]) -> Step:
        said = match.groupdict()
        count = self._known.number(said["count"]) if said.get("count") else 1
        length = said.get("length") or ""
        return Step(*match.span(), count, ("long" if length.lower().startswith("l") else "short") if length else "")

    def _chains(self, text: str, steps: Iterable[Step]) -> Iterator[list[Step]]:
        """Steps with only linking words between them, all with a length or all without."""
        chain: list[Step] = []
        for step in sorted(steps, key=lambda step: (step.start, -step.end)):
            if chain and step.start < chain[-1].end:
                continue
            if chain and (bool(step.length) != bool(chain[-1].length) or not self._is_linked(text, chain[-1], step)):
                yield chain
                chain = []
            chain.append(step)
        if chain:
            yield chain

    def _is_linked(self, text: str, before: Step, step: Step) -> bool:
        near = step.start - before.end <= _LINK
        return near and self._piece["step-link"].fullmatch(text, before.end, step.start) is not None

    def _told(self, text: str, sentence: Span, chain: Sequence[Step]) -> str | None:
        """The pattern in figures: "1 long 2 short", "3 beeps", "1-2"; None for a single beep, which is no code."""
        end = chain[-1].end
        if not self._is_sounding(text, sentence, chain):
            return None
        if chain[0].length:
            groups = [(length, _sum(steps)) for length, steps in groupby(chain, key=lambda step: step.length)]
            half = len(groups) // 2
            groups = groups[:half] if half and len(groups) % 2 == 0 and groups[:half] == groups[half:] else groups
            told = " ".join(f"{count} {length}" for length, count in groups)
        else:
            counts = [str(step.beeps) for step in chain]
            told = f"{counts[0]} beeps" if len(set(counts)) == 1 else "-".join(counts)
        if told in ("1 beeps", "1 short"):
            again = self._piece["again"].search(text, end, min(sentence.end, end + 40))
            return told.replace("1 beeps", "1 beep") if again or len(chain) > 1 else None
        return told

    def _is_sounding(self, text: str, sentence: Span, chain: Sequence[Step]) -> bool:
        """Tell whether beeps are spoken of: beside it, or else "one long two short" with no other noun after it."""
        if self._piece["sounding"].search(around(text, sentence, chain[0].start, chain[-1].end)):
            return True
        is_mixed = len({step.length for step in chain}) == 2
        return is_mixed and self._piece["pattern-ends"].match(text, chain[-1].end) is not None

    # ---- codes, lights, temperatures ----

    def _singles(self, text: str, sentence: Span) -> Iterator[FoundCode]:
        tellers: dict[str, Callable[[re.Match[str]], str]] = {
            "light": lambda match: self._known.lights[re.sub(r"\s+", " ", match["light"].lower())],
            "celsius": lambda match: f"{match['celsius']} °C",
        }
        for reads, tell in tellers.items():
            for shape, match in self._matches(text, sentence, reads):
                yield FoundCode(shape.finding, tell(match), *match.span())
        for shape, match in self._matches(text, sentence, "checkpoint"):
            yield FoundCode(shape.finding, _pair(match["code"]), *match.span())
            yield from self._listed(text, sentence, shape.finding, match.end("code"))

    def _listed(self, text: str, sentence: Span, finding: str, at: int) -> Iterator[FoundCode]:
        """Further checkpoints right after one: "code 15, 55 and then 00"."""
        while (link := _LIST.match(text, at, sentence.end)) and (
            code := self._piece["hex"].match(text, link.end(), sentence.end)
        ):
            yield FoundCode(finding, _pair(code[0]), *code.span())
            at = code.end()

    def _stops(self, text: str, sentence: Span) -> Iterator[FoundCode]:
        found = sorted({*self._named_stops(text, sentence), *self._numbered_stops(text, sentence)}, key=_place)
        before: FoundCode | None = None
        for code in found:
            if before and code.start < before.end:
                continue
            if before and re.fullmatch(r"[\s:]{0,2}\(.{0,80}", text[before.end : code.start]):
                continue  # the same code once more, or its parameters
            yield code
            before = code

    def _named_stops(self, text: str, sentence: Span) -> Iterator[FoundCode]:
        if not self._names:
            return
        for match in self._name.finditer(text, sentence.start, sentence.end):
            told = re.sub(r"[\s_-]+", "_", match[0]).upper()
            is_plain = "_" not in match[0] and not match[0].isupper() and told.count("_") < 2
            if not is_plain or self._piece["stop-context"].search(around(text, sentence, *match.span())):
                yield FoundCode("stop-error", told, *match.span())

    def _numbered_stops(self, text: str, sentence: Span) -> Iterator[FoundCode]:
        for shape, match in self._matches(text, sentence, "stop"):
            said = match["code"]
            if "_" in said:
                yield FoundCode(shape.finding, said, *match.span())
                continue
            digits = said.lower().removeprefix("0x").lstrip("0")  # 0x0000007B is 0x7B
            if digits and (0 < int(digits, 16) <= _HIGHEST or int(digits, 16) in self._codes):
                yield FoundCode(shape.finding, f"0x{digits.upper()}", *match.span())


def _in_company(shape: _Shape, text: str, sentence: Span, match: re.Match[str]) -> bool:
    start, end = match.span()
    if shape.unless_before and shape.unless_before.search(text, max(sentence.start, start - 24), start):
        return False
    window = around(text, sentence, start, end) if shape.near or shape.unless else ""
    if shape.near and not shape.near.search(window):
        return False
    return not (shape.unless and shape.unless.search(window))


def _compiled(shape: CodeShape, known: Expressions) -> _Shape:
    near, unless, before = (
        known.make(expression) if expression else None for expression in (shape.near, shape.unless, shape.unless_before)
    )
    return _Shape(shape, known.make(shape.pattern), near, unless, before)


def _sound(match: re.Match[str]) -> Step:
    return Step(*match.span(), 1, "long" if len(match["length"]) > len("beeep") else "short")


def _imitated(text: str, sentence: Span, chain: Sequence[Step]) -> str | None:
    """A pattern told by its sound: "beep beep beep" -> "3 beeps", "beeeeeep beep beep" -> "1 long 2 short"."""
    first = [chain[0]]
    for before, step in pairwise(chain):
        if re.search(r"pause|\.{2}|…|,.{0,12}then|stop|gap", text[before.end : step.start]):
            break
        first.append(step)
    if len(first) < 3:
        return None
    groups = [(length, _sum(steps)) for length, steps in groupby(first, key=lambda step: step.length)]
    return f"{len(first)} beeps" if len(groups) == 1 else " ".join(f"{count} {length}" for length, count in groups)


def _sum(steps: Iterable[Step]) -> int | float | str:
    counts = [step.beeps for step in steps]
    numbers = [count for count in counts if not isinstance(count, str)]
    return sum(numbers) if len(numbers) == len(counts) else counts[0]


def _pair(code: str) -> str:
    return code[:2].upper()


def _place(code: FoundCode) -> tuple[int, int]:
    return code.start, -code.end


def _plain(name: str) -> str:
    return name.replace("_", " ").lower()


def _spoken(name: str) -> str:
    return re.escape(name).replace(r"\ ", r"[\s_-]{1,2}")


def _longest_first(names: Iterable[str]) -> list[str]:
    return sorted(names, key=lambda name: (-len(name), name))


@lru_cache(maxsize=4)
def _reader(shapes: tuple[CodeShape, ...], stops: tuple[StopCode, ...], known: Expressions) -> _Reader:
    return _Reader(shapes, stops, known)
