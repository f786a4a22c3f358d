"""The log of a case, and the fold that gives its state.

Everything that the owner or the technician adds is one more entry; nothing is ever changed or taken out.
The state of a case is a pure function of the log, so undo, resume and the trace come for free.
"""

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal

from pydantic import Field

from knowledge.models import State
from knowledge.record import Id, Record


class Told(Record):
    """A finding as it was told: in the message (with its place there) or in an answer.

    `start` and `end` are half-open code points into the message as given; None for an answer.
    A `proposed` one was not read by a wording: a model takes the words so, with a `doubt` (how likely it is not so),
    and the owner is to be asked.
    """

    id: Id
    state: State
    quote: str
    start: int | None = None
    end: int | None = None
    certainty: Literal["stated", "hedged", "proposed"] = "stated"
    detail: str | None = None
    doubt: Annotated[float, Field(gt=0.0, lt=0.5)] | None = None


class Named(Record):
    """A piece of hardware named in the message or told at the bench, with what was read from the words.

    `start` and `end` are half-open code points into the message as given; None for what was told at the bench.
    """

    part: str
    text: str
    start: int | None = None
    end: int | None = None
    facts: dict[str, str | int | float | bool | list[str]]


class MessageEntry(Record):
    """The owner's message as given, and what the intake read in it."""

    kind: Literal["message"] = "message"
    text: str
    sentences: int
    redactions: int
    language: str = "en"
    findings: tuple[Told, ...] = ()
    build: tuple[Named, ...] = ()
    contradictions: tuple[Id, ...] = ()


class AnswerEntry(Record):
    """An answer to a question: a finding in a state, and the words in which it came; `seen` at the bench, not told."""

    kind: Literal["answer"] = "answer"
    finding: Id
    state: State
    detail: str | None = None
    words: str
    seen: bool = False


class OutcomeEntry(Record):
    """A check that was done, and how it came out."""

    kind: Literal["outcome"] = "outcome"
    check: Id
    outcome: Id


class MeasureEntry(Record):
    """A reading at the bench: the quantity, and the value in the unit of its limit."""

    kind: Literal["measure"] = "measure"
    limit: Id
    value: float
    finding: Id
    state: State
    verdict: str


class HandEntry(Record):
    """The tools and spare parts on hand from now on."""

    kind: Literal["hand"] = "hand"
    have: tuple[Id, ...]


class NoteEntry(Record):
    """A note, or what was done about a hazard; it changes no conclusion."""

    kind: Literal["note"] = "note"
    words: str
    hazard: Id | None = None


class WithdrawEntry(Record):
    """A finding that the reading made up: it was not told at all, neither present nor absent."""

    kind: Literal["withdraw"] = "withdraw"
    finding: Id


class SkipEntry(Record):
    """A question that is not to be asked again; `finding` is what it asks about."""

    kind: Literal["skip"] = "skip"
    finding: Id


class PartEntry(Record):
    """A piece of hardware told at the bench, on top of what the message names."""

    kind: Literal["part"] = "part"
    named: Named


class ExperienceEntry(Record):
    """What the shop's own closed cases had said when this case began: for each complaint, how often each cause.

    It stands in the log, so that a later look at this case gives the same ranking whatever was closed since.
    """

    kind: Literal["experience"] = "experience"
    counts: dict[Id, dict[Id, int]]


class CloseEntry(Record):
    """The end of the case: the cause that was confirmed (None: not found out), the parts replaced, and a word on it."""

    kind: Literal["close"] = "close"
    cause: Id | None = None
    replaced: tuple[Id, ...] = ()
    words: str = ""


class ReopenEntry(Record):
    """The case goes on after it was closed."""

    kind: Literal["reopen"] = "reopen"


class StepEntry(Record):
    """One step back, or one step forward again."""

    kind: Literal["undo", "redo"]


Entry = Annotated[
    MessageEntry
    | AnswerEntry
    | WithdrawEntry
    | SkipEntry
    | OutcomeEntry
    | MeasureEntry
    | PartEntry
    | HandEntry
    | NoteEntry
    | ExperienceEntry
    | CloseEntry
    | ReopenEntry
    | StepEntry,
    Field(discriminator="kind"),
]


class Case(Record):
    """The state of a case: the message, every finding as last told, the checks done, and the rest in order.

    `seen` are the findings that the bench measured or saw, and did not take from an owner's words.
    """

    message: MessageEntry | None = None
    findings: tuple[Told, ...] = ()
    seen: frozenset[Id] = frozenset()
    outcomes: tuple[OutcomeEntry, ...] = ()
    measures: tuple[MeasureEntry, ...] = ()
    have: tuple[Id, ...] = ()
    notes: tuple[NoteEntry, ...] = ()
    asked: tuple[Id, ...] = ()
    build: tuple[Named, ...] = ()
    experience: ExperienceEntry | None = None
    closed: CloseEntry | None = None


def effective(log: Sequence[Entry]) -> list[Entry]:
    """Apply the undo and redo entries; a new entry after an undo drops what could have been redone."""
    done: list[Entry] = []
    undone: list[Entry] = []
    for entry in log:
        if entry.kind == "undo":
            if done:
                undone.append(done.pop())
        elif entry.kind == "redo":
            if undone:
                done.append(undone.pop())
        else:
            done.append(entry)
            undone.clear()
    return done


def fold(log: Sequence[Entry]) -> Case:
    """Give the state of the case after the log; of two words on one finding the later one stands."""
    entries = effective(log)
    told: list[Told] = []
    seen: set[str] = set()
    for entry in entries:
        news = _told(entry)
        # One entry may tell a finding several times, of several parts; a later entry replaces them all.
        renewed = {finding.id for finding in news} | _withdrawn(entry)
        told = [*(finding for finding in told if finding.id not in renewed), *news]
        seen = seen - renewed | (renewed if _is_seen(entry) else set())
    outcomes: Mapping[str, OutcomeEntry] = {e.check: e for e in entries if isinstance(e, OutcomeEntry)}
    messages = [e for e in entries if isinstance(e, MessageEntry)]
    hands = [e for e in entries if isinstance(e, HandEntry)]
    return Case(
        message=messages[-1] if messages else None,
        findings=tuple(told),
        seen=frozenset(seen),
        outcomes=tuple(outcomes.values()),
        measures=tuple(e for e in entries if isinstance(e, MeasureEntry)),
        have=hands[-1].have if hands else (),
        notes=tuple(e for e in entries if isinstance(e, NoteEntry)),
        asked=tuple(e.finding for e in entries if isinstance(e, AnswerEntry | SkipEntry)),
        build=(*(messages[-1].build if messages else ()), *(e.named for e in entries if isinstance(e, PartEntry))),
        experience=next((e for e in reversed(entries) if isinstance(e, ExperienceEntry)), None),
        closed=_closed(entries),
    )


def _withdrawn(entry: Entry) -> set[str]:
    return {entry.finding} if isinstance(entry, WithdrawEntry) else set()


def _closed(entries: Sequence[Entry]) -> CloseEntry | None:
    last = next((e for e in reversed(entries) if isinstance(e, CloseEntry | ReopenEntry)), None)
    return last if isinstance(last, CloseEntry) else None


def _is_seen(entry: Entry) -> bool:
    return isinstance(entry, MeasureEntry) or (isinstance(entry, AnswerEntry) and entry.seen)


def _told(entry: Entry) -> tuple[Told, ...]:
    if isinstance(entry, MessageEntry):
        return entry.findings
    if isinstance(entry, AnswerEntry):
        return (Told(id=entry.finding, state=entry.state, quote=entry.words, detail=entry.detail),)
    if isinstance(entry, MeasureEntry):
        return (Told(id=entry.finding, state=entry.state, quote=entry.verdict),)
    return ()
