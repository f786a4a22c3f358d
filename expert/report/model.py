"""The report of a case: its models are the published JSON, and every format is written from it alone.

Personal data is blanked in it. Spans are half-open, in Unicode code points of the message.
"""

from typing import Literal

from pydantic import Field

from expert.decide import Kind
from expert.document import FiringItem, Part

State = Literal["present", "absent", "unknown"]
Told = Literal["message", "answer", "measurement"]


class MessageText(Part):
    """The owner's message, character for character, with personal data and what cannot be shown blanked."""

    text: str
    language: str
    redactions: int


class FindingLine(Part):
    """A finding as it stands now: in plain words, in the words it was told in, and where those stand.

    `start` and `end` are null for what is not in the message; `at` is the time of the entry.
    """

    id: str
    state: State
    sentence: str
    quote: str
    start: int | None
    end: int | None
    certainty: Literal["stated", "hedged", "proposed"]
    detail: str | None
    detail_words: str
    told: Told
    at: str


class BuildLine(Part):
    """A piece of hardware that is known of, in the words that named it."""

    part: str
    title: str
    text: str
    facts: dict[str, str | int | float | bool | list[str]]


class Rung(Part):
    """A rung of the power-up chain: reached for certain, where it fails, above that, or not known."""

    id: str
    title: str
    reached_when: str
    state: Literal["reached", "fails", "beyond", "unknown"]


class HazardLine(Part):
    """An unsafe situation: the advice, what lifts it, the firings that raised it, and what was done about it.

    `plain` is the advice to somebody who is not of the trade.
    """

    id: str
    level: Literal["stop", "caution", "notice"]
    title: str
    advice: str
    plain: str
    takeover: str
    lifted_when: str
    firings: list[int]
    done: list[str]


class GroundLine(Part):
    """What one firing says of a cause: `weight` is log10 of the likelihood ratio, above 0 for it, below 0 against it.

    `counted` is false where a stronger piece told the same already.
    """

    firing: int
    weight: float
    counted: bool


class CauseLine(Part):
    """A cause: how likely, in plain words, what mends it, and what speaks for it and against it."""

    id: str
    title: str
    part: str
    plain: str
    remedy: str
    probability: float
    status: Literal["open", "excluded", "confirmed"]
    grounds: list[GroundLine]


class SourceLine(Part):
    """A published document that something in this report rests on."""

    id: str
    title: str
    edition: str
    publisher: str


class BandLine(Part):
    """Limits as one source prints them, in words, and whether the reading is inside; null where nothing was read."""

    text: str
    edition: str
    source: str
    only: str
    inside: bool | None


class MeasureLine(Part):
    """A reading at the bench against its limits."""

    id: str
    title: str
    value: float
    unit: str
    state: State
    verdict: str
    bands: list[BandLine]
    at: str


class DoneLine(Part):
    """A check that was done, and how it came out."""

    id: str
    title: str
    outcome: str
    outcome_title: str
    minutes: int
    at: str


class PartGround(Part):
    """Why a part is cleared or convicted, and what that takes for granted (empty for nothing)."""

    verdict: Literal["clears", "convicts"]
    firing: int
    because: str
    assumes: str


class PartLine(Part):
    """What is known of a part by now."""

    part: str
    title: str
    status: Literal["convicted", "cleared", "suspect", "untested"]
    probability: float
    grounds: list[PartGround]
    ask: str


class SeparatorLine(Part):
    """A check out of reach that would tell causes apart, and what is missing for it."""

    check: str
    title: str
    missing: list[str]
    saves: float


class GroupLine(Part):
    """Causes with different remedies that nothing open to this bench tells apart."""

    causes: list[str]
    titles: list[str]
    probability: float
    separators: list[SeparatorLine]


class ContradictionLine(Part):
    """Words or readings that cannot both be right, and what settles it."""

    text: str
    settle: str


class StepLine(Part):
    """What is done with one part, and why."""

    part: str
    title: str
    action: Literal["keep", "replace", "replace-together", "retest"]
    reason: str


class VerifyLine(Part):
    """What is seen for oneself before the machine goes home; `plain` is what it shows, for the owner."""

    id: str
    title: str
    plain: str
    how: str
    good: str
    source: str


class DecisionLine(Part):
    """The one thing that comes next, in words for the bench, and in plain ones for the owner (may be empty)."""

    kind: Kind
    text: str
    plain: str


class PlanLine(Part):
    """The repair plan; `requirements` are what the new parts must be, `asks` what must be known before an order.

    `along`: what may have gone with the part that is replaced or that leads. `price` says what `cost` does to the
    owner. `verification` is there once something is replaced or cured, or the case is closed.
    """

    decision: DecisionLine
    decided: bool
    steps: list[StepLine]
    refused: list[str]
    requirements: list[str]
    stuck: list[str]
    supply: list[str]
    along: list[str]
    asks: list[str]
    cost: list[str]
    price: str
    verification: list[VerifyLine]

    @property
    def grouped(self) -> dict[tuple[str, str], list[str]]:
        """The titles of the parts by what is done to them, and why: one reason for many parts is said once."""
        titles: dict[tuple[str, str], list[str]] = {}
        for step in self.steps:
            titles.setdefault((step.action, step.reason), []).append(step.title)
        return titles


class ReadingBox(Part):
    """A quantity that a check may measure, with its limits."""

    id: str
    title: str
    unit: str
    bands: list[BandLine]


class CheckLine(Part):
    """A check that can be done next; `locked_by` is the hazard or the rule that forbids it, or null.

    `lock` says in words why, empty where nothing does.
    """

    id: str
    title: str
    how: str
    minutes: int
    wait: int
    who: Literal["owner", "bench"]
    needs: list[str]
    precautions: list[str]
    why: str
    locked_by: str | None
    lock: str
    outcomes: list[str]
    readings: list[ReadingBox]


class QuestionLine(Part):
    """A question for the owner, and why it is asked."""

    id: str
    text: str
    why: str


class Moment(Part):
    """The ranking after one entry of the log; `probabilities` belong to the causes of the course, in their order."""

    at: str
    kind: str
    words: str
    probabilities: list[float]


class Course(Part):
    """How the ranking moved, entry by entry, for the causes that mattered most."""

    causes: list[str]
    titles: list[str]
    moments: list[Moment]


class TimeSpent(Part):
    """Attended minutes of the checks done, as the base reckons them, and the first and the last entry by the clock."""

    minutes: int
    first: str
    last: str


class NoteLine(Part):
    """A note of the technician."""

    at: str
    words: str


class CloseLine(Part):
    """How the case ended: the cause confirmed (null: not found out), the parts replaced, and a word on it."""

    at: str
    cause: str | None
    title: str
    plain: str
    remedy: str
    replaced: list[str]
    words: str


class CaseReport(Part):
    """Everything that is known of a case and why, for another technician to check."""

    schema_: Literal["ohmbudsman.report/1"] = Field(alias="schema")
    number: int | None
    message: MessageText | None
    findings: list[FindingLine]
    build: list[BuildLine]
    stage: list[Rung]
    hazards: list[HazardLine]
    causes: list[CauseLine]
    trace: list[FiringItem]
    sources: list[SourceLine]
    measurements: list[MeasureLine]
    done: list[DoneLine]
    parts: list[PartLine]
    explanations: list[list[str]]
    groups: list[GroupLine]
    decide: bool
    contradictions: list[ContradictionLine]
    plan: PlanLine
    checks: list[CheckLine]
    questions: list[QuestionLine]
    course: Course
    time: TimeSpent
    notes: list[NoteLine]
    closed: CloseLine | None

    def to_json(self) -> str:
        """Give the report as one line of JSON, byte-identical for equal reports."""
        return self.model_dump_json(by_alias=True)

    @classmethod
    def from_json(cls, text: str) -> "CaseReport":
        """Read a report back; raise pydantic's `ValidationError` if it is none."""
        return cls.model_validate_json(text)

    def firing(self, n: int) -> FiringItem:
        """Give a firing by its number."""
        return self.trace[n - 1]

    @property
    def stopped(self) -> bool:
        """Whether a hazard of level stop is raised."""
        return any(hazard.level == "stop" for hazard in self.hazards)

    @property
    def is_over(self) -> bool:
        """Whether it was cured, or the case is closed, so that nothing more is looked for."""
        return self.plan.decision.kind in ("closed", "mended")

    @property
    def locked(self) -> dict[str, list[str]]:
        """The titles of the checks that are not to be done, by the reason in words."""
        titles: dict[str, list[str]] = {}
        for check in self.checks:
            if check.locked_by:
                titles.setdefault(check.lock, []).append(check.title)
        return titles

    @property
    def likely(self) -> list[CauseLine]:
        """The causes that are not as good as ruled out, most probable first."""
        return [cause for cause in self.causes if cause.status != "excluded"]
