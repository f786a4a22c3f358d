"""The triage as readable text: danger first, then what was understood, causes, checks and questions."""

from collections.abc import Mapping, Sequence

from expert.build import title_of
from expert.case import Told
from expert.decide import lock_words
from expert.document import CauseItem, FiringItem, TriageDocument
from expert.report.decision_words import small
from expert.report.plain import Page
from expert.report.wording import LEVELS, MENTIONED, SURENESS, detail_words, percent, spoken
from knowledge.models import Check, KnowledgeBase

SHOWN_CAUSES, SHOWN_CHECKS, SHOWN_QUESTIONS = 6, 5, 5
MOST_FOR, MOST_AGAINST = 3, 2  # reasons for one cause


def write_summary(
    document: TriageDocument, told: Sequence[Told], base: KnowledgeBase, page: Page, language: str = "en"
) -> str:
    """Give the text of the triage, as wide as the page; `told` are the findings as they stand now."""
    if language != "en":
        page.heading("This message does not seem to be English", "caution")
        page.line("Only danger signs that are certain were looked for. Have it put into English, and ask again.")
    _hazards(document, base, page)
    _findings(document, told, base, page)
    _causes(document, base, page)
    _checks(document, base, page)
    _questions(document, page)
    page.heading("What this is not")
    page.line(
        "A first opinion for the bench, not a substitute for a qualified person. Local codes and licensed practice "
        "decide. Never open a power supply."
    )
    return page.text()


def _hazards(document: TriageDocument, base: KnowledgeBase, page: Page) -> None:
    hazards = {hazard.id: hazard for hazard in base.hazards}
    page.heading("Danger first")
    if not document.hazards:
        page.item("No danger sign is told. Look, and sniff, before mains goes on all the same.")
    for item in document.hazards:
        style = "danger" if item.level == "stop" else "caution"
        page.item(f"{LEVELS[item.level]}: {hazards[item.id].title}.", style, mark="!")
        page.more(item.advice)
        page.more(f"Who takes over: {hazards[item.id].takeover}")


def _findings(document: TriageDocument, told: Sequence[Told], base: KnowledgeBase, page: Page) -> None:
    stages = {stage.id: stage.title for stage in base.stages}
    page.heading("What was understood")
    if not told:
        page.item("Nothing that says what is wrong. Ask the questions below.")
    for each in told:
        sure = f" ({SURENESS[each.certainty]})" if SURENESS[each.certainty] else ""
        detail = f" [{detail_words(base, each.detail)}]" if each.detail else ""
        page.item(f"{sentence_of(base, each.id, each.state)}{detail}{sure} - “{each.quote}”")
    for item in document.build:
        page.item(f"{title_of(base, item.part)}: “{item.text}”")
    if document.stage.reached or document.stage.fails_at:
        reached = stages.get(document.stage.reached or "", "not known")
        fails = stages.get(document.stage.fails_at or "", "not known")
        page.item(f"How far it gets: {reached}; where it fails: {fails}.")


def sentence_of(base: KnowledgeBase, finding: str, state: str) -> str:
    """Put a finding in a state into plain words."""
    record = next((f for f in base.findings if f.id == finding), None)
    if record is None:  # an older case may tell of what the base no longer has
        return f"{finding}: {state}"
    return {"present": record.present, "absent": record.absent}.get(state, f"not known: {record.title}")


def _causes(document: TriageDocument, base: KnowledgeBase, page: Page) -> None:
    because = {firing.rule: firing for firing in document.trace}
    checks = {check.id: check.title for check in base.checks}
    page.heading("Likely causes")
    if not document.findings:
        page.line("Too little is known to name causes: so far every one is about as likely as in any machine.")
        return
    open_ = [cause for cause in document.causes if cause.status != "excluded"]
    shown = [cause for cause in open_ if cause.probability >= MENTIONED][:SHOWN_CAUSES] or open_[:1]
    for cause in shown:
        confirmed = " (confirmed)" if cause.status == "confirmed" else ""
        page.item(f"{cause.title}{confirmed}", mark=f"{percent(cause.probability):>4}")
    ruled_out = [cause.title for cause in document.causes if cause.status == "excluded"]
    if ruled_out:
        page.item(f"As good as ruled out: {'; '.join(ruled_out)}.", mark=" out")
    for (sign, rule), titles in _reasons(shown).items():
        page.item(f"{sign} {'; '.join(titles)}: {_reason(because.get(rule), rule, checks)}", "quiet")


def _reasons(causes: Sequence[CauseItem]) -> dict[tuple[str, str], list[str]]:
    """Give each reason once, with the causes that it speaks for or against, in the order of the causes."""
    titles: dict[tuple[str, str], list[str]] = {}
    for cause in causes:
        for sign, rules in (("for", cause.rules_for[:MOST_FOR]), ("against", cause.rules_against[:MOST_AGAINST])):
            for rule in rules:
                titles.setdefault((sign, rule), []).append(cause.title)
    return titles


def _reason(firing: FiringItem | None, rule: str, checks: Mapping[str, str]) -> str:
    """Give the reason of a rule; of the outcome of a check, the check as well: "no change" alone says nothing."""
    check = checks.get(rule.partition("/")[0])
    made = f"{check}: " if check else ""
    return f"{made}{firing.because} [{rule}, {firing.source}]" if firing else rule


def _checks(document: TriageDocument, base: KnowledgeBase, page: Page) -> None:
    checks = {check.id: check for check in base.checks}
    page.heading("What to check next")
    for due in _due(document, base):
        page.line(f"Before any long test, and before anything is replaced: {small(due.title)}.", "caution")
    for number, item in enumerate([c for c in document.checks if c.locked_by is None][:SHOWN_CHECKS], start=1):
        needs = f"; needs {spoken(item.needs)}" if item.needs else ""
        page.item(f"{item.title} ({item.minutes} min{needs})", mark=str(number))
        if number == 1:
            page.more(checks[item.id].how)
        page.more(item.why, "quiet")
        for precaution in checks[item.id].precautions:
            page.more(precaution, "caution")
    locked = [item for item in document.checks if item.locked_by]
    for lock in dict.fromkeys(item.locked_by for item in locked if item.locked_by):
        titles = [item.title for item in locked if item.locked_by == lock]
        page.item(f"Locked ({lock_words(base, lock)}): {'; '.join(titles)}.", "caution", mark="x")


def _due(document: TriageDocument, base: KnowledgeBase) -> list[Check]:
    """Give the checks that a danger puts before all others and that were not made yet; none where all has to stop."""
    if any(item.level == "stop" for item in document.hazards):
        return []
    raised = {item.id for item in document.hazards}
    made = {firing.rule.partition("/")[0] for firing in document.trace}
    first = {hazard.first for hazard in base.hazards if hazard.id in raised} - made
    return [check for check in base.checks if check.id in first]


def _questions(document: TriageDocument, page: Page) -> None:
    page.heading("What to ask the owner")
    # One finding may be asked about for several complaints, in the same words.
    texts = dict.fromkeys(item.text for item in document.questions)
    for number, text in enumerate(list(texts)[:SHOWN_QUESTIONS], start=1):
        page.item(text, mark=str(number))
