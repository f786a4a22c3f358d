"""What is left of a damaged or newer file: every case that can still be read. The file itself is never touched."""

import shutil
import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from expert.entry_text import read_entry
from expert.portable import UNKNOWN_TIME, CaseFile, Line, is_time, lost_line, salvage_case
from expert.store import Store
from expert.store_file import NAME, connect, guarded
from knowledge.errors import CaseError

# Numbers are tried one by one, since a damaged tree may hide some; a damaged number must not keep the machine busy.
MOST = 100_000


@dataclass(frozen=True)
class Recovered:
    """The cases that could be read, and how many entries of them could not; in their place stand notes."""

    cases: tuple[CaseFile, ...]
    lost: int


def recover(path: Path) -> Recovered:
    """Read what can be read of a case store or of a case file; raise `CaseError` if that is nothing."""
    with guarded(path), path.open("rb") as stream:
        start = stream.read(1)
    if start == b"{":
        case, lost = salvage_case(path)
        return Recovered((case,), lost)
    # In a copy, since SQLite puts a half-written file back in order when it opens it.
    with TemporaryDirectory() as folder, guarded(path):
        copy = Path(folder) / NAME
        shutil.copy(path, copy)
        if (journal := path.with_name(f"{path.name}-journal")).exists():
            shutil.copy(journal, copy.with_name(f"{NAME}-journal"))
        found = _read(copy)
        if not found.cases:
            _renew_first_page(copy)
            found = _read(copy)
    if not found.cases:
        raise CaseError(f"{path}: no case can be read in it; put a backup in its place")
    return found


def _read(path: Path) -> Recovered:
    cases, lost = [], 0
    try:
        with closing(connect(path, "rw")) as connection:
            for number in _numbers(connection):
                case, gone = _case(connection, number)
                lost += gone
                cases += [case] if case.entries else []
    except (sqlite3.DatabaseError, UnicodeError):
        pass  # not even opened: nothing was found
    return Recovered(tuple(cases), lost)


def _case(connection: sqlite3.Connection, number: int) -> tuple[CaseFile, int]:
    found: dict[int, tuple[str, str]] = {}
    for order in ("ASC", "DESC"):  # from both ends up to the damage
        query = f"SELECT place, at, body FROM entries WHERE case_number = ? ORDER BY place {order}"
        rows = _until_damage(connection, query, (number,))
        found |= {place: (at, body) for place, at, body in rows if isinstance(place, int)}
    told = list(_until_damage(connection, "SELECT title, entries FROM cases WHERE number = ?", (number,)))
    title, count = told[0] if told and isinstance(told[0][0], str) and isinstance(told[0][1], int) else ("", 0)
    if not found:
        return CaseFile(number=number, entries=()), count
    entries: list[Line] = []
    lost = 0
    at = next((time for place in sorted(found) if is_time(time := found[place][0])), UNKNOWN_TIME)
    for place in range(min(max(count, *(place + 1 for place in found), 0), MOST)):
        time, body = found.get(place, ("", ""))
        at = time if is_time(time) else at
        line = _line(at, body)
        lost += line is None
        entries.append(line or lost_line(at))
    return CaseFile(number=number, title=title, entries=tuple(entries)), lost


def _line(at: str, body: str) -> Line | None:
    try:
        return Line(at=at, entry=read_entry(body))
    except (CaseError, ValueError, TypeError):
        return None


def _numbers(connection: sqlite3.Connection) -> Iterable[int]:
    found: set[int] = set()
    for query in ("SELECT number FROM cases ORDER BY number", "SELECT DISTINCT case_number FROM entries ORDER BY 1"):
        for order in ("ASC", "DESC"):
            rows = _until_damage(connection, f"{query} {order}")
            found |= {number for (number,) in rows if isinstance(number, int)}
    return range(1, min(max(found, default=0), MOST) + 1)


def _until_damage(
    connection: sqlite3.Connection, query: str, values: Sequence[object] = ()
) -> Iterable[tuple[Any, ...]]:
    try:
        yield from connection.execute(query, values)
    except (sqlite3.DatabaseError, UnicodeError):
        return


def _renew_first_page(path: Path) -> None:
    """Put the first page of a new store, which says where the tables are, in the place of the damaged one."""
    with TemporaryDirectory() as folder:
        Store.open(Path(folder)).close()
        page = bytearray((Path(folder) / NAME).read_bytes()[:4096])
    pages = path.stat().st_size // len(page)
    page[28:32] = pages.to_bytes(4, "big")  # the size of the file in pages (SQLite file format, section 1.3)
    with path.open("rb+") as stream:
        stream.write(page)
