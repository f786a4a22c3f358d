"""The case store: what goes in comes out, two terminals, damage, versions, permissions, and what is deleted is gone."""

import random
import sqlite3
import stat
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expert import store_file
from expert.case import (
    AnswerEntry,
    CloseEntry,
    Entry,
    ExperienceEntry,
    MessageEntry,
    Named,
    NoteEntry,
    PartEntry,
    ReopenEntry,
    StepEntry,
)
from expert.entry_text import write_entry
from expert.store import Stamped, Store, Summary, Wanted
from expert.store_file import NAME
from knowledge.errors import CaseError
from tests.expert.logs import logs

MESSAGE = MessageEntry(
    text="Hello cafe,\nmy tower Grünspan is dead since the storm, says Wilhelmina Oddfellow.",
    sentences=1,
    redactions=0,
    build=(Named(part="psu", text="450w supply", facts={"watts": 450}),),
)
ANSWER = AnswerEntry(finding="fans-spin", state="absent", words="not at all")


class Clock:
    """A clock that stands until it is set."""

    def __init__(self, now: str = "2026-03-01T09:00:00Z") -> None:
        self.now = now

    def __call__(self) -> str:  # noqa: D102
        return self.now


@pytest.fixture
def clock() -> Clock:
    """Stand at nine on the first of March."""
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    """Open a new store."""
    with Store.open(tmp_path / "data", clock) as opened:
        yield opened


def _bytes_of(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.iterdir()))


@settings(max_examples=60, deadline=None)
@given(first=logs, more=st.lists(logs, max_size=2))
def test_any_log_comes_back_byte_for_byte(first: list[Entry], more: list[list[Entry]], tmp_path_factory):
    """Written in pieces, read by another opening of the file: the same entries, and the same bytes of each."""
    folder = tmp_path_factory.mktemp("data")
    with Store.open(folder) as store:
        number, count = store.begin(first), len(first)
        for entries in more:
            count = store.append(number, entries, count)
    written = [*first, *(entry for entries in more for entry in entries)]
    with Store.open(folder) as store:
        read = store.log(number)
    assert list(read) == written
    assert [entry.model_dump_json() for entry in read] == [entry.model_dump_json() for entry in written]


def test_two_terminals_never_overwrite_each_other(store: Store):
    """The second with an old count is told so; its entry is not written, the first one's stands."""
    number = store.begin([MESSAGE])
    with Store.open(store.path.parent) as other:
        assert other.append(number, [ANSWER], after=1) == 2
        with pytest.raises(CaseError, match="another terminal has changed it since"):
            store.append(number, [NoteEntry(words="late")], after=1)
    assert store.log(number) == (MESSAGE, ANSWER)
    assert store.append(number, [NoteEntry(words="late")], after=2) == 3


def test_terminals_that_begin_at_the_same_time_lose_nothing(tmp_path: Path):
    """Four at once in a folder that is not there yet: they make one file, and each has a case of its own in it."""

    def work(writer: int) -> None:
        with Store.open(tmp_path / "new") as store:
            number = store.begin([MESSAGE], f"of {writer}")
            for place in range(1, 4):
                store.append(number, [NoteEntry(words=f"{writer} {place}")], place)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(work, range(4)))
    with Store.open(tmp_path / "new") as store:
        found = {row.title: store.log(row.number)[1:] for row in store.rows()}
    assert found == {
        f"of {writer}": tuple(NoteEntry(words=f"{writer} {place}") for place in range(1, 4)) for writer in range(4)
    }


def test_terminals_that_insist_on_the_same_case_all_get_their_turn(store: Store):
    """Each tries until its note is in: all are there once, those of one terminal in their order."""
    number = store.begin([MESSAGE])

    def work(writer: int) -> None:
        with Store.open(store.path.parent) as own:
            for place in range(5):
                while not _added(own, number, NoteEntry(words=f"{writer} {place}")):
                    pass

    with ThreadPoolExecutor(3) as pool:
        list(pool.map(work, range(3)))
    words = [entry.words for entry in store.log(number)[1:]]
    assert sorted(words) == [f"{writer} {place}" for writer in range(3) for place in range(5)]
    assert sorted(words, key=lambda each: each[0]) == sorted(words)


def _added(store: Store, number: int, entry: Entry) -> bool:
    """Add to a case unless another terminal was quicker."""
    try:
        return store.append(number, [entry], len(store.log(number))) > 0
    except CaseError as error:
        if "another terminal has changed it since" in str(error):
            return False
        raise


def test_an_entry_that_would_not_come_back_is_refused(store: Store):
    """A lone surrogate is no text; nothing of the step is written."""
    number = store.begin([MESSAGE])
    with pytest.raises(CaseError, match="cannot be saved"):
        store.append(number, [ANSWER, NoteEntry(words="\ud800")], after=1)
    assert store.log(number) == (MESSAGE,)


def test_a_case_has_its_times(store: Store, clock: Clock):
    """Each entry the second at which it was made; the list shows the first and the last."""
    number = store.begin([MESSAGE])
    clock.now = "2026-03-02T10:30:00Z"
    store.append(number, [ANSWER], after=1)
    assert store.stamped(number) == (
        Stamped("2026-03-01T09:00:00Z", MESSAGE),
        Stamped("2026-03-02T10:30:00Z", ANSWER),
    )
    row = store.row(number)
    assert (row.opened, row.changed, row.entries) == ("2026-03-01T09:00:00Z", "2026-03-02T10:30:00Z", 2)


def test_a_case_without_a_title_takes_one_from_the_message(store: Store):
    """Not the greeting, and not more than fits a line of a list."""
    title = store.row(store.begin([MESSAGE])).title
    assert title == "my tower Grünspan is dead since the storm, says Wilhelmina…"
    assert store.row(store.begin([MESSAGE], "  The   green\ntower ")).title == "The green tower"
    assert store.row(store.begin([ANSWER])).title == "(no message)"


def test_closing_and_what_takes_it_back(store: Store):
    """Close, reopen and undo show in the list; the confirmed cause and the replaced part as well."""
    number = store.begin([MESSAGE])
    store.append(number, [CloseEntry(cause="psu-failed", replaced=("psu", "mains-lead"))], after=1)
    row = store.row(number)
    assert (row.closed, row.cause, row.parts) == (True, "psu-failed", ("mains-lead", "psu"))
    assert store.last_open() is None
    store.append(number, [StepEntry(kind="undo")], after=2)
    assert (store.row(number).closed, store.row(number).cause) == (False, None)
    store.append(number, [StepEntry(kind="redo"), ReopenEntry()], after=3)
    assert not store.row(number).closed
    assert store.last_open() == number


def test_the_case_to_go_on_with_is_the_open_one_changed_last(store: Store, clock: Clock):
    """Not the newest, but the one last worked on."""
    first, second = store.begin([MESSAGE]), store.begin([MESSAGE])
    assert store.last_open() == second
    clock.now = "2026-03-01T09:00:01Z"
    store.append(first, [ANSWER], after=1)
    assert store.last_open() == first
    assert [row.number for row in store.rows()] == [first, second]


@pytest.fixture
def three(store: Store, clock: Clock) -> Store:
    """A store with three cases, on the first three days of March."""
    store.begin([MESSAGE], summary=Summary("dead", "psu-failed", "standby", ("surge",)))
    clock.now = "2026-03-02T09:00:00Z"
    store.begin([MessageEntry(text="Freezes in the EVENING.", sentences=1, redactions=0)], "Old STRASSE box")
    clock.now = "2026-03-03T09:00:00Z"
    number = store.begin([ANSWER], summary=Summary("dead", "psu-failed", None, ("surge-x",)))
    store.append(number, [PartEntry(named=Named(part="gpu", text="A Long Card", facts={}))], after=1)
    store.append(number, [CloseEntry(cause="coin-cell", words="new cell, runs")], after=2)
    return store


@pytest.mark.parametrize(
    ("wanted", "numbers"),
    [
        (Wanted(), [3, 2, 1]),
        (Wanted(words=("evening",)), [2]),
        (Wanted(words=("straße",)), [2]),
        (Wanted(words=("TOWER GRÜNSPAN", "storm")), [1]),
        (Wanted(words=("storm", "evening")), []),
        (Wanted(words=("long card", "cell, runs")), [3]),
        (Wanted(words=("kind",)), []),
        (Wanted(words=("%",)), []),
        (Wanted(words=("' OR 1=1 --",)), []),
        (Wanted(cause="psu-failed"), [1]),
        (Wanted(cause="coin-cell"), [3]),
        (Wanted(part="psu"), [1]),
        (Wanted(part="gpu"), [3]),
        (Wanted(part="ps"), []),
        (Wanted(hazard="surge"), [1]),
        (Wanted(since="2026-03-02"), [3, 2]),
        (Wanted(until="2026-03-02"), [2, 1]),
        (Wanted(since="2026-03-02", until="2026-03-02"), [2]),
    ],
)
def test_search(three: Store, wanted: Wanted, numbers: list[int]):
    """Every condition must hold; words without regard to case, ids as wholes, days included."""
    assert [row.number for row in three.search(wanted)] == numbers


def test_open_and_closed_can_be_listed_apart(three: Store):
    """By what the log says last."""
    assert [row.number for row in three.rows(closed=True)] == [3]
    assert [row.number for row in three.rows(closed=False)] == [2, 1]


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
    assert b"zqx" in _bytes_of(store.path.parent)
    logs = {number: store.log(number) for number, text in words.items() if text == kept}
    for number in words.keys() - logs.keys():
        store.delete(number)
    left = _bytes_of(store.path.parent).lower()
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


def test_confirmed_causes_are_counted_by_complaint(three: Store):
    """Only closed cases with both; an open case and one that was never summarised do not count."""
    number = three.begin([MESSAGE])
    three.append(number, [CloseEntry(cause="psu-failed")], after=1)
    number = three.begin([MESSAGE], summary=Summary("dead"))
    three.append(number, [CloseEntry(cause=None, words="not found out")], after=1)
    assert three.confirmed() == {("dead", "coin-cell"): 1}


def test_learning_is_on_until_it_is_switched_off_and_stays_so(store: Store):
    """The switch is in the file."""
    assert store.learning
    store.set_learning(False)
    with Store.open(store.path.parent) as again:
        assert not again.learning
        again.set_learning(True)
    assert store.learning


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


def test_no_entry_is_ever_changed(store: Store):
    """The file itself refuses it."""
    store.begin([MESSAGE])
    connection = sqlite3.connect(store.path)
    with pytest.raises(sqlite3.IntegrityError, match="never changed"):
        connection.execute("UPDATE entries SET body = ''")
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


def test_experience_keeps_its_counts(store: Store):
    """What a case began with stands in its log, whatever is closed later."""
    learned = ExperienceEntry(counts={"dead": {"psu-failed": 3}})
    number = store.begin([learned, MESSAGE])
    assert store.log(number)[0] == learned
    assert write_entry(learned) == '{"kind":"experience","counts":{"dead":{"psu-failed":3}}}'
