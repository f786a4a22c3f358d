"""What can be typed in a consultation, as pure functions: the log and a line in, an outcome out.

The registry below is the help text and the completion list as well, so that neither can be out of date.
"""

from collections.abc import Callable
from dataclasses import dataclass

from expert.assess import Assessment, Expert
from expert.case import (
    AnswerEntry,
    Case,
    Entry,
    MeasureEntry,
    MessageEntry,
    NoteEntry,
    OutcomeEntry,
    StepEntry,
    effective,
    fold,
)
from expert.elimination import eliminate
from expert.measure import judge, parse_reading
from expert.planner import Prediction, QuestionPlan
from expert.report.plain import Page
from expert.report.summary import sentence_of, write_summary
from expert.triage import document_of
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase, State

YES = ("yes", "y", "yep", "yeah", "true")
NO = ("no", "n", "nope", "false")
UNKNOWN = ("don't know", "dont know", "?", "dk", "not sure", "skip")

# Reads free text into the entry of a message; handed in, since the intake belongs to the edge.
Reader = Callable[[str], MessageEntry]


@dataclass(frozen=True)
class Consultation:
    """A case under way: its log, and what the log leads to."""

    expert: Expert
    read: Reader
    log: tuple[Entry, ...]
    case: Case
    assessment: Assessment

    @classmethod
    def begin(cls, expert: Expert, read: Reader, message: str) -> "Consultation":
        """Begin with the owner's message; raise `MessageError` if it cannot be read."""
        return cls.of(expert, read, (read(message),))

    @classmethod
    def of(cls, expert: Expert, read: Reader, log: tuple[Entry, ...]) -> "Consultation":
        """Give the consultation that a log leads to."""
        case = fold(log)
        return cls(expert, read, log, case, expert.assess(case))

    def with_entries(self, *entries: Entry) -> "Consultation":
        """Give the consultation with more entries in its log, and everything drawn anew."""
        return self.of(self.expert, self.read, (*self.log, *entries))

    @property
    def base(self) -> KnowledgeBase:
        """The knowledge base in use."""
        return self.expert.base

    @property
    def language(self) -> str:
        """The language of the message: `en` or `other`."""
        return self.case.message.language if self.case.message else "en"

    @property
    def question(self) -> QuestionPlan | None:
        """The best question that has not been answered yet."""
        return self.assessment.questions[0] if self.assessment.questions else None


@dataclass(frozen=True)
class Reply:
    """What a line led to: the consultation after it, what to say, and whether to leave."""

    consultation: Consultation
    say: tuple[str, ...] = ()
    leave: bool = False


def respond(now: Consultation, line: str) -> Reply:
    """Take one line: a command, an answer to the question asked, or free text.

    Raises `CallError` with what to type instead, if the line is a command that does not fit.
    """
    line = line.strip()
    word, _, rest = line.partition(" ")
    if not line:
        return Reply(now)
    if line.lower() in YES + NO + UNKNOWN:
        return _answer(now, line)
    if command := COMMANDS.get(word.lower()):
        return command.run(now, rest.strip())
    return _free_text(now, line)


def _answer(now: Consultation, line: str) -> Reply:
    question = now.question
    if question is None:
        raise CallError("nothing is being asked; type 'checks' for what to do next, or 'help'")
    asks = next(record.asks for record in now.base.questions if record.id == question.id)
    state: State = "present" if line.lower() in YES else "absent" if line.lower() in NO else "unknown"
    return Reply(now.with_entries(AnswerEntry(finding=asks, state=state, words=line)))


def _free_text(now: Consultation, line: str) -> Reply:
    read = now.read(line)
    if not read.findings:
        return Reply(now, ("I could not read a finding in that. Answer yes, no or ?, or say it in other words.",))
    answers = [
        AnswerEntry(finding=told.id, state=told.state, detail=told.detail, words=told.quote) for told in read.findings
    ]
    said = tuple(f"understood: {sentence_of(now.base, a.finding, a.state)} - “{a.words}”" for a in answers)
    return Reply(now.with_entries(*answers), said)


def _why(now: Consultation, rest: str) -> Reply:
    if now.question is None:
        return Reply(now, ("Nothing is being asked.",))
    record = next(question for question in now.base.questions if question.id == now.question.id)
    return Reply(now, (record.why, *(_effect(now, p) for p in now.question.outcomes)))


def _effect(now: Consultation, prediction: Prediction) -> str:
    answer = "yes" if prediction.outcome == "present" else "no"
    leader = next(cause.title for cause in now.base.causes if cause.id == prediction.leader)
    return (
        f"{answer} ({100 * prediction.probability:.0f} % likely): then {leader} leads with "
        f"{100 * prediction.leader_probability:.0f} %"
    )


def leading_causes(now: Consultation, count: int) -> tuple[str, ...]:
    """Give the most probable causes that are not ruled out, a line each."""
    shown = [cause for cause in now.assessment.belief.causes if cause.status != "excluded"][:count]
    return tuple(f"{100 * cause.probability:3.0f}%  {cause.title}" for cause in shown)


def _causes(now: Consultation, rest: str) -> Reply:
    return Reply(now, leading_causes(now, 8))


def _checks(now: Consultation, rest: str) -> Reply:
    lines = []
    for plan in now.assessment.checks[:6]:
        outcomes = next(check.outcomes for check in now.base.checks if check.id == plan.id)
        lock = f" LOCKED by {plan.locked_by}" if plan.locked_by else ""
        lines.append(f"{plan.id}: {plan.title} ({plan.minutes} min){lock}")
        lines.append(f"    done {plan.id} {' | '.join(outcome.id for outcome in outcomes)}")
    return Reply(now, tuple(lines) or ("No check is left that would tell anything.",))


def _done(now: Consultation, rest: str) -> Reply:
    checks = {check.id: check for check in now.base.checks}
    name, _, outcome = rest.partition(" ")
    if name not in checks:
        raise CallError(f"no check {name!r}; 'checks' lists the next ones")
    known = [o.id for o in checks[name].outcomes]
    if outcome.strip() not in known:
        raise CallError(f"say how {name} came out: {', '.join(known)}")
    return Reply(now.with_entries(OutcomeEntry(check=name, outcome=outcome.strip())))


def _measure(now: Consultation, rest: str) -> Reply:
    limits = {limit.id: limit for limit in now.base.limits}
    name, _, words = rest.partition(" ")
    if name not in limits:
        raise CallError(f"no quantity {name!r}; known are {', '.join(limits)}")
    verdict = judge(limits[name], parse_reading(words))
    if verdict.value is None or verdict.state is None:
        return Reply(now, (verdict.text,))
    entry = MeasureEntry(
        limit=name, value=verdict.value, finding=limits[name].finding, state=verdict.state, verdict=verdict.text
    )
    return Reply(now.with_entries(entry), (verdict.text,))


def _seen(now: Consultation, rest: str) -> Reply:
    """Enter what was seen at the bench; this, and not an owner's words, is what lifts a hazard."""
    findings = {finding.id for finding in now.base.findings}
    name, _, state = rest.partition(" ")
    if name not in findings:
        raise CallError(f"no finding {name!r}; 'ohmbudsman knowledge list findings' prints them")
    if state.strip().lower() not in YES + NO:
        raise CallError(f"say yes or no: seen {name} yes")
    told: State = "present" if state.strip().lower() in YES else "absent"
    entry = AnswerEntry(finding=name, state=told, words=f"seen at the bench: {state.strip()}")
    return Reply(now.with_entries(entry), (f"entered: {sentence_of(now.base, name, told)}",))


def _parts(now: Consultation, rest: str) -> Reply:
    """Tell what is known of each part, and on what grounds."""
    known = eliminate(now.base, now.assessment.belief, now.assessment.firings)
    lines = []
    for part in (part for part in known.parts if part.status != "untested"):
        lines.append(f"{part.part}: {part.status}, {100 * part.probability:.0f}%")
        for ground in part.grounds:
            taken = f" (if {ground.assumes})" if ground.assumes else ""
            lines.append(f"    {ground.verdict}: {ground.because}{taken}")
        lines += [f"    ask: {part.ask}"] if part.ask else []
    return Reply(now, tuple(lines) or ("Nothing is cleared or convicted yet.",))


def _undo(now: Consultation, rest: str) -> Reply:
    if len(effective(now.log)) < 2:
        return Reply(now, ("There is nothing to take back.",))
    return Reply(now.with_entries(StepEntry(kind="undo")), ("Taken back.",))


def _redo(now: Consultation, rest: str) -> Reply:
    return Reply(now.with_entries(StepEntry(kind="redo")), ("Done again.",))


def _note(now: Consultation, rest: str) -> Reply:
    if not rest:
        raise CallError("write the note after the word: note the owner calls back at six")
    return Reply(now.with_entries(NoteEntry(words=rest)), ("Noted.",))


def _help(now: Consultation, rest: str) -> Reply:
    answers = "yes, no, ? (don't know), or say it in your own words: several answers at once are fine"
    return Reply(now, (answers, *(f"{name:9}{command.about}" for name, command in COMMANDS.items())))


def _summary(now: Consultation, rest: str) -> Reply:
    page = Page(width=78)
    document = document_of(now.case, now.assessment)
    later = [told for told in now.case.findings if told.start is None]
    text = write_summary(document, now.base, page, now.language, later)
    return Reply(now, tuple(text.splitlines()))


def _quit(now: Consultation, rest: str) -> Reply:
    return Reply(now, leave=True)


@dataclass(frozen=True)
class Command:
    """A word that can be typed, what it does in one line, and the function that does it."""

    about: str
    run: Callable[[Consultation, str], Reply]


COMMANDS: dict[str, Command] = {
    "why": Command("why this question is asked", _why),
    "causes": Command("the likely causes now", _causes),
    "checks": Command("what to check next, and how to enter what came out", _checks),
    "done": Command("enter a check: done CHECK OUTCOME", _done),
    "measure": Command("enter a reading: measure rail-12v 11.9 V", _measure),
    "seen": Command("enter what was seen at the bench: seen cleaned-and-dried yes", _seen),
    "parts": Command("what is cleared, convicted or suspect, and on what grounds", _parts),
    "note": Command("write a note into the case", _note),
    "summary": Command("everything so far", _summary),
    "undo": Command("take the last answer back", _undo),
    "redo": Command("do it again after all", _redo),
    "help": Command("this list", _help),
    "quit": Command("leave", _quit),
}
