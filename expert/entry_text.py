"""The entries of a log as text and back, and what of them can be searched.

Nothing is written that could not be read again; nothing is read that this version does not know in full.
"""

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticSerializationError

from expert.case import AnswerEntry, CloseEntry, Entry, MessageEntry, NoteEntry, PartEntry, fold
from knowledge.errors import CaseError


class Standing(NamedTuple):
    """What a log says of its case as a whole: closed or not, the confirmed cause, the parts named or replaced."""

    closed: bool
    confirmed: str | None
    parts: tuple[str, ...]


@cache
def _entries() -> TypeAdapter[Entry]:
    return TypeAdapter(Entry)


def write_entry(entry: Entry) -> str:
    """Give an entry as one line of JSON.

    Raises `CaseError` if it would not come back as it is (a lone surrogate, a number that is none).
    """
    try:
        text = entry.model_dump_json()
        same = _entries().validate_json(text) == entry
    except (PydanticSerializationError, ValidationError, UnicodeError):
        same = False
    if not same:
        raise CaseError(f"this {entry.kind} cannot be saved as it is; enter it again in plain text and plain numbers")
    return text


def read_entry(text: str) -> Entry:
    """Read an entry; raise `CaseError` if it is damaged or of a kind that this version does not know."""
    try:
        return _entries().validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        raise CaseError(f"not an entry of this version: {first['msg']}") from error


def words_of(entry: Entry) -> str:
    """Give the words that people wrote or said in an entry, folded for a search without regard to case."""
    said: Sequence[str] = ()
    if isinstance(entry, MessageEntry):
        said = (entry.text,)
    elif isinstance(entry, AnswerEntry | NoteEntry | CloseEntry):
        said = (entry.words,)
    elif isinstance(entry, PartEntry):
        said = (entry.named.text,)
    return " ".join(" ".join(said).casefold().split())


def title_of(entries: Sequence[Entry]) -> str:
    """Give a title for a case that was given none: the first line of the message that is more than a greeting."""
    text = next((entry.text for entry in entries if isinstance(entry, MessageEntry)), "")
    lines = [" ".join(line.split()) for line in text.splitlines() if line.strip()]
    line = next((line for line in lines if len(line.split()) > 5), lines[0] if lines else "(no message)")
    return line if len(line) <= 60 else line[:59].rstrip() + "…"


def standing_of(log: Sequence[Entry]) -> Standing:
    """Give what a log says of its case as a whole."""
    case = fold(log)
    replaced = case.closed.replaced if case.closed else ()
    parts = sorted({*(named.part for named in case.build), *replaced})
    return Standing(case.closed is not None, case.closed.cause if case.closed else None, tuple(parts))
