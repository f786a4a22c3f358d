"""The triage document: its models are the published JSON, keys in this order; the JSON Schema comes from them."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Part(BaseModel):
    """A piece of the document: no key but these, never changed."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class MessageSize(Part):
    """The message in numbers; characters are Unicode code points."""

    characters: int
    sentences: int
    redactions: int


class FindingItem(Part):
    """A finding with its quote; `start` and `end` are half-open code points into the message as given."""

    id: str
    state: Literal["present", "absent", "unknown"]
    quote: str
    start: int
    end: int
    certainty: Literal["stated", "hedged"]
    detail: str | None


class BuildItem(Part):
    """A piece of hardware named in the message, and what was read from the words."""

    part: str
    text: str
    start: int
    end: int
    facts: dict[str, str | int | float | bool | list[str]]


class StageItem(Part):
    """The last rung known to be reached, and the rung at which it fails."""

    reached: str | None
    fails_at: str | None


class HazardItem(Part):
    """An unsafe situation, the advice, and the rules that raised it."""

    id: str
    level: Literal["stop", "caution", "notice"]
    advice: str
    rules: list[str]


class CauseItem(Part):
    """A cause; the probabilities of the open and confirmed ones sum to one."""

    id: str
    title: str
    part: str
    probability: float
    status: Literal["open", "excluded", "confirmed"]
    rules_for: list[str]
    rules_against: list[str]


class CheckItem(Part):
    """A check to do next; `locked_by` is the hazard that forbids it, or null."""

    id: str
    title: str
    minutes: int
    needs: list[str]
    why: str
    locked_by: str | None


class QuestionItem(Part):
    """A question for the owner."""

    id: str
    text: str


class FiringItem(Part):
    """One rule that fired: `from` names findings ("fans-spin=absent") and earlier firings (their numbers)."""

    n: int
    rule: str
    because: str
    from_: list[str | int] = Field(alias="from")
    gives: list[str]
    source: str


class TriageDocument(Part):
    """First-pass triage of one complaint."""

    schema_: Literal["ohmbudsman.triage/1"] = Field(alias="schema")
    message: MessageSize
    findings: list[FindingItem]
    build: list[BuildItem]
    stage: StageItem
    hazards: list[HazardItem]
    causes: list[CauseItem]
    checks: list[CheckItem]
    questions: list[QuestionItem]
    trace: list[FiringItem]

    def to_json(self) -> str:
        """Give the document as one line of JSON, byte-identical for equal documents."""
        return self.model_dump_json(by_alias=True)
