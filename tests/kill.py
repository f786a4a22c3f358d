"""Kill the writer of cases at random moments, again and again, and look whether anything that counted as saved is lost.

    python -m tests.kill --runs 200

A child goes on with the last open case, adds entries, and acknowledges each step after it is saved. It is killed with
SIGKILL after a random time; then the store is opened and must hold everything that was acknowledged, and at most the
one step more that was saved but not acknowledged yet. The next child goes on from there.
"""

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from expert.case import AnswerEntry, CloseEntry, Entry, MessageEntry
from expert.store import Store

LONGEST_SECONDS = 0.12  # from the first look at the file to some dozen steps
STORES = 25  # a new store every so many runs, so that the making of one is interrupted as well
CASE_LENGTH = 12


def entry_at(number: int, place: int) -> Entry:
    """Give the entry that stands at a place of a case: a message of several pages, answers, at last the close."""
    if place == 0:
        return MessageEntry(text=f"machine {number} is dead. " * (40 * (number % 20)), sentences=1, redactions=0)
    if place == CASE_LENGTH - 1:
        return CloseEntry(cause="psu-failed", words=f"case {number} done")
    return AnswerEntry(finding="fans-spin", state="absent", words=f"answer {place} of case {number}")


@dataclass
class Tally:
    """What was seen: acknowledged steps (case and count of entries), and steps that were saved without."""

    runs: int = 0
    acknowledged: int = 0
    unacknowledged: int = 0
    resumed: int = 0
    known: dict[int, int] = field(default_factory=dict)


Say = Callable[[str], None]


def kill_runs(folder: Path, runs: int, seed: int = 1, write: Callable[[Path, Say], None] | None = None) -> Tally:
    """Start and kill so many writers; raise `AssertionError` if anything is lost or cannot be read."""
    write = write or go_on
    dice, tally = random.Random(seed), Tally()
    for run in range(runs):
        if run % STORES == 0:
            place = folder / str(run)
            tally.known = {}
        said = _killed_after(dice.uniform(0.0, LONGEST_SECONDS), partial(write, place))
        tally.runs += 1
        for line in said.split("\n")[:-1]:  # what comes after the last line end was cut off: not acknowledged
            number, count = map(int, line.split())
            tally.known[number] = count
            tally.acknowledged += 1
        _look(place, tally)
    return tally


def go_on(folder: Path, say: Say) -> None:
    """Go on with the last open case, or begin one; forever."""
    with Store.open(folder) as store:
        number = store.last_open()
        while True:
            if number is None:
                number = max((row.number for row in store.rows()), default=0) + 1
                assert store.begin([entry_at(number, 0)]) == number
                count = 1
            else:
                known = len(store.log(number))
                count = store.append(number, [entry_at(number, known)], known)
            say(f"{number} {count}\n")
            number = None if count == CASE_LENGTH else number


def _look(folder: Path, tally: Tally) -> None:
    """Open the store as the next start does, and hold it against what was acknowledged."""
    with Store.open(folder) as store:
        found = {row.number: store.log(row.number) for row in store.rows()}
        open_case = store.last_open()
    more = {number: len(log) - tally.known.get(number, 0) for number, log in found.items()}
    assert tally.known.keys() <= found.keys(), "an acknowledged case is lost"
    assert all(count >= 0 for count in more.values()), "an acknowledged entry is lost"
    assert sum(more.values()) <= 1, "more is there than one step without acknowledgement"
    for number, log in found.items():
        assert list(log) == [entry_at(number, place) for place in range(len(log))], "an entry is not what was written"
    tally.unacknowledged += sum(more.values())
    tally.resumed += open_case is not None
    tally.known = {number: len(log) for number, log in found.items()}


def _killed_after(seconds: float, work: Callable[[Say], None]) -> str:
    """Do the work in a child, kill it, and give what it had said; raise if it ended by itself."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        _run_child(work, write)
    os.close(write)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    with os.fdopen(read, "rb") as stream:
        said = stream.read().decode("ascii")
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), f"the writer ended by itself, after saying {said!r}"
    return said


def in_child(work: Callable[[Say], None]) -> str:
    """Do the work in a child that ends by itself (limits and users stay its own); give what it said."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        _run_child(work, write)
    os.close(write)
    with os.fdopen(read, "rb") as stream:
        said = stream.read().decode("utf-8")
    os.waitpid(child, 0)
    return said


def _run_child(work: Callable[[Say], None], write: int) -> None:
    try:
        work(lambda text: _say(write, text))
    except BaseException as error:
        _say(write, f"! {error!r}\n")
    finally:
        os._exit(0)


def _say(write: int, text: str) -> None:
    os.write(write, text.encode("utf-8"))


def main() -> int:
    """Run from the command line and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        tally = kill_runs(Path(folder), options.runs, options.seed)
    print(
        f"{tally.runs} writers killed, {tally.acknowledged} steps acknowledged, none lost; "
        f"{tally.unacknowledged} saved before they could be acknowledged; "
        f"{tally.resumed} times an open case to go on with; {time.perf_counter() - start:.0f} s"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
