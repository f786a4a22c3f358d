"""Work at the bench: checks and how they came out, readings, swaps, tools and spares, parts, notes, dangers."""

import re
from dataclasses import replace

from expert.case import AnswerEntry, HandEntry, MeasureEntry, OutcomeEntry, PartEntry
from expert.decide import lock_words
from expert.elimination import OTHER_MACHINE
from expert.measure import judge, parse_reading
from expert.report.summary import sentence_of
from expert.report.wording import spoken
from expert.terminal.answers import LETTERS, NO, UNKNOWN, YES, at_the_bench, part_line
from expert.terminal.consultation import ON_BENCH, Consultation, Reply, Said, UnreadError, said
from expert.terminal.naming import find, parts_named, things_of
from knowledge.errors import CallError
from knowledge.models import Check, Limit, Outcome, State

SHOWN_CHECKS = 6
# A number with a unit behind it: what is typed where a reading is offered.
_READING = re.compile(r"[-+]?\d+(?:[.,]\d+)?\s*[^\W\d_°Ω%]{0,3}[°Ω%VCF]?[A-Za-z]*")


def bench(now: Consultation, rest: str) -> Reply:
    """Say that the machine is here, so that checks come before questions."""
    if now.on_bench:
        return Reply(now, said(f"{ON_BENCH} 'checks' lists what can be done."))
    return Reply(now.with_note(ON_BENCH), said(ON_BENCH))


def checks(now: Consultation, rest: str) -> Reply:
    """List the next checks, and the locked ones with the hazard that locks them."""
    free = [plan for plan in now.checks if plan.locked_by is None][:SHOWN_CHECKS]
    lines: list[Said] = []
    for plan in free:
        outcomes = " | ".join(outcome.id for outcome in now.check_record(plan.id).outcomes)
        needs = f"; needs {spoken(plan.needs)}" if plan.needs else ""
        lines += said(f"{plan.id}: {plan.title} ({plan.minutes} min{needs})")
        lines += said(f"    done {plan.id} {outcomes}", style="quiet")
    return Reply(now, (*lines, *locked(now)) or said("No check is left that would tell anything."))


def locked(now: Consultation) -> tuple[Said, ...]:
    """Name what each hazard locks; nothing if nothing is locked."""
    plans = [(plan.title, plan.locked_by) for plan in now.checks if plan.locked_by]
    return tuple(
        Said(f"locked ({lock_words(now.base, lock)}): {'; '.join(t for t, by in plans if by == lock)}", "caution")
        for lock in dict.fromkeys(by for _, by in plans)
    )


def check(now: Consultation, rest: str) -> Reply:
    """Show one check: what to do, what to mind, and how it can come out."""
    if not rest:
        return checks(now, rest)
    record = now.check_record(_check_named(now, rest))
    _refuse_locked(now, record)
    if record.id not in {plan.id for plan in now.checks}:
        # Without letters, which belong to the check that is proposed.
        ways = " | ".join(outcome.id for outcome in record.outcomes)
        hint = f"It would tell nothing, or needs what is not on hand. If it was done: done {record.id} {ways}"
        return Reply(now, (*how_to(record, lettered=False), *said(hint, style="quiet")))
    return Reply(replace(now, chosen=record.id, correcting=False))


def _check_named(now: Consultation, typed: str) -> str:
    return find(typed, {record.id: record.title for record in now.base.checks}, now.base, "check")


def how_to(record: Check, lettered: bool = True) -> tuple[Said, ...]:
    """Tell how a check is done, what to mind, and how it can come out, the outcomes lettered where a letter enters."""
    marks = [f"{letter})" for letter in LETTERS] if lettered else ["-"] * len(record.outcomes)
    return (
        *said(f"Do this: {record.title} ({record.minutes} min)", style="title"),
        *said(*(f"  ! {precaution}" for precaution in record.precautions), style="caution"),
        *said(f"  {record.how}"),
        *said(*(f"  {mark} {outcome.title}" for mark, outcome in zip(marks, record.outcomes, strict=False))),
    )


def done(now: Consultation, rest: str) -> Reply:
    """Enter a check and how it came out."""
    name, _, outcome = rest.partition(" ")
    if not name:
        raise UnreadError("say which check, and how it came out: done power-drain no-change; 'checks' lists them")
    record = now.check_record(name)
    found = outcome_named(record, outcome.strip())
    if found is None:
        raise UnreadError(f"say how {name} came out: {', '.join(o.id for o in record.outcomes)}")
    return _enter(now, record, found)


def outcome_named(record: Check, typed: str) -> Outcome | None:
    """Give the outcome that was meant: by its letter, its id, or its words; None if none was."""
    word = typed.lower().rstrip(").")
    if len(word) == 1 and word in LETTERS[: len(record.outcomes)]:
        return record.outcomes[LETTERS.index(word)]
    spelled = word.replace(" ", "-")
    return next((o for o in record.outcomes if spelled == o.id or word == o.title.lower()), None)


def outcome_of_offered(now: Consultation, line: str) -> Reply | None:
    """Take a line for how the offered check came out, or for the reading that it is about; None if it is neither."""
    if now.check is None:
        return None
    record = now.check_record(now.check.id)
    if outcome := outcome_named(record, line):
        return _enter(now, record, outcome)
    limits = limits_of(now, record)
    if len(limits) == 1 and _READING.fullmatch(line):
        return measure(now, f"{limits[0].id} {line}")
    return None


def limits_of(now: Consultation, record: Check) -> tuple[Limit, ...]:
    """Give the quantities whose reading settles a check."""
    return tuple(limit for limit in now.base.limits if limit.finding in record.settled_by)


def _enter(now: Consultation, record: Check, outcome: Outcome) -> Reply:
    _refuse_locked(now, record)
    after = now.with_entries(OutcomeEntry(check=record.id, outcome=outcome.id))
    return Reply(after, said(f"entered: {record.title}: {outcome.title}"))


def _refuse_locked(now: Consultation, record: Check) -> None:
    if lock := now.lock_of(record):
        advice = next((f": {hazard.advice}" for hazard in now.base.hazards if hazard.id == lock), ".")
        why = lock_words(now.base, lock)
        raise CallError(f"{record.id} is locked ({why}), not to be done now{advice} ('hazards' says what lifts it)")


def measure(now: Consultation, rest: str) -> Reply:
    """Judge a reading against its published limits, and enter it if it can be believed."""
    limits = {limit.id: limit for limit in now.base.limits}
    name, _, words = rest.partition(" ")
    if name not in limits:
        raise UnreadError(f"no quantity {name!r}; known are {', '.join(limits)}")
    limit = limits[name]
    if not words.strip():
        raise CallError(f"give the reading in {limit.unit}: measure {name} {limit.nominal or limit.plausible[1]:g}")
    verdict = judge(limit, parse_reading(words))
    if verdict.value is None or verdict.state is None:
        return Reply(now, said(verdict.text, style="caution"))
    entry = MeasureEntry(
        limit=name, value=verdict.value, finding=limit.finding, state=verdict.state, verdict=verdict.text
    )
    return Reply(now.with_entries(entry), said(verdict.text))


def seen(now: Consultation, rest: str) -> Reply:
    """Enter what was seen at the bench; this, and not an owner's words, is what lifts a hazard."""
    findings = {finding.id for finding in now.base.findings}
    name, _, state = rest.partition(" ")
    if name not in findings:
        raise UnreadError(f"no finding {name!r}; 'ohmbudsman knowledge list findings' prints them")
    if state.strip().lower() not in YES + NO:
        raise CallError(f"say yes or no: seen {name} yes")
    told: State = "present" if state.strip().lower() in YES else "absent"
    entry = AnswerEntry(finding=name, state=told, words=f"seen at the bench: {state.strip()}", seen=True)
    return Reply(now.with_entries(entry), said(f"entered: {sentence_of(now.base, name, told)}"))


# ---- swaps ----

ELSEWHERE = ("other-machine", "bench", "elsewhere")
IN_PLACE = ("known-good", "good", "here")
WORKS = ("works", "work", "runs", "good", "no-change")
FAILS = ("fails", "fail", "dead", "bad", "cured")
_SWAP = "swap memory other-machine works, or swap memory known-good no-change"


def swap(now: Consultation, rest: str) -> Reply:
    """Enter a swap test: the part in a machine known to be good, or a part known to be good in this machine."""
    words = rest.lower().split()
    if len(words) < 3 or words[-2] not in ELSEWHERE + IN_PLACE or words[-1] not in WORKS + FAILS:
        raise UnreadError(f"say the part, where it was tried, and how it went: {_SWAP}")
    elsewhere = words[-2] in ELSEWHERE
    if words[-1] == ("cured" if elsewhere else "works"):
        raise CallError(f"say how it went without two meanings: {_SWAP}")
    part = find(" ".join(words[:-2]), parts_named(now.base), now.base, "part")
    verdict = "clear" if words[-1] in WORKS else "convict"
    for record in now.base.checks:
        if record.spares and (OTHER_MACHINE in record.spares) == elsewhere:
            for outcome in record.outcomes:
                if any(gives.kind == verdict and gives.about == part for gives in outcome.gives):
                    return _enter(now, record, outcome)
    raise CallError(f"there is no such swap test for {part}; enter what was seen as a note: note {rest}")


# ---- tools, spares, parts, notes ----


def have(now: Consultation, rest: str) -> Reply:
    """Tell what is on hand: `have spare psu` adds it, `have no torch` takes it off, `have only ...` starts anew.

    As long as nothing is told, every common tool is there, and no spare.
    """
    things = things_of(now.base)
    tools = {tool for record in now.base.checks for tool in record.tools}
    hand = set(now.case.have) or set(tools)
    if not rest:
        return Reply(now, said(f"on hand: {', '.join(things[item] for item in things if item in hand)}"))
    first, _, more = rest.partition(" ")
    typed = [item.strip() for item in re.split(r",|;|\band\b", more if first in ("no", "only") else rest)]
    named = {
        find(re.sub(r"^(?:an?|the|one)\s+", "", item), things, now.base, "tool or spare") for item in typed if item
    }
    hand = hand - named if first == "no" else named if first == "only" else hand | named
    if not hand:
        raise CallError("with nothing on hand there is nothing to do; name what is there: have only torch")
    entry = HandEntry(have=tuple(item for item in things if item in hand))
    verb = "not on hand" if first == "no" else "on hand"
    return Reply(
        now.with_entries(entry), said(f"{verb}: {', '.join(things[item] for item in things if item in named)}")
    )


def part(now: Consultation, rest: str) -> Reply:
    """Tell a piece of hardware, in the words of a message: part psu 450 W sfx."""
    if not rest:
        lines = tuple(Said(part_line(now.base, named)) for named in now.case.build)
        return Reply(now, lines or said("No part is named yet: part psu 450 W sfx"))
    named = now.read(rest).build
    if not named:
        raise UnreadError("I could not read a part in that; say kind and rating, such as: part psu 450 W sfx")
    entries = [PartEntry(named=at_the_bench(piece)) for piece in named]
    told = said(*(f"entered: {part_line(now.base, entry.named)}" for entry in entries))
    return Reply(now.with_entries(*entries), told)


def note(now: Consultation, rest: str) -> Reply:
    """Write a note into the case."""
    if not rest:
        raise CallError("write the note after the word: note the owner calls back at six")
    return Reply(now.with_note(rest), said("Noted."))


# ---- dangers ----

# What says nothing of what was done, and the fewest different words that may.
_NO_ACCOUNT = {*YES, *NO, *UNKNOWN, "ok", "okay", "sure", "done", "fine", "right", "all", "good"}
_FEWEST_WORDS = 3


def acknowledge(now: Consultation, line: str) -> Reply:
    """Take a line as what was done about the danger on the screen."""
    hazard = now.unanswered[0].hazard
    words = set(re.findall(r"[^\W\d_]{2,}", line.lower())) - _NO_ACCOUNT
    if len(words) < _FEWEST_WORDS:
        raise CallError("say what was done about it, in a few words: unplugged at the wall, owner told to leave it")
    return Reply(now.with_note(line, hazard.id), said(f"Noted ({hazard.title}); what it locks stays locked."))


def hazards(now: Consultation, rest: str) -> Reply:
    """Tell the dangers that are raised, what was done about them, and what lifts each."""
    lines: list[Said] = []
    for raised in now.assessment.hazards:
        hazard = raised.hazard
        style = "danger" if hazard.level == "stop" else "caution"
        lines += said(f"! {hazard.level.upper()}: {hazard.title}", style=style)
        lines += said(f"    {hazard.advice}", f"    Who takes over: {hazard.takeover}")
        lines += said(*(f"    done about it: {n.words}" for n in now.case.notes if n.hazard == hazard.id))
        lines += said(
            f"    lifted when {hazard.lifted_when}", *(f"    to say so: {way}" for way in lifts(now, hazard.id))
        )
    return Reply(now, tuple(lines) or said("No danger is raised. Look, and sniff, before mains goes on all the same."))


def lifts(now: Consultation, hazard: str) -> tuple[str, ...]:
    """Give what to type when what lifts a hazard has been seen; what is seen already is left out."""
    held = {(told.id, told.state) for told in now.case.findings}
    ways = []
    for rule in now.base.rules:
        if any(gives.lift == hazard for gives in rule.gives):
            due = [c for c in rule.when if c.finding and (c.finding, c.state) not in held]
            ways.append(" and ".join(f"seen {c.finding} {'yes' if c.state == 'present' else 'no'}" for c in due))
    return tuple(filter(None, ways))
