"""The bench sheet: one page to print, with the cautions on top, the checks in order, and boxes to write in."""

from collections.abc import Sequence
from dataclasses import dataclass

from expert.report.model import BandLine, CaseReport, CheckLine
from expert.report.plain import Page
from expert.report.wording import CAUTION, LEVELS, MENTIONED, NO_DANGER, percent, spoken

PLANNED = 5  # checks; a sixth one is planned again after what the first ones told
LINES = 66  # of text on a sheet of either paper; fewer checks are planned where five would not fit
WIDTH = 92  # columns, for A4 or letter paper in a fixed face of ten points
BOX, LINE = "[ ]", "____________"


@dataclass(frozen=True)
class PlannedCheck:
    """A check on the sheet: its outcomes are boxes to tick, its readings lines to fill, each with its limits.

    `effort` is what it takes, empty for what is only looked at before the machine goes home.
    """

    number: int
    title: str
    effort: str
    how: str
    outcomes: tuple[str, ...]
    readings: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A work order: `dangers` and `cautions` come before the checks, `locked` names what is not made."""

    title: str
    dangers: tuple[str, ...]
    cautions: tuple[str, ...]
    suspects: tuple[str, ...]
    decision: str
    checks: tuple[PlannedCheck, ...]
    locked: tuple[str, ...]
    foot: str = CAUTION


def sheet_of(report: CaseReport) -> Sheet:
    """Give the work order that follows from the report, with as many of the first checks as one page holds."""
    free = [check for check in report.checks if check.locked_by is None][:PLANNED]
    sheet = _sheet(report, free)
    while len(free) > 1 and len(write_sheet(sheet).splitlines()) > LINES:
        free.pop()
        sheet = _sheet(report, free)
    return sheet


def _sheet(report: CaseReport, free: Sequence[CheckLine]) -> Sheet:
    return Sheet(
        title=f"Bench sheet, case {report.number}" if report.number is not None else "Bench sheet",
        dangers=tuple(f"{LEVELS[h.level]}: {h.title}. {h.advice} Takes over: {h.takeover}" for h in report.hazards),
        cautions=_cautions(free) or (() if report.hazards else (NO_DANGER,)),
        suspects=tuple(f"{percent(c.probability)} {c.title}" for c in report.likely[:4] if c.probability >= MENTIONED),
        decision=report.plan.decision.text,
        checks=_last_look(report) if report.is_over else tuple(_planned(n, c) for n, c in enumerate(free, start=1)),
        locked=tuple(f"{'; '.join(titles)} ({why})" for why, titles in report.locked.items()),
    )


def write_sheet(sheet: Sheet, width: int = WIDTH) -> str:
    """Give the sheet as plain text."""
    page = Page(width)
    page.line(sheet.title)
    page.line("Date ______________   Technician ______________________   Machine ______________________")
    page.heading("Before mains goes on")
    for danger in sheet.dangers:
        page.item(danger, mark="!")
    for caution in sheet.cautions:
        page.item(caution, mark=BOX)
    page.heading("Suspected")
    page.line("; ".join(sheet.suspects) or "nothing yet")
    page.heading("Checks, in this order")
    page.line(sheet.decision)
    for check in sheet.checks:
        page.item(f"{check.title} ({check.effort})" if check.effort else check.title, mark=str(check.number))
        page.more(check.how)
        for reading in check.readings:
            page.more(f"{reading} {LINE}")
        page.more("   ".join(f"{BOX} {outcome}" for outcome in check.outcomes))
    if not sheet.checks:
        page.item("No check is open. Settle the danger first, or ask the owner.")
    for locked in sheet.locked:
        page.item(f"Not made: {locked}", mark="x")
    page.heading("Notes")
    for _ in range(3):
        page.line("_" * width)
    page.blank()
    page.line(sheet.foot)
    return page.text()


def _cautions(checks: Sequence[CheckLine]) -> tuple[str, ...]:
    """Give each precaution once, with the numbers of the checks that it is for."""
    numbers: dict[str, list[str]] = {}
    for number, check in enumerate(checks, start=1):
        for text in check.precautions:
            numbers.setdefault(text, []).append(str(number))
    return tuple(f"{text} (check {', '.join(which)})" for text, which in numbers.items())


def _last_look(report: CaseReport) -> tuple[PlannedCheck, ...]:
    """Give what is seen before it goes home, of a machine that was cured."""
    return tuple(
        PlannedCheck(n, item.title, "", item.how, (item.good,), ())
        for n, item in enumerate(report.plan.verification, start=1)
    )


def _planned(number: int, check: CheckLine) -> PlannedCheck:
    wait = f" and {check.wait} min of waiting" if check.wait else ""
    needs = f"; needs {spoken(check.needs)}" if check.needs else ""
    return PlannedCheck(
        number=number,
        title=check.title,
        effort=f"{check.minutes} min{wait}{needs}",
        how=check.how,
        outcomes=tuple(check.outcomes),
        readings=tuple(f"{box.title}, {_limits(box.bands)}:" for box in check.readings),
    )


def _limits(bands: Sequence[BandLine]) -> str:
    return " / ".join(f"{band.text} ({', '.join(filter(None, (band.edition, band.only)))})" for band in bands)
