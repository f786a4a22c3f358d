"""The report as Markdown: the justification of each conclusion down to the quote or the answer that it rests on."""

import re
from collections.abc import Iterable

from expert.report.derivation import Reason, Root, reason_of
from expert.report.model import BandLine, CaseReport, CauseLine, CheckLine
from expert.report.plain import printable
from expert.report.wording import (
    ACTIONS,
    CAUTION,
    LEVELS,
    NO_DANGER,
    NOT_ENGLISH,
    RESULTS,
    SHOWN,
    STATES,
    SURENESS,
    clock,
    gives_words,
    percent,
    spent,
    spoken,
    weight_words,
)

# What Markdown or HTML in it would take for a mark, wherever it stands.
_MARKS = re.compile(r"([\\`*_\[\]<>|~&#])")
NO_STEPS = "Nothing is cleared or convicted yet."


def write_markdown(report: CaseReport) -> str:
    """Give the report as CommonMark with tables; what a person wrote stays text in it."""
    sections = (
        _head(report),
        _hazards(report),
        _message(report),
        _findings(report),
        _stage(report),
        _causes(report),
        _course(report),
        _bench(report),
        _parts(report),
        _open(report),
        _plan(report),
        _next(report),
        _end(report),
        _trace(report),
        _sources(report),
    )
    return "\n".join(line for lines in sections for line in lines).strip() + "\n"


def md(text: str) -> str:
    """Give a text on one line with every mark of Markdown and HTML escaped."""
    return _MARKS.sub(r"\\\1", printable(text))


def _section(title: str, lines: Iterable[str]) -> list[str]:
    filled = list(lines)
    return [f"## {title}", "", *filled, ""] if filled else []


def _head(report: CaseReport) -> list[str]:
    name = f"Case {report.number}" if report.number is not None else "A case"
    next_up = f"What comes next: **{md(report.plan.decision.text)}**"
    return [f"# {name}: findings, causes, and why", "", CAUTION, "", f"Time: {spent(report)}", "", next_up, ""]


def _hazards(report: CaseReport) -> list[str]:
    lines = [] if report.hazards else [NO_DANGER]
    for hazard in report.hazards:
        lines += [f"- **{LEVELS[hazard.level]}: {md(hazard.title)}.** {md(hazard.advice)}"]
        lines += [f"  - Who takes over: {md(hazard.takeover)}", f"  - Lifted when {md(hazard.lifted_when)}."]
        lines += [f"  - What was done: {md(words)}" for words in hazard.done]
        lines += [line for n in hazard.firings for line in _reason(reason_of(report, n), 1)]
    return _section("Danger first", lines)


def _message(report: CaseReport) -> list[str]:
    if report.message is None:
        return []
    blanked = report.message.redactions
    note = [f"Personal data is blanked: {blanked} {'place' if blanked == 1 else 'places'}.", ""] if blanked else []
    if report.message.language != "en":
        note += [NOT_ENGLISH, ""]
    quoted = [f"> {md(line)}  ".rstrip() if line.strip() else ">" for line in report.message.text.strip().split("\n")]
    return _section("The message", [*note, *quoted])


def _findings(report: CaseReport) -> list[str]:
    lines = []
    for told in report.findings:
        if told.told == "measurement":
            lines.append(f"- {md(told.quote)} ({_origin(told.told, told.at)})")
            continue
        detail = f" ({told.detail_words})" if told.detail else ""
        sure = SURENESS[told.certainty]
        hedge = f" ({sure})" if sure else ""
        lines.append(f"- {md(told.sentence + detail)}{hedge} - “{md(told.quote)}” ({_origin(told.told, told.at)})")
    lines += [f"- {md(item.title)}: “{md(item.text)}”" for item in report.build]
    return _section("What is known", lines)


def _origin(told: str, at: str) -> str:
    return ", ".join(filter(None, (told, clock(at) if told != "message" else "")))


def _stage(report: CaseReport) -> list[str]:
    return _section(
        "How far it gets",
        [f"{n}. {md(rung.title)}: **{STATES[rung.state]}**" for n, rung in enumerate(report.stage, 1)],
    )


def _causes(report: CaseReport) -> list[str]:
    told: set[int] = set()
    lines = [line for cause in report.likely[:SHOWN] for line in _cause(report, cause, told)]
    others = ", ".join(f"{md(c.title)} {percent(c.probability)}" for c in report.likely[SHOWN : 2 * SHOWN])
    lines += [f"Less likely: {others}.", ""] if others else []
    out = [cause for cause in report.causes if cause.status == "excluded"]
    lines += ["### As good as ruled out", ""] if out else []
    for cause in out:
        lines.append(f"- {md(cause.title)}")
        lines += [
            line for g in cause.grounds if g.weight < 0 for line in _reason(reason_of(report, g.firing), 1, "", told)
        ]
    return _section("Likely causes", lines)


def _cause(report: CaseReport, cause: CauseLine, told: set[int]) -> list[str]:
    confirmed = ", confirmed" if cause.status == "confirmed" else ""
    lines = [f"### {percent(cause.probability)}: {md(cause.title)}{confirmed}", "", md(cause.plain)]
    lines += [f"Remedy: {md(cause.remedy)}", ""]
    for ground in cause.grounds:
        side = "for" if ground.weight > 0 else "against"
        lines += _reason(reason_of(report, ground.firing), 0, f"{side}, {weight_words(ground)}: ", told)
    lines += [] if cause.grounds else ["- Only how common this fault is speaks here, no finding does."]
    return [*lines, ""]


def _reason(reason: Reason | Root, depth: int, before: str = "", told: set[int] | None = None) -> list[str]:
    """Write a derivation as a nested list, each rule with what it rests on below it.

    A firing that was `told` above is named there and not derived again; those told here are added.
    """
    indent = "  " * depth
    if isinstance(reason, Root):
        return [f"{indent}- {md(reason.words)}"]
    firing = reason.firing
    told = set() if told is None else told
    if firing.n in told:
        return [f"{indent}- {before}as above (firing {firing.n}: {md(firing.rule)})"]
    told.add(firing.n)
    line = f"{indent}- {before}{md(firing.because)} (firing {firing.n}: {md(firing.rule)}; {md(firing.source)})"
    return [line, *(below for rested in reason.rests_on for below in _reason(rested, depth + 1, "", told))]


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> list[str]:
    lines = [" | ".join(cells) for cells in (list(head), *map(list, rows))]
    columns = len(lines[0].split(" | "))
    return [f"| {lines[0]} |", "|" + " --- |" * columns, *(f"| {line} |" for line in lines[1:])]


def _course(report: CaseReport) -> list[str]:
    course = report.course
    if not course.moments:
        return []
    rows = [
        [str(n), md(m.words), *(percent(p) for p in m.probabilities)] for n, m in enumerate(course.moments, start=1)
    ]
    return _section("How the ranking moved", _table(["", "after", *map(md, course.titles)], rows))


def _bench(report: CaseReport) -> list[str]:
    measured = [
        [md(f"{m.title}: {m.value:g} {m.unit}"), "; ".join(_limit(band) for band in m.bands), RESULTS[m.state]]
        for m in report.measurements
    ]
    done = [f"- {md(d.title)}: {md(d.outcome_title)} ({d.minutes} min{_at(d.at)})" for d in report.done]
    table = _table(["reading", "limits", "verdict"], measured) if measured else []
    return [*_section("Measured", table), *_section("Checks done", done)]


def _limit(band: BandLine) -> str:
    side = {True: "inside ", False: "outside ", None: ""}[band.inside]
    return f"{side}{band.text} ({md(', '.join(filter(None, (band.edition, band.only, band.source))))})"


def _at(at: str) -> str:
    return f", {clock(at)}" if clock(at) else ""


def _parts(report: CaseReport) -> list[str]:
    lines = []
    for part in (part for part in report.parts if part.grounds or part.ask):
        lines.append(f"- {md(part.title)}: **{part.status}**, {percent(part.probability)} of the belief")
        for ground in part.grounds:
            taken = f" (if {md(ground.assumes)})" if ground.assumes else ""
            lines.append(f"  - {ground.verdict} it: {md(ground.because)}{taken} (firing {ground.firing})")
    return _section("Parts cleared and convicted", lines or [NO_STEPS])


def _open(report: CaseReport) -> list[str]:
    lines = []
    for group in report.groups:
        lines.append(f"- {md(', '.join(group.titles))}: {percent(group.probability)} together")
        lines += [
            f"  - {md(s.title)} would tell, with {md(spoken(s.missing) or 'nothing more')}" for s in group.separators
        ]
    lines += ["- Further testing costs more than it saves: decide."] if report.decide else []
    contradictions = [f"- {md(c.text)} To settle: {md(c.settle)}" for c in report.contradictions]
    return [*_section("What could not be told apart", lines), *_section("What cannot both be right", contradictions)]


def _plan(report: CaseReport) -> list[str]:
    plan = report.plan
    lines = [f"- **{md(plan.decision.text)}**"]
    lines += [f"- {ACTIONS[act]}: {md('; '.join(parts))} - {md(why)}" for (act, why), parts in plan.grouped.items()]
    for title, texts in (
        ("Not tried", plan.refused),
        ("A new part must fit", plan.requirements),
        ("Nothing on sale fits", plan.stuck),
        ("The supply", plan.supply),
        ("To be known before an order", plan.asks),
        ("May have gone with it", plan.along),
        ("Cost", plan.cost),
    ):
        lines += [f"- {title}: {md(text)}" for text in texts]
    checked = [f"- [ ] {md(v.title)}: {md(v.how)} Good: {md(v.good)}. ({md(v.source)})" for v in plan.verification]
    return [*_section("The plan", lines), *_section("Before it goes home", checked)]


def _next(report: CaseReport) -> list[str]:
    free = [check for check in report.checks if check.locked_by is None][:SHOWN]
    lines = [line for number, check in enumerate(free, start=1) for line in _check(number, check)]
    lines += [f"- Not to be done ({md(why)}): {md('; '.join(titles))}." for why, titles in report.locked.items()]
    questions = [f"- {md(question.text)} ({md(question.why)})" for question in report.questions[:SHOWN]]
    return [*_section("What to check next", lines), *_section("What to ask the owner", questions)]


def _check(number: int, check: CheckLine) -> list[str]:
    needs = f"; needs {spoken(check.needs)}" if check.needs else ""
    lines = [f"{number}. {md(check.title)} ({check.minutes} min{md(needs)}): {md(check.why)}"]
    return lines + [f"   - Caution: {md(text)}" for text in check.precautions]


def _end(report: CaseReport) -> list[str]:
    notes = [f"- {md(note.words)}{f' ({clock(note.at)})' if clock(note.at) else ''}" for note in report.notes]
    closed = report.closed
    lines = []
    if closed:
        replaced = f" Replaced: {md(', '.join(closed.replaced))}." if closed.replaced else ""
        lines = [f"Cause: {md(closed.title)}.{replaced} {md(closed.words)}".rstrip()]
    return [*_section("Notes", notes), *_section("How it ended", lines)]


def _trace(report: CaseReport) -> list[str]:
    lines = []
    for firing in report.trace:
        rested = ", ".join(f"firing {ref}" if isinstance(ref, int) else ref for ref in firing.from_)
        lines.append(
            f"{firing.n}. {md(firing.because)} ({md(firing.rule)}; {md(firing.source)}) "
            f"From {md(rested)}; gives {md(gives_words(firing.gives))}."
        )
    return _section("Rules that fired", lines)


def _sources(report: CaseReport) -> list[str]:
    return _section(
        "Sources",
        [f"- {s.id}: {md('. '.join(filter(None, (s.title, s.edition, s.publisher))))}" for s in report.sources],
    )
