"""The commands `consult` and `completion`; what is slow to import is imported only when a consultation begins."""

import argparse
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from knowledge.errors import CallError, MessageError

if TYPE_CHECKING:
    from expert.store import Store
    from expert.terminal.consultation import Consultation
    from expert.terminal.keeping import Keeper
    from expert.terminal.session import Screen
    from knowledge.models import KnowledgeBase

ABOUT = """\
Guided questions in the terminal, from an owner's message to a justified plan.

First the message: from FILE, or pasted; a message of several lines ends with a
line that holds only a dot, or with the end of the input. What was understood is
shown with numbers: Enter if it is right, 3 strikes number 3 out, !3 turns it
round, and what is missing is added in your own words. Then one question at a
time, and once the machine is on the bench ('bench') one check at a time,
answered with the letter of its outcome.
"""

MORE = """\
an example:
  ohmbudsman consult message.txt
  > 2                         strike out what was misread
  >                           the rest is right
  > no                        yes, no, ? (don't know), or in your own words:
  > I swapped the lead and tried another socket, still nothing
  > why                       why this is asked
  > bench                     the machine is here: checks from now on
  > c                         how the proposed check came out
  > measure rail-12v 11.9 V   a reading, held against the published limits
  > swap memory other-machine works
  > undo 2                    take back two steps; 'redo' does them again
  > plan                      what to replace, keep, and test again
  > leave
'help' inside lists every command; Tab completes commands, checks and outcomes.

A danger of level stop takes the screen: type what was done about it first.
Every step is kept at once; 'ohmbudsman consult 12' goes on with case 12.

exit codes: 0 done, 2 the call or its input cannot be used, 130 ended by Ctrl-C.
"""


def add_consult(commands: Any, read_message: Callable[[str], str]) -> None:
    """Add `consult`; `read_message` reads a message from a file, or from standard input for `-`."""
    from expert.shop import add_folder_option

    consult = commands.add_parser(
        "consult",
        help="guided questions in the terminal, from a complaint or a saved case",
        description=ABOUT,
        epilog=MORE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    consult.add_argument(
        "source",
        nargs="?",
        default=None,
        metavar="FILE|CASE",
        help="a file with the message, the number of a kept case, or a *.case.json; asked for if not given",
    )
    consult.add_argument(
        "--plain", action="store_true", help="only ever add lines: for screen readers; no bar, no colour"
    )
    consult.add_argument("--no-save", action="store_true", help="keep nothing of this session")
    add_folder_option(consult)
    consult.set_defaults(run=lambda options: _consult(options, read_message))


def add_completion(commands: Any, program: argparse.ArgumentParser) -> None:
    """Add `completion`, which prints what a shell needs to complete the commands of the program."""
    completion = commands.add_parser(
        "completion",
        help="print the completion for a shell",
        description="Prints the completion of ohmbudsman for a shell; put it where the shell looks for completions.",
        epilog="bash: ohmbudsman completion bash > ~/.local/share/bash-completion/completions/ohmbudsman",
    )
    completion.add_argument("shell", choices=["bash", "zsh"])
    completion.set_defaults(run=lambda options: _completion(options, program))


def _completion(options: argparse.Namespace, program: argparse.ArgumentParser) -> int:
    import shtab

    sys.stdout.write(shtab.complete(program, shell=options.shell))
    return 0


def _consult(options: argparse.Namespace, read_message: Callable[[str], str]) -> int:
    number = int(options.source) if _is_number(options.source) else None
    if number is not None and options.no_save:
        raise CallError("a kept case is kept on; leave out --no-save, or give a *.case.json")
    is_message = options.source is not None and number is None and not options.source.endswith(".case.json")
    text = read_message(options.source) if is_message else None
    from contextlib import nullcontext

    from expert.shop import base_of
    from expert.store import Store
    from expert.terminal.consultation import said
    from expert.terminal.keeping import Keeper
    from expert.terminal.session import hold, screen_for

    base = base_of(options)
    with nullcontext() if options.no_save else Store.open() as store:
        screen, keeper = screen_for(options.plain), Keeper(store)
        now = _opened(options.source, number, text, base, screen, keeper)
        if now is None:
            screen.show(said("No message came, nothing was kept."))
            return 0
        return hold(now, screen, keeper)


def _is_number(source: str | None) -> bool:
    return source is not None and source.isascii() and source.isdigit() and len(source) < 19


def _opened(
    source: str | None, number: int | None, text: str | None, base: "KnowledgeBase", screen: "Screen", keeper: "Keeper"
) -> "Consultation | None":
    """Give the consultation to hold: a kept case, one from a file, or a new one; None if no message came."""
    from expert.terminal.consultation import is_text, said

    if source is None and keeper.store is not None:
        number = _offered(keeper.store, screen)
    if number is not None:
        keeper.resume(number)
        screen.show(said(f"Resumed case {number}, {keeper.entries}, nothing lost."))
        return _resumed(base, keeper)
    if source is not None and text is None:
        from pathlib import Path

        from expert.portable import read_case
        from expert.shop import ensure_known

        stamped = read_case(Path(source))
        ensure_known([each.entry for each in stamped], base)
        keeper.take_in(stamped)
        kept = f" as case {keeper.number}" if keeper.number else ", and not kept"
        screen.show(said(f"Taken in from {source}{kept}: {keeper.entries}, nothing lost."))
        return _resumed(base, keeper)
    text = text if text is not None else screen.message()
    if text and not is_text(text):
        raise MessageError("the message holds bytes that are no text in UTF-8; save it as UTF-8 text")
    return _begun(base, text, keeper) if text and text.strip() else None


def _offered(store: "Store", screen: "Screen") -> int | None:
    """Give the open case to go on with, if there is one and it is wanted."""
    number = store.last_open()
    if number is None:
        return None
    return (
        number if screen.wants(f"Case {number} is still open (“{store.row(number).title}”). Go on with it?") else None
    )


def _resumed(base: "KnowledgeBase", keeper: "Keeper") -> "Consultation":
    from expert.first_pass import expert_of, message_entry
    from expert.shop import ensure_known
    from expert.terminal.consultation import Consultation

    log = tuple(stamped.entry for stamped in keeper.stamped)
    ensure_known(log, base)
    return Consultation.of(expert_of(base), lambda words: message_entry(words, base), log)


def _begun(base: "KnowledgeBase", text: str, keeper: "Keeper") -> "Consultation":
    from expert.experience import experience_of
    from expert.first_pass import expert_of, message_entry
    from expert.terminal.consultation import Consultation

    store = keeper.store
    experience = experience_of(store.confirmed()) if store and store.learning else None
    return Consultation.begin(expert_of(base), lambda words: message_entry(words, base), text, experience)
