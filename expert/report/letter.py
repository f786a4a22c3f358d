"""The letter to the owner, for three occasions, in words that need no knowledge of the trade, and without blame.

Danger comes first; what may be tried at home is only what an owner may do, and nothing while a hazard of level stop
is raised. No name and no address is in it: the lines for them are left to be filled in by hand.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from expert.report.model import CaseReport, CauseLine
from expert.report.plain import Page
from knowledge.errors import CallError

Occasion = Literal["first", "diagnosis", "handover"]

TITLES: dict[str, str] = {
    "first": "About your machine: what we read, and what comes next",
    "diagnosis": "About your machine: what we found",
    "handover": "About your machine: what was done",
}
OPENING: dict[str, str] = {
    "first": "Thank you for your message. This is a first answer, from your words alone: nobody has seen the machine "
    "yet, and nothing in it is a reproach. Such things happen to every machine.",
    "diagnosis": "We have looked at your machine. Here is what we found, how sure we are, and what we suggest.",
    "handover": "Your machine is ready to go home. Here is what was wrong, what was done, and what to keep an eye on.",
}
NOT_SAFE = (
    "Your machine goes home, but it is not safe: it must not be switched on. Please read the first lines with care."
)
NOT_ENGLISH = "Your message does not seem to be English. We looked for signs of danger only; please write in English. "
HOME, ASKED, MAYBE = 3, 6, 3  # checks, questions and causes in a letter; more than that is not read
WIDTH = 78


@dataclass(frozen=True)
class Block:
    """A heading, a paragraph below it (may be empty), and items; `weighty` where it is about danger."""

    heading: str
    text: str = ""
    items: tuple[str, ...] = ()
    weighty: bool = False


@dataclass(frozen=True)
class Letter:
    """A letter: title, opening, and its blocks in order."""

    title: str
    opening: str
    blocks: tuple[Block, ...]
    closing: tuple[str, ...] = ("With kind regards,", "______________________ (your repair bench)")


def letter_of(report: CaseReport, occasion: Occasion) -> Letter:
    """Give the letter for an occasion; raise `CallError` for a hand-over of a case that is not closed."""
    blocks = {"first": _first, "diagnosis": _diagnosis, "handover": _handover}[occasion](report)
    filled = tuple(block for block in (*_danger(report), *blocks) if block.text or block.items)
    opening = NOT_SAFE if occasion == "handover" and report.stopped else OPENING[occasion]
    return Letter(TITLES[occasion], opening, filled)


def write_letter(letter: Letter, width: int = WIDTH) -> str:
    """Give the letter as plain text."""
    page = Page(width)
    page.line(letter.title)
    page.blank()
    page.line("Hello ______________________,")
    page.blank()
    page.line(letter.opening)
    for block in letter.blocks:
        page.heading(block.heading.upper() if block.weighty else block.heading)
        if block.text:
            page.line(block.text)
        for item in block.items:
            page.item(item, mark="!" if block.weighty else "-")
    page.blank()
    for line in letter.closing:
        page.line(line)
    return page.text()


def chance(probability: float) -> str:
    """Put a probability into words, always out of ten, so that two of them can be compared at a glance."""
    if probability >= 0.95:
        return "almost certain"
    if probability < 0.05:
        return "less than 1 in 20"
    return f"about {max(1, round(10 * probability))} in 10"


def _danger(report: CaseReport) -> list[Block]:
    items = [
        f"{hazard.plain}{f' Who can help: {hazard.takeover}' if hazard.level == 'stop' else ''}"
        for hazard in report.hazards
    ]
    stop = "Please leave it switched off and unplugged, and do not try it again. " if report.stopped else ""
    first = f"{stop}Your safety and your files come before the machine." if items else ""
    return [Block("Please read this first", first, tuple(items), weighty=True)]


def _first(report: CaseReport) -> list[Block]:
    return [
        _understood(report),
        _maybe(report, "What it may be", "From your message alone, and not measured yet:"),
        _home(report),
        _questions(report),
        Block(
            "What happens next",
            "Bring the machine with its own mains lead. We look first and switch on last, go from the easy checks to "
            "the long ones, and ask you before we replace a part or do anything that could erase data. If there are "
            "files on it that exist nowhere else, tell us.",
        ),
    ]


def _diagnosis(report: CaseReport) -> list[Block]:
    done = tuple(f"{check.title}: {check.outcome_title}." for check in report.done)
    return [
        _maybe(report, "What we think, and how sure we are", "We never know for certain before the repair is tested:"),
        _cannot_tell(report),
        Block("What we looked at", _measured(report), done),
        _suggestion(report),
        _questions(report),
        Block("What happens next", "Tell us whether we may go on. Nothing is replaced and no data is touched before."),
    ]


def _handover(report: CaseReport) -> list[Block]:
    closed = report.closed
    if closed is None:
        raise CallError("the case is not closed, so there is nothing to hand over yet; close it with its cause first")
    replaced = (f"Replaced: {', '.join(closed.replaced)}.",) if closed.replaced else ("No part was replaced.",)
    return [
        Block("What was wrong", closed.plain or "We did not find a fault that we can name for certain."),
        Block("What was done", "", (*replaced, *((_sentence(closed.words),) if closed.words else ()))),
        Block(
            "What is checked before it goes home",
            "We go through this list with you when you collect it:",
            tuple(f"{item.title}." for item in report.plan.verification),
        ),
        Block(
            "What to keep an eye on",
            "If the old trouble comes back, note what the machine was doing and tell us. If it ever smells burnt, "
            "smokes, sparks or gives you a tingle, pull the plug at the wall and do not switch it on again. Keep a "
            "copy of what matters to you somewhere outside the machine.",
        ),
    ]


def _understood(report: CaseReport) -> Block:
    told = [f for f in report.findings if f.told != "measurement" and f.state != "unknown"]
    said = tuple(
        f"{_sentence(f.sentence, '')}{' (you were not quite sure)' if f.certainty == 'hedged' else ''}." for f in told
    )
    foreign = NOT_ENGLISH if report.message and report.message.language != "en" else ""
    check = "If one of these is wrong, please tell us." if said else ""
    return Block("What we understood", f"{foreign}{check}".strip(), said)


def _maybe(report: CaseReport, heading: str, text: str) -> Block:
    if not report.findings:
        return Block(heading, "Too little is known yet to say. Your answers to the questions below will help most.")
    causes = [cause for cause in report.likely if cause.probability >= 0.05][:MAYBE] or report.likely[:1]
    rest = 1.0 - sum(cause.probability for cause in causes)
    others = (f"Something else: {chance(rest)}.",) if rest >= 0.05 else ()
    return Block(heading, text, (*(_cause(cause) for cause in causes), *others))


def _cause(cause: CauseLine) -> str:
    sure = "confirmed" if cause.status == "confirmed" else chance(cause.probability)
    return f"{cause.plain.rstrip('.')}: {sure}."


def _home(report: CaseReport) -> Block:
    heading = "What you can try at home"
    checks = [c for c in report.checks if c.who == "owner" and c.locked_by is None][:HOME]
    if report.stopped or not checks:
        return Block(heading, "Nothing, please: leave it as it is, and bring it or wait for our answer.")
    items = [" ".join([f"{check.title}. {check.how}", *check.precautions]) for check in checks]
    return Block(
        heading,
        "Only this, from outside, and only while nothing smells, hums, sparks or is wet. Leave it whenever you are "
        "unsure; it costs us little. Do not open the machine, and never its power supply.",
        tuple(items),
    )


def _questions(report: CaseReport) -> Block:
    return Block("What we need to know", "", tuple(question.text for question in report.questions[:ASKED]))


def _measured(report: CaseReport) -> str:
    count, bad = len(report.measurements), sum(m.state == "absent" for m in report.measurements)
    if not count:
        return ""
    readings = "one reading" if count == 1 else f"{count} readings"
    return f"We took {readings}; {bad or 'none'} outside the published limits."


def _cannot_tell(report: CaseReport) -> Block:
    plain = {cause.id: cause.plain for cause in report.causes}
    items = tuple(_either([plain[cause] for cause in group.causes]) for group in report.groups)
    text = "With the means of this bench some explanations look alike:" if items else ""
    return Block("What we cannot tell apart", text, items)


def _either(sentences: Sequence[str]) -> str:
    return " Or: ".join(sentences)


def _suggestion(report: CaseReport) -> Block:
    plan = report.plan
    named = {action: [step.title for step in plan.steps if step.action == action] for action in ("replace", "keep")}
    along = [step.title for step in plan.steps if step.action == "replace-together"]
    items = [
        *_listed("Replace", named["replace"]),
        *_listed("Replace at the same time, since they belong together", along),
        *_listed("Keep, since it was shown to be good", named["keep"]),
        *plan.cost,
    ]
    go_on = [check.title for check in report.checks if check.locked_by is None][:1]
    if not plan.decided and go_on:
        items.append(f"Before anything is bought, one more check: {go_on[0]}.")
    return Block("What we suggest", "", tuple(items))


def _listed(what: str, titles: Iterable[str]) -> list[str]:
    named = ", ".join(titles)
    return [f"{what}: {named}."] if named else []


def _sentence(text: str, end: str = ".") -> str:
    """Give a text with a capital at its beginning and one mark at its end."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}{end}"
