"""What the screen shows before it waits for a line: the danger, the findings to correct, the question, the check."""

from expert.experience import tell_experience
from expert.report.decision_words import bench_words
from expert.report.plain import counted
from expert.report.wording import LEVELS, detail_words, spoken
from expert.terminal.answers import FIXES, LETTERS, choices_of, numbered
from expert.terminal.bench import how_to, limits_of, locked
from expert.terminal.consultation import Consultation, Said, said
from expert.terminal.explain import leading_causes
from knowledge.models import Hazard


def show_step(now: Consultation) -> tuple[Said, ...]:
    """Give what comes next, ending in the line that says what can be typed."""
    if now.step == "closed":
        return _closed(now)
    if now.step == "danger":
        return _danger(now)
    if now.step == "correct":
        return _correction(now)
    if now.step == "question":
        return _question(now)
    return _check(now) if now.step == "check" else _idle(now)


def opening(now: Consultation) -> tuple[Said, ...]:
    """Give what the message alone leads to: dangers, how far the machine gets, the likely causes."""
    lines: list[Said] = []
    for raised in now.assessment.hazards:
        style = "danger" if raised.hazard.level == "stop" else "caution"
        lines += said(f"! {raised.hazard.level.upper()}: {raised.hazard.advice}", style=style)
    if not now.assessment.hazards:
        lines += said("No danger sign is told. Look, and sniff, before mains goes on all the same.")
    if experience := tell_experience(now.case.experience):
        lines += said(f"({experience})", style="quiet")
    if not now.case.findings:
        return (*lines, *said("Too little is known to name causes."))
    return (*lines, *said("Likely so far:", style="title"), *said(*(f"  {line}" for line in leading_causes(now, 5))))


def remind(now: Consultation) -> tuple[Said, ...]:
    """Give in one line what is still open, after something else was looked at."""
    if now.step == "question" and now.question:
        return said(now.question.text, style="title")
    if now.step == "check" and now.check:
        letters = "/".join(LETTERS[: len(now.check_record(now.check.id).outcomes)])
        return said(f"Proposed: {now.check.title} ({letters})", style="title")
    if now.step == "danger":
        return said(
            f"! Still to be answered: {now.unanswered[0].hazard.title}. What was done about it?", style="danger"
        )
    return said("Right? Enter; or the numbers of what is wrong, or what is missing.") if now.step == "correct" else ()


def _closed(now: Consultation) -> tuple[Said, ...]:
    closed = now.case.closed
    titles = {cause.id: cause.title for cause in now.base.causes}
    found = titles.get(closed.cause, closed.cause) if closed and closed.cause else "the cause was not found out"
    raised = [raised.hazard.title for raised in now.assessment.hazards]
    return (
        *said(f"It is closed: {found}.", style="title"),
        *said(*([f"  {closed.words}"] if closed and closed.words else []), style="quiet"),
        *said(*([f"  ! raised when it was closed: {'; '.join(raised)}"] if raised else []), style="caution"),
        *said("(reopen to go on with it; or summary, parts, plan, letter, note, leave)", style="quiet"),
    )


def _danger(now: Consultation) -> tuple[Said, ...]:
    hazard = now.unanswered[0].hazard
    locks = sum(plan.locked_by == hazard.id or _takes(now, plan.id, hazard) for plan in now.checks)
    return (
        *said(f"! {LEVELS[hazard.level]}", f"! {hazard.title}", style="danger"),
        *said(hazard.advice),
        *said(f"Who takes over: {hazard.takeover}"),
        *said(
            f"Locked as long as it stands: {counted(locks, 'check', 'checks')}. Lifted when {hazard.lifted_when}.",
            style="caution",
        ),
        *said(f"Type what was done about it. ('how {hazard.id}', 'understood' if it was misread, undo, leave)"),
    )


def _takes(now: Consultation, check: str, hazard: Hazard) -> bool:
    """Tell whether a hazard locks a check by itself, also where another one is named as the reason."""
    return not set(now.check_record(check).risks).isdisjoint(hazard.locks)


def _correction(now: Consultation) -> tuple[Said, ...]:
    ask = f"Right? Enter. If not: {FIXES}; or say in your own words what is missing."
    return (*numbered(now), *said(ask))


def _question(now: Consultation) -> tuple[Said, ...]:
    plan = now.question
    if plan is None:
        return _idle(now)
    choices = choices_of(now, now.question_record(plan).asks)
    lettered = zip(LETTERS, choices, strict=False)
    danger = said("(about danger, so it comes first)", style="quiet") if plan.guards else ()
    ways = f"yes, no, ?, {'a letter, ' if choices else ''}why, skip, or in your own words"
    return (
        *said(plan.text, style="title"),
        *danger,
        *said(*(f"  {letter}) yes: {detail_words(now.base, choice)}" for letter, choice in lettered)),
        *said(f"({ways})", style="quiet"),
    )


def _check(now: Consultation) -> tuple[Said, ...]:
    plan = now.check
    if plan is None:
        return _idle(now)
    record = now.check_record(plan.id)
    lines: list[Said] = list(_standing(now, plan.id))
    if not now.on_bench and record.who == "bench":
        lines += said("The questions give little more; the next step is at the bench.", style="quiet")
    elif not now.on_bench:
        lines += said(
            "The owner can do this one, on the telephone; or type 'bench' when the machine is here.", style="quiet"
        )
    lines += how_to(record)
    if needs := spoken((*record.tools, *record.spares)):
        lines += said(f"  needs {needs}", style="quiet")
    limits = limits_of(now, record)
    reading = f", or the reading in {limits[0].unit}" if len(limits) == 1 else ""
    held = sum(1 for each in now.checks if each.locked_by)
    are = "check is" if held == 1 else "checks are"
    lines += said(f"  ({held} {are} locked; 'checks' names them)", style="caution") if held else ()
    several = f"; or measure {'|'.join(limit.id for limit in limits)} ..." if len(limits) > 1 else ""
    return (*lines, *said(f"(a letter{reading}{several}; why, skip, checks)", style="quiet"))


def _standing(now: Consultation, proposed: str) -> tuple[Said, ...]:
    """Say what is decided already where that is more than to make one check after another."""
    decision = now.verdict.decision
    if (decision.kind == "first" and proposed != now.due) or decision.kind in ("settle", "replace"):
        more = " ('plan' tells the rest; more can be checked)" if decision.kind == "replace" else ""
        return said(f"{bench_words(now.base, decision, now.verdict.plan)}{more}", style="caution")
    return ()


def _over(now: Consultation) -> tuple[Said, ...]:
    """Say of a machine that was cured what is left to do."""
    verdict = now.verdict
    return (
        *said(bench_words(now.base, verdict.decision, verdict.plan), style="title"),
        *said("Before it goes home:", *(f"  - {item.title}" for item in verdict.plan.verification)),
        *said("(leave, then 'ohmbudsman cases close'; or note, plan, letter; checks if it comes back)", style="quiet"),
    )


def _idle(now: Consultation) -> tuple[Said, ...]:
    if now.verdict.decision.is_over:
        return _over(now)
    held = locked(now)
    if held:
        return (
            *held,
            *said("Nothing else is left that tells more. 'hazards' says what lifts a lock; or: plan, leave."),
        )
    return said("Nothing is left to ask or to check that would tell more. 'stuck', 'plan', 'summary' or 'leave'.")


def bar(now: Consultation, number: int | None = None) -> tuple[str, str]:
    """Give the bottom line and its style, cut to the width: danger, stage, leading causes."""
    titles = {stage.id: stage.title for stage in now.base.stages}
    fails = now.assessment.fails_at
    dangers = [raised.hazard for raised in now.assessment.hazards if raised.hazard.level != "notice"]
    pieces = [f"! {', '.join(hazard.id for hazard in dangers)}"] if dangers else []
    pieces += [f"case {number}"] if number else []
    pieces += [f"fails at: {titles[fails]}"] if fails else ["fails at: not known"]
    pieces += [" ".join(line.split()) for line in leading_causes(now, 3)] if now.case.findings else []
    text = " | ".join(pieces)
    style = "danger" if any(hazard.level == "stop" for hazard in dangers) else "caution" if dangers else "plain"
    return (text if len(text) < now.width else text[: max(now.width - 2, 1)] + "…"), style
