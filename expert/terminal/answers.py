"""Answers: to the question asked, in words of one's own, and corrections of what was read."""

import re
from collections.abc import Sequence
from dataclasses import replace

from expert.build import title_of
from expert.case import AnswerEntry, Entry, Named, PartEntry, SkipEntry, Told, WithdrawEntry
from expert.report.summary import sentence_of
from expert.report.wording import SURENESS, detail_words
from expert.terminal.consultation import Consultation, Reply, Said, UnreadError, said
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase, State

YES = ("yes", "y", "yep", "yeah", "true")
NO = ("no", "n", "nope", "false")
UNKNOWN = ("don't know", "dont know", "?", "dk", "not sure", "no idea", "dunno", "unknown")
RIGHT = ("", "ok", "okay", "right", "done")
LETTERS = "abcdefghijklmnopqrstuvwxyz"
MOST_CHOICES = 10

_WITH_MORE = re.compile(
    r"(?:(yes|yep|yeah|y)\b|(no|nope|n)(?=\s*[,.;:!-]|\s+(?:it|he|she|they|we|i|not|but|and|nothing|nobody)\b))(.*)",
    re.I,
)
_FIX = re.compile(r"([-!]?)(\d{1,3})")
FIXES = "3 strikes out number 3, !3 turns it round, several are fine"
_OPPOSITE: dict[str, State] = {"present": "absent", "absent": "present", "unknown": "present"}


def choices_of(now: Consultation, finding: str) -> tuple[str, ...]:
    """Give the details of a finding that the rules tell apart, as "memory"; none if there are too many."""
    conditions = (c for rule in now.base.rules for c in (*rule.when, *rule.given, *rule.unless))
    details = {condition.detail for condition in conditions if condition.finding == finding and condition.detail}
    return tuple(sorted(details)) if len(details) <= MOST_CHOICES else ()


def answer(now: Consultation, line: str) -> Reply | None:
    """Take a line as an answer to the question asked; None if it is none.

    "yes", "no", "?", the letter of a choice, or "yes, three times, and it smells": the rest is read as well.
    """
    asks = _asked(now)
    state = _plain_state(line)
    if state is not None:
        if asks is None:
            raise CallError("no yes-or-no question is being asked; type 'checks' for what to do next, or 'help'")
        return _answered(now, [AnswerEntry(finding=asks, state=state, words=line)])
    if asks is None:
        return None
    choices = choices_of(now, asks)
    if len(line) == 1 and line.lower() in LETTERS[: len(choices)]:
        choice = choices[LETTERS.index(line.lower())]
        words = detail_words(now.base, choice)
        return _answered(now, [AnswerEntry(finding=asks, state="present", detail=spoken(choice), words=words)])
    match = _WITH_MORE.fullmatch(line)
    return _with_more(now, asks, "present" if match[1] else "absent", match[3], line) if match else None


def _asked(now: Consultation) -> str | None:
    return now.question_record(now.question).asks if now.step == "question" and now.question else None


def _plain_state(line: str) -> State | None:
    word = line.lower().rstrip(".! ")
    return "present" if word in YES else "absent" if word in NO else "unknown" if word in UNKNOWN else None


def _with_more(now: Consultation, asks: str, state: State, rest: str, line: str) -> Reply:
    """Take "yes, ..." for the question, and whatever else the words tell."""
    rest = rest.strip(" ,.;:!-")
    read = now.read(line)
    details = {words for choice in choices_of(now, asks) if (words := spoken(choice)) in rest.lower()}
    told = next((t for t in read.findings if t.id == asks and t.state == "present"), None)
    detail = told.detail if told and told.detail else min(details, default=None)
    entry = AnswerEntry(finding=asks, state=state, detail=detail if state == "present" else None, words=line)
    others = [_entry_of(told) for told in read.findings if told.id != asks]
    return _answered(now, [entry, *others])


def _answered(now: Consultation, entries: Sequence[AnswerEntry]) -> Reply:
    """Enter the answers; one that needs no telling back is not told back."""
    alone = len(entries) == 1 and not entries[0].detail
    return Reply(now.with_entries(*entries), () if alone else tuple(_understood(now, entry) for entry in entries))


def _understood(now: Consultation, entry: AnswerEntry) -> Said:
    detail = f" [{detail_words(now.base, entry.detail)}]" if entry.detail else ""
    return Said(f"understood: {sentence_of(now.base, entry.finding, entry.state)}{detail} - “{entry.words}”")


def _entry_of(told: Told) -> AnswerEntry:
    return AnswerEntry(finding=told.id, state=told.state, detail=told.detail, words=told.quote)


def free_text(now: Consultation, line: str) -> Reply:
    """Read words of one's own: findings are answers, hardware is told; each piece is told back."""
    read = now.read(line)
    answers = [_entry_of(told) for told in read.findings]
    parts = [PartEntry(named=at_the_bench(named)) for named in read.build]
    if not answers and not parts:
        hint = {
            "question": "Answer yes, no or ?, or say it in other words; 'help' lists what can be typed.",
            "check": "Type the letter of the outcome, or say it in other words; 'help' lists what can be typed.",
            "correct": f"Say what is missing in other words; or: {FIXES}; Enter if the rest is right.",
        }.get(now.step, "Say it in other words, or type 'help'.")
        return Reply(now, said(f"I could not read a finding in that. {hint}"))
    entries: list[Entry] = [*answers, *parts]
    told = [_understood(now, entry) for entry in answers]
    told += [Said(f"understood: {part_line(now.base, entry.named)}") for entry in parts]
    return Reply(now.with_entries(*entries), tuple(told))


def at_the_bench(named: Named) -> Named:
    """Give a piece of hardware as told at the bench: its words stand in no message."""
    return named.model_copy(update={"start": None, "end": None})


def part_line(base: KnowledgeBase, named: Named) -> str:
    """Tell a piece of hardware with what was read of it."""
    facts = ", ".join(f"{fact.replace('_', ' ')}{_fact(value)}" for fact, value in named.facts.items())
    return f"{title_of(base, named.part)}: “{named.text}”{f' ({facts})' if facts else ''}"


def _fact(value: object) -> str:
    """Give the value after the name of a fact; one that simply holds needs none."""
    if value is True:
        return ""
    return f" {' and '.join(str(item) for item in value) if isinstance(value, list | tuple) else value}"


def spoken(slug: str) -> str:
    """Spell an id as words: `no-change` is "no change"."""
    return slug.replace("-", " ")


# ---- the correction of what was read ----


def listed(now: Consultation) -> tuple[Told, ...]:
    """Give the findings in the order of their numbers on the screen: as in the message, then what came later."""
    message = now.case.message.findings if now.case.message else ()
    place = {told.id: number for number, told in reversed(list(enumerate(message)))}
    return tuple(sorted(now.case.findings, key=lambda told: place.get(told.id, len(message))))


def numbered(now: Consultation) -> tuple[Said, ...]:
    """Give what was understood, each finding with its number."""
    lines: list[Said] = list(said("What was understood:", style="title"))
    for number, told in enumerate(listed(now), start=1):
        hedge = f" ({SURENESS[told.certainty]})" if SURENESS[told.certainty] else ""
        detail = f" [{detail_words(now.base, told.detail)}]" if told.detail else ""
        lines += said(f" {number:2} {sentence_of(now.base, told.id, told.state)}{detail}{hedge} - “{told.quote}”")
    if not now.case.findings:
        lines += said("    nothing that says what is wrong; the questions will find out")
    lines += said(*(f"  - {part_line(now.base, piece)}" for piece in now.case.build))
    if now.case.message and now.case.message.contradictions:
        titles = {finding.id: finding.title for finding in now.base.findings}
        both = ", ".join(titles[finding] for finding in now.case.message.contradictions)
        lines += said(f"  told both ways: {both}", style="caution")
    return tuple(lines)


def correct(now: Consultation, line: str) -> Reply | None:
    """Take a line while the findings are shown for correction; None if it is no correction.

    "3" or "-3" strikes finding 3 out, "!3" turns it the other way round, nothing (or "ok") says that the list is right.
    """
    if line.lower() in (*RIGHT, *YES):
        return Reply(replace(now, correcting=False))
    if line.lower() in NO:
        raise CallError(f"type the number of what is wrong: {FIXES}")
    marks = [_FIX.fullmatch(word) for word in re.split(r"[\s,]+", line)]
    return fixed(now, [(m[1] != "!", int(m[2])) for m in marks if m]) if all(marks) else None


def fixed(now: Consultation, fixes: Sequence[tuple[bool, int]]) -> Reply:
    """Turn round or strike out the findings with these numbers; a finding told of several parts goes as one."""
    findings = listed(now)
    if wrong := [number for _, number in fixes if not 1 <= number <= len(findings)]:
        raise CallError(f"there is no {wrong[0]} in the list; it has 1 to {len(findings)}")
    entries: dict[str, Entry] = {}
    for strike, number in fixes:
        told = findings[number - 1]
        if strike:
            entries[told.id] = WithdrawEntry(finding=told.id)
        else:
            words = f"corrected at the bench: {told.quote}"
            entries[told.id] = AnswerEntry(finding=told.id, state=_OPPOSITE[told.state], words=words)
    return Reply(replace(now.with_entries(*entries.values()), correcting=True))


def understood(now: Consultation, rest: str) -> Reply:
    """Show the findings for correction, or correct them at once."""
    shown = replace(now, correcting=True)
    if not rest and now.step in ("danger", "closed"):
        # What stands on the screen stays there; the list is only looked at.
        ways = said("(understood 3 strikes out number 3, understood !3 turns it round)") if now.step == "danger" else ()
        return Reply(now, (*numbered(now), *ways))
    if not rest:
        return Reply(shown)
    reply = correct(shown, rest)
    if reply is None:
        raise UnreadError("type the numbers of what is wrong: understood 3 !5 strikes 3 out and turns 5 round")
    return reply


def skip(now: Consultation, rest: str) -> Reply:
    """Pass over the question for good, or over the check for now."""
    if now.step == "question" and now.question:
        return Reply(
            now.with_entries(SkipEntry(finding=now.question_record(now.question).asks)), said("Not asked again.")
        )
    if now.step == "check" and now.check:
        passed = now.passed | {now.check.id}
        return Reply(replace(now, passed=passed, chosen=None), said("Passed over; 'checks' still lists it."))
    raise CallError("there is nothing to skip; type 'checks', 'summary' or 'leave'")
