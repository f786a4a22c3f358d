"""The command line: arguments in, exit codes out; the only place that turns an error into one line. `cli` starts it.

Exit codes: 0 done; 1 done, and a hazard of level `stop` was raised (`triage --fail-on-stop`); 2 the call or its input
cannot be used. What is slow to import is imported only where it is needed, so that `--help` answers at once.
"""

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path
from typing import NoReturn

from expert import __version__
from knowledge.errors import CallError, KnowledgeError, MessageError, OhmbudsmanError

# Far above any letter, far below what would keep the machine busy; the reader has a limit of its own as well.
LARGEST_MESSAGE = 1_000_000

DONE, STOP, UNUSABLE = 0, 1, 2


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are one line, like all others of ours."""

    def error(self, message: str) -> NoReturn:
        raise CallError(f"{message}; see 'ohmbudsman --help'")


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command; give its exit code."""
    try:
        _ready_streams()
        options = _parser().parse_args(arguments)
        _ready_output(options)
        code: int = options.run(options)
        sys.stdout.flush()
        return code
    except OhmbudsmanError as error:
        return _refused(_one_line(error))
    except BrokenPipeError:
        _drop_output()  # whoever read it has had enough
        return DONE
    except OSError as error:
        # What is read and written by name has its own message; this is the output, on a full disk for one.
        _drop_output()
        return _refused(f"{error.filename or 'the output'}: {error.strerror or error}; see to it, and try again")


def _refused(line: str) -> int:
    from expert.report.plain import printable

    print(f"ohmbudsman: {printable(line)}", file=sys.stderr)
    return UNUSABLE


def _ready_streams() -> None:
    """See to streams that the caller closed, and to characters that a narrow encoding lacks."""
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: PTH123, SIM115  # lives as long as the process
    if sys.stdout is None:
        raise CallError("the standard output is closed; give it a terminal, a file or a pipe")
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")


def _ready_output(options: argparse.Namespace) -> None:
    """Write JSON and pages in UTF-8, which is what they say they are, whatever the terminal takes."""
    is_document = getattr(options, "json", False) or getattr(options, "document", False)
    if is_document and isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8", errors="backslashreplace")


def _drop_output() -> None:
    """Keep Python from complaining while it shuts down, when it tries once more to write what is left."""
    with suppress(OSError):  # a stream that is no file keeps nothing back
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _one_line(error: OhmbudsmanError) -> str:
    """Say what is wrong in one line; of many faults the first, and where to see the others."""
    if isinstance(error, KnowledgeError) and len(error.faults) > 1:
        others = len(error.faults) - 1
        return f"{error.faults[0]} (and {others} more; 'ohmbudsman knowledge check' lists them all)"
    return str(error)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="ohmbudsman",
        description="Triages and diagnoses desktop PCs that will not start or misbehave.",
        epilog="A first opinion for the bench. Local codes and licensed practice decide; never open a power supply.",
    )
    parser.add_argument("--version", action="version", version=f"ohmbudsman {__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND", parser_class=_Parser)

    triage = commands.add_parser("triage", help="first-pass triage of one complaint")
    triage.add_argument("file", nargs="?", default="-", metavar="FILE", help="the message; - or nothing reads it")
    triage.add_argument("--json", action="store_true", help="print the triage document as JSON")
    triage.add_argument("--fail-on-stop", action="store_true", help="exit 1 if a hazard of level stop is raised")
    triage.set_defaults(run=_triage)

    from expert.cases_commands import add_cases
    from expert.export_commands import add_export
    from expert.knowledge_commands import add_knowledge
    from expert.queue.commands import add_queue
    from expert.shop import add_folder_option
    from expert.terminal.consult_command import add_completion, add_consult

    add_folder_option(triage)
    add_consult(commands, read_message)
    add_cases(commands, _Parser)
    add_export(commands, _Parser)
    add_knowledge(commands, _Parser)
    add_queue(commands, _Parser)
    add_completion(commands, parser)
    return parser


def read_message(file: str) -> str:
    """Read a message from a file, or from standard input for `-`.

    Raises `CallError` if there is no such file, `MessageError` if it is empty, not text, or far too long.
    """
    if file == "-":
        content = sys.stdin.buffer.read(LARGEST_MESSAGE + 1)
    elif not file:
        raise CallError("the name of the file is empty; give the path of a text file, or -")
    else:
        try:
            with Path(file).open("rb") as stream:
                content = stream.read(LARGEST_MESSAGE + 1)
        except OSError as error:
            raise CallError(f"{file}: {error.strerror or error}; give the path of a text file, or -") from error
    name = "standard input" if file == "-" else file
    if len(content) > LARGEST_MESSAGE:
        raise MessageError(f"{name}: more than {LARGEST_MESSAGE:,} bytes; cut it down to the owner's message")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise MessageError(f"{name}: not UTF-8 text (byte {error.start}); save it as UTF-8 text") from error
    if not text.strip():
        raise MessageError(f"{name}: empty; put the owner's message in it")
    return text


def _triage(options: argparse.Namespace) -> int:
    text = read_message(options.file)
    from expert.case import fold
    from expert.first_pass import document_of, expert_of, message_entry
    from expert.shop import base_of

    base = base_of(options)
    entry = message_entry(text, base)
    case = fold([entry])
    document = document_of(case, expert_of(base).assess(case))
    if options.json:
        print(document.to_json())
    else:
        from expert.report.plain import Page
        from expert.report.summary import write_summary

        sys.stdout.write(write_summary(document, case.findings, base, Page.for_stream(), entry.language))
    stopped = any(hazard.level == "stop" for hazard in document.hazards)
    return STOP if options.fail_on_stop and stopped else DONE
