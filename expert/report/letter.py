"""The letter to the owner, for three occasions, in words that need no knowledge of the trade, and without blame.

Danger comes first; what may be tried at home is only what an owner may do, and nothing while a hazard of level stop
is raised. No name and no address is in it: the lines for them are left to be filled in by hand.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from expert.report.chances import chances
from expert.report.model import CaseReport
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
_SURENESS = {
    "stated": "",
    "hedged": " (you were not quite sure)",
    "proposed": " (we take your words so, and will ask)",
}
NOT_SAFE = (
    "Your machine goes home, but it is not safe: it must not be switched on. Please read the first lines with care."
)
NOT_FOUND = "We did not find a fault that we can name for certain."
NOT_ENGLISH = "Your message does not seem to be English. We looked for signs of danger only; please write in English. "
GO_ON = "Tell us whether we may go on. Nothing is replaced and no data is touched before."
AFTER = {
    "make-safe": "We tell you when it is safe again, and what it takes. Nothing is replaced before.",
    "mended": "We go through our list of checks, and tell you when you can collect it.",
    "closed": "You can collect it.",
}
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
    filled = tuple(block for block in (*_danger(report, occasion), *blocks) if block.text or block.items)
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


def _danger(report: CaseReport, occasion: Occasion) -> list[Block]:
    """Give the dangers; of a case that is at an end only those that keep the machine from being switched on."""
    open_ones = [hazard for hazard in report.hazards if hazard.level == "stop" or occasion != "handover"]
    items = [
        f"{hazard.plain}{f' Who can help: {hazard.takeover}' if hazard.level == 'stop' else ''}" for hazard in open_ones
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
        Block("What happens next", AFTER.get(report.plan.decision.kind, GO_ON)),
    ]


def _handover(report: CaseReport) -> list[Block]:
    closed = report.closed
    if closed is None:
        raise CallError("the case is not closed, so there is nothing to hand over yet; close it with its cause first")
    replaced = f"Replaced: {', '.join(closed.replaced)}." if closed.replaced else "No part was replaced."
    minded = [
        f"{_sentence(hazard.title, ':')} {_sentence(words)}" for hazard in report.hazards for words in hazard.done
    ]
    words = _sentence(closed.words) if closed.words else ""
    done = (report.plan.decision.plain if not report.stopped else "", replaced, words, *minded)
    return [
        Block("What was wrong", f"We found this: {closed.plain}" if closed.plain else NOT_FOUND),
        Block("What was done", "", tuple(filter(None, done))),
        Block(
            "What is checked before it goes home",
            "We go through this list with you when you collect it:",
            tuple(item.plain for item in report.plan.verification),
        ),
        _watched(report),
    ]


def _watched(report: CaseReport) -> Block:
    """Give what to watch; a danger that nobody said anything about since is named, since it may not be over."""
    unsaid = tuple(
        f"{_sentence(hazard.title, '')} came up in this case: ask us when you collect it what became of that."
        for hazard in report.hazards
        if hazard.level != "stop" and not hazard.done
    )
    return Block(
        "What to keep an eye on",
        "If the old trouble comes back, note what the machine was doing and tell us. If it ever smells burnt, "
        "smokes, sparks or gives you a tingle, pull the plug at the wall and do not switch it on again. Keep a "
        "copy of what matters to you somewhere outside the machine.",
        unsaid,
    )


def _understood(report: CaseReport) -> Block:
    told = [f for f in report.findings if f.told != "measurement" and f.state != "unknown"]
    said = tuple(f"{_sentence(f.sentence, '')}{_SURENESS[f.certainty]}." for f in told)
    foreign = NOT_ENGLISH if report.message and report.message.language != "en" else ""
    check = "If one of these is wrong, please tell us." if said else ""
    return Block("What we understood", f"{foreign}{check}".strip(), said)


def _maybe(report: CaseReport, heading: str, text: str) -> Block:
    if not report.findings:
        return Block(heading, "Too little is known yet to say. Your answers to the questions below will help most.")
    causes = [cause for cause in report.likely if cause.probability >= 0.05][:MAYBE] or report.likely[:1]
    rest = max(0.0, 1.0 - sum(cause.probability for cause in causes))
    words = chances([*(cause.probability for cause in causes), rest])
    named = [
        f"{cause.plain.rstrip('.')}: {'confirmed' if cause.status == 'confirmed' else chance}."
        for cause, chance in zip(causes, words, strict=False)
    ]
    return Block(heading, text, (*named, *((f"Something else: {words[-1]}.",) if rest >= 0.05 else ())))


def _home(report: CaseReport) -> Block:
    heading = "What you can try at home"
    if report.is_over:
        return Block(heading)
    checks = [c for c in report.checks if c.who == "owner" and c.locked_by is None][:HOME]
    if report.plan.decision.kind in ("make-safe", "first") or not checks:
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
    if not plan.decided:
        return Block("What we suggest", plan.decision.plain)
    named = {action: [step.title for step in plan.steps if step.action == action] for action in ("replace", "keep")}
    along = [step.title for step in plan.steps if step.action == "replace-together"]
    items = [
        *_listed("Replace", named["replace"]),
        *_listed("Replace at the same time, since they belong together", along),
        *_listed("Keep, since it was shown to be good", named["keep"]),
        plan.price,
    ]
    return Block("What we suggest", plan.decision.plain, tuple(items))


def _listed(what: str, titles: Iterable[str]) -> list[str]:
    named = ", ".join(titles)
    return [f"{what}: {named}."] if named else []


def _sentence(text: str, end: str = ".") -> str:
    """Give a text with a capital at its beginning and one mark at its end."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}{end}"
