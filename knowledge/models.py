"""The records of the knowledge base, frozen and validated; wordings, shapes and fits have modules of their own."""

from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field, model_validator

from knowledge.fit_models import FitRecords
from knowledge.record import Accepted, Id, Record, Text
from knowledge.shapes import BeepMeaning, Checkpoint, CodeShape, Naming, Piece, Shape, StopCode
from knowledge.wordings import Concept, Cue, Wording

State = Literal["present", "absent", "unknown"]
Level = Literal["stop", "caution", "notice"]
Who = Literal["owner", "bench"]
Probability = Annotated[float, Field(ge=0.0, le=1.0)]

# What a check does to the machine, so that a hazard can lock it without naming it.
Risk = Literal[
    "energise",  # mains reaches the machine, or the machine is switched on
    "bridge-start-pin",  # the supply's start pin is bridged on the bench
    "substitute-supply",  # another supply is put in its place
    "adapt-lead",  # a lead or adapter from elsewhere is used
    "inside",  # the case is open and hands are in it
    "heat",  # the machine runs under load
    "erase-data",  # data or settings may be lost
    "press-pack",  # a battery pack may be pressed, bent or moved
]


class Source(Record):
    """A published document that limits and rules refer to by id; `seen` says how far it was read."""

    id: Id
    title: Text
    edition: str = ""
    publisher: str = ""
    seen: Literal["read", "read-2", "memory"]


class Stage(Record):
    """A rung of the power-up chain; the order in the file is the order of the chain."""

    id: Id
    title: Text
    reached_when: Text


class Finding(Record):
    """Something that can be present, absent or unknown in a case.

    `group`: findings of one group tell the same thing and never count twice; the default is the finding itself.
    `rate`: how often the finding is present in machines whose fault has nothing to do with it; used for planning only.
    `yields_to`: a bare claim is dropped where one of these is told present as well.
    `excludes`: what is never said beside it ("wont-start=absent"); of two of which one is guessed the likelier stays.
    `comes_and_goes`: told once it stays told, since "none with the other card" or "not so far today" does not undo it.
    `ends_trials`: told present after a trial in the same sentence it is how that ended ("his card gave a picture").
    `blunts_to`: a claim that yields denies this instead ("dead, only the board is lit": it ignores the button).
    `while_off`: what it shows as well where what another finding is blunted to is denied (it ignores the button).
    `told_by`: signs that count beside it though all their words are its own ("shut down, the fans go on").
    `sharpens_to`: a bare claim becomes this where two or more others of its group are denied and none is present.
    `spoken_of`: it is enough that it is asked about, planned or advised ("can I open the supply?").
    """

    id: Id
    title: Text
    kind: Literal["sign", "danger", "event", "trial", "machine", "measure"]
    present: Text
    absent: Text
    group: Id | None = None
    detail: Literal["pattern", "code", "light", "part", "outcome", "value"] | None = None
    rate: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.2
    yields_to: tuple[Id, ...] = ()
    excludes: tuple[Annotated[str, Field(pattern=r"^[a-z0-9-]+(=absent)?$")], ...] = ()
    comes_and_goes: bool = False
    ends_trials: bool = False
    blunts_to: Id | None = None
    while_off: Id | None = None
    told_by: tuple[Id, ...] = ()
    sharpens_to: Id | None = None
    spoken_of: bool = False

    @property
    def evidence_group(self) -> str:
        """The group in which this finding counts as evidence."""
        return self.group or self.id


class Cause(Record):
    """A fault: where it sits, how it is put in plain words, and what mends it."""

    id: Id
    title: Text
    part: Id
    plain: Text
    mechanism: Text
    remedy: Text
    minutes: Annotated[int, Field(gt=0)]
    source: Text


class Complaint(Record):
    """A complaint class: its share of the work of a bench, and the priors of the causes in it.

    `priors` maps a cause to (weight, basis): P published figure, D derived from one, C judgement.
    `firmness` is the number of closed cases that the priors are worth.
    """

    id: Id
    title: Text
    share: Probability
    firmness: Annotated[int, Field(gt=0)]
    priors: dict[Id, tuple[float, Literal["P", "D", "C"]]]


class Pair(Record):
    """Two faults that come together: `chance` is how often the first one takes the second part with it."""

    id: Id
    title: Text
    first: Id
    then: Id
    chance: Annotated[float, Field(gt=0.0, lt=1.0)]
    because: Text
    source: Text


class Hazard(Record):
    """An unsafe situation: its level, the advice, who takes over, and the risks that it locks.

    `plain` is the advice in words for the owner, where `advice` speaks to the bench. `first` is the check that comes
    before every other one, and before anything is replaced, while the hazard stands.
    """

    id: Id
    title: Text
    level: Level
    advice: Text
    plain: str = ""
    takeover: Text
    locks: tuple[Risk, ...]
    first: Id | None = None
    lifted_when: Text
    source: Text


class Condition(Record):
    """What must hold: a finding in a state (with a detail, if given), a complaint, a hazard, a rung, an outcome."""

    finding: Id | None = None
    state: State = "present"
    detail: Id | None = None
    complaint: Id | None = None
    hazard: Id | None = None
    reached: Id | None = None
    fails_at: Id | None = None
    check: Id | None = None
    outcome: Id | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> "Condition":
        kinds = [k for k in ("finding", "complaint", "hazard", "reached", "fails_at", "check") if getattr(self, k)]
        if len(kinds) != 1:
            raise ValueError("give exactly one of finding, complaint, hazard, reached, fails_at, check")
        if (self.check is None) != (self.outcome is None):
            raise ValueError("check and outcome belong together")
        if self.finding is None and (self.detail or self.state != "present"):
            raise ValueError("state and detail belong to a finding")
        return self


class Conclusion(Record):
    """What follows: exactly one kind a conclusion."""

    finding: Id | None = None
    state: Literal["present", "absent"] = "present"
    complaint: Id | None = None
    reached: Id | None = None
    fails_at: Id | None = None
    hazard: Id | None = None
    lift: Id | None = None
    exclude: Id | None = None
    confirm: Id | None = None
    support: Id | None = None
    weaken: Id | None = None
    strength: Id | None = None
    lock: Id | None = None
    ask: Id | None = None
    clear: Id | None = None
    convict: Id | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> "Conclusion":
        if len(self.kinds) != 1:
            raise ValueError(f"give exactly one of {', '.join(CONCLUSION_KINDS)}")
        if (self.kind in ("support", "weaken", "exclude")) < (self.strength is not None):
            raise ValueError("strength belongs to support, weaken or exclude")
        if self.kind in ("support", "weaken") and self.strength is None:
            raise ValueError("support and weaken need a strength")
        if self.finding is None and self.state != "present":
            raise ValueError("state belongs to a finding")
        return self

    @property
    def kinds(self) -> list[str]:
        """The kinds that are filled in."""
        return [k for k in CONCLUSION_KINDS if getattr(self, k)]

    @cached_property
    def kind(self) -> str:
        """The one kind of this conclusion."""
        return self.kinds[0]

    @property
    def about(self) -> str:
        """The id that this conclusion is about."""
        return str(getattr(self, self.kind))


CONCLUSION_KINDS = (
    *("finding", "complaint", "reached", "fails_at", "hazard", "lift"),
    *("exclude", "confirm", "support", "weaken", "lock", "ask", "clear", "convict"),
)


class Rule(Record):
    """If all of `when` and `given` hold and none of `unless`, then `gives`.

    `when` is the evidence; `given` is the setting in which it speaks and does not count as evidence.
    `unless` may only look at what lower strata conclude. `fires` and `stays_quiet` are sets of findings
    ("dead, outlet-good=absent, part-replaced:memory") that must fire the rule, or must not (the near misses).
    """

    id: Id
    when: Annotated[tuple[Condition, ...], Field(min_length=1)]
    given: tuple[Condition, ...] = ()
    unless: tuple[Condition, ...] = ()
    gives: Annotated[tuple[Conclusion, ...], Field(min_length=1)]
    because: Text
    source: Text
    status: Literal["draft", "active", "withdrawn"] = "active"
    fires: Annotated[tuple[str, ...], Field(min_length=1)]
    stays_quiet: Annotated[tuple[str, ...], Field(min_length=1)]


class Outcome(Record):
    """One possible result of a check.

    `likely` maps causes to P(this outcome | cause); every other cause has `otherwise`.
    Over the outcomes of a check these sum to one for each cause.
    `gives` are the conclusions drawn besides the belief (a rung reached, a part cleared, a finding).
    `mended` says what was done where the trouble is gone with the machine's own parts: nothing is left to replace.
    """

    id: Id
    title: Text
    likely: dict[Id, Probability] = Field(default_factory=dict)
    otherwise: Probability
    gives: tuple[Conclusion, ...] = ()
    mended: str = ""


class Check(Record):
    """Something to do at the machine that tells causes apart.

    `minutes` are attended, `wait` unattended. `setup` names states of the machine that several checks share
    (`case-open`, `board-out`), so that getting there is counted once. `when` must hold for the check to be
    offered; `unless` must not.
    """

    id: Id
    title: Text
    how: Text
    minutes: Annotated[int, Field(gt=0)]
    wait: Annotated[int, Field(ge=0)] = 0
    who: Who
    tools: tuple[Id, ...] = ()
    spares: tuple[Id, ...] = ()
    setup: tuple[Id, ...] = ()
    risks: tuple[Risk, ...] = ()
    precautions: tuple[Text, ...] = ()
    when: tuple[Condition, ...] = ()
    unless: tuple[Condition, ...] = ()
    settled_by: tuple[Id, ...] = ()
    outcomes: Annotated[tuple[Outcome, ...], Field(min_length=2)]
    source: Text


class Question(Record):
    """Something to ask the owner: settles one finding, by yes (present) or no (absent).

    `risks`: what somebody would have to do to find the answer out, or may be tempted to; as for a check, a hazard
    that locks one of them keeps the question from being asked.
    """

    id: Id
    text: Text
    asks: Id
    why: Text
    minutes: Annotated[int, Field(gt=0)] = 1
    risks: tuple[Risk, ...] = ()
    when: tuple[Condition, ...] = ()
    unless: tuple[Condition, ...] = ()


class Band(Record):
    """The limits that one source prints for a quantity, as printed there; both ends belong to the band.

    `edition` is the kind of supply, port or cell that it holds for, in words. `only` names a circumstance in which
    the band holds at all, such as a declared peak load: it can excuse a reading, and never condemns one.
    """

    source: Text
    edition: Text
    low: float | None = None
    high: float | None = None
    only: str = ""
    note: str = ""

    @model_validator(mode="after")
    def _ends(self) -> "Band":
        if self.low is None and self.high is None:
            raise ValueError("give low, high or both")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("low is above high")
        return self

    def holds(self, value: float) -> bool:
        """Whether a value lies in the band."""
        return (self.low is None or self.low <= value) and (self.high is None or value <= self.high)


class Limit(Record):
    """A measured quantity: its unit, the bands of the published editions, and the finding that a verdict settles.

    A reading inside every band makes `finding` present, outside every band absent; where the bands
    disagree the finding stays unknown and the editions are named. A band with `only` does not count for the
    first and does count for the second. `plausible` is what a meter can sensibly show there; a reading
    outside is asked about, not believed. `alternating`: the quantity is an alternating voltage or current.
    """

    id: Id
    title: Text
    unit: Literal["V", "ms", "mV", "°C", "Ω", "W", "A", "count", "%", "K"]
    nominal: float | None = None
    alternating: bool = False
    finding: Id
    plausible: tuple[float, float]
    bands: Annotated[tuple[Band, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _settles(self) -> "Limit":
        if self.plausible[0] >= self.plausible[1]:
            raise ValueError("plausible: the first value must be below the second")
        if all(band.only for band in self.bands):
            raise ValueError("bands: at least one must hold without 'only'")
        return self


class Strength(Record):
    """A named strength of evidence: the base-ten logarithm of its likelihood ratio."""

    id: Id
    log10_ratio: Annotated[float, Field(gt=0.0)]
    title: Text


class KnowledgeBase(FitRecords):
    """Everything that is known, in the order of the files."""

    sources: tuple[Source, ...] = ()
    stages: tuple[Stage, ...] = ()
    findings: tuple[Finding, ...] = ()
    causes: tuple[Cause, ...] = ()
    complaints: tuple[Complaint, ...] = ()
    pairs: tuple[Pair, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    rules: tuple[Rule, ...] = ()
    checks: tuple[Check, ...] = ()
    questions: tuple[Question, ...] = ()
    limits: tuple[Limit, ...] = ()
    strengths: tuple[Strength, ...] = ()
    concepts: tuple[Concept, ...] = ()
    wordings: tuple[Wording, ...] = ()
    cues: tuple[Cue, ...] = ()
    pieces: tuple[Piece, ...] = ()
    namings: tuple[Naming, ...] = ()
    shapes: tuple[Shape, ...] = ()
    code_shapes: tuple[CodeShape, ...] = ()
    stop_codes: tuple[StopCode, ...] = ()
    beep_meanings: tuple[BeepMeaning, ...] = ()
    checkpoints: tuple[Checkpoint, ...] = ()
    accepted: tuple[Accepted, ...] = ()
