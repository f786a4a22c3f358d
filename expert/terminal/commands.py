"""What can be typed in a consultation, as pure functions: a consultation and a line in, a reply out.

The registry below is the help text and the completion list as well, so that neither can be out of date.
"""

from difflib import get_close_matches

from expert.terminal import answers, bench, explain, plans, steps
from expert.terminal.consultation import Command, Consultation, Reply, Said, UnreadError, is_text, said
from expert.terminal.naming import CLOSE
from knowledge.errors import CallError

# Shorter lines that do not fit a command are mistyped commands; longer ones may be sentences.
SENTENCE = 4


def respond(now: Consultation, line: str) -> Reply:
    """Take one line: a command, an answer to what is asked or proposed, or free text.

    Raises `CallError` with what to type instead, if the line is a command that does not fit.
    """
    line = line.strip()
    if not is_text(line):
        raise CallError("that holds bytes that are no text in UTF-8; nothing was taken, type it anew")
    if not line and now.step != "correct":
        return Reply(now)
    word, _, rest = line.partition(" ")
    command = COMMANDS.get(word.lower())
    if now.step == "danger" and command and command.in_danger:
        return _read(now, command, line)
    if now.step == "danger":
        if command and _is_call(now, command, rest):
            raise CallError(f"{word} has to wait: say first what was done about the danger, in your own words")
        return bench.acknowledge(now, line)
    if now.step == "closed":
        return steps.while_closed(now, _read(now, command, line))
    return _direct(now, line) or _read(now, command, line)


def _read(now: Consultation, command: Command | None, line: str) -> Reply:
    """Take a line as a command, or as words of one's own if it is none."""
    if command is None and (meant := _mistyped(line)) and not now.read(line).findings:
        raise CallError(f"no command {line!r}; did you mean {meant!r}?")
    if command is None or "\n" in line:
        return answers.free_text(now, line)
    rest = line.partition(" ")[2]
    try:
        return _called(now, command, rest)
    except UnreadError:
        if now.step == "danger" and not command.example:
            return bench.acknowledge(now, line)
        # "part of the fans spin again" begins like a command and is none.
        if len(line.split()) >= SENTENCE and now.read(line).findings:
            return answers.free_text(now, line)
        raise


def _mistyped(line: str) -> str:
    """Give the command that a single word is nearly; empty if it is none."""
    near = get_close_matches(line.lower(), COMMANDS, 1, cutoff=CLOSE) if " " not in line else []
    return near[0] if near else ""


def _called(now: Consultation, command: Command, rest: str) -> Reply:
    if rest.strip() and not command.example:
        raise UnreadError("nothing goes after that word; 'help' lists what can be typed")
    return command.run(now, rest.strip())


def _is_call(now: Consultation, command: Command, rest: str) -> bool:
    """Tell whether a command word is meant as one: nothing follows it, or what it takes."""
    try:
        _called(now, command, rest)
    except UnreadError:
        return not rest
    except CallError:
        return True
    return True


def _direct(now: Consultation, line: str) -> Reply | None:
    """Take a line as an answer to what stands on the screen; None if it is none."""
    if now.step == "correct":
        return answers.correct(now, line)
    if now.step == "check" and (reply := bench.outcome_of_offered(now, line)):
        return reply
    return answers.answer(now, line)


def help_for(now: Consultation, rest: str) -> Reply:
    """List what can be typed, or tell of one command."""
    if rest:
        command = COMMANDS.get(rest.lower())
        if command is None:
            raise CallError(f"no command {rest!r}; 'help' lists them")
        return Reply(now, said(f"{rest.lower()}: {command.about}", *_example(rest.lower(), command)))
    known = [
        "Answer a question with yes, no or ?; a proposed check with the letter of its outcome.",
        "Or say it in your own words; several answers at once are fine.",
    ]
    lines = [Said(f"{name:11}{command.about}") for name, command in COMMANDS.items()]
    return Reply(now, (*said(*known), *lines, *said("'help WORD' gives an example.", style="quiet")))


def _example(name: str, command: Command) -> tuple[str, ...]:
    return (f"    {name} {command.example}",) if command.example else ()


COMMANDS: dict[str, Command] = {
    "why": Command("why this is asked or proposed, and what each outcome would mean", explain.why),
    "how": Command("how a cause or a danger got there, down to the words", explain.how, "psu-failed", in_danger=True),
    "whatif": Command("what would follow, without entering it", explain.whatif, "power-drain no-change"),
    "causes": Command("the likely causes now", explain.causes),
    "understood": Command("the numbered findings, to correct them", answers.understood, "3 !5", in_danger=True),
    "skip": Command("pass over this question or check", answers.skip),
    "bench": Command("say that the machine is on the bench: checks come first from now on", bench.bench),
    "checks": Command("what to check next, and what is locked", bench.checks),
    "check": Command("show one check and take its outcome next", bench.check, "power-drain"),
    "done": Command("enter a check and how it came out", bench.done, "power-drain no-change"),
    "measure": Command("enter a reading", bench.measure, "rail-12v 11.9 V"),
    "seen": Command("enter what was seen at the bench", bench.seen, "cleaned-and-dried yes"),
    "swap": Command("enter a swap test", bench.swap, "memory other-machine works"),
    "have": Command("tools and spares on hand", bench.have, "spare supply, known-good bench"),
    "part": Command("tell a part and what is known of it", bench.part, "psu 450 W sfx"),
    "parts": Command("what is cleared, convicted or suspect, and on what grounds", plans.parts),
    "stuck": Command("what cannot be told apart, and what would tell", plans.stuck),
    "plan": Command("what to replace, keep and test again, and what new parts must be", plans.plan),
    "hazards": Command("the dangers, and what lifts them", bench.hazards, in_danger=True),
    "note": Command("write a note into the case", bench.note, "the owner calls back at six"),
    "summary": Command("everything so far", explain.summary),
    "letter": Command("the letter to the owner as it would be now", plans.letter, "first"),
    "undo": Command("take back the last step, or the last few", steps.undo, "3", in_danger=True),
    "redo": Command("do again what was taken back", steps.redo, "3", in_danger=True),
    "save": Command("write the case into a file for another bench", steps.save, "dusted-out.case.json"),
    "reopen": Command("go on with a case that was closed", steps.reopen),
    "help": Command("this list, or more on one word", help_for, "measure", in_danger=True),
    "leave": Command("end the session; the case stays", steps.leave, in_danger=True),
    "quit": Command("the same", steps.leave, in_danger=True),
}
