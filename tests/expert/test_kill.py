"""Nothing that counted as saved is lost: by a kill, by a full disk, in a folder that cannot be written."""

import os
import resource
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from expert.case import NoteEntry
from expert.store import Store
from knowledge.errors import CaseError
from tests.kill import Say, entry_at, in_child, kill_runs

NOBODY = 65534


def test_killed_at_any_moment_nothing_acknowledged_is_lost(tmp_path: Path):
    """Two hundred writers, each going on where the last one was killed; see `tests/kill.py`."""
    tally = kill_runs(tmp_path, 200)
    assert tally.runs == 200
    assert tally.acknowledged > 50
    assert tally.resumed > 50


def test_a_writer_that_says_too_early_is_found_out(tmp_path: Path):
    """The same test, with a writer that acknowledges a step before it is saved, must fail."""

    def boast(folder: Path, say: Say) -> None:
        with Store.open(folder) as store:
            number = len(store.rows()) + 1
            store.begin([entry_at(number, 0)])
            for count in range(2, 10_000):
                say(f"{number} {count}\n")
                store.append(number, [entry_at(number, count - 1)], count - 1)

    with pytest.raises(AssertionError, match="an acknowledged entry is lost"):
        kill_runs(tmp_path, 20, write=boast)


def _fill(folder: Path, say: Say) -> None:
    """Add notes until no more can be saved; say how many were, and what was said then."""
    with Store.open(folder) as store:
        number = store.begin([entry_at(1, 0)])
        for count in range(1, 10_000):
            try:
                store.append(number, [NoteEntry(words=f"note {count} " * 200)], count)
            except CaseError as error:
                say(f"{count} {error}")
                # The store goes on in this very process: what was there is read, and there is no half step.
                assert len(store.log(number)) == count
                return


def _goes_on_after(folder: Path, said: str) -> None:
    count, _, words = said.partition(" ")
    assert "this step was not saved, all before it is" in words
    assert int(count) > 5
    with Store.open(folder) as store:
        log = store.log(1)
        assert list(log[1:]) == [NoteEntry(words=f"note {n} " * 200) for n in range(1, int(count))]
        assert store.append(1, [NoteEntry(words="room again")], len(log)) == len(log) + 1


def test_a_file_that_may_not_grow_keeps_what_it_has(tmp_path: Path):
    """A limit on the size of files, in a child: every note before it is there, and it goes on once it may."""

    def work(say: Say) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
        _fill(tmp_path, say)

    _goes_on_after(tmp_path, in_child(work))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Give a file system of a quarter of a megabyte."""
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(tmp_path)]
    if os.getuid() or subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("only an administrator can make a small disk")
    yield tmp_path
    subprocess.run(["umount", str(tmp_path)], check=True)


def test_a_full_disk_keeps_what_it_has(small_disk: Path):
    """The disk is full before the note is whole; with room made, the case goes on."""
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(40_000))
    said = in_child(lambda say: _fill(small_disk, say))
    ballast.unlink()
    _goes_on_after(small_disk, said)


def test_what_can_only_be_read_is_read_and_not_written():
    """In a child without any rights: lists and logs are there; each step is refused in one line; no file appears."""
    if os.getuid():
        pytest.skip("only an administrator can become somebody else")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Store.open(folder) as store:
            store.begin([entry_at(1, 0)])
        store.path.chmod(0o444)
        folder.chmod(0o555)

        def work(say: Say) -> None:
            os.setuid(NOBODY)
            with Store.open(folder) as store:
                assert store.log(1) == (entry_at(1, 0),)
                for step in (lambda: store.begin([]), lambda: store.append(1, [], 1), lambda: store.delete(1)):
                    try:
                        step()
                    except CaseError as error:
                        say(f"{error}\n")
            try:
                Store.open(folder / "new")
            except CaseError as error:
                say(f"{error}\n")

        lines = in_child(work).splitlines()
        assert [path.name for path in folder.iterdir()] == ["cases.db"]
    assert ["can be read but not written" in line for line in lines] == [True, True, True, False]
    assert "Permission denied" in lines[3]
    assert "OHMBUDSMAN_DATA" in lines[3]
