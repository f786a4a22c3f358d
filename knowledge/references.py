"""Cross-references between records: every id that is used must exist, and sources must be real."""

from collections.abc import Iterator
from difflib import get_close_matches

from pydantic import BaseModel

from knowledge.models import Check, Conclusion, Condition, KnowledgeBase, Rule
from knowledge.shapes import BeepMeaning, Checkpoint, CodeShape, StopCode
from knowledge.wordings import Wording

PRACTICE = "common practice"
MEMORY = "from memory"
UNFOUND = "no published source found"  # looked for, and not found or not to be read; the figure is from memory
UNPUBLISHED = (PRACTICE, MEMORY, UNFOUND)

# A fault: (section, id of the record), and what is wrong with it.
Fault = tuple[tuple[str, str], str]


def label_of(record: BaseModel) -> str:
    """Name a record in a fault: by its id, or by the finding or the code that it is about."""
    for key in ("id", "finding", "code", "pattern", "record"):
        if value := getattr(record, key, None):
            return str(value)
    return " ".join(
        str(getattr(record, key)) for key in ("family", "first", "category", "value") if hasattr(record, key)
    )


class _Index:
    """The known ids of each kind, and the complaint about one that is not known."""

    def __init__(self, base: KnowledgeBase) -> None:
        stages = {s.id for s in base.stages}
        causes = {c.id for c in base.causes}
        parts = {c.part for c in base.causes}
        self.strengths = {s.id for s in base.strengths}
        self.sources = {s.id for s in base.sources}
        self.outcomes = {c.id: {o.id for o in c.outcomes} for c in base.checks}
        self.ids: dict[str, set[str]] = {
            "finding": {f.id for f in base.findings},
            "complaint": {c.id for c in base.complaints},
            "hazard": {h.id for h in base.hazards},
            "lift": {h.id for h in base.hazards},
            "reached": stages,
            "fails_at": stages,
            "check": set(self.outcomes),
            "lock": set(self.outcomes),
            "ask": {q.id for q in base.questions},
            "part": parts,
            "clear": parts,
            "convict": parts,
            **dict.fromkeys(("cause", "exclude", "confirm", "support", "weaken"), causes),
        }

    def unknown(self, kind: str, used: str) -> str | None:
        """Say that there is no such id, with the nearest known one; None if there is."""
        known = self.ids[kind]
        if used in known:
            return None
        close = get_close_matches(used, sorted(known), n=1)
        return f"{kind}: no such id {used!r}" + (f"; did you mean {close[0]!r}?" if close else "")

    def source(self, text: str) -> str | None:
        """Say what is wrong with a source: a source id with a place, or one of those that are no document."""
        if text in UNPUBLISHED or text.split()[0] in self.sources:
            return None
        plain = ", ".join(map(repr, UNPUBLISHED))
        return f"source: {text!r} is neither {plain} nor begins with the id of a [[source]]"


def reference_faults(base: KnowledgeBase) -> Iterator[Fault]:
    """Yield every reference of the base that leads nowhere."""
    index = _Index(base)
    for rule in base.rules:
        yield from ((("rule", rule.id), fault) for fault in _rule_faults(rule, index))
    for check in base.checks:
        yield from ((("check", check.id), fault) for fault in _check_faults(check, index))
    for question in base.questions:
        faults = _condition_faults((*question.when, *question.unless), index)
        yield from ((("question", question.id), fault) for fault in faults)
    for key, kind, used in _plain_references(base):
        if fault := index.unknown(kind, used):
            yield key, fault
    for key, source in _plain_sources(base):
        if fault := index.source(source):
            yield key, fault


def _rule_faults(rule: Rule, index: _Index) -> Iterator[str]:
    yield from _condition_faults((*rule.when, *rule.given, *rule.unless), index)
    yield from _conclusion_faults(rule.gives, index)
    if fault := index.source(rule.source):
        yield fault


def _check_faults(check: Check, index: _Index) -> Iterator[str]:
    yield from _condition_faults((*check.when, *check.unless), index)
    used = [("finding", finding) for finding in check.settled_by]
    for outcome in check.outcomes:
        yield from _conclusion_faults(outcome.gives, index)
        used += [("cause", cause) for cause in outcome.likely]
    yield from (fault for kind, one in used if (fault := index.unknown(kind, one)))
    named = {cause for outcome in check.outcomes for cause in outcome.likely}
    for cause in sorted(named | {"every other cause"}):
        total = sum(outcome.likely.get(cause, outcome.otherwise) for outcome in check.outcomes)
        if abs(total - 1.0) > 1e-6:
            yield f"outcomes: the probabilities for {cause} sum to {total:.4g}, not to 1"
    if fault := index.source(check.source):
        yield fault


def _condition_faults(conditions: tuple[Condition, ...], index: _Index) -> Iterator[str]:
    for condition in conditions:
        for kind in ("finding", "complaint", "hazard", "reached", "fails_at", "check"):
            used = getattr(condition, kind)
            if used and (fault := index.unknown(kind, used)):
                yield fault
        if condition.check in index.outcomes and condition.outcome not in index.outcomes[condition.check]:
            yield f"outcome: check {condition.check!r} has no outcome {condition.outcome!r}"


def _conclusion_faults(conclusions: tuple[Conclusion, ...], index: _Index) -> Iterator[str]:
    for conclusion in conclusions:
        if fault := index.unknown(conclusion.kind, conclusion.about):
            yield fault
        if conclusion.strength and conclusion.strength not in index.strengths:
            yield f"strength: {conclusion.strength!r} is none of {', '.join(sorted(index.strengths))}"


def _plain_references(base: KnowledgeBase) -> Iterator[tuple[tuple[str, str], str, str]]:
    for finding in base.findings:
        others = (
            *finding.yields_to,
            *(claim.partition("=")[0] for claim in finding.excludes),
            *finding.told_by,
            *filter(None, [finding.blunts_to, finding.while_off, finding.sharpens_to]),
        )
        yield from ((("finding", finding.id), "finding", other) for other in others)
    yield from ((("hazard", hazard.id), "check", hazard.first) for hazard in base.hazards if hazard.first)
    for complaint in base.complaints:
        yield from ((("complaint", complaint.id), "cause", cause) for cause in complaint.priors)
    for pair in base.pairs:
        yield from ((("pair", pair.id), "cause", cause) for cause in (pair.first, pair.then))
    for question in base.questions:
        yield ("question", question.id), "finding", question.asks
    for limit in base.limits:
        yield ("limit", limit.id), "finding", limit.finding
    for section, record in _read_records(base):
        yield (section, label_of(record)), "finding", record.finding
    for section, coded in _code_tables(base):
        yield from (((section, label_of(coded)), "part", part) for part in coded.points_at)


def _plain_sources(base: KnowledgeBase) -> Iterator[tuple[tuple[str, str], str]]:
    yield from ((("cause", cause.id), cause.source) for cause in base.causes)
    yield from ((("hazard", hazard.id), hazard.source) for hazard in base.hazards)
    yield from ((("pair", pair.id), pair.source) for pair in base.pairs)
    yield from ((("limit", limit.id), band.source) for limit in base.limits for band in limit.bands)
    yield from (((section, label_of(coded)), coded.source) for section, coded in _code_tables(base))


def _read_records(base: KnowledgeBase) -> Iterator[tuple[str, Wording | CodeShape]]:
    yield from (("wording", wording) for wording in base.wordings)
    yield from (("code-shape", shape) for shape in base.code_shapes)


def _code_tables(base: KnowledgeBase) -> Iterator[tuple[str, StopCode | BeepMeaning | Checkpoint]]:
    yield from (("stop-code", stop) for stop in base.stop_codes)
    yield from (("beep-meaning", beep) for beep in base.beep_meanings)
    yield from (("checkpoint", checkpoint) for checkpoint in base.checkpoints)
