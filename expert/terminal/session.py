"""The consultation on the screen: asks, reads a line, keeps and shows what came of it. The thinking is in `commands`.

Two screens: the terminal with editing, completion and a bar at the bottom; and the plain one, which only ever adds
lines, for pipes, dumb terminals and screen readers.
"""

import os
import shutil
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from prompt_toolkit import PromptSession
from prompt_toolkit.application import get_app
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.history import InMemoryHistory
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.output import ColorDepth
from prompt_toolkit.shortcuts import clear
from prompt_toolkit.styles import Style

from expert.report.plain import NARROWEST, Page, printable, terminal_width, wants_colour
from expert.terminal.answers import YES
from expert.terminal.commands import respond
from expert.terminal.completion import complete
from expert.terminal.consultation import Consultation, Said, said
from expert.terminal.explain import changes
from expert.terminal.keeping import Keeper, write_new
from expert.terminal.screen import bar, opening, remind, show_step
from knowledge.errors import CallError, OhmbudsmanError

END_OF_MESSAGE = "."
ASK_MESSAGE = "Paste or type the owner's message; end it with a line that holds only a dot."


class Screen(Protocol):
    """Where lines are shown and read; reading gives None at the end of the input."""

    def show(self, lines: Iterable[Said]) -> None:
        """Show the lines below what is there."""

    def take_over(self) -> None:
        """Make room for what must not be overlooked."""

    def ask(self, now: Consultation) -> str | None:
        """Read one line."""

    def message(self) -> str | None:
        """Read a message of several lines."""

    def wants(self, question: str) -> bool:
        """Ask a question about the session itself; where nobody can answer, the answer is no."""

    def width(self) -> int:
        """Give the columns there are."""


def hold(now: Consultation, screen: Screen, keeper: Keeper) -> int:
    """Hold a consultation to its end; give the exit code."""
    keeper.keep(now)
    try:
        _talk(now, screen, keeper)
    finally:
        # Also after an interrupt while something was worked out: what is kept is kept.
        screen.show(said(keeper.opened))
    return 0


def _talk(now: Consultation, screen: Screen, keeper: Keeper) -> None:
    """Show what comes next and take line after line, until the input ends or somebody leaves."""
    _show_step(now, screen)
    while (line := screen.ask(now)) is not None:
        now = replace(now, width=screen.width())
        try:
            reply = respond(now, line)
            # Kept before it is shown: whatever stands on the screen survives a power cut.
            keeper.keep(reply.consultation)
            screen.show(reply.say)
            if reply.save_to:
                screen.show(said(_save(keeper, reply.save_to)))
        except OhmbudsmanError as error:
            screen.show(said(f"  {error}", style="caution"))
            continue
        if reply.leave:
            break
        before, now = now, reply.consultation
        if now.step == "danger":
            pass  # it stands alone
        elif before.step == "correct" and now.step != "correct":
            screen.show(opening(now))
        elif (now.case.findings, now.case.outcomes) != (before.case.findings, before.case.outcomes):
            screen.show(changes(before, now))
        if _target(before) != _target(now) or not (reply.say or reply.save_to):
            _show_step(now, screen)
        else:
            screen.show(remind(now))


def _target(now: Consultation) -> object:
    """Give what stands on the screen, so that it is shown again only when it is another."""
    return {
        "closed": (now.step,),
        "danger": (now.step, tuple(raised.hazard.id for raised in now.unanswered)),
        "correct": (now.step, now.case.findings, now.case.build),
        "question": (now.step, now.question and now.question.id),
        "check": (now.step, now.check and now.check.id, now.chosen),
        "idle": (now.step, len(now.log)),
    }[now.step]


def _show_step(now: Consultation, screen: Screen) -> None:
    if now.step == "danger":
        screen.take_over()
    else:
        screen.show(said(""))
    screen.show(show_step(now))


def _save(keeper: Keeper, name: str) -> str:
    from expert.portable import write_case

    path = Path(name)
    if not name.endswith(".case.json"):
        path = path.with_name(f"{path.name}.case.json")
    try:
        write_new(path, write_case(keeper.stamped, number=keeper.number))
    except FileExistsError as error:
        raise CallError(f"{path}: is there already; give another name") from error
    except OSError as error:
        raise CallError(f"{path}: {error.strerror or error}; give a file that can be written") from error
    return f"Written to {path}, {keeper.entries}."


def screen_for(plain: bool) -> Screen:
    """Give the screen that suits this terminal."""
    able = sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "dumb") != "dumb"
    return FullScreen() if able and not plain else PlainScreen()


def page_of(lines: Iterable[Said], width: int, colour: bool) -> str:
    """Lay out lines for the screen: wrapped, what may have come from anywhere made safe, indentations kept."""
    page = Page(width, colour)
    for text, style in lines:
        indent = " " * (len(text) - len(text.lstrip(" ")))
        page.line(text, style, first=indent, then=f"{indent}  " if indent else "")
    return page.text()


class PlainScreen:
    """Adds line to line, and never draws anything anew."""

    def show(self, lines: Iterable[Said]) -> None:
        """Print the lines."""
        shown = list(lines)
        if shown:
            sys.stdout.write(page_of(shown, self.width(), wants_colour(sys.stdout)))
            sys.stdout.flush()

    def take_over(self) -> None:
        """Print a rule."""
        self.show(said("", "=" * min(40, self.width())))

    def ask(self, now: Consultation) -> str | None:
        """Print a prompt and read a line."""
        sys.stdout.write(prompt_of(now))
        sys.stdout.flush()
        line = _line()
        if not sys.stdin.isatty():
            # Nobody has typed on this screen, so that what was answered stands in no line of it.
            sys.stdout.write(f"{printable(line or '')}\n")
        return line

    def message(self) -> str | None:
        """Read lines up to one that holds only a dot, or to the end of the input."""
        self.show(said(ASK_MESSAGE))
        lines: list[str] = []
        while (line := _line()) is not None and line.strip() != END_OF_MESSAGE:
            lines.append(line)
        return "\n".join(lines) if lines else None

    def wants(self, question: str) -> bool:
        """Ask on a terminal; a script is told, and not asked, since its first line is the message."""
        self.show(said(question))
        if not sys.stdin.isatty():
            return False
        sys.stdout.write("yes or no> ")
        sys.stdout.flush()
        return (_line() or "no").strip().lower() in YES

    def width(self) -> int:
        """Give the columns of the terminal; 80 for a pipe."""
        return terminal_width(sys.stdout)


def _line() -> str | None:
    try:
        line = sys.stdin.readline()
    except KeyboardInterrupt:
        return None
    except UnicodeDecodeError as error:
        raise CallError("the input is not UTF-8 text; save it as UTF-8 text") from error
    return line.rstrip("\r\n") if line else None


class FullScreen:
    """A terminal: editing, history, completion, and the bar at the bottom; no mouse, no colour where none is wanted."""

    def __init__(self) -> None:
        self._colour = wants_colour(sys.stdout)
        depth = None if self._colour else ColorDepth.DEPTH_1_BIT
        plain_bar = "noreverse reverse" if not self._colour else "noreverse bg:#303030 #ffffff"
        danger = plain_bar + " bold" if not self._colour else "noreverse bg:#a00000 #ffffff bold"
        style = Style.from_dict(
            {"bottom-toolbar": plain_bar, "danger": danger, "caution": f"{plain_bar} bold", "plain": ""}
        )
        self._lines: PromptSession[str] = PromptSession(
            history=InMemoryHistory(), color_depth=depth, style=style, complete_while_typing=False
        )
        self._messages: PromptSession[str] = PromptSession(
            color_depth=depth, multiline=True, key_bindings=_message_keys()
        )
        self.number: int | None = None

    def show(self, lines: Iterable[Said]) -> None:
        """Print the lines above the prompt."""
        shown = list(lines)
        if shown:
            sys.stdout.write(page_of(shown, self.width(), self._colour))
            sys.stdout.flush()

    def take_over(self) -> None:
        """Clear the screen."""
        clear()

    def ask(self, now: Consultation) -> str | None:
        """Read a line; Ctrl-C drops what was typed, Ctrl-D ends the session."""

        def toolbar() -> StyleAndTextTuples:
            text, style = bar(replace(now, width=get_app().output.get_size().columns))
            return [(f"class:{style}", text)]

        while True:
            try:
                return self._lines.prompt(prompt_of(now), completer=_Words(now), bottom_toolbar=toolbar)
            except KeyboardInterrupt:
                self.show(said("'leave' or Ctrl-D ends the session.", style="quiet"))
            except EOFError:
                return None

    def message(self) -> str | None:
        """Read a message; a paste may hold many lines."""
        self.show(said(ASK_MESSAGE))
        try:
            text = self._messages.prompt("")
        except (EOFError, KeyboardInterrupt):
            return None
        lines = text.split("\n")
        return "\n".join(lines[:-1] if lines[-1].strip() == END_OF_MESSAGE else lines)

    def wants(self, question: str) -> bool:
        """Ask; anything but a yes is a no."""
        self.show(said(question))
        try:
            return self._lines.prompt("yes or no> ").strip().lower() in YES
        except (EOFError, KeyboardInterrupt):
            return False

    def width(self) -> int:
        """Give the columns of the terminal as it is now."""
        return max(NARROWEST, min(shutil.get_terminal_size((80, 24)).columns, 100))


def prompt_of(now: Consultation) -> str:
    """Give the mark before the line that is typed."""
    return "done about it> " if now.step == "danger" else "> "


def _message_keys() -> KeyBindings:
    """Enter ends the line, and after a lone dot the message; so does Ctrl-D."""
    keys = KeyBindings()

    @keys.add("enter")
    def _(event: KeyPressEvent) -> None:
        buffer = event.current_buffer
        if buffer.document.is_cursor_at_the_end and buffer.document.current_line.strip() == END_OF_MESSAGE:
            buffer.validate_and_handle()
        else:
            buffer.insert_text("\n")

    @keys.add("c-d")
    def _(event: KeyPressEvent) -> None:
        if event.current_buffer.text.strip():
            event.current_buffer.validate_and_handle()
        else:
            event.app.exit(exception=EOFError)

    return keys


class _Words(Completer):
    """Hands the completion of the commands to the editor."""

    def __init__(self, now: Consultation) -> None:
        self._now = now

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        last = document.text_before_cursor.rpartition(" ")[2]
        for option in complete(self._now, document.text_before_cursor):
            yield Completion(option, start_position=-len(last))
