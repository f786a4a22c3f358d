"""What the tests of the case store share: a message, an answer, a clock that stands, and a store with three cases."""

from pathlib import Path

from expert.case import AnswerEntry, CloseEntry, MessageEntry, Named, PartEntry
from expert.store import Store, Summary

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


def fill(store: Store, clock: Clock) -> Store:
    """Put three cases in, on the first three days of March."""
    store.begin([MESSAGE], summary=Summary("dead", "psu-failed", "standby", ("surge",)))
    clock.now = "2026-03-02T09:00:00Z"
    store.begin([MessageEntry(text="Freezes in the EVENING.", sentences=1, redactions=0)], "Old STRASSE box")
    clock.now = "2026-03-03T09:00:00Z"
    number = store.begin([ANSWER], summary=Summary("dead", "psu-failed", None, ("surge-x",)))
    store.append(number, [PartEntry(named=Named(part="gpu", text="A Long Card", facts={}))], after=1)
    store.append(number, [CloseEntry(cause="coin-cell", words="new cell, runs")], after=2)
    return store


def bytes_of(folder: Path) -> bytes:
    """Give every byte of every file of a folder."""
    return b"".join(path.read_bytes() for path in sorted(folder.iterdir()))
