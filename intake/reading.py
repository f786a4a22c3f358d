"""What was read: plain frozen records without spaCy in them.

Every span is half-open, in Unicode code points of the message as given: `quote == message[start:end]`.
"""

from dataclasses import dataclass, field
from typing import Literal

from intake.redact import PrivateSpan

Certainty = Literal["stated", "hedged", "proposed"]


@dataclass(frozen=True, slots=True)
class FoundFinding:
    """A finding that the message states: "no fans" is `fans-spin`, `absent`, quote "no fans".

    A `proposed` one is what the words suggest, and to be asked about: no wording of the base says it; `doubt` is how
    likely it is not so.
    """

    id: str
    state: Literal["present", "absent"]
    quote: str
    start: int
    end: int
    certainty: Certainty = "stated"
    detail: str | None = None
    doubt: float | None = None


@dataclass(frozen=True, slots=True)
class BuildMention:
    """Hardware that the message names, and what can be read of it (watts, capacity, socket ...)."""

    part: str
    text: str
    start: int
    end: int
    facts: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Edge:
    """Why a mention was taken as it was: the modifier's words, its category, and the mention's words.

    After Harkema et al. 2009: the edge from the modifier to its target is kept.
    """

    category: str
    modifier: str
    modifier_start: int
    modifier_end: int
    finding: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Reading:
    """The reading of one message.

    `redactions` counts `private`, the spans of personal data. `contradictions` are the ids of findings of which
    an earlier statement lost against a later one. `language` is "en" or "other".
    """

    message: str
    characters: int
    sentences: int
    redactions: int
    findings: tuple[FoundFinding, ...]
    build: tuple[BuildMention, ...]
    contradictions: tuple[str, ...]
    language: Literal["en", "other"]
    edges: tuple[Edge, ...]
    private: tuple[PrivateSpan, ...]

    @property
    def told(self) -> tuple[FoundFinding, ...]:
        """The findings that wordings state, without what is only proposed."""
        return tuple(finding for finding in self.findings if finding.certainty != "proposed")
