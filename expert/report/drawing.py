"""What the page draws, as plain numbers: the message cut at its findings, and the bars of the ranking."""

from dataclasses import dataclass
from itertools import pairwise

from expert.report.model import CaseReport
from expert.report.wording import percent

WIDTH, HEIGHT = 300.0, 38.0  # of a row of bars, in its own units; the page scales it
WIDEST = 28.0  # a bar, so that a case with one step is not a wall


@dataclass(frozen=True)
class Piece:
    """A stretch of the message: the findings it belongs to (places in the report), and those that start and end it."""

    text: str
    findings: tuple[int, ...]
    starts: tuple[int, ...]
    ends: tuple[int, ...]


@dataclass(frozen=True)
class Bar:
    """One bar, in the units of its row, the origin at the upper left."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Row:
    """How one cause fared: its bars, the same in words, and where it stands now."""

    title: str
    words: str
    now: str
    bars: tuple[Bar, ...]


def message_pieces(report: CaseReport) -> tuple[Piece, ...]:
    """Cut the message wherever a finding starts or ends; together the pieces are the whole message."""
    if report.message is None:
        return ()
    text = report.message.text
    spans = {i: (f.start, f.end) for i, f in enumerate(report.findings) if f.start is not None and f.end is not None}
    cuts = sorted({0, len(text), *(edge for span in spans.values() for edge in span)})
    return tuple(
        Piece(
            text=text[a:b],
            findings=tuple(i for i, (start, end) in spans.items() if start <= a and b <= end),
            starts=tuple(i for i, (start, _) in spans.items() if start == a),
            ends=tuple(i for i, (_, end) in spans.items() if end == b),
        )
        for a, b in pairwise(cuts)
    )


def anchors_of(report: CaseReport) -> list[str]:
    """Give for each finding the id to jump to: its quote in the message, or else its line in the list."""
    first: dict[int | None, int] = {}
    for i, finding in enumerate(report.findings):
        first.setdefault(finding.start, i)
    return [
        f"finding-{i + 1}" if finding.start is None else f"quote-{first[finding.start] + 1}"
        for i, finding in enumerate(report.findings)
    ]


def course_rows(report: CaseReport) -> tuple[Row, ...]:
    """Give a row of bars for each cause of the course: one bar a step, its height the probability."""
    moments = report.course.moments
    step = min(WIDTH / max(len(moments), 1), WIDEST + 4)
    rows = []
    for place, title in enumerate(report.course.titles):
        shares = [moment.probabilities[place] for moment in moments]
        words = ", ".join(f"{percent(share)} after step {n}" for n, share in enumerate(shares, start=1))
        bars = tuple(_bar(n, share, step) for n, share in enumerate(shares))
        rows.append(Row(title, f"{title}: {words}", percent(shares[-1]), bars))
    return tuple(rows)


def _bar(place: int, share: float, step: float) -> Bar:
    height = round(HEIGHT * share, 2)
    return Bar(x=round(place * step, 2), y=round(HEIGHT + 1.5 - height, 2), width=round(step * 0.86, 2), height=height)
