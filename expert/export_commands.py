"""The command `export`: a case as a report, as a letter to the owner, or as the work order for the bench."""

import argparse
import sys
from pathlib import Path
from typing import Any

from knowledge.errors import CallError

OCCASIONS = ("first", "diagnosis", "handover")
FIND = """\
which case:
  ohmbudsman cases list                 the cases with their numbers
  ohmbudsman cases search dusted        those with this word in them
  ohmbudsman consult message.txt        begins a case, and says its number at the end
  ohmbudsman export 12 --format html -o report.html
"""


def add_export(commands: Any, parser_class: type[argparse.ArgumentParser]) -> None:
    """Add `export` to the commands of the program."""
    export = commands.add_parser(
        "export",
        help="a case as a report with its reasons, a letter, or a bench sheet",
        description="Writes a case as a report, a letter or a bench sheet; personal data is blanked.",
        epilog=FIND,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    export.add_argument("case", nargs="?", metavar="CASE", help="the number of a case, or a case file")
    export.add_argument("--format", choices=["md", "html", "json"], help="md if not given; json for the report only")
    what = export.add_mutually_exclusive_group()
    what.add_argument("--letter", choices=OCCASIONS, help="a letter to the owner, for this occasion")
    what.add_argument("--sheet", action="store_true", help="the work order for the bench, one page")
    export.add_argument("-o", "--output", type=Path, metavar="FILE", help="write into a new file, not to the screen")
    export.set_defaults(run=_export, document=True)

    from expert.shop import add_folder_option

    add_folder_option(export)


def _export(options: argparse.Namespace) -> int:
    if (options.letter or options.sheet) and options.format == "json":
        raise CallError("a letter or a sheet is text or a page; give --format md or html, or leave it out")
    if options.case is None:
        raise CallError("say which case: 'ohmbudsman cases list' shows the numbers; then 'ohmbudsman export 12'")
    text = _text(options)
    if options.output is None:
        sys.stdout.write(text)
        return 0
    _write(options.output, text)
    return 0


def _write(path: Path, text: str) -> None:
    """Write a new file, whole or not at all; raise `CallError` where there is one already or it cannot be written."""
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            try:
                file.write(text)
                file.flush()
            except OSError:
                path.unlink(missing_ok=True)
                raise
    except FileExistsError:
        raise CallError(f"{path}: exists already and was left as it is; give another name") from None
    except OSError as error:
        raise CallError(f"{path}: {error.strerror or error}; give a file that can be written") from error


def _text(options: argparse.Namespace) -> str:
    from expert.cases_commands import resolve_case
    from expert.first_pass import expert_of
    from expert.report.gather import report_of
    from expert.report.letter import letter_of, write_letter
    from expert.report.markdown import write_markdown
    from expert.report.page import write_letter_page, write_page, write_sheet_page
    from expert.report.sheet import sheet_of, write_sheet
    from expert.shop import base_of, ensure_known

    base = base_of(options)
    stamped = resolve_case(options.case)
    ensure_known([entry for _, entry in stamped], base)
    number = int(options.case) if options.case.isdecimal() else None
    report = report_of(base, stamped, expert_of(base), number)
    as_page = options.format == "html"
    if options.letter:
        return (write_letter_page if as_page else write_letter)(letter_of(report, options.letter))
    if options.sheet:
        return (write_sheet_page if as_page else write_sheet)(sheet_of(report))
    if options.format == "json":
        return report.to_json() + "\n"
    return (write_page if as_page else write_markdown)(report)
