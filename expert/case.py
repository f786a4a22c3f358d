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
    """

    id: Id
    state: State
    quote: str
    start: int | None = None
    end: int | None = None
    certainty: Literal["stated", "hedged"] = "stated"
    detail: str | None = None


class Named(Record):
    """A piece of hardware named in the message, with what was read from the words."""

    part: str
    text: str
    start: int
    end: int
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
    """An answer to a question: a finding in a state, and the words in which it came."""

    kind: Literal["answer"] = "answer"
    finding: Id
    state: State
    detail: str | None = None
    words: str


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


class StepEntry(Record):
    """One step back, or one step forward again."""

    kind: Literal["undo", "redo"]


Entry = Annotated[
    MessageEntry | AnswerEntry | OutcomeEntry | MeasureEntry | HandEntry | NoteEntry | StepEntry,
    Field(discriminator="kind"),
]


class Case(Record):
    """The state of a case: the message, every finding as last told, the checks done, and the rest in order."""

    message: MessageEntry | None = None
    findings: tuple[Told, ...] = ()
    outcomes: tuple[OutcomeEntry, ...] = ()
    measures: tuple[MeasureEntry, ...] = ()
    have: tuple[Id, ...] = ()
    notes: tuple[NoteEntry, ...] = ()
    asked: tuple[Id, ...] = ()


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
    for entry in entries:
        news = _told(entry)
        # One entry may tell a finding several times, of several parts; a later entry replaces them all.
        renewed = {finding.id for finding in news}
        told = [*(finding for finding in told if finding.id not in renewed), *news]
    outcomes: Mapping[str, OutcomeEntry] = {e.check: e for e in entries if isinstance(e, OutcomeEntry)}
    messages = [e for e in entries if isinstance(e, MessageEntry)]
    hands = [e for e in entries if isinstance(e, HandEntry)]
    return Case(
        message=messages[-1] if messages else None,
        findings=tuple(told),
        outcomes=tuple(outcomes.values()),
        measures=tuple(e for e in entries if isinstance(e, MeasureEntry)),
        have=hands[-1].have if hands else (),
        notes=tuple(e for e in entries if isinstance(e, NoteEntry)),
        asked=tuple(e.finding for e in entries if isinstance(e, AnswerEntry)),
    )


def _told(entry: Entry) -> tuple[Told, ...]:
    if isinstance(entry, MessageEntry):
        return entry.findings
    if isinstance(entry, AnswerEntry):
        return (Told(id=entry.finding, state=entry.state, quote=entry.words, detail=entry.detail),)
    if isinstance(entry, MeasureEntry):
        return (Told(id=entry.finding, state=entry.state, quote=entry.verdict),)
    return ()
