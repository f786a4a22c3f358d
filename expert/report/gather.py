"""Draws up the report of a case from its log: every conclusion again from the entries, nothing remembered elsewhere."""

from collections.abc import Iterable, Sequence

from expert.assess import Assessment, Expert
from expert.build import title_of
from expert.case import AnswerEntry, Case, Entry, MeasureEntry, MessageEntry, effective, fold
from expert.case import Told as ToldFinding
from expert.decide import lock_words
from expert.document import FiringItem
from expert.first_pass import DIGITS
from expert.report.course import course_of
from expert.report.model import (
    BandLine,
    BuildLine,
    CaseReport,
    CauseLine,
    CheckLine,
    CloseLine,
    DoneLine,
    FindingLine,
    GroundLine,
    HazardLine,
    MeasureLine,
    MessageText,
    NoteLine,
    QuestionLine,
    ReadingBox,
    Rung,
    SourceLine,
    TimeSpent,
    Told,
)
from expert.report.next_checks import next_checks
from expert.report.privacy import Names, names_of, shown, shown_message
from expert.report.summary import sentence_of
from expert.report.verdict_lines import verdict_lines
from expert.report.wording import detail_words
from expert.verdict import conclude
from knowledge.census import documents
from knowledge.models import Band, Check, KnowledgeBase, Limit
from knowledge.phrases import interval

# An entry of the log and when it was made (ISO 8601, UTC; empty where that is not known).
Timed = tuple[str, Entry]


def report_of(base: KnowledgeBase, stamped: Sequence[Timed], expert: Expert, number: int | None = None) -> CaseReport:
    """Give the report of the case that a log tells; equal logs give equal bytes."""
    entries = standing(stamped)
    case = fold([entry for _, entry in entries])
    assessment = expert.assess(case)
    trace = [FiringItem.model_validate(firing.as_json()) for firing in assessment.firings]
    measurements = [_measurement(base, at, e) for at, e in entries if isinstance(e, MeasureEntry)]
    done = _done(base, case, entries)
    names = names_of(case.message)
    concluded = conclude(base, case, assessment)
    verdict = verdict_lines(base, concluded)
    is_over = concluded.decision.is_over
    checks = () if is_over else next_checks(base, assessment, concluded.decision)
    cited = [f.source for f in trace] + [band.source for line in measurements for band in line.bands]
    cited += [item.source for item in verdict["plan"].verification]
    return CaseReport(
        schema="ohmbudsman.report/1",
        number=number,
        message=_message(case),
        findings=_findings(base, case, entries, names),
        build=_build(base, case, names),
        stage=_stage(base, assessment),
        hazards=_hazards(case, assessment, names),
        causes=_causes(base, assessment),
        trace=trace,
        sources=_sources(base, cited),
        measurements=measurements,
        done=done,
        **verdict,
        checks=[_check(base, plan.id, plan.why, plan.locked_by) for plan in checks],
        questions=[] if is_over else _questions(base, assessment, concluded.decision.kind == "make-safe"),
        course=course_of(base, entries, expert, names),
        time=TimeSpent(
            minutes=sum(line.minutes for line in done),
            first=next((at for at, _ in entries if at), ""),
            last=next((at for at, _ in reversed(entries) if at), ""),
        ),
        notes=[NoteLine(at=at, words=shown(e.words, names)) for at, e in entries if e.kind == "note" and not e.hazard],
        closed=_closed(base, case, entries, names),
    )


def standing(stamped: Sequence[Timed]) -> list[Timed]:
    """Give the entries that stand after every undo and redo, each with its time."""
    times = {id(entry): at for at, entry in stamped}
    return [(times[id(entry)], entry) for entry in effective([entry for _, entry in stamped])]


def _message(case: Case) -> MessageText | None:
    message = case.message
    if message is None:
        return None
    return MessageText(text=shown_message(message), language=message.language, redactions=message.redactions)


def _findings(base: KnowledgeBase, case: Case, entries: Sequence[Timed], names: Names) -> list[FindingLine]:
    text = shown_message(case.message) if case.message else ""
    placed = case.message.findings if case.message else ()
    origins = {name: origin for at, entry in entries for name, origin in _tells(entry, at)}
    return [_finding(base, told, text if told in placed else None, origins[told.id], names) for told in case.findings]


def _tells(entry: Entry, at: str) -> list[tuple[str, tuple[Told, str]]]:
    """Give the findings that an entry tells, each with how and when it was told."""
    if isinstance(entry, MessageEntry):
        return [(told.id, ("message", at)) for told in entry.findings]
    if isinstance(entry, AnswerEntry):
        return [(entry.finding, ("answer", at))]
    return [(entry.finding, ("measurement", at))] if isinstance(entry, MeasureEntry) else []


def _finding(
    base: KnowledgeBase, told: ToldFinding, text: str | None, origin: tuple[Told, str], names: Names
) -> FindingLine:
    """Lay out a finding; `text` is the message it stands in, None for an answer or where a later message came."""
    how, at = origin
    start, end = (told.start, told.end) if text is not None else (None, None)
    return FindingLine(
        id=told.id,
        state=told.state,
        sentence=sentence_of(base, told.id, told.state),
        quote=text[start:end] if text is not None else shown(told.quote, names),
        start=start,
        end=end,
        certainty=told.certainty,
        detail=told.detail,
        detail_words=detail_words(base, told.detail) if told.detail else "",
        told=how,
        at=at,
    )


def _build(base: KnowledgeBase, case: Case, names: Names) -> list[BuildLine]:
    """Lay out the hardware; what the message names is quoted from it as it is shown, blanks and all."""
    text = shown_message(case.message) if case.message else ""
    placed = case.message.build if case.message else ()
    return [
        BuildLine(
            part=named.part,
            title=title_of(base, named.part),
            text=text[named.start : named.end] if named in placed else shown(named.text, names),
            facts=named.facts,
        )
        for named in case.build
    ]


def _stage(base: KnowledgeBase, assessment: Assessment) -> list[Rung]:
    order = [stage.id for stage in base.stages]
    reached = order.index(assessment.reached) if assessment.reached else -1
    fails = order.index(assessment.fails_at) if assessment.fails_at else len(order)
    states = [
        "reached" if i <= reached else "fails" if i == fails else "beyond" if i > fails else "unknown"
        for i in range(len(order))
    ]
    return [
        Rung(id=s.id, title=s.title, reached_when=s.reached_when, state=state)  # type: ignore[arg-type]
        for s, state in zip(base.stages, states, strict=True)
    ]


def _hazards(case: Case, assessment: Assessment, names: Names) -> list[HazardLine]:
    lines = []
    for raised in assessment.hazards:
        hazard = raised.hazard
        lines.append(
            HazardLine(
                id=hazard.id,
                level=hazard.level,
                title=hazard.title,
                advice=hazard.advice,
                plain=hazard.plain or hazard.advice,
                takeover=hazard.takeover,
                lifted_when=hazard.lifted_when,
                firings=[f.n for f in assessment.firings if f"hazard:{hazard.id}" in f.gives],
                done=[shown(note.words, names) for note in case.notes if note.hazard == hazard.id],
            )
        )
    return lines


def _causes(base: KnowledgeBase, assessment: Assessment) -> list[CauseLine]:
    records = {cause.id: cause for cause in base.causes}
    numbers = {firing.rule: firing.n for firing in assessment.firings}
    lines = []
    for cause in assessment.belief.causes:
        counted = set(cause.counted)
        pieces = sorted(
            (piece for piece in assessment.belief.evidence if piece.cause == cause.id and piece.weight),
            key=lambda piece: (piece not in counted, -abs(piece.weight), numbers[piece.rule]),
        )
        record = records[cause.id]
        lines.append(
            CauseLine(
                id=cause.id,
                title=cause.title,
                part=cause.part,
                plain=record.plain,
                remedy=record.remedy,
                probability=round(cause.probability, DIGITS),
                status=cause.status,
                grounds=[
                    GroundLine(firing=numbers[p.rule], weight=round(p.weight, DIGITS), counted=p in counted)
                    for p in pieces
                ],
            )
        )
    return lines


def _sources(base: KnowledgeBase, cited: Iterable[str]) -> list[SourceLine]:
    known = {source.id for source in base.sources}
    used = {document for text in cited for document in documents(text, known)}
    return [
        SourceLine(id=s.id, title=s.title, edition=s.edition, publisher=s.publisher)
        for s in base.sources
        if s.id in used
    ]


def _measurement(base: KnowledgeBase, at: str, entry: MeasureEntry) -> MeasureLine:
    limit = next((limit for limit in base.limits if limit.id == entry.limit), None)
    return MeasureLine(
        id=entry.limit,
        title=limit.title if limit else entry.limit,
        value=entry.value,
        unit=limit.unit if limit else "",
        state=entry.state,
        verdict=entry.verdict,
        bands=[_band(limit, band, entry.value) for band in limit.bands] if limit else [],
        at=at,
    )


def _band(limit: Limit, band: Band, value: float | None) -> BandLine:
    return BandLine(
        text=f"{interval(band.low, band.high)} {limit.unit}",
        edition=band.edition,
        source=band.source,
        only=band.only,
        inside=None if value is None else band.holds(value),
    )


def _done(base: KnowledgeBase, case: Case, entries: Sequence[Timed]) -> list[DoneLine]:
    checks = {check.id: check for check in base.checks}
    times = {entry.check: at for at, entry in entries if entry.kind == "outcome"}
    lines = []
    for entry in case.outcomes:
        check = checks.get(entry.check)
        titles = {outcome.id: outcome.title for outcome in check.outcomes} if check else {}
        lines.append(
            DoneLine(
                id=entry.check,
                title=check.title if check else entry.check,
                outcome=entry.outcome,
                outcome_title=titles.get(entry.outcome, entry.outcome),
                minutes=check.minutes if check else 0,
                at=times[entry.check],
            )
        )
    return lines


def _check(base: KnowledgeBase, name: str, why: str, locked_by: str | None) -> CheckLine:
    check = next(check for check in base.checks if check.id == name)
    return CheckLine(
        id=check.id,
        title=check.title,
        how=check.how,
        minutes=check.minutes,
        wait=check.wait,
        who=check.who,
        needs=[*check.tools, *check.spares],
        precautions=list(check.precautions),
        why=why,
        locked_by=locked_by,
        lock=lock_words(base, locked_by) if locked_by else "",
        outcomes=[outcome.title for outcome in check.outcomes],
        readings=[
            ReadingBox(id=m.id, title=m.title, unit=m.unit, bands=[_band(m, band, None) for band in m.bands])
            for m in _measured(base, check)
        ],
    )


def _measured(base: KnowledgeBase, check: Check) -> list[Limit]:
    """Give the quantities that a check may read: those that settle what its outcomes tell."""
    told = {gives.finding for outcome in check.outcomes for gives in outcome.gives if gives.finding}
    return [limit for limit in base.limits if limit.finding in told | set(check.settled_by)]


def _questions(base: KnowledgeBase, assessment: Assessment, unsafe: bool) -> list[QuestionLine]:
    """Give the questions, as long as it is unsafe only those about danger: the rest has time."""
    why = {question.id: question.why for question in base.questions}
    # One finding may be asked about for several complaints, in the same words.
    asked = [plan for plan in assessment.questions if plan.guards or not unsafe]
    once = {plan.text: plan for plan in reversed(asked)}
    return [QuestionLine(id=plan.id, text=plan.text, why=why[plan.id]) for plan in asked if plan is once[plan.text]]


def _closed(base: KnowledgeBase, case: Case, entries: Sequence[Timed], names: Names) -> CloseLine | None:
    if case.closed is None:
        return None
    cause = next((cause for cause in base.causes if cause.id == case.closed.cause), None)
    return CloseLine(
        at=next(at for at, entry in reversed(entries) if entry.kind == "close"),
        cause=case.closed.cause,
        title=cause.title if cause else case.closed.cause or "not found out",
        plain=cause.plain if cause else "",
        remedy=cause.remedy if cause else "",
        replaced=[title_of(base, part) for part in case.closed.replaced],
        words=shown(case.closed.words, names),
    )
