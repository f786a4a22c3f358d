"""How conditions, conclusions, sources and intervals are put into words, with the records in them named."""

import re
from typing import NamedTuple

from knowledge.census import WORD
from knowledge.lint import fact_of
from knowledge.models import Conclusion, Condition


class Ref(NamedTuple):
    """The name of another record."""

    kind: str
    id: str


Line = tuple[str | Ref, ...]


KIND_OF = {
    "finding": "findings",
    "complaint": "complaints",
    "hazard": "hazards",
    "lift": "hazards",
    "reached": "stages",
    "fails_at": "stages",
    "exclude": "causes",
    "confirm": "causes",
    "support": "causes",
    "weaken": "causes",
    "lock": "checks",
    "ask": "questions",
    "check": "checks",
}
FOR, AGAINST = ("support", "confirm"), ("weaken", "exclude")
VERBS = {
    "finding": "the finding ",
    "complaint": "the complaint ",
    "reached": "reached: ",
    "fails_at": "fails at: ",
    "hazard": "raises the hazard ",
    "lift": "lifts the hazard ",
    "exclude": "excludes ",
    "confirm": "confirms ",
    "support": "supports ",
    "weaken": "weakens ",
    "lock": "locks the check ",
    "ask": "asks ",
    "clear": "clears the part ",
    "convict": "convicts the part ",
}
BASIS = {"P": "(published)", "D": "(derived from published figures)", "C": "(judgement)"}
SEEN = {
    "read": "the document itself was read",
    "read-2": "read in another document that reports it",
    "memory": "from memory, not looked up again",
}


def condition_line(condition: Condition) -> Line:
    """Write a condition: the kind of fact, and the record that it is about."""
    kind, about, value = fact_of(condition)
    if kind == "finding":
        detail = f" ({condition.detail})" if condition.detail else ""
        return Ref("findings", about), f"{detail} is {value}"
    if kind == "check":
        return "check ", Ref("checks", about), f" came out as {value}"
    return VERBS[kind].removeprefix("the ").removeprefix("raises the "), Ref(KIND_OF[kind], about)


def conclusion_line(gives: Conclusion) -> Line:
    """Write a conclusion: what is done, and to which record."""
    about = Ref(KIND_OF[gives.kind], gives.about) if gives.kind in KIND_OF else gives.about
    after = f" ({gives.strength})" if gives.strength else f" is {gives.state}" if gives.finding else ""
    return VERBS[gives.kind], about, after


def cited(source: str, known: set[str]) -> Line:
    """Write a source with the documents in it by name."""
    pieces = re.split(f"({WORD.pattern})", source)
    return tuple(Ref("sources", piece) if piece in known else piece for piece in pieces if piece)


def effect(gives: Conclusion) -> str:
    """Write what a conclusion does to a cause: `supports (strong)`."""
    return VERBS[gives.kind].strip() + (f" ({gives.strength})" if gives.strength else "")


def interval(low: float | None, high: float | None) -> str:
    """Write what lies between two ends, one of which may be missing."""
    if low is None or high is None:
        return f"at most {high:g}" if low is None else f"at least {low:g}"
    return f"{low:g} to {high:g}"
