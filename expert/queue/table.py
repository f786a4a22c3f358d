"""The queue as a table for people: the most urgent first, what one owner sent twice in one row, danger spelled out.

It needs all complaints before its first row, so a small row of each is held in memory; the JSON lines need none.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from expert.queue.complaint import Complaint
from expert.queue.duplicates import Joiner
from expert.queue.urgency import Urgency
from expert.queue.work import Answer
from expert.report.plain import STYLES, Page, printable

DANGER = {"stop": "STOP", "caution": "CAUTION", "notice": "NOTE"}
ID_WIDTH = 18


class _Row(NamedTuple):
    id: str
    urgency: Urgency


class Table:
    """Takes the answers one by one, and is written at the end."""

    def __init__(self) -> None:
        self._rows: list[_Row] = []
        self._unread: list[tuple[str, str]] = []
        self._joiner = Joiner()

    def add(self, complaint: Complaint, answer: Answer) -> None:
        """Take the next answer."""
        if answer.urgency is None:
            self._unread.append((complaint.id, answer.error))
        else:
            self._rows.append(_Row(complaint.id, answer.urgency))
            self._joiner.add(complaint.text, complaint.owner)

    def text(self, page: Page, width: int, colour: bool) -> str:
        """Write the table, and below it, on the page, what could not be read."""
        groups = list(self._ordered())
        columns = _Columns(width, colour)
        rows = [columns.head(), *(line for group in groups for line in columns.lines(group))] if groups else []
        page.heading(self._count(len(groups)), "plain")
        for number, error in self._unread:
            page.item(f"{number}: {error}", "caution", mark="?")
        page.heading("What this is not")
        page.line(
            "A first opinion for the bench, from words alone. What is not told as a danger may be one all the same: "
            "look at each machine before mains goes on. Local codes and licensed practice decide. Never open a power "
            "supply."
        )
        return "".join(f"{row}\n" for row in [*rows, ""] if rows) + page.text()

    def _ordered(self) -> Iterator[list[_Row]]:
        """Yield the joined rows, the most urgent of each first, in the order of urgency, then of the input."""
        groups = [sorted(group, key=lambda at: (self._rows[at].urgency.key(), at)) for group in self._joiner.groups()]
        for group in sorted(groups, key=lambda group: (self._rows[group[0]].urgency.key(), group[0])):
            yield [self._rows[at] for at in group]

    def _count(self, rows: int) -> str:
        again = len(self._rows) - rows
        joined = f", {again} of them told again by the same owner and joined" if again else ""
        unread = f"; {len(self._unread)} could not be read:" if self._unread else ""
        return f"{len(self._rows)} complaints read{joined}{unread}"


class _Columns:
    """Rows as wide as the terminal; the cause takes what the fixed columns leave, the id stands last and is not cut."""

    def __init__(self, width: int, colour: bool) -> None:
        self._cause = max(20, width - len(_fixed("", "", "")) - ID_WIDTH)
        self._colour = colour

    def head(self) -> str:
        return self._styled(f"{_fixed('danger', 'data', 'min')}{'     likely cause':{self._cause}}  complaint", "title")

    def lines(self, rows: Sequence[_Row]) -> Iterator[str]:
        """Yield one complaint with all that was joined to it."""
        urgency = rows[0].urgency
        style = {"stop": "danger", "caution": "caution"}.get(urgency.level or "", "plain")
        fixed = _fixed(
            DANGER[urgency.level] if urgency.level else "-",
            "at risk" if urgency.data_at_risk else "-",
            "-" if urgency.minutes is None else str(urgency.minutes),
        )
        likely = _clipped(
            f"{urgency.percent:3}% {urgency.cause}" if urgency.cause else "     not clear: ask", self._cause
        )
        yield self._styled(f"{fixed}{likely:{self._cause}}  {printable(rows[0].id)}", style)
        if urgency.hazard:
            yield self._styled(f"{_fixed('', '', '')}! {urgency.hazard}", style)
        if len(rows) > 1:
            yield self._styled(f"{_fixed('', '', '')}also {', '.join(printable(row.id) for row in rows[1:])}", "quiet")

    def _styled(self, text: str, style: str) -> str:
        code = STYLES[style] if self._colour else ""
        return f"\x1b[{code}m{text.rstrip()}\x1b[0m" if code else text.rstrip()


def _fixed(danger: str, data: str, minutes: str) -> str:
    return f"{danger:9}{data:9}{minutes:>4}  "


def _clipped(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"
