"""The corpus as records, validated against the base: used by the tests and by the measurement of the reading."""

from collections.abc import Iterator
from pathlib import Path
from typing import Literal, NamedTuple

from pydantic import BaseModel, ConfigDict

from knowledge import KnowledgeBase

FOLDER = Path(__file__).parent.parent / "corpus"
HALVES = ("development", "test")
HELD = "held"  # nothing is learned or written from it; in its first files the findings alone are labelled


class GoldFinding(BaseModel):
    """A finding as a careful technician reads it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str
    state: Literal["present", "absent"]
    detail: str | None = None


class GoldPart(BaseModel):
    """A piece of hardware, in the words of the message."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    part: str
    text: str


class Letter(BaseModel):
    """One annotated message; the keys are described in corpus/README.md."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str
    voice: str
    text: str
    findings: tuple[GoldFinding, ...]
    hazards: tuple[str, ...]
    build: tuple[GoldPart, ...]
    complaint: str | None
    cause: str | None
    note: str = ""


class Clause(NamedTuple):
    """A clause and what it says: finding and state; `letter` numbers the message where its file holds whole ones."""

    text: str
    says: frozenset[tuple[str, str]]
    place: str
    letter: int | None


def clauses() -> Iterator[Clause]:
    """Give the clauses to learn from, by file and line: `labels<TAB>clause`, `none` where it says nothing.

    An empty line stands between messages that were labelled line by line.
    """
    letter = 0
    for path in sorted((FOLDER / "clauses").glob("*.tsv")):
        lines = path.read_text("utf-8").splitlines()
        for number, line in enumerate(lines, start=1):
            letter += number == 1 or not line
            if not line:
                continue
            labels, text = line.split("\t")
            says = () if labels == "none" else (label.partition("=")[::2] for label in labels.split(","))
            yield Clause(text, frozenset(says), f"{path.name} {number}", letter if "" in lines else None)


def letters(half: str) -> list[Letter]:
    """Give the messages of one half, or the held ones, by file name and line."""
    paths = sorted((FOLDER / half).glob("*.jsonl"))
    return [Letter.model_validate_json(line) for path in paths for line in path.read_text("utf-8").splitlines() if line]


def faults(base: KnowledgeBase) -> Iterator[str]:
    """Yield what is wrong with the corpus: ids that do not exist or are taken, parts that the text does not name."""
    known = {f.id for f in base.findings}, {h.id for h in base.hazards}, {c.id for c in base.causes}
    complaints = {c.id for c in base.complaints}
    seen: set[str] = set()
    for half in (*HALVES, HELD):
        for letter in letters(half):
            place = f"{half}: {letter.id}"
            if letter.id in seen:
                yield f"{place}: id is taken already"
            seen.add(letter.id)
            yield from (f"{place}: no finding {f.id!r}" for f in letter.findings if f.id not in known[0])
            yield from (f"{place}: no hazard {h!r}" for h in letter.hazards if h not in known[1])
            yield from (f"{place}: the text does not say {p.text!r}" for p in letter.build if p.text not in letter.text)
            if letter.cause is not None and letter.cause not in known[2]:
                yield f"{place}: no cause {letter.cause!r}"
            if letter.complaint is not None and letter.complaint not in complaints:
                yield f"{place}: no complaint {letter.complaint!r}"
    for clause in clauses():
        for finding, state in clause.says:
            if finding not in known[0] or state not in ("present", "absent"):
                yield f"{clause.place}: no label {finding}={state!r}"
