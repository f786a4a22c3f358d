"""The main job in one call: the owner's message in, the triage document out. At the edge: it calls the intake."""

from collections.abc import Sequence
from dataclasses import asdict
from functools import lru_cache

from expert.assess import Assessment, Expert
from expert.case import Case, MessageEntry, Named, Told, fold
from expert.document import (
    BuildItem,
    CauseItem,
    CheckItem,
    FindingItem,
    FiringItem,
    HazardItem,
    MessageSize,
    QuestionItem,
    StageItem,
    TriageDocument,
)
from expert.identity import ByIdentity
from intake import read_complaint
from intake.clean import clean
from intake.redact import private_spans, redact
from knowledge import KnowledgeBase, shipped_base

# Six decimals are far finer than any of the evidence, and the same on every machine.
DIGITS = 6
HARDLY = 0.05  # a doubt up to this is asked about last (judgement)


def triage(message: str, base: KnowledgeBase | None = None) -> TriageDocument:
    """Triage one complaint.

    Raises `MessageError` if the message cannot be read: empty, not text, or longer than the reader takes.
    """
    base = base or shipped_base()
    case = fold([message_entry(message, base)])
    return document_of(case, expert_of(base).assess(case))


def message_entry(message: str, base: KnowledgeBase) -> MessageEntry:
    """Read a message into the entry that the log of a case begins with."""
    reading = read_complaint(message, base)
    return MessageEntry(
        text=message,
        sentences=reading.sentences,
        redactions=reading.redactions,
        language=reading.language,
        findings=tuple(Told.model_validate(asdict(finding)) for finding in reading.findings),
        build=tuple(Named.model_validate(asdict(named)) for named in reading.build),
        contradictions=tuple(reading.contradictions),
    )


def _questions(assessment: Assessment) -> list[QuestionItem]:
    """Lay out the questions: for safety first, then whether a sign that was proposed is one, then the rest.

    Whether good news is so comes last, since it accuses nothing, and so does what is hardly doubted.
    """
    plans = assessment.questions
    guards = [QuestionItem(id=plan.id, text=plan.text) for plan in plans if plan.guards]
    rest = [QuestionItem(id=plan.id, text=plan.text) for plan in plans if not plan.guards]
    doubtful: list[QuestionItem] = []
    last: list[QuestionItem] = []
    for asked in assessment.confirmations:
        due = doubtful if asked.state == "present" and asked.doubt > HARDLY else last
        due.append(QuestionItem(id=f"{asked.finding}-so", text=asked.question))
    return [*guards, *doubtful, *rest, *last]


def _finding(told: Told) -> FindingItem:
    """Lay out a finding; the document knows no third certainty, and what was only proposed is not stated."""
    certainty = "stated" if told.certainty == "stated" else "hedged"
    return FindingItem.model_validate({**told.model_dump(exclude={"doubt"}), "certainty": certainty})


def without_private(text: str, keep: Sequence[tuple[int, int]] = ()) -> str:
    """Give the text with personal data blanked, character for character, so that offsets stay.

    A last line that is either a name or a word of the complaint ("Dead.") stays where it overlaps a span to `keep`.
    """
    spans = [
        span
        for span in private_spans(clean(text))
        if span.kind != "signed" or all(span.end <= start or end <= span.start for start, end in keep)
    ]
    return redact(text, spans)


def expert_of(base: KnowledgeBase) -> Expert:
    """Give the expert of a base, prepared once for each base."""
    return _expert(ByIdentity(base))


@lru_cache(maxsize=4)
def _expert(key: ByIdentity) -> Expert:
    return Expert(key.base)


def document_of(case: Case, assessment: Assessment) -> TriageDocument:
    """Lay out an assessment as the published document."""
    message = case.message
    return TriageDocument(
        schema="ohmbudsman.triage/1",
        message=MessageSize(
            characters=len(message.text) if message else 0,
            sentences=message.sentences if message else 0,
            redactions=message.redactions if message else 0,
        ),
        findings=[_finding(told) for told in (message.findings if message else ())],
        build=[BuildItem(**named.model_dump()) for named in (message.build if message else ())],
        stage=StageItem(reached=assessment.reached, fails_at=assessment.fails_at),
        hazards=[
            HazardItem(id=r.hazard.id, level=r.hazard.level, advice=r.hazard.advice, rules=list(r.rules))
            for r in assessment.hazards
        ],
        causes=[
            CauseItem(
                id=cause.id,
                title=cause.title,
                part=cause.part,
                probability=round(cause.probability, DIGITS),
                status=cause.status,
                rules_for=list(cause.rules_for),
                rules_against=list(cause.rules_against),
            )
            for cause in assessment.belief.causes
        ],
        checks=[
            CheckItem(id=p.id, title=p.title, minutes=p.minutes, needs=list(p.needs), why=p.why, locked_by=p.locked_by)
            for p in assessment.checks
        ],
        questions=_questions(assessment),
        trace=[FiringItem.model_validate(firing.as_json()) for firing in assessment.firings],
    )
