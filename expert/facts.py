"""Ground facts: what is held true of a case, stated or derived; a fact never holds a variable.

A finding with a detail is two facts, `part-replaced=present` and `part-replaced:memory`; the second never stands
without the first, so that "not this detail" may look at the second alone.
"""

import re
from typing import NamedTuple

from knowledge.errors import KnowledgeError
from knowledge.models import Conclusion, Condition

STATES = ("present", "absent", "unknown")

# Conclusions that other rules can build on; every other kind is an effect on belief or on the plan.
FACT_KINDS = {
    "complaint": "complaint",
    "hazard": "hazard",
    "lift": "lift",
    "reached": "reached",
    "fails_at": "fails-at",
}


class Claim(NamedTuple):
    """One ground fact: `finding` (value: its state), `detail` (id: the finding), `outcome` (id: the check), ...

    The other kinds are `complaint`, `hazard`, `lift`, `reached` and `fails-at`; their value is empty.
    """

    kind: str
    id: str
    value: str = ""

    @property
    def text(self) -> str:
        """The fact as the trace names it: `dead=present`, `part-replaced:memory`, `outlet/works`, `hazard:fire`."""
        if self.kind == "finding":
            return f"{self.id}={self.value}"
        if self.kind == "detail":
            return f"{self.id}:{self.value}"
        if self.kind == "outcome":
            return f"{self.id}/{self.value}"
        return f"{self.kind}:{self.id}"


def slug(text: str) -> str:
    """Spell a detail as an id: "Memory module 2" is `memory-module-2`."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def claims_of(finding: str, state: str, detail: str | None = None) -> tuple[Claim, ...]:
    """Give the facts of a finding: its state, and its detail where one is told.

    The detail of a finding that is not present carries the state as well, since a machine can have had its
    memory replaced and its drive not.
    """
    claims = (Claim("finding", finding, state),)
    told = slug(detail) if detail else ""
    if not told:
        return claims
    return (*claims, Claim("detail", finding, told if state == "present" else f"{state}:{told}"))


def outcome_of(check: str, outcome: str) -> Claim:
    """Give the fact that a check was done with this outcome."""
    return Claim("outcome", check, outcome)


def claim_of(condition: Condition) -> tuple[Claim, ...]:
    """Give the facts that must all hold for the condition to hold; the last one implies the others."""
    if condition.finding:
        return claims_of(condition.finding, condition.state, condition.detail)
    if condition.check:
        return (outcome_of(condition.check, str(condition.outcome)),)
    kind = next(k for k in FACT_KINDS if getattr(condition, k, None))
    return (Claim(FACT_KINDS[kind], getattr(condition, kind)),)


def concluded(conclusion: Conclusion) -> Claim | None:
    """Give the fact that the conclusion adds to the case; None for an effect on belief or on the plan."""
    if conclusion.finding:
        return Claim("finding", conclusion.finding, conclusion.state)
    if conclusion.kind in FACT_KINDS:
        return Claim(FACT_KINDS[conclusion.kind], conclusion.about)
    return None


def claims_in(example: str) -> tuple[Claim, ...]:
    """Read a set of facts as rules write their examples: "dead, outlet-good=absent, part-replaced:memory, lamp/works".

    Raises `KnowledgeError` for an item that is not `finding`, `finding=state`, `finding:detail` or `check/outcome`.
    """
    claims: list[Claim] = []
    for item in filter(None, (part.strip() for part in example.split(","))):
        claims += _claims_of_item(item)
    return tuple(claims)


def _claims_of_item(item: str) -> tuple[Claim, ...]:
    if match := re.fullmatch(r"([a-z0-9-]+)/([a-z0-9-]+)", item):
        return (outcome_of(*match.groups()),)
    match = re.fullmatch(r"([a-z0-9-]+)(?::([a-z0-9-]+))?(?:=([a-z]+))?", item)
    if match is None or (match[3] or "present") not in STATES:
        raise KnowledgeError(
            [f"example {item!r} is not a fact: write finding, finding=absent, finding:detail or check/outcome"]
        )
    return claims_of(match[1], match[3] or "present", match[2])
