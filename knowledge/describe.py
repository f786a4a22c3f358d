"""Each record of the base as a page to read: a heading, and sections of lines in which other records are named.

A page is plain data, so that the terminal and the rendered pages say the same. Nothing here is escaped.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from knowledge.census import documents, records_by_kind, sources_of
from knowledge.lint import fact_of
from knowledge.models import (
    Cause,
    Check,
    Complaint,
    Condition,
    Finding,
    Hazard,
    KnowledgeBase,
    Limit,
    Outcome,
    Question,
    Rule,
    Source,
    Stage,
)
from knowledge.phrases import (
    AGAINST,
    BASIS,
    FOR,
    SEEN,
    Line,
    Ref,
    cited,
    conclusion_line,
    condition_line,
    effect,
    interval,
)
from knowledge.record import Record

# Values that say nothing of a record.
EMPTY: tuple[Any, ...] = (None, "", (), {}, False)


class Section(NamedTuple):
    """A heading and its lines."""

    heading: str
    lines: tuple[Line, ...]


class RecordPage(NamedTuple):
    """A record to read: its kind, its id, its title, and its sections; a section without lines is left out."""

    kind: str
    id: str
    title: str
    sections: tuple[Section, ...]


class Describer:
    """The base with its cross-references turned round: who concludes, looks at or asks for each record."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        self.kinds = records_by_kind(base)
        self.known = {source.id for source in base.sources}
        self._rules_giving: dict[tuple[str, str], list[Rule]] = defaultdict(list)
        self._rules_on: dict[tuple[str, str], list[Rule]] = defaultdict(list)
        for rule in base.rules:
            for given in dict.fromkeys((gives.kind, gives.about) for gives in rule.gives):
                self._rules_giving[given].append(rule)
            for looked in dict.fromkeys(fact_of(c)[:2] for c in (*rule.when, *rule.given, *rule.unless)):
                self._rules_on[looked].append(rule)
        self._outcomes_giving: dict[tuple[str, str], list[tuple[Check, str]]] = defaultdict(list)
        for check in base.checks:
            for outcome in check.outcomes:
                for gives in outcome.gives:
                    self._outcomes_giving[gives.kind, gives.about].append((check, outcome.title))

    @staticmethod
    def title(record: Any) -> str:
        """Give the words for a record: its title, or what it says."""
        return str(getattr(record, "title", "") or getattr(record, "text", "") or getattr(record, "because", ""))

    def page(self, kind: str, record: Any) -> RecordPage:
        """Lay out a record of this kind."""
        sections = DESCRIBE.get(kind, Describer.plain)(self, record)
        filled = tuple(section for section in sections if section.lines)
        return RecordPage(kind, record.id, self.title(record), filled)

    def rule(self, rule: Rule) -> list[Section]:
        """A rule: its conditions, its conclusions, why, on what authority, and its examples."""
        status = () if rule.status == "active" else ((f"This rule is {rule.status} and does not fire.",),)
        return [
            Section("Status", status),
            Section("When", _conditions(rule.when)),
            Section("Given", _conditions(rule.given)),
            Section("Unless", _conditions(rule.unless)),
            Section("Gives", tuple(conclusion_line(gives) for gives in rule.gives)),
            Section("Because", ((rule.because,),)),
            self._source(rule),
            Section("Fires on", tuple((example,) for example in rule.fires)),
            Section("Stays quiet on", tuple((example,) for example in rule.stays_quiet)),
        ]

    def cause(self, cause: Cause) -> list[Section]:
        """A cause, with the rules for it and against it, the checks that tell it apart, and its priors."""
        return [
            Section("In plain words", ((cause.plain,),)),
            Section("How it shows", ((cause.mechanism,),)),
            Section("Remedy", ((cause.remedy,), (f"{cause.minutes} attended minutes; part: {cause.part}",))),
            self._source(cause),
            self._evidence("Rules for it", cause.id, FOR),
            self._evidence("Rules against it", cause.id, AGAINST),
            Section("Checks that tell it apart", tuple(_telling(cause.id, self.base))),
            Section("Priors", tuple(_priors(cause.id, self.base))),
        ]

    def _evidence(self, heading: str, cause: str, kinds: tuple[str, ...]) -> Section:
        lines: list[Line] = []
        for rule in _each_once(rule for kind in kinds for rule in self._rules_giving[kind, cause]):
            effects = [effect(gives) for gives in rule.gives if gives.about == cause and gives.kind in kinds]
            source = cited(rule.source, self.known)
            lines.append((f"{', '.join(effects)}: ", Ref("rules", rule.id), f" — {rule.because} [", *source, "]"))
        return Section(heading, tuple(lines))

    def hazard(self, hazard: Hazard) -> list[Section]:
        """A hazard: what to do, who takes over, what it locks, and what raises and lifts it."""
        locked = [check for check in self.base.checks if set(check.risks) & set(hazard.locks)]
        return [
            Section("Level", ((hazard.level,),)),
            Section("What to do", ((hazard.advice,),)),
            Section("Who takes over", ((hazard.takeover,),)),
            Section("Lifted when", ((hazard.lifted_when,),)),
            self._source(hazard),
            self._givers("Raised by", "hazard", hazard.id),
            self._givers("Lifted by", "lift", hazard.id),
            Section("Locks what carries the risk", tuple((risk,) for risk in hazard.locks)),
            Section("Comes before all else", ((Ref("checks", hazard.first),),) if hazard.first else ()),
            Section("Checks that it locks", tuple((Ref("checks", check.id), f" — {check.title}") for check in locked)),
        ]

    def check(self, check: Check) -> list[Section]:
        """A check: how, with what, under which precautions, and each outcome with what it does to belief."""
        wait = f", and {check.wait} minutes of waiting" if check.wait else ""
        things = [(name, getattr(check, name)) for name in ("tools", "spares", "setup", "risks")]
        needs = [(f"{name}: {', '.join(listed)}",) for name, listed in things if listed]
        outcomes = [Section(f"Outcome: {o.title}", _outcome(o)) for o in check.outcomes]
        return [
            Section("How", ((check.how,),)),
            Section("Precautions", tuple((text,) for text in check.precautions)),
            Section("Who, how long, with what", ((f"{check.who}, {check.minutes} attended minutes{wait}",), *needs)),
            Section("Offered when", _conditions(check.when)),
            Section("Not offered with", _conditions(check.unless)),
            Section("Not needed once known", tuple((Ref("findings", finding),) for finding in check.settled_by)),
            *outcomes,
            self._source(check),
            self._givers("Locked by", "lock", check.id),
        ]

    def finding(self, finding: Finding) -> list[Section]:
        """A finding: what its states mean, how it is told, what concludes it and what looks at it."""
        asked = [(Ref("questions", q.id), f" — {q.text}") for q in self.base.questions if q.asks == finding.id]
        measured = [(Ref("limits", m.id), f" — {m.title}") for m in self.base.limits if m.finding == finding.id]
        settled = [(Ref("checks", c.id), f" — {c.title}") for c in self.base.checks if finding.id in c.settled_by]
        return [
            Section("Present", ((finding.present,),)),
            Section("Absent", ((finding.absent,),)),
            Section("Kind", ((finding.kind,), (f"evidence group: {finding.evidence_group}",))),
            Section("How often it is present where the fault is unrelated", ((f"{finding.rate:g}",),)),
            Section("Asked by", tuple(asked)),
            Section("Measured as", tuple(measured)),
            Section("Settles", tuple(settled)),
            self._givers("Concluded by", "finding", finding.id),
            self._lookers("finding", finding.id),
        ]

    def complaint(self, complaint: Complaint) -> list[Section]:
        """A complaint class: its share, and the priors of the causes in it."""
        priors = sorted(complaint.priors.items(), key=lambda item: -item[1][0])
        return [
            Section("Share of the work", ((f"{complaint.share:.0%}",),)),
            Section(
                f"Priors, worth {complaint.firmness} closed cases",
                tuple((Ref("causes", cause), f" — {weight:g} {BASIS[basis]}") for cause, (weight, basis) in priors),
            ),
            self._givers("Concluded by", "complaint", complaint.id),
            self._lookers("complaint", complaint.id),
        ]

    def question(self, question: Question) -> list[Section]:
        """A question: what it settles, why it is asked, and when."""
        return [
            Section("Settles", ((Ref("findings", question.asks),),)),
            Section("Why", ((question.why,),)),
            Section("Asked when", _conditions(question.when)),
            Section("Not asked with", _conditions(question.unless)),
            self._givers("Asked for by", "ask", question.id),
        ]

    def stage(self, stage: Stage) -> list[Section]:
        """A rung of the power-up chain: when it is reached, and what says so."""
        return [
            Section("Reached when", ((stage.reached_when,),)),
            self._givers("Reached by", "reached", stage.id),
            self._givers("Failure is concluded by", "fails_at", stage.id),
        ]

    def limit(self, limit: Limit) -> list[Section]:
        """A measured quantity: the published bands, each with its source."""
        bands: list[Line] = []
        for band in limit.bands:
            what = ", ".join(filter(None, (band.edition, band.only)))
            note = f" ({band.note})" if band.note else ""
            bands.append(
                (f"{what}: {interval(band.low, band.high)} {limit.unit}{note} [", *cited(band.source, self.known), "]")
            )
        return [
            Section("Settles", ((Ref("findings", limit.finding),),)),
            Section("Bands", tuple(bands)),
            Section("A meter can show", ((f"{interval(*limit.plausible)} {limit.unit}",),)),
        ]

    def source(self, source: Source) -> list[Section]:
        """A published document, and every record that rests on it."""
        resting: list[Line] = []
        for kind, records in self.kinds.items():
            for record in records:
                places = [text for text in sources_of(record) if source.id in documents(text, self.known)]
                if places:
                    resting.append((Ref(kind, record.id), f" — {'; '.join(dict.fromkeys(places))}"))
        return [
            Section("Edition", ((source.edition,),) if source.edition else ()),
            Section("Publisher", ((source.publisher,),) if source.publisher else ()),
            Section("How far it was read", ((SEEN[source.seen],),)),
            Section("What rests on it", tuple(resting)),
        ]

    def plain(self, record: Any) -> list[Section]:
        """Any other record: each key that is filled in, and the source."""
        keys = [(key, value) for key, value in record if key not in ("id", "title", "source") and value not in EMPTY]
        filled = [Section(key.replace("_", " ").capitalize(), ((_in_words(value),),)) for key, value in keys]
        return [*filled, self._source(record)] if getattr(record, "source", "") else filled

    def _source(self, record: Any) -> Section:
        return Section("Source", (cited(record.source, self.known),))

    def _givers(self, heading: str, kind: str, about: str) -> Section:
        rules: list[Line] = [(Ref("rules", rule.id), f" — {rule.because}") for rule in self._rules_giving[kind, about]]
        outcomes = self._outcomes_giving[kind, about]
        rules += [(Ref("checks", check.id), f" — outcome: {title}") for check, title in outcomes]
        return Section(heading, tuple(rules))

    def _lookers(self, kind: str, about: str) -> Section:
        rules = self._rules_on[kind, about]
        return Section("Looked at by", tuple((Ref("rules", rule.id), f" — {rule.because}") for rule in rules))


def _in_words(value: Any) -> str:
    if isinstance(value, tuple):
        return ", ".join(map(_in_words, value))
    if isinstance(value, dict):
        return ", ".join(f"{key} {_in_words(item)}" for key, item in value.items())
    if isinstance(value, Record):
        return "; ".join(f"{key.replace('_', ' ')} {_in_words(item)}" for key, item in value if item not in EMPTY)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _each_once(rules: Iterable[Rule]) -> Iterable[Rule]:
    return {rule.id: rule for rule in rules}.values()


def _conditions(conditions: Iterable[Condition]) -> tuple[Line, ...]:
    return tuple(condition_line(condition) for condition in conditions)


def _outcome(outcome: Outcome) -> tuple[Line, ...]:
    named = sorted(outcome.likely.items(), key=lambda item: -item[1])
    likely: list[str | Ref] = ["Probability: "]
    for cause, probability in named:
        likely += [f"{probability:g} with ", Ref("causes", cause), ", "]
    return (
        *(conclusion_line(gives) for gives in outcome.gives),
        (*likely, f"{outcome.otherwise:g} with any other cause"),
    )


def _telling(cause: str, base: KnowledgeBase) -> Iterable[Line]:
    for check in base.checks:
        for outcome in check.outcomes:
            likely = outcome.likely.get(cause, outcome.otherwise)
            if likely != outcome.otherwise:
                than = f"{likely:g} against {outcome.otherwise:g} with other causes"
                yield Ref("checks", check.id), f" — {outcome.title}: {than}"


def _priors(cause: str, base: KnowledgeBase) -> Iterable[Line]:
    for complaint in base.complaints:
        if cause in complaint.priors:
            weight, basis = complaint.priors[cause]
            yield Ref("complaints", complaint.id), f" — {weight:g} {BASIS[basis]}"


DESCRIBE: dict[str, Callable[[Describer, Any], list[Section]]] = {
    "rules": Describer.rule,
    "checks": Describer.check,
    "questions": Describer.question,
    "findings": Describer.finding,
    "causes": Describer.cause,
    "hazards": Describer.hazard,
    "complaints": Describer.complaint,
    "stages": Describer.stage,
    "limits": Describer.limit,
    "sources": Describer.source,
}
