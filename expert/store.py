"""The cases of a shop in one file: logs that only grow, each step synced before it counts as saved.

Two terminals may work at once. Whoever adds to a log says how many entries it knows; if another has added since, it
is told so and nothing is written. What a list needs stands in columns, so that a list reads no log.
"""

import os
import sqlite3
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, NamedTuple, Self

from expert.store_file import NAME, data_folder, guarded, open_file, transaction
from knowledge.errors import CaseError

if TYPE_CHECKING:  # a list must not wait for the models
    from expert.assess import Assessment
    from expert.case import Entry
    from knowledge.models import KnowledgeBase


class Stamped(NamedTuple):
    """An entry and when it was made: `at` is ISO 8601 in UTC, to the second."""

    at: str
    entry: "Entry"


class Summary(NamedTuple):
    """What was concluded when a case was last written: for lists, searches and the shop's experience."""

    complaint: str | None = None
    leading: str | None = None
    stage: str | None = None
    hazards: tuple[str, ...] = ()

    @classmethod
    def of(cls, base: "KnowledgeBase", assessment: "Assessment") -> Self:
        """Give the summary of an assessment; the complaint is the one whose priors were taken."""
        told = {claim.id for claim in assessment.belief.roots if claim.kind == "complaint"}
        return cls(
            complaint=next((complaint.id for complaint in base.complaints if complaint.id in told), None),
            leading=next((cause.id for cause in assessment.belief.causes if cause.status != "excluded"), None),
            stage=assessment.fails_at,
            hazards=tuple(raised.hazard.id for raised in assessment.hazards),
        )


@dataclass(frozen=True)
class CaseRow:
    """A case in a list: `cause` is the confirmed one of a closed case, `leading` the likeliest when last written."""

    number: int
    opened: str
    changed: str
    title: str
    entries: int
    closed: bool
    cause: str | None
    leading: str | None
    stage: str | None
    complaint: str | None
    hazards: tuple[str, ...]
    parts: tuple[str, ...]


class Wanted(NamedTuple):
    """What a search asks for; all that is given must hold. Days are ISO dates, both included, of the last change."""

    words: tuple[str, ...] = ()
    cause: str | None = None
    part: str | None = None
    hazard: str | None = None
    since: str | None = None
    until: str | None = None


_COLUMNS = "number, opened, changed, title, entries, closed, confirmed, leading, stage, complaint, hazards, parts"
_LEARNING, _TO_SWEEP = "learning", "to-sweep"
_LARGEST_NUMBER = 2**63 - 1  # of SQLite


def utc_now() -> str:
    """Give this second in UTC, as ISO 8601."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Store:
    """The case store, open. Every method raises `CaseError` with one clear line if the file cannot be used."""

    def __init__(self, path: Path, clock: Callable[[], str] = utc_now) -> None:
        self.path = path
        self._clock = clock
        self._connection, self.writable = open_file(path)
        if self.writable and self._setting(_TO_SWEEP):
            self._sweep()

    @classmethod
    def open(cls, folder: Path | None = None, clock: Callable[[], str] = utc_now) -> Self:
        """Open the store of a folder, or of the user's data folder; make it if there is none."""
        return cls((folder or data_folder()) / NAME, clock)

    def begin(self, entries: Sequence["Entry"], title: str = "", summary: Summary | None = None) -> int:
        """Save a new case; give its number."""
        now = self._clock()
        return self.take_in([Stamped(now, entry) for entry in entries], title, summary)

    def take_in(self, stamped: Sequence[Stamped], title: str = "", summary: Summary | None = None) -> int:
        """Save a case that has its times already, as from a file; give its new number."""
        from expert.entry_text import title_of

        opened = stamped[0].at if stamped else self._clock()
        name = " ".join(title.split()) or title_of([each.entry for each in stamped])
        with self._writing():
            row = self._connection.execute(
                "INSERT INTO cases (opened, changed, title, entries, closed, parts, hazards) "
                "VALUES (?, ?, ?, 0, 0, '', '')",
                (opened, opened, name),
            )
            number = int(row.lastrowid or 0)
            self._add(number, (), stamped, summary)
        return number

    def append(self, number: int, entries: Sequence["Entry"], after: int, summary: Summary | None = None) -> int:
        """Add to the log of a case, synced before it returns; give the new count of entries.

        `after` is the count the writer knows. Raises `CaseError`, and writes nothing, if another terminal has added
        since, or if there is no such case.
        """
        now = self._clock()
        with self._writing():
            known = self.stamped(number)
            if len(known) != after:
                raise CaseError(
                    f"case {number}: another terminal has changed it since (it has {len(known)} entries, "
                    f"{after} known here); nothing was saved; open the case again"
                )
            return self._add(number, known, [Stamped(now, entry) for entry in entries], summary)

    def _add(self, number: int, known: Sequence[Stamped], new: Sequence[Stamped], summary: Summary | None) -> int:
        from expert.entry_text import standing_of, words_of, write_entry

        rows = [
            (number, place, each.at, write_entry(each.entry), words_of(each.entry))
            for place, each in enumerate(new, start=len(known))
        ]
        self._connection.executemany("INSERT INTO entries VALUES (?, ?, ?, ?, ?)", rows)
        log = [each.entry for each in (*known, *new)]
        standing = standing_of(log)
        self._connection.execute(
            "UPDATE cases SET entries = ?, closed = ?, confirmed = ?, parts = ?, changed = max(changed, ?) "
            "WHERE number = ?",
            (
                *(len(log), standing.closed, standing.confirmed, _joined(standing.parts)),
                *(new[-1].at if new else "", number),
            ),
        )
        if summary:
            self._connection.execute(
                "UPDATE cases SET complaint = ?, leading = ?, stage = ?, hazards = ? WHERE number = ?",
                (summary.complaint, summary.leading, summary.stage, _joined(summary.hazards), number),
            )
        return len(log)

    def row(self, number: int) -> CaseRow:
        """Give a case as a line of a list; raise `CaseError` if there is none of this number."""
        found = self._rows("WHERE number = ?", (number,)) if number <= _LARGEST_NUMBER else ()
        if not found:
            raise CaseError(f"no case {number}; 'ohmbudsman cases list' shows them")
        return found[0]

    def stamped(self, number: int) -> tuple[Stamped, ...]:
        """Give the log of a case with its times; raise `CaseError` if there is none, or an entry cannot be read."""
        from expert.entry_text import read_entry

        self.row(number)
        with guarded(self.path):
            found = self._connection.execute(
                "SELECT at, body FROM entries WHERE case_number = ? ORDER BY place", (number,)
            ).fetchall()
        log = []
        for place, (at, body) in enumerate(found, start=1):
            try:
                log.append(Stamped(at, read_entry(body)))
            except CaseError as error:
                raise CaseError(
                    f"{self.path}: case {number}, entry {place}: {error}; update ohmbudsman, or save what can be read "
                    "with 'ohmbudsman cases recover FILE DIR'"
                ) from error
        return tuple(log)

    def log(self, number: int) -> tuple["Entry", ...]:
        """Give the log of a case without its times."""
        return tuple(each.entry for each in self.stamped(number))

    def rows(self, closed: bool | None = None) -> tuple[CaseRow, ...]:
        """Give the cases, or only the closed or the open ones, last changed first."""
        return self.search(Wanted(), closed)

    def search(self, wanted: Wanted, closed: bool | None = None) -> tuple[CaseRow, ...]:
        """Give the cases that hold all that is wanted, last changed first."""
        conditions, values = _conditions(wanted)
        if closed is not None:
            conditions, values = [*conditions, "closed = ?"], [*values, closed]
        where = "WHERE " + " AND ".join(conditions) if conditions else ""
        return self._rows(f"{where} ORDER BY changed DESC, number DESC", values)

    def last_open(self) -> int | None:
        """Give the open case that was changed last, the one to go on with; None if no case is open."""
        found = self.rows(closed=False)
        return found[0].number if found else None

    def delete(self, number: int) -> None:
        """Take a case out for good: its bytes are overwritten, and the file is written anew without them."""
        self.row(number)
        with self._writing():
            self._connection.execute("DELETE FROM entries WHERE case_number = ?", (number,))
            self._connection.execute("DELETE FROM cases WHERE number = ?", (number,))
            self._set(_TO_SWEEP, "yes")
        self._sweep()

    def _sweep(self) -> None:
        """Write the file anew: a deletion overwrites its entries, but not what was moved about inside a page before.

        Marked in the file until it is done, so that the next start does it if this one is killed.
        """
        with guarded(self.path):
            self._connection.execute("VACUUM")
        with self._writing():
            self._connection.execute("DELETE FROM settings WHERE name = ?", (_TO_SWEEP,))

    def confirmed(self) -> dict[tuple[str, str], int]:
        """Count the closed cases by complaint and confirmed cause, those that have both."""
        with guarded(self.path):
            found = self._connection.execute(
                "SELECT complaint, confirmed, count(*) FROM cases WHERE closed AND complaint IS NOT NULL "
                "AND confirmed IS NOT NULL GROUP BY complaint, confirmed ORDER BY complaint, confirmed"
            ).fetchall()
        return {(complaint, cause): count for complaint, cause, count in found}

    @property
    def learning(self) -> bool:
        """Whether new cases start from what the closed ones have shown."""
        return self._setting(_LEARNING) != "off"

    def set_learning(self, on: bool) -> None:
        """Let new cases start from what the closed ones have shown, or from the base alone."""
        with self._writing():
            self._set(_LEARNING, "on" if on else "off")

    def backup(self, path: Path) -> None:
        """Write the whole store into a new file that only its owner may read; raise `CaseError` if there is one."""
        with guarded(path):
            try:
                os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
            except FileExistsError as error:
                raise CaseError(f"{path}: is there already; give another name") from error
            try:
                self._connection.execute("VACUUM INTO ?", (str(path),))
                with path.open("rb+") as stream:
                    os.fsync(stream.fileno())
            except BaseException:
                path.unlink()
                raise

    def close(self) -> None:
        """Close the file; nothing is lost if it is not done."""
        self._connection.close()

    def __enter__(self) -> Self:  # noqa: D105
        return self

    def __exit__(  # noqa: D105
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _writing(self) -> Iterator[None]:
        if not self.writable:
            raise CaseError(f"{self.path}: can be read but not written; see to the permissions of file and folder")
        with guarded(self.path), transaction(self._connection):
            yield

    def _setting(self, name: str) -> str | None:
        with guarded(self.path):
            found = self._connection.execute("SELECT value FROM settings WHERE name = ?", (name,)).fetchone()
        return str(found[0]) if found else None

    def _set(self, name: str, value: str) -> None:
        self._connection.execute("INSERT OR REPLACE INTO settings VALUES (?, ?)", (name, value))

    def _rows(self, rest: str, values: Sequence[object]) -> tuple[CaseRow, ...]:
        with guarded(self.path):
            found = self._connection.execute(f"SELECT {_COLUMNS} FROM cases {rest}", values).fetchall()
            return tuple(_row(each) for each in found)


def _row(columns: Sequence[Any]) -> CaseRow:
    """Make a line of a list from the columns, which come in the order of its fields."""
    number, opened, changed, title, entries, closed, cause, leading, stage, complaint, hazards, parts = columns
    texts, ids = (opened, changed, title, hazards, parts), (cause, leading, stage, complaint)
    # The file format does not hold a damaged column to its type.
    if not all(isinstance(each, str) for each in (*texts, *(each for each in ids if each is not None))):
        raise sqlite3.DatabaseError(f"case {number}: a column holds what was never written there")
    return CaseRow(
        *(number, opened, changed, title, entries, bool(closed)),
        *ids,
        hazards=tuple(hazards.split()),
        parts=tuple(parts.split()),
    )


def _joined(ids: Collection[str]) -> str:
    """Write ids with a blank before and after each, so that a whole one can be looked for."""
    return f" {' '.join(ids)} " if ids else ""


def _conditions(wanted: Wanted) -> tuple[list[str], list[object]]:
    """Give what is wanted as conditions of SQL with their values; no word ever becomes part of the SQL."""
    asked: list[tuple[str, Sequence[object]]] = [
        (
            "(instr(fold(title), ?) OR EXISTS (SELECT 1 FROM entries WHERE case_number = number AND instr(words, ?)))",
            (word, word),
        )
        for word in (" ".join(word.casefold().split()) for word in wanted.words)
    ]
    if wanted.cause:
        asked.append(("coalesce(confirmed, leading) = ?", (wanted.cause,)))
    if wanted.part:
        asked.append(("instr(parts, ?)", (f" {wanted.part} ",)))
    if wanted.hazard:
        asked.append(("instr(hazards, ?)", (f" {wanted.hazard} ",)))
    if wanted.since:
        asked.append(("substr(changed, 1, 10) >= ?", (wanted.since,)))
    if wanted.until:
        asked.append(("substr(changed, 1, 10) <= ?", (wanted.until,)))
    return [text for text, _ in asked], [value for _, values in asked for value in values]
