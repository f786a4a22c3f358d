"""What a session keeps: each step is in the store before it is on the screen; or nothing at all, if so asked."""

import os
from dataclasses import dataclass
from pathlib import Path

from expert.report.plain import counted
from expert.store import Stamped, Store, Summary, utc_now
from expert.terminal.consultation import Consultation
from knowledge.errors import CaseError


@dataclass
class Keeper:
    """Keeps a case: `store` is None where nothing is to be kept, `number` is that of the case once it has one.

    `stamped` are the entries that are known to be kept, with their times.
    """

    store: Store | None = None
    number: int | None = None
    stamped: tuple[Stamped, ...] = ()

    def keep(self, now: Consultation) -> None:
        """Save what is new; raise `CaseError`, with nothing saved, if it cannot be or another terminal was faster."""
        new = now.log[len(self.stamped) :]
        if not new:
            return
        if self.store is None:
            at = utc_now()
            self.stamped = (*self.stamped, *(Stamped(at, entry) for entry in new))
            return
        known = len(self.stamped) + len(new)
        summary = Summary.of(now.base, now.assessment)
        if self.number is None:
            self.number = self.store.begin(new, summary=summary)
        else:
            self.store.append(self.number, new, after=len(self.stamped), summary=summary)
        # The times are those that were written; what another terminal adds from now on is not known here.
        self.stamped = self.store.stamped(self.number)[:known]

    def take_in(self, stamped: tuple[Stamped, ...]) -> None:
        """Take a case from a file into the store, with its times."""
        if self.store is not None:
            self.number = self.store.take_in(stamped)
        self.stamped = stamped

    def resume(self, number: int) -> None:
        """Go on with a case of the store; raise `CaseError` if there is none, or nothing is kept."""
        if self.store is not None:
            self.stamped = self.store.stamped(number)
            self.number = number

    @property
    def entries(self) -> str:
        """How many entries are kept, in words."""
        return counted(len(self.stamped), "entry", "entries")

    @property
    def opened(self) -> str:
        """How to come back to the case, for the end of the session."""
        if self.store is None or self.number is None:
            return "Nothing was kept."
        try:
            self.store.row(self.number)
        except CaseError:
            return f"Case {self.number} is no longer in the store; it was deleted elsewhere."
        return f"Case {self.number} is kept, {self.entries}; 'ohmbudsman consult {self.number}' goes on."


def write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet and that only its owner may read.

    Raises `FileExistsError` or another `OSError` if that cannot be.
    """
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as stream:
        stream.write(content)
