"""The file of the case store: where it is, who may read it, its version, and what is said when it cannot be used.

SQLite with a rollback journal, not a write-ahead log: between two entries everything is in one file, so that a plain
copy of it is whole, also after a crash. A person types the entries; the second sync for each of them is not felt.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from platformdirs import user_data_path

from knowledge.errors import CaseError

NAME = "cases.db"
FOLDER_VARIABLE = "OHMBUDSMAN_DATA"
APPLICATION = 0x6F686D62  # marks the file as ours, in the place that the file format has for it
BUSY_SECONDS = 10.0

# One step for each version of the file: step 1 makes version 1 of an empty file. A step is never changed once released.
STEPS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE cases (
            number INTEGER PRIMARY KEY AUTOINCREMENT, -- never given again, also after a case was deleted
            opened TEXT NOT NULL, changed TEXT NOT NULL, title TEXT NOT NULL, entries INTEGER NOT NULL,
            closed INTEGER NOT NULL, confirmed TEXT, parts TEXT NOT NULL,
            complaint TEXT, leading TEXT, stage TEXT, hazards TEXT NOT NULL)""",
        """CREATE TABLE entries (
            case_number INTEGER NOT NULL REFERENCES cases (number), place INTEGER NOT NULL,
            at TEXT NOT NULL, body TEXT NOT NULL, words TEXT NOT NULL,
            PRIMARY KEY (case_number, place)) WITHOUT ROWID""",
        """CREATE TRIGGER entries_are_never_changed BEFORE UPDATE ON entries
            BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END""",
        "CREATE TABLE settings (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
    ),
)

_REASONS = {
    "SQLITE_FULL": "no room is left on the disk; this step was not saved, all before it is; make room, try again",
    "SQLITE_IOERR": "the disk takes no more; this step was not saved, all before it is; see to the disk, try again",
    "SQLITE_BUSY": "another terminal is writing and does not finish; this step was not saved; try again",
    "SQLITE_READONLY": f"cannot be written; see to its permissions, or set {FOLDER_VARIABLE} to another folder",
    "SQLITE_CANTOPEN": f"cannot be opened; see to its permissions, or set {FOLDER_VARIABLE} to another folder",
    "SQLITE_PERM": f"may not be opened; see to its permissions, or set {FOLDER_VARIABLE} to another folder",
}
_DAMAGED = "damaged, and left as it is; 'ohmbudsman cases recover FILE DIR' saves every case that can still be read"


def data_folder() -> Path:
    """Give the folder of the user's cases; the variable OHMBUDSMAN_DATA names another one."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else user_data_path("ohmbudsman", appauthor=False)


@contextmanager
def guarded(path: Path) -> Iterator[None]:
    """Turn what SQLite or the system says into one clear `CaseError`."""
    try:
        yield
    except sqlite3.ProgrammingError:
        raise  # a fault of ours, not of the file
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", "")
        known = next((text for start, text in _REASONS.items() if name.startswith(start)), None)
        raise CaseError(f"{path}: {known or _DAMAGED} ({error})") from error
    except UnicodeError as error:
        raise CaseError(f"{path}: {_DAMAGED} (a text in it is none)") from error
    except OSError as error:
        reason = error.strerror or error
        raise CaseError(f"{path}: {reason}; see to the folder, or set {FOLDER_VARIABLE} to another one") from error


def open_file(path: Path) -> tuple[sqlite3.Connection, bool]:
    """Open the store, making or bringing it up to this version where needed; give it, and whether it can be written.

    Raises `CaseError` for a file that is damaged, of something else, or of a newer version: it is left untouched.
    """
    with guarded(path):
        if not path.exists():
            _make(path)
        writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
        connection = connect(path, "rw" if writable else "ro")
        try:
            version = _version(connection, path)
            if writable and version < len(STEPS):
                _step_up(connection, path)
            elif version < len(STEPS):
                raise CaseError(f"{path}: of an older version, and cannot be written; copy it to a folder that can be")
            if writable:
                _keep_private(path)
        except BaseException:
            connection.close()
            raise
    return connection, writable


def connect(path: Path, mode: str) -> sqlite3.Connection:
    """Connect to an existing file, `rw` or `ro`, with every statement a transaction of its own unless one is begun."""
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}", timeout=BUSY_SECONDS, uri=True, isolation_level=None
    )
    try:
        for pragma in ("synchronous = EXTRA", "secure_delete = ON", "temp_store = MEMORY", "foreign_keys = ON"):
            connection.execute(f"PRAGMA {pragma}")
        connection.create_function("fold", 1, str.casefold, deterministic=True)
    except BaseException:
        connection.close()
        raise
    return connection


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Do all of it or none of it, alone among all terminals; synced to the disk before it returns."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _make(path: Path) -> None:
    """Make an empty file that only its owner may read; another terminal may have been quicker."""
    if not path.parent.exists():
        path.parent.mkdir(parents=True, mode=0o700, exist_ok=True)
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def _keep_private(path: Path) -> None:
    """Take the file from everybody else, whatever it was copied from; only its owner can do that."""
    if path.stat().st_mode & 0o077:
        with suppress(PermissionError):
            path.chmod(0o600)


def _version(connection: sqlite3.Connection, path: Path) -> int:
    # One statement, one look: between three of them another terminal may have made the file ours.
    version, application, tables = connection.execute(
        """SELECT user_version, application_id, (SELECT count(*) FROM sqlite_schema)
            FROM pragma_user_version, pragma_application_id"""
    ).fetchone()
    empty = not tables
    if application != APPLICATION and not (empty and version == 0):
        raise CaseError(f"{path}: no case store but something else, and left as it is; move it out of the way")
    if version > len(STEPS):
        raise CaseError(
            f"{path}: written by a newer version (file version {version}, this one knows {len(STEPS)}), and left "
            "as it is; update ohmbudsman, or save what this version can read with 'ohmbudsman cases recover FILE DIR'"
        )
    faults = connection.execute("PRAGMA quick_check(1)").fetchone()
    if faults[0] != "ok":
        raise CaseError(f"{path}: {_DAMAGED}")
    return int(version)


def _step_up(connection: sqlite3.Connection, path: Path) -> None:
    """Bring the file up to this version, all steps in one transaction."""
    with transaction(connection):
        # Looked at again: between the first look and the lock another terminal may have done it.
        for number, step in enumerate(STEPS[_version(connection, path) :], start=_version(connection, path) + 1):
            for statement in step:
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {number}")
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
