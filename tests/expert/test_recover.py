"""What is saved of a damaged store, and that the store itself stays as it is."""

import random
import sqlite3
from pathlib import Path

import pytest

from expert.case import MessageEntry, NoteEntry
from expert.portable import LOST, write_case
from expert.recover import recover
from expert.store import Store, Wanted
from expert.store_file import NAME
from knowledge.errors import CaseError

COUNT = 30


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Fill a store with cases of a message and a note, each a few pages long."""
    with Store.open(tmp_path) as store:
        for number in range(1, COUNT + 1):
            words = f"machine {number} of the shelf is dead. " * 250
            store.begin([MessageEntry(text=words, sentences=1, redactions=0), NoteEntry(words=f"note {number}")])
    return tmp_path / NAME


def _saved(path: Path) -> list[int | None]:
    """Give the numbers of the cases that came back whole; whatever came back at all must be the truth."""
    before = path.read_bytes()
    found = recover(path)
    assert path.read_bytes() == before
    whole = []
    for case in found.cases:
        entries = [line.entry for line in case.entries]
        expected = [f"machine {case.number} of the shelf is dead. " * 250, f"note {case.number}", LOST]
        assert [e for e in entries if (e.text if isinstance(e, MessageEntry) else e.words) not in expected] == []
        whole += [case.number] if NoteEntry(words=LOST) not in entries else []
    return whole


def test_a_sound_store_comes_back_whole(path: Path):
    """Every case, under its number, with its title."""
    assert _saved(path) == list(range(1, COUNT + 1))
    assert recover(path).cases[0].title.startswith("machine 1 of the shelf")


def test_a_store_with_a_destroyed_page_gives_the_other_cases(path: Path):
    """Bytes of one page in the middle overwritten: at most the cases with entries on it are lost."""
    content = bytearray(path.read_bytes())
    middle = len(content) // 2 // 4096 * 4096
    content[middle : middle + 4096] = b"\xa5" * 4096
    path.write_bytes(content)
    assert len(_saved(path)) >= COUNT - 3


@pytest.mark.parametrize("length", [16, 100, 4096])
def test_a_store_without_its_beginning_gives_all_cases(path: Path, length: int):
    """The first page says only where the tables are, which is the same in every store."""
    content = bytearray(path.read_bytes())
    content[:length] = bytes(length)
    path.write_bytes(content)
    assert _saved(path) == list(range(1, COUNT + 1))


def test_a_store_that_was_cut_short_gives_what_is_there(path: Path):
    """Half of it gone: a good part of the cases is there."""
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    assert len(_saved(path)) >= COUNT // 3


def test_a_newer_store_gives_what_this_version_knows(path: Path):
    """An entry of a kind that is not known leaves a note in its place."""
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.execute("INSERT INTO entries VALUES (1, 2, '2026-03-01T09:00:00Z', '{\"kind\": \"hologram\"}', '')")
    connection.execute("UPDATE cases SET entries = 3 WHERE number = 1")
    connection.commit()
    connection.close()
    found = recover(path)
    assert found.lost == 1
    assert found.cases[0].entries[2].entry == NoteEntry(words=LOST)


def test_no_damage_is_anything_but_one_clear_error(path: Path):
    """Bytes overwritten anywhere: the store is read or refused with a `CaseError`, and recovered or said to be lost."""
    good, dice, refused = path.read_bytes(), random.Random(3), 0
    for _ in range(60):
        content = bytearray(good)
        for _ in range(dice.choice([1, 20, 400])):
            content[dice.randrange(dice.choice([100, 4096, len(content)]))] = dice.randrange(256)
        path.write_bytes(content)
        for use in (_use, recover):
            try:
                use(path)
            except CaseError:
                refused += 1
        assert path.read_bytes() == content
    assert 0 < refused < 120


def _use(path: Path) -> None:
    with Store.open(path.parent) as store:
        for row in store.rows():
            store.log(row.number)
        store.search(Wanted(words=("dead",), hazard="surge"))


def test_a_half_written_step_is_not_taken_for_a_case(path: Path):
    """A journal beside the file means that the last step was not finished: the copy is put back to before it."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA cache_size = 1")  # so that pages go to the file before the end
    connection.execute("PRAGMA cache_spill = 1")
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("DELETE FROM entries")
    journal = path.with_name(f"{NAME}-journal")
    content, half = path.read_bytes(), journal.read_bytes()
    connection.execute("ROLLBACK")
    connection.close()
    path.write_bytes(content)
    journal.write_bytes(half)
    assert half
    assert _saved(path) == list(range(1, COUNT + 1))


def test_a_case_file_is_recovered_as_well(path: Path, tmp_path: Path):
    """By its first byte."""
    with Store.open(path.parent) as store:
        (tmp_path / "one.case.json").write_bytes(write_case(store.stamped(3), "three"))
    found = recover(tmp_path / "one.case.json")
    assert (found.lost, found.cases[0].title, len(found.cases[0].entries)) == (0, "three", 2)


def test_nothing_to_recover_is_said(tmp_path: Path):
    """Neither a store nor a case."""
    (tmp_path / "x").write_bytes(b"Dear all, the bench is closed on Monday.\n" * 200)
    with pytest.raises(CaseError, match="no case can be read"):
        recover(tmp_path / "x")
    with pytest.raises(CaseError, match="No such file"):
        recover(tmp_path / "none")
