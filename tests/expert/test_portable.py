"""A case as a file: byte for byte there and back, and what is said and saved where it is damaged."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expert.case import AnswerEntry, Entry, MessageEntry, NoteEntry, StepEntry
from expert.portable import LOST, read_case, read_case_file, salvage_case, write_case
from expert.store import Stamped, Store
from knowledge.errors import CaseError
from tests.expert.logs import logs, texts

AT = "2026-03-01T09:00:00Z"
LOG = (
    MessageEntry(text="dead since the storm\u2028says Wilhelmina", sentences=1, redactions=0),
    AnswerEntry(finding="fans-spin", state="absent", words="not at all"),
    NoteEntry(words="calls back at six"),
    StepEntry(kind="undo"),
)
STAMPED = tuple(Stamped(AT, entry) for entry in LOG)


@settings(max_examples=60, deadline=None)
@given(log=logs, title=texts, number=st.none() | st.integers(1, 10**6))
def test_any_case_comes_back_byte_for_byte(log: list[Entry], title: str, number: int | None, tmp_path_factory):
    """Read and written again, the same bytes; by way of the store as well. Any reader of JSON can read it."""
    path = tmp_path_factory.mktemp("case") / "a.case.json"
    stamped = tuple(Stamped(AT, entry) for entry in log)
    content = write_case(stamped, title, number)
    path.write_bytes(content)
    read = read_case_file(path)
    assert (read.stamped, read.title, read.number) == (stamped, title, number)
    assert write_case(read.stamped, read.title, read.number) == content
    with Store.open(path.parent) as store:
        assert write_case(store.stamped(store.take_in(stamped)), title, number) == content
    plain = json.loads(content)
    assert [each["entry"]["kind"] for each in plain["entries"]] == [entry.kind for entry in log]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Write the case into a file."""
    path = tmp_path / "a.case.json"
    path.write_bytes(write_case(STAMPED, "green tower", 7))
    return path


def _changed(path: Path, old: str, new: str) -> None:
    content = path.read_text("utf-8")
    assert old in content
    path.write_text(content.replace(old, new), "utf-8")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("fans-spin", "FANS", "damaged, and left as it is .entry 2: .*3 entries can be saved"),
        ('"kind":"undo"', '"kind":"hologram"', "entry 4: .*3 entries can be saved"),
        ("case/1", "case/2", "of another version.*update ohmbudsman"),
        ('"ohmbudsman.case/1"', '"song"', "no case file"),
        ('"title"', '"titel"', "damaged"),
        (AT, "yesterday", "damaged"),
    ],
)
def test_what_cannot_be_read_is_said_and_left_as_it_is(path: Path, old: str, new: str, words: str):
    """What is wrong, where, and what to do."""
    _changed(path, old, new)
    before = path.read_bytes()
    with pytest.raises(CaseError, match=words):
        read_case(path)
    assert path.read_bytes() == before


def test_no_file_is_said(tmp_path: Path):
    """One line."""
    with pytest.raises(CaseError, match="give the number of a case or the path"):
        read_case(tmp_path / "none")


def test_a_lost_entry_leaves_its_place(path: Path):
    """The step back after it still takes back the note, not the answer before."""
    _changed(path, "fans-spin", "FANS")
    case, lost = salvage_case(path)
    assert (case.title, lost) == ("green tower", 1)
    assert [each.entry for each in case.stamped] == [LOG[0], NoteEntry(words=LOST), LOG[2], LOG[3]]


@pytest.mark.parametrize("kept", range(2, 5))
def test_a_file_that_was_cut_short_gives_what_is_whole(path: Path, kept: int):
    """Cut in the middle of a line: the lines before it are kept, the broken one is counted as lost."""
    lines = path.read_bytes().split(b"\n")
    path.write_bytes(b"\n".join(lines[:kept]) + b"\n" + lines[kept][:20])
    case, lost = salvage_case(path)
    assert [each.entry for each in case.stamped][: kept - 1] == list(LOG[: kept - 1])
    assert lost == 1
    with pytest.raises(CaseError, match=f"{kept - 1} entr(y|ies) can be saved"):
        read_case(path)


def test_nothing_left_is_said(path: Path):
    """Not an empty case."""
    path.write_bytes(b'{"schema": "ohmbudsman.case/1", "entries": [')
    with pytest.raises(CaseError, match="no entry of a case can be read"):
        salvage_case(path)
