"""Logs of invented cases, entry by entry, as a bench would write them."""

from functools import lru_cache

from expert.case import (
    AnswerEntry,
    CloseEntry,
    Entry,
    MeasureEntry,
    MessageEntry,
    Named,
    NoteEntry,
    OutcomeEntry,
    StepEntry,
    Told,
)
from expert.first_pass import expert_of
from expert.measure import judge, parse_reading
from expert.report.gather import report_of
from expert.report.model import CaseReport
from knowledge import shipped_base

# The number is of the range that Ofcom keeps for drama, the address of a domain that RFC 2606 keeps for examples.
PHONE, MAIL, NAME = "01632 960 142", "oda.fern@example.org", "Oda"
WORDS = f"""Hello Lantern Street repair cafe,

I dusted my tower, now nothing happens: no fans, not a single light. The router on the same strip is fine.
It has a 450w bronze supply. Call {PHONE} or write to {MAIL}.

Thanks, {NAME}
"""
TOLD = (
    ("cleaned", "present", "I dusted my tower"),
    ("dead", "present", "nothing happens"),
    ("fans-spin", "absent", "no fans"),
    ("power-light", "absent", "not a single light"),
    ("outlet-good", "present", "router on the same strip is fine"),
)
# Text that means harm: a script, a link, marks of Markdown, terminal escapes, a change of the direction of writing.
HOSTILE = (
    "<script>alert(1)</script> <img src=x onerror=alert(2)> [here](http://evil.example/) ![p](http://evil.example/p.png)"
    " `code` **bold** # head | cell \x1b[31mred\x1b]0;title\x07 \u202egnp.exe\u202c \u200bhidden {{ 7 * 7 }} {% raw %}"
)


def message(words: str = WORDS, told: tuple[tuple[str, str, str], ...] = TOLD, redactions: int = 3) -> MessageEntry:
    """Give a message with findings at the first place where their words stand."""
    findings = [
        Told(id=name, state=state, quote=quote, start=words.index(quote), end=words.index(quote) + len(quote))
        for name, state, quote in told
    ]
    supply = "450w bronze supply"
    at = words.find(supply)
    build = (Named(part="psu", text=supply, start=at, end=at + len(supply), facts={"watts": 450}),) if at >= 0 else ()
    return MessageEntry(text=words, sentences=4, redactions=redactions, findings=tuple(findings), build=build)


def answer(finding: str, state: str, words: str) -> AnswerEntry:
    """Give an answer to a question."""
    return AnswerEntry(finding=finding, state=state, words=words)


def reading(name: str, words: str) -> MeasureEntry:
    """Give a reading as the consultation enters it."""
    limit = next(limit for limit in shipped_base().limits if limit.id == name)
    verdict = judge(limit, parse_reading(words))
    assert verdict.value is not None
    assert verdict.state is not None
    return MeasureEntry(
        limit=name, value=verdict.value, finding=limit.finding, state=verdict.state, verdict=verdict.text
    )


def stamped(*entries: Entry) -> list[tuple[str, Entry]]:
    """Give the entries a minute apart."""
    return [(f"2026-03-14T09:{30 + n:02}:00Z", entry) for n, entry in enumerate(entries)]


def report(*entries: Entry, number: int | None = 7) -> CaseReport:
    """Draw up the report of a log, with the shipped base."""
    base = shipped_base()
    return report_of(base, stamped(*entries), expert_of(base), number)


BENCH: tuple[Entry, ...] = (
    message(),
    answer("shock", "absent", "no"),
    answer("smoke", "present", "a mistake at the keyboard"),
    StepEntry(kind="undo"),
    OutcomeEntry(check="rear-switch-and-selector", outcome="right"),
    answer("board-light", "present", f"yes, a green one, and my number is {PHONE}"),
    reading("rail-12v", "11.3 V"),
    NoteEntry(words=f"keep the screws; {NAME}'s mail is {MAIL}"),
)
DANGER: tuple[Entry, ...] = (
    message(
        "It was running, then there was smoke from the back and the breaker tripped.",
        (("smoke", "present", "smoke"), ("breaker-trips", "present", "breaker tripped")),
        0,
    ),
    NoteEntry(words="unplugged at the wall, put aside with a label", hazard="fire"),
)
CLOSED: tuple[Entry, ...] = (*BENCH, CloseEntry(cause="psu-lead-loose", replaced=("leads",), words="lead exchanged"))
ATTACK: tuple[Entry, ...] = (
    message(f"nothing happens {HOSTILE}", (("dead", "present", f"nothing happens {HOSTILE}"),), 0),
    answer("shock", "absent", HOSTILE),
    NoteEntry(words=HOSTILE),
    CloseEntry(cause="psu-failed", replaced=("psu",), words=HOSTILE),
)


@lru_cache
def bench() -> CaseReport:
    """The report of a case on the bench."""
    return report(*BENCH)


@lru_cache
def danger() -> CaseReport:
    """The report of a case that must not be switched on."""
    return report(*DANGER)


@lru_cache
def closed() -> CaseReport:
    """The report of a case that was closed."""
    return report(*CLOSED)


@lru_cache
def attack() -> CaseReport:
    """The report of a case full of hostile text."""
    return report(*ATTACK)
