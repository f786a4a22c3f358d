"""The consultation on the screen: asks, reads a line, shows what came of it. The thinking is in `commands`."""

import sys

from prompt_toolkit import PromptSession
from prompt_toolkit.completion import WordCompleter

from expert.report.plain import Page, printable
from expert.terminal.commands import COMMANDS, Consultation, Reply, leading_causes, respond
from expert.triage import expert_of, message_entry
from knowledge import KnowledgeBase
from knowledge.errors import OhmbudsmanError


def consult(message: str | None, base: KnowledgeBase) -> int:
    """Hold a consultation in the terminal, from a message or from one that is asked for; give the exit code.

    Input from a pipe is taken line by line, without any redrawing. Raises `MessageError` for a message that cannot
    be read.
    """
    ask = _Prompt()
    text = message if message is not None else ask("Paste the owner's message as one line: ")
    if text is None:
        return 0
    now = Consultation.begin(expert_of(base), lambda words: message_entry(words, base), text)
    _show(COMMANDS["summary"].run(now, ""))
    while True:
        line = ask(_prompt_of(now))
        if line is None:
            return 0
        try:
            reply = respond(now, line)
        except OhmbudsmanError as error:
            print(f"  {printable(str(error))}")
            continue
        _show(reply)
        if reply.leave:
            return 0
        if reply.consultation.log != now.log:
            _show_changes(now, reply.consultation)
        now = reply.consultation


class _Prompt:
    """Reads a line: with editing and completion on a terminal, plainly from a pipe; None at the end of input."""

    def __init__(self) -> None:
        interactive = sys.stdin.isatty() and sys.stdout.isatty()
        words = WordCompleter([*COMMANDS, "yes", "no"])
        self._session: PromptSession[str] | None = PromptSession(completer=words) if interactive else None

    def __call__(self, text: str) -> str | None:
        try:
            if self._session:
                return self._session.prompt(text)
            sys.stdout.write(text)
            sys.stdout.flush()
            line = sys.stdin.readline()
            sys.stdout.write("\n")
            return line or None
        except (EOFError, KeyboardInterrupt):
            return None


def _prompt_of(now: Consultation) -> str:
    if now.question is None:
        return "\nNothing more to ask. Type 'checks', 'summary' or 'quit'.\n> "
    return f"\n{now.question.text} (yes, no, ?, why)\n> "


def _show(reply: Reply) -> None:
    for line in reply.say:
        print(line if line.startswith(" ") else printable(line))


def _show_changes(before: Consultation, after: Consultation) -> None:
    """Show new dangers first, then the leading causes and the next check."""
    page = Page.for_stream()
    known = {raised.hazard.id for raised in before.assessment.hazards}
    for raised in after.assessment.hazards:
        if raised.hazard.id not in known:
            page.line(f"! {raised.hazard.level.upper()}: {raised.hazard.advice}", "danger")
    page.line("now: " + "; ".join(line.strip() for line in leading_causes(after, 3)))
    free = [plan for plan in after.assessment.checks if plan.locked_by is None]
    if free:
        page.line(f"next check: {free[0].title} ({free[0].minutes} min)")
    sys.stdout.write(page.text())
