"""A consultation under way, and what comes next in it: danger, then the correction of the reading, questions, checks.

Everything that counts stands in the log; what only the screen needs to know (is the list of findings being corrected,
which check was asked for) stands beside it and is lost with the session, without harm.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

from expert.assess import Assessment, Expert, RaisedHazard, restrictions
from expert.case import (
    Case,
    Entry,
    ExperienceEntry,
    MeasureEntry,
    MessageEntry,
    NoteEntry,
    OutcomeEntry,
    effective,
    fold,
)
from expert.planner import CheckPlan, QuestionPlan, locked_by
from expert.report.next_checks import due_check, next_checks
from expert.terminal.settled import is_settled
from expert.verdict import Verdict, conclude
from knowledge.errors import CallError
from knowledge.models import Check, KnowledgeBase, Question

# Reads free text into the entry of a message; handed in, since the intake belongs to the edge.
Reader = Callable[[str], MessageEntry]

Step = Literal["closed", "danger", "correct", "question", "check", "idle"]

ON_BENCH = "The machine is on the bench."
# A question that saves less and tells less than this is not worth the owner's time; it can still be answered unasked.
WORTH_MINUTES, WORTH_BITS = 0.5, 0.02


def is_text(words: str) -> bool:
    """Tell whether words can be kept; a terminal or a pipe hands on bytes that are no UTF-8 as lone surrogates."""
    return not any("\ud800" <= character <= "\udfff" for character in words)


class UnreadError(CallError):
    """A line that begins with a command word and does not go on like one; it may be a sentence after all."""


class Said(NamedTuple):
    """One line to show; leading blanks are its indentation, `style` one of those of a page."""

    text: str
    style: str = "plain"


def said(*texts: str, style: str = "plain") -> tuple[Said, ...]:
    """Give the lines in one style."""
    return tuple(Said(text, style) for text in texts)


@dataclass(frozen=True)
class Consultation:
    """A case under way: its log, what the log leads to, and where the screen stands.

    `correcting`: the findings are shown for correction; `chosen` is the check that was asked for, `passed` are those
    that were passed over; `width` is that of the screen in columns.
    """

    expert: Expert
    read: Reader
    log: tuple[Entry, ...]
    case: Case
    assessment: Assessment
    correcting: bool = False
    chosen: str | None = None
    passed: frozenset[str] = frozenset()
    width: int = 78

    @classmethod
    def begin(
        cls, expert: Expert, read: Reader, message: str, experience: ExperienceEntry | None = None
    ) -> "Consultation":
        """Begin with the message, and the shop's experience if any; raise `MessageError` if it cannot be read."""
        first = (experience,) if experience else ()
        return replace(cls.of(expert, read, (*first, read(message))), correcting=True)

    @classmethod
    def of(cls, expert: Expert, read: Reader, log: tuple[Entry, ...]) -> "Consultation":
        """Give the consultation that a log leads to."""
        case = fold(log)
        return cls(expert, read, log, case, expert.assess(case))

    def with_entries(self, *entries: Entry) -> "Consultation":
        """Give the consultation with more entries in its log, and everything drawn anew."""
        log = (*self.log, *entries)
        case = fold(log)
        return replace(self, log=log, case=case, assessment=self.expert.assess(case), chosen=None)

    @property
    def base(self) -> KnowledgeBase:
        """The knowledge base in use."""
        return self.expert.base

    @property
    def language(self) -> str:
        """The language of the message: `en` or `other`."""
        return self.case.message.language if self.case.message else "en"

    @cached_property
    def verdict(self) -> Verdict:
        """What the case leads to, worked out once for each step; its decision says what comes next."""
        return conclude(self.base, self.case, self.assessment)

    @cached_property
    def checks(self) -> tuple[CheckPlan, ...]:
        """The next checks, the one that has to come before all others at their head, the locked ones at the end."""
        return next_checks(self.base, self.assessment, self.verdict.decision)

    @property
    def step(self) -> Step:
        """What comes next; nothing in a closed case, whatever is raised in it, until it is opened again."""
        if self.case.closed:
            return "closed"
        if self.unanswered:
            return "danger"
        if self.correcting:
            return "correct"
        if self.chosen is None and self.verdict.decision.is_over:
            return "idle"
        if self.chosen is None and self.question is not None:
            return "question"
        return "idle" if self.check is None else "check"

    @property
    def unanswered(self) -> tuple[RaisedHazard, ...]:
        """The dangers of level `stop` of which nobody has said, or said anew, what was done about them."""
        raised = (r for r in self.assessment.hazards if r.hazard.level == "stop")
        return tuple(r for r in raised if not is_settled(r, self.log, self.assessment, self.base))

    @property
    def on_bench(self) -> bool:
        """Whether the machine is on the bench: it was said, or something was checked or measured."""
        if any(note.words == ON_BENCH for note in self.case.notes):
            return True
        return any(isinstance(entry, OutcomeEntry | MeasureEntry) for entry in effective(self.log))

    @property
    def question(self) -> QuestionPlan | None:
        """The best question that is worth asking; on the bench only one about danger comes before the checks."""
        asked_by_rules = {g.ask for firing in self.assessment.firings for g in firing.gives_conclusions if g.ask}
        for plan in self.assessment.questions:
            worth = plan.saves >= WORTH_MINUTES or plan.bits >= WORTH_BITS or plan.id in asked_by_rules
            if plan.guards or (worth and not self.on_bench):
                return plan
        return None

    @property
    def check(self) -> CheckPlan | None:
        """The check that was asked for, else the best one that nothing locks and that was not passed over."""
        free = [plan for plan in self.checks if plan.locked_by is None]
        if self.chosen is not None:
            return next((plan for plan in free if plan.id == self.chosen), None)
        return next((p for p in free if p.id not in self.passed and (p.cause_bits > 0 or p.id == self.due)), None)

    @property
    def due(self) -> str:
        """The id of the check that a danger puts before all others; empty where there is none."""
        return due_check(self.verdict.decision)

    def question_record(self, plan: QuestionPlan) -> Question:
        """Give the question behind a plan."""
        return next(question for question in self.base.questions if question.id == plan.id)

    def check_record(self, name: str) -> Check:
        """Give the check of this id; raise `CallError` if there is none."""
        for check in self.base.checks:
            if check.id == name:
                return check
        raise UnreadError(f"no check {name!r}; 'checks' lists the next ones")

    def lock_of(self, record: Check) -> str | None:
        """Give the hazard that locks a check, whether or not the check is worth proposing."""
        risks, locks = restrictions(self.assessment.hazards, self.assessment.firings)
        return locked_by(record, self.base, risks, locks)

    def can_undo(self) -> bool:
        """Whether there is a step to take back; the message stays."""
        done = effective(self.log)
        return bool(done) and not isinstance(done[-1], MessageEntry | ExperienceEntry)

    def can_redo(self) -> bool:
        """Whether a step that was taken back can be done again."""
        undone = 0
        for entry in self.log:
            undone = undone + 1 if entry.kind == "undo" else undone - 1 if entry.kind == "redo" else 0
        return undone > 0

    def with_note(self, words: str, hazard: str | None = None) -> "Consultation":
        """Give the consultation with a note in its log."""
        return self.with_entries(NoteEntry(words=words, hazard=hazard))


@dataclass(frozen=True)
class Reply:
    """What a line led to: the consultation after it, what to say, whether to leave, and the file to save to."""

    consultation: Consultation
    say: tuple[Said, ...] = ()
    leave: bool = False
    save_to: str | None = None


@dataclass(frozen=True)
class Command:
    """A word that can be typed, what it does in one line, and the function that does it.

    `example` follows the word in the help; a word without one takes nothing after it. `in_danger`: it can be used while
    a danger is not answered yet.
    """

    about: str
    run: Callable[[Consultation, str], Reply]
    example: str = ""
    in_danger: bool = False
