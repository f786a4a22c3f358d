"""The file of the case store: what is deleted is gone, permissions, backups, damage, versions, and its folder."""

import random
import sqlite3
import stat
from pathlib import Path

import pytest

from expert import store_file
from expert.case import (
    MessageEntry,
    NoteEntry,
)
from expert.store import Store
from expert.store_file import NAME
from knowledge.errors import CaseError
from tests.expert.stores import MESSAGE, bytes_of


def test_a_deleted_case_leaves_no_byte_behind(store: Store):
    """Looked for in every byte of every file of the folder.

    The cases grow in turns, so that the file moves entries about, which leaves copies of them in corners of its pages.
    """
    kept, gone, dice = "the machine that is kept ", "zqx Wilhelmina Oddfellow, Lantern Street 7 ", random.Random(2)
    words = {store.begin([_message(text, length)], text): text for length in (1, 30, 300) for text in (kept, gone) * 2}
    counts = dict.fromkeys(words, 1)
    for number in dice.choices(list(words), k=60):
        notes = [NoteEntry(words=words[number] * dice.choice([1, 4, 16])) for _ in range(4)]
        counts[number] = store.append(number, notes, counts[number])
    assert b"zqx" in bytes_of(store.path.parent)
    logs = {number: store.log(number) for number, text in words.items() if text == kept}
    for number in words.keys() - logs.keys():
        store.delete(number)
    left = bytes_of(store.path.parent).lower()
    assert [word for word in (b"zqx", b"wilhelmina", b"oddfellow", b"lantern") if word in left] == []
    assert {row.number: store.log(row.number) for row in store.rows()} == logs
    with pytest.raises(CaseError, match="no case 2"):
        store.log(2)


def test_a_deletion_that_was_killed_half_way_is_finished_by_the_next_start(store: Store, monkeypatch):
    """The entries are out, the file is not written anew yet: opening it does that, once."""
    swept = []
    sweep = Store._sweep
    monkeypatch.setattr(Store, "_sweep", lambda self: swept.append("killed"))
    store.begin([MESSAGE])
    store.delete(1)
    monkeypatch.setattr(Store, "_sweep", lambda self: swept.append("done") or sweep(self))
    for _ in range(2):
        Store.open(store.path.parent).close()
    assert swept == ["killed", "done"]


def _message(words: str, length: int) -> MessageEntry:
    return MessageEntry(text=words * length, sentences=1, redactions=0)


def test_a_number_is_never_given_again(store: Store):
    """A slip of paper with a number on it must not lead to another machine."""
    number = store.begin([MESSAGE])
    store.delete(number)
    assert store.begin([MESSAGE]) == number + 1


def test_only_the_owner_may_read(store: Store):
    """Folder 0700, file 0600, backup 0600; a file that was copied with wider permissions is narrowed."""
    store.begin([MESSAGE])
    backup = store.path.parent / "b.db"
    store.backup(backup)
    modes = [stat.S_IMODE(path.stat().st_mode) for path in (store.path.parent, store.path, backup)]
    assert modes == [0o700, 0o600, 0o600]
    store.path.chmod(0o644)
    Store.open(store.path.parent).close()
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o600


def test_a_backup_is_a_whole_store(three: Store, tmp_path: Path):
    """Every case and every entry; a file that is there is never overwritten."""
    (tmp_path / "copy").mkdir()
    path = tmp_path / "copy" / NAME
    three.backup(path)
    with Store.open(tmp_path / "copy") as copy:
        assert copy.rows() == three.rows()
        assert [copy.stamped(n) for n in (1, 2, 3)] == [three.stamped(n) for n in (1, 2, 3)]
    with pytest.raises(CaseError, match="is there already"):
        three.backup(path)


def test_a_backup_that_cannot_be_written_leaves_nothing(three: Store, tmp_path: Path):
    """No folder, no file, one line."""
    with pytest.raises(CaseError, match="No such file or directory"):
        three.backup(tmp_path / "nowhere" / "b.db")


@pytest.mark.parametrize("where", ["first page", "later pages", "cut short", "other file", "other database"])
def test_a_damaged_file_is_refused_and_left_as_it_is(store: Store, where: str):
    """One clear error; not a byte of the file changes."""
    for _ in range(40):
        store.begin([MessageEntry(text="the tower is dead " * 30, sentences=1, redactions=0)])
    store.close()
    content = bytearray(store.path.read_bytes())
    if where == "first page":
        content[:64] = bytes(64)
    elif where == "later pages":
        content[8192 : 8192 + 12000] = b"\xa5" * 12000
    elif where == "cut short":
        del content[len(content) // 2 :]
    elif where == "other file":
        content = bytearray(b"Dear all, the bench is closed on Monday.\n" * 40)
    store.path.write_bytes(content)
    if where == "other database":
        store.path.unlink()
        connection = sqlite3.connect(store.path)
        connection.execute("CREATE TABLE songs (title)")
        connection.commit()
        connection.close()
    before = store.path.read_bytes()
    with pytest.raises(CaseError, match="left as it is"):
        Store.open(store.path.parent)
    assert store.path.read_bytes() == before


def test_a_file_of_a_newer_version_is_refused_and_left_as_it_is(store: Store):
    """It says which version, and what to do."""
    connection = sqlite3.connect(store.path)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = store.path.read_bytes()
    with pytest.raises(CaseError, match=r"newer version \(file version 99.*update ohmbudsman"):
        Store.open(store.path.parent)
    assert store.path.read_bytes() == before


def test_an_entry_of_a_newer_kind_is_named(store: Store):
    """The case that holds it is refused with its place; the others are read."""
    number, other = store.begin([MESSAGE]), store.begin([MESSAGE])
    connection = sqlite3.connect(store.path)
    connection.execute("INSERT INTO entries VALUES (?, 1, 'now', '{\"kind\": \"hologram\"}', '')", (number,))
    connection.commit()
    connection.close()
    with pytest.raises(CaseError, match=f"case {number}, entry 2.*not an entry of this version"):
        store.log(number)
    assert store.log(other) == (MESSAGE,)


def test_an_older_file_is_brought_up_and_keeps_its_cases(store: Store, monkeypatch):
    """Every step that is missing, once, in order; a step that fails changes nothing."""
    number = store.begin([MESSAGE])
    store.close()
    before = store.path.read_bytes()
    broken = ("ALTER TABLE cases ADD COLUMN bench TEXT", "ALTER TABLE nothing ADD COLUMN x")
    monkeypatch.setattr(store_file, "STEPS", (*store_file.STEPS, broken))
    with pytest.raises(CaseError):
        Store.open(store.path.parent)
    assert store.path.read_bytes() == before
    monkeypatch.setattr(store_file, "STEPS", (*store_file.STEPS[:1], broken[:1]))
    for _ in range(2):
        with Store.open(store.path.parent) as stepped:
            assert stepped.log(number) == (MESSAGE,)
    connection = sqlite3.connect(store.path)
    assert connection.execute("SELECT user_version, bench FROM pragma_user_version, cases").fetchall() == [(2, None)]
    connection.close()


def test_the_folder_is_taken_from_the_environment(tmp_path: Path, monkeypatch):
    """And made with all its parents."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path / "deep" / "er"))
    with Store.open() as store:
        store.begin([MESSAGE])
    assert (tmp_path / "deep" / "er" / NAME).is_file()


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path):
    """A file in the way."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(CaseError, match="OHMBUDSMAN_DATA"):
        Store.open(tmp_path / "file" / "data")
