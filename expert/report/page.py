"""The report, the letter and the bench sheet as HTML: each one file that needs no network and no script.

The templates escape whatever they are given; what is drawn is computed in `drawing`.
"""

import unicodedata

from jinja2 import Environment, PackageLoader, StrictUndefined

from expert.report import wording
from expert.report.derivation import reason_of
from expert.report.drawing import anchors_of, course_rows, message_pieces
from expert.report.letter import Letter
from expert.report.model import CaseReport
from expert.report.sheet import Sheet

CONTENTS = (
    ("danger", "Danger"),
    ("chain", "How far it gets"),
    ("message", "Message"),
    ("known", "What is known"),
    ("causes", "Causes"),
    ("course", "Ranking"),
    ("bench", "Measured"),
    ("parts", "Parts"),
    ("plan", "Plan"),
    ("next", "Next"),
    ("end", "Notes"),
    ("rules", "Rules"),
    ("sources", "Sources"),
)


def write_page(report: CaseReport) -> str:
    """Give the report as one page."""
    return _render(
        "report.html",
        report=report,
        name=f"Case {report.number}" if report.number is not None else "A case",
        contents=[entry for entry in CONTENTS if entry[0] not in _left_out(report)],
        spent=wording.spent(report),
        shown=wording.SHOWN,
        no_danger=wording.NO_DANGER,
        levels=wording.LEVELS,
        states=wording.STATES,
        actions=wording.ACTIONS,
        results=wording.RESULTS,
        not_english=wording.NOT_ENGLISH,
        anchors=anchors_of(report),
        pieces=message_pieces(report),
        reasons={firing.n: reason_of(report, firing.n) for firing in report.trace},
        course={"rows": course_rows(report)},
        excluded=[cause for cause in report.causes if cause.status == "excluded"],
        grounded=[part for part in report.parts if part.grounds or part.ask],
        free=[check for check in report.checks if not check.locked_by],
    )


def write_letter_page(letter: Letter) -> str:
    """Give the letter as a page."""
    return _render("letter.html", letter=letter)


def write_sheet_page(sheet: Sheet) -> str:
    """Give the bench sheet as a page."""
    return _render("sheet.html", sheet=sheet)


def _left_out(report: CaseReport) -> set[str]:
    """Give the parts of the page that this report leaves out."""
    parts = {
        "message": report.message,
        "course": report.course.moments,
        "bench": report.measurements or report.done,
        "next": report.checks or report.questions,
        "end": report.notes or report.closed,
        "sources": report.sources,
    }
    return {name for name, filled in parts.items() if not filled}


def _render(template: str, **values: object) -> str:
    return _environment().get_template(template).render(caution=wording.CAUTION, **values)


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("expert.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_without_controls,
    )
    environment.filters |= {
        "percent": wording.percent,
        "spoken": wording.spoken,
        "weight": wording.weight_words,
        "clock": wording.clock,
        "gives": wording.gives_words,
        "number": lambda value: f"{value:g}",
    }
    return environment


def _without_controls(value: object) -> object:
    """Blank every control and format character of a text but its line ends: a case file may hold any of them."""
    if not isinstance(value, str):
        return value
    kept = ("" if c != "\n" and unicodedata.category(c) in ("Cc", "Cf") else c for c in value)
    return type(value)("".join(kept))
