"""One case as one file, to be taken elsewhere: JSON, an entry a line, so that the rest of a damaged one can be read.

{"schema": "ohmbudsman.case/1", "number": 12, "title": "green tower", "entries": [
{"at": "2026-03-01T09:00:00Z", "entry": {...}}
]}
"""

import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, ValidationError

from expert.case import Entry, NoteEntry
from expert.entry_text import read_entry, write_entry
from expert.store import Stamped
from knowledge.errors import CaseError
from knowledge.record import Record

SCHEMA = "ohmbudsman.case/1"
LARGEST_FILE = 50_000_000  # far above any log, far below what would keep the machine busy
LOST = "an entry was lost here: the file was damaged or of a newer version"
TIME = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z$"
UNKNOWN_TIME = "1970-01-01T00:00:00Z"


class Line(Record):
    """An entry and when it was made, ISO 8601 in UTC, to the second."""

    at: Annotated[str, StringConstraints(pattern=TIME)]
    entry: Entry


class CaseFile(Record):
    """A case as it stands in a file; `number` is the one it had where it came from."""

    schema_: Annotated[Literal["ohmbudsman.case/1"], Field(alias="schema")] = "ohmbudsman.case/1"
    number: int | None = None
    title: str = ""
    entries: tuple[Line, ...]

    @property
    def stamped(self) -> tuple[Stamped, ...]:
        """The log with its times."""
        return tuple(Stamped(line.at, line.entry) for line in self.entries)


def write_case(stamped: Sequence[Stamped], title: str = "", number: int | None = None) -> bytes:
    """Give the file of a case: the same bytes for the same case."""
    head = {"schema": SCHEMA, **({} if number is None else {"number": number}), "title": title}
    opening = json.dumps(head, ensure_ascii=False)[:-1] + ', "entries": ['
    lines = [f'{{"at": "{each.at}", "entry": {write_entry(each.entry)}}}' for each in stamped]
    return "\n".join([opening, ",\n".join(lines), "]}", ""]).encode("utf-8")


def read_case(path: Path) -> tuple[Stamped, ...]:
    """Read the log of a case file, as `read_case_file` does."""
    return read_case_file(path).stamped


def read_case_file(path: Path) -> CaseFile:
    """Read a case file, all of it or nothing.

    Raises `CaseError` if it is no case file, of a newer version, or damaged: it says where, and how many entries can
    be saved.
    """
    content = _content(path)
    try:
        return CaseFile.model_validate_json(content)
    except ValidationError as error:
        first = error.errors()[0]
        raise CaseError(f"{path}: {_what_is_wrong(content, first['loc'], first['msg'])}") from error


def salvage_case(path: Path) -> tuple[CaseFile, int]:
    """Read what is left of a case file, line by line; give it, and how many entries were lost.

    A note stands where an entry is lost, so that a later step back takes back what it took back before.
    Raises `CaseError` if nothing is left.
    """
    content = _content(path)
    opening, *lines = content.decode("utf-8", errors="replace").split("\n")
    found = [_line(line.rstrip("\r").rstrip(",")) for line in lines if line.strip() not in ("", "]}")]
    kept = [line for line in found if line]
    if not kept:
        raise CaseError(f"{path}: no entry of a case can be read in it")
    at = kept[0].at
    entries: list[Line] = []
    for line in found:
        at = line.at if line else at
        entries.append(line or lost_line(at))
    return CaseFile(title=_title(opening), entries=tuple(entries)), len(found) - len(kept)


def is_time(text: object) -> bool:
    """Whether this is a time as it stands in a case."""
    return isinstance(text, str) and re.match(TIME, text) is not None and not text.endswith("\n")


def lost_line(at: str) -> Line:
    """Give what stands in the place of an entry that is lost."""
    return Line(at=at, entry=NoteEntry(words=LOST))


def _content(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise CaseError(
            f"{path}: {error.strerror or error}; give the number of a case or the path of a case file"
        ) from error
    if len(content) > LARGEST_FILE:
        raise CaseError(f"{path}: more than {LARGEST_FILE:,} bytes; that is no case file")
    return content


def _what_is_wrong(content: bytes, place: Sequence[str | int], message: str) -> str:
    text = content.decode("utf-8", errors="replace")
    if '"ohmbudsman.case/' not in text[:200]:
        return "no case file; give one that 'ohmbudsman cases export' wrote, or the number of a case"
    if f'"{SCHEMA}"' not in text[:200]:
        return "a case file of another version, left as it is; update ohmbudsman"
    readable = sum(_line(line.rstrip("\r").rstrip(",")) is not None for line in text.split("\n")[1:])
    where = f"entry {int(place[1]) + 1}: " if len(place) > 1 and place[0] == "entries" else ""
    # Where a laxer reader takes it, only a surrogate without its other half is wrong with it.
    wrong = "it holds half of a character, which is no text" if _is_json(text) and "JSON" in message else "damaged"
    entries = "1 entry" if readable == 1 else f"{readable} entries"
    return (
        f"{wrong}, and left as it is ({where}{message}); {entries} can be saved with "
        "'ohmbudsman cases recover FILE DIR'"
    )


def _is_json(text: str) -> bool:
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def _line(text: str) -> Line | None:
    try:
        found = json.loads(text)
        return Line(at=found["at"], entry=read_entry(json.dumps(found["entry"])))
    except (ValueError, KeyError, TypeError, CaseError, RecursionError):
        return None


def _title(opening: str) -> str:
    """Give the title in the first line of a file, if that line is whole."""
    try:
        return str(json.loads(opening + "]}").get("title", ""))
    except (ValueError, AttributeError):
        return ""
