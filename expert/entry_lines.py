"""The entries of a log in plain words, a line each."""

from collections.abc import Callable
from typing import Any

from expert.case import Entry
from expert.experience import tell_experience
from knowledge.models import KnowledgeBase


def line_of(base: KnowledgeBase, entry: Entry) -> str:
    """Say what an entry added to its case; an id that the base no longer has is given as it is."""
    return _LINES[entry.kind](_Titles(base), entry)


class _Titles:
    """What the ids of a base are called."""

    def __init__(self, base: KnowledgeBase) -> None:
        self._base = base

    def of(self, kind: str, record: str) -> str:
        """Give the title of a record, by the field of the base that holds it."""
        return next((each.title for each in getattr(self._base, kind) if each.id == record), record)

    def all(self, kind: str, records: tuple[str, ...]) -> str:
        """Give the titles of several."""
        return ", ".join(self.of(kind, record) for record in records)

    def told(self, finding: str, state: str) -> str:
        """Put a finding in a state into words."""
        record = next((each for each in self._base.findings if each.id == finding), None)
        if record is None or state == "unknown":
            return f"{self.of('findings', finding)}: {state}"
        return record.present if state == "present" else record.absent

    def outcome(self, check: str, outcome: str) -> str:
        """Give a check and how it came out."""
        record = next((each for each in self._base.checks if each.id == check), None)
        ends = {each.id: each.title for each in record.outcomes} if record else {}
        return f"{record.title if record else check}: {ends.get(outcome, outcome)}"


def _quoted(words: str) -> str:
    return f" - “{words}”" if words else ""


def _closed(titles: _Titles, entry: Any) -> str:
    cause = titles.of("causes", entry.cause) if entry.cause else "not found out"
    replaced = f"; replaced: {titles.all('build_parts', entry.replaced)}" if entry.replaced else ""
    return f"closed: {cause}{replaced}{_quoted(entry.words)}"


_LINES: dict[str, Callable[[_Titles, Any], str]] = {
    "message": lambda titles, entry: f"message: {entry.text}",
    "answer": lambda titles, entry: f"told: {titles.told(entry.finding, entry.state)}{_quoted(entry.words)}",
    "withdraw": lambda titles, entry: f"not told after all: {titles.of('findings', entry.finding)}",
    "skip": lambda titles, entry: f"not asked: {titles.of('findings', entry.finding)}",
    "outcome": lambda titles, entry: f"checked: {titles.outcome(entry.check, entry.outcome)}",
    "measure": lambda titles, entry: f"measured: {titles.of('limits', entry.limit)}: {entry.verdict}",
    "part": lambda titles, entry: f"part: {titles.of('build_parts', entry.named.part)}{_quoted(entry.named.text)}",
    "hand": lambda titles, entry: f"on hand: {', '.join(entry.have) or 'nothing'}",
    "note": lambda titles, entry: f"{'note' if entry.hazard is None else f'about {entry.hazard}'}: {entry.words}",
    "experience": lambda titles, entry: tell_experience(entry) or "priors from the base",
    "close": _closed,
    "reopen": lambda titles, entry: "opened again",
    "undo": lambda titles, entry: "one step back",
    "redo": lambda titles, entry: "one step forward again",
}
