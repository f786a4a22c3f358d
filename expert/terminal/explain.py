"""Explanations: why a question is asked, how a conclusion was reached, what would follow, all so far."""

from collections.abc import Mapping

from expert.case import OutcomeEntry
from expert.facts import Claim, claims_of
from expert.first_pass import document_of
from expert.planner import Prediction
from expert.report.decision_words import bench_words
from expert.report.plain import Page
from expert.report.summary import sentence_of, write_summary
from expert.report.wording import MENTIONED, percent
from expert.terminal.answers import answer, listed
from expert.terminal.bench import outcome_named
from expert.terminal.consultation import Consultation, Reply, Said, UnreadError, said
from expert.terminal.naming import find
from expert.trace import Firing, explain
from knowledge.errors import CallError


def leading_causes(now: Consultation, count: int) -> tuple[str, ...]:
    """Give the most probable causes that are not ruled out, a line each."""
    ranked = [cause for cause in now.assessment.belief.causes if cause.status != "excluded"]
    shown = [cause for cause in ranked if cause.probability >= MENTIONED][:count] or ranked[:1]
    return tuple(
        f"{percent(cause.probability):>4}  {cause.title}{' (confirmed)' if cause.status == 'confirmed' else ''}"
        for cause in shown
    )


def causes(now: Consultation, rest: str) -> Reply:
    """List the likely causes, and what is ruled out."""
    out = [cause.title for cause in now.assessment.belief.causes if cause.status == "excluded"]
    ruled_out = said(f" out  {'; '.join(out)}", style="quiet") if out else ()
    return Reply(now, (*said(*leading_causes(now, 8)), *ruled_out))


def why(now: Consultation, rest: str) -> Reply:
    """Tell why this question is asked, or this check proposed, and what each way out of it would mean."""
    if now.step == "correct":
        return Reply(now, said("Every ranking rests on this list; what was misread in it leads astray."))
    if now.step == "check" and now.check:
        plan = now.check
        if plan.id == now.due:
            return Reply(now, said(bench_words(now.base, now.verdict.decision, now.verdict.plan)))
        titles = {outcome.id: outcome.title for outcome in now.check_record(plan.id).outcomes}
        worth = plan.why.partition(":")[0]  # what follows there are the likeliest outcomes; here all are told
        return Reply(now, said(f"{worth}:", *(f"  {_effect(now, p, titles[p.outcome])}" for p in plan.outcomes)))
    if now.step != "question" or now.question is None:
        return Reply(now, said("Nothing is being asked."))
    record = now.question_record(now.question)
    guards = next((h.title for h in now.base.hazards if h.id == now.question.guards), None)
    first = said(f"It guards against: {guards}. That comes before anything else.") if guards else ()
    answers = {"present": "yes", "absent": "no"}
    effects = (f"  {_effect(now, p, answers[p.outcome])}" for p in now.question.outcomes)
    return Reply(now, (*said(record.why), *first, *said(*effects)))


def _effect(now: Consultation, prediction: Prediction, outcome: str) -> str:
    leader = next(cause.title for cause in now.base.causes if cause.id == prediction.leader)
    return (
        f"{outcome} ({percent(prediction.probability)} likely): then {leader} leads with "
        f"{percent(prediction.leader_probability)}"
    )


# ---- how: from a conclusion down to the words that it rests on ----


def how(now: Consultation, rest: str) -> Reply:
    """Trace a cause or a hazard down to what was said, seen and measured."""
    titles = {cause.id: cause.title for cause in now.base.causes}
    titles |= {raised.hazard.id: raised.hazard.title for raised in now.assessment.hazards}
    if not rest:
        leader = next((c.id for c in now.assessment.belief.causes if c.status != "excluded"), None)
        rest = leader or ""
    name = find(rest, titles, now.base, "cause or raised hazard")
    if raised := next((r for r in now.assessment.hazards if r.hazard.id == name), None):
        return Reply(now, (*said(f"{raised.hazard.title}: raised", style="title"), *_grounds(now, raised.rules)))
    return Reply(now, _how_cause(now, name))


def _how_cause(now: Consultation, name: str) -> tuple[Said, ...]:
    belief = now.assessment.belief
    cause = next(cause for cause in belief.causes if cause.id == name)
    before = percent(belief.priors[name])
    lines = [*said(f"{cause.title}: {percent(cause.probability)}, {cause.status}", style="title")]
    lines += said(f"before anything was told of this machine: {before}")
    if not cause.counted:
        lines += said("nothing that was told speaks for or against it; what speaks against others makes it likelier")
    for piece in cause.counted:
        factor = f"{10 ** abs(piece.weight):.3g} times {'likelier' if piece.weight > 0 else 'less likely'}"
        lines += said(f"{'+' if piece.weight > 0 else '-'} {factor}:")
        lines += _grounds(now, (piece.rule,))
    uncounted = [
        rule for rule in (*cause.rules_for, *cause.rules_against) if rule not in {p.rule for p in cause.counted}
    ]
    if uncounted:
        lines += said(f"told by the same signs, so not counted again: {', '.join(uncounted)}", style="quiet")
    return tuple(lines)


def _grounds(now: Consultation, rules: tuple[str, ...]) -> tuple[Said, ...]:
    """Give each rule, or outcome of a check, with the firings below it and the words at the bottom."""
    by_rule = {firing.rule: firing for firing in now.assessment.firings}
    stated = words_of(now)
    lines: list[Said] = []
    for rule in rules:
        firing = by_rule.get(rule)
        if firing is None:
            lines += said(f"    {rule}")
            continue
        for step in reversed(explain(now.assessment.firings, firing.n)):
            indent = "    " if step.n == firing.n else "      "
            lines += said(f"{indent}{_reason(step)}")
            # A finding told of a part holds with the part and without it; its words are given once.
            words = dict.fromkeys(stated.get(ref, ref) for ref in step.from_ if isinstance(ref, str))
            lines += said(*(f"{indent}  {each}" for each in words), style="quiet")
    return tuple(lines)


def _reason(firing: Firing) -> str:
    return f"{firing.because} [{firing.rule}; {firing.source}]"


def words_of(now: Consultation) -> Mapping[str, str]:
    """Give for each stated fact the words in which it was told."""
    found: dict[str, str] = {}
    for told in now.case.findings:
        for claim in claims_of(told.id, told.state, told.detail):
            found[claim.text] = f"{sentence_of(now.base, told.id, told.state)} - “{told.quote}”"
    for done in now.case.outcomes:
        record = now.check_record(done.check)
        outcome = next((o.title for o in record.outcomes if o.id == done.outcome), done.outcome)
        found[Claim("outcome", done.check, done.outcome).text] = f"{record.title}: {outcome}"
    return found


# ---- what if ----


def whatif(now: Consultation, rest: str) -> Reply:
    """Show what an answer or an outcome would change, without entering it."""
    after, title = _supposed(now, rest.strip())
    return Reply(now, (*said(f"if {title} (nothing is entered):"), *changes(now, after)))


def _supposed(now: Consultation, typed: str) -> tuple[Consultation, str]:
    word, _, outcome = typed.partition(" ")
    if word in {check.id for check in now.base.checks}:
        record = now.check_record(word)
        found = outcome_named(record, outcome.strip())
        if found is None:
            raise CallError(f"say how {word} comes out: {', '.join(o.id for o in record.outcomes)}")
        return now.with_entries(OutcomeEntry(check=word, outcome=found.id)), f"{record.title}: {found.title}"
    if now.step == "check" and now.check and (found := outcome_named(now.check_record(now.check.id), typed)):
        after = now.with_entries(OutcomeEntry(check=now.check.id, outcome=found.id))
        return after, f"{now.check.title}: {found.title}"
    if now.step == "question" and now.question and (reply := answer(now, typed)):
        return reply.consultation, f"{typed} to “{now.question.text}”"
    raise UnreadError("say what to suppose: whatif yes, whatif b, or whatif power-drain no-change")


def changes(before: Consultation, after: Consultation) -> tuple[Said, ...]:
    """Give what changed: new dangers first, dangers lifted, then the leading causes with how they moved."""
    old = {raised.hazard.id for raised in before.assessment.hazards}
    new = {raised.hazard.id: raised.hazard for raised in after.assessment.hazards}
    lines: list[Said] = []
    for hazard in new.values():
        if hazard.id not in old:
            style = "danger" if hazard.level == "stop" else "caution"
            lines += said(f"! {hazard.level.upper()}: {hazard.advice}", style=style)
    gone = [raised.hazard.title for raised in before.assessment.hazards if raised.hazard.id not in new]
    lines += said(*(f"no longer raised: {title}" for title in gone), style="caution")
    moved = _moved(before, after)
    return (*lines, *said(f"now: {'; '.join(moved)}" if moved else "(the ranking stays as it was)"))


def _moved(before: Consultation, after: Consultation) -> list[str]:
    was = {cause.id: cause.probability for cause in before.assessment.belief.causes}
    shown = [cause for cause in after.assessment.belief.causes if cause.status != "excluded"][:3]
    moved = []
    stayed = True
    for cause in shown:
        shift = round(100 * cause.probability) - round(100 * was[cause.id])
        stayed = stayed and not shift
        arrow = f" ({shift:+d})" if shift else ""
        moved.append(f"{percent(cause.probability)}{arrow} {cause.title}")
    return [] if stayed else moved


def summary(now: Consultation, rest: str) -> Reply:
    """Give everything so far."""
    document = document_of(now.case, now.assessment)
    text = write_summary(document, listed(now), now.base, Page(width=now.width), now.language)
    return Reply(now, said(*text.splitlines()))
