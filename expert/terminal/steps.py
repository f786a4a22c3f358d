"""Steps back and forth in the log, and the end of a session."""

from expert.case import Entry, HandEntry, NoteEntry, PartEntry, ReopenEntry, SkipEntry, StepEntry, effective
from expert.report.course import words_of
from expert.terminal.answers import part_line
from expert.terminal.consultation import Consultation, Reply, UnreadError, said
from knowledge.errors import CallError

NOTHING_BACK = "There is nothing to take back."
NOTHING_AGAIN = "There is nothing to do again."


def undo(now: Consultation, rest: str) -> Reply:
    """Take back the last step, or the last few, and say which."""
    after = now
    taken: list[str] = []
    for _ in range(_count(rest)):
        if not after.can_undo():
            break
        taken.append(told(after, effective(after.log)[-1]))
        after = after.with_entries(StepEntry(kind="undo"))
    return Reply(after, said("Taken back.", *(f"  {step}" for step in taken)) if taken else said(NOTHING_BACK))


def redo(now: Consultation, rest: str) -> Reply:
    """Do what was taken back again: one step, or a few, and say which."""
    after = now
    again: list[str] = []
    for _ in range(_count(rest)):
        if not after.can_redo():
            break
        after = after.with_entries(StepEntry(kind="redo"))
        again.append(told(after, effective(after.log)[-1]))
    return Reply(after, said("Done again.", *(f"  {step}" for step in again)) if again else said(NOTHING_AGAIN))


def told(now: Consultation, entry: Entry) -> str:
    """Tell a step in one line."""
    match entry:
        case SkipEntry():
            return f"not asked: {next(f.title for f in now.base.findings if f.id == entry.finding)}"
        case PartEntry():
            return part_line(now.base, entry.named)
        case NoteEntry():
            return entry.words
        case HandEntry():
            return f"on hand: {', '.join(item.replace('-', ' ') for item in entry.have)}"
        case _:
            return words_of(now.base, entry)


def _count(rest: str) -> int:
    if not rest:
        return 1
    if not rest.isdigit() or not 1 <= int(rest) <= 999:
        raise UnreadError("say how many steps, as a number: undo 3")
    return int(rest)


def reopen(now: Consultation, rest: str) -> Reply:
    """Go on with a closed case."""
    if not now.case.closed:
        raise CallError("the case is open; 'ohmbudsman cases close' ends it")
    return Reply(now.with_entries(ReopenEntry()), said("The case is open again."))


def while_closed(now: Consultation, reply: Reply) -> Reply:
    """Let a closed case be looked at, noted on and stepped back in; refuse what would change what was concluded."""
    new = reply.consultation.log[len(now.log) :]
    if any(not isinstance(entry, NoteEntry | ReopenEntry | StepEntry) for entry in new):
        raise CallError("the case is closed, nothing is entered; type 'reopen' to go on with it")
    return reply


def save(now: Consultation, rest: str) -> Reply:
    """Ask for the case to be written into a file that another bench can read."""
    if not rest:
        raise CallError("say where to: save dusted-out.case.json")
    return Reply(now, save_to=rest)


def leave(now: Consultation, rest: str) -> Reply:
    """Leave; what is kept is kept already."""
    return Reply(now, leave=True)
