"""The examples of the rules, run through the engine, and the strata: the part of the linter that needs both.

A rule must fire on each of its `fires` and on none of its `stays_quiet`, in the whole base, where others may bar it or
derive what an example leaves out.
"""

from collections.abc import Iterator

from expert.compile import compile_rules
from expert.engine import Inference
from expert.facts import Claim, claims_in
from expert.productions import productions_of
from knowledge.errors import KnowledgeError
from knowledge.lint import Flaw, active_rules
from knowledge.models import KnowledgeBase


def example_flaws(base: KnowledgeBase) -> Iterator[Flaw]:
    """Yield the cycles through an exception, or else every example that does not come out as written.

    Without strata nothing can be run, so that the examples are looked at only where there are some.
    """
    productions = productions_of(base)
    try:
        rules = compile_rules(productions)
    except KnowledgeError as error:
        yield from (Flaw("rule", fault.split("'")[1], "no-strata", fault.split(": ", 1)[1]) for fault in error.faults)
        return
    yield from _Runs(base, Inference(rules)).flaws()


class _Runs:
    """The examples of a base; rules share many of them, and each set of facts is run once."""

    def __init__(self, base: KnowledgeBase, inference: Inference) -> None:
        self._base = base
        self._inference = inference
        self._fired: dict[frozenset[Claim], frozenset[str]] = {}
        self._findings = {finding.id for finding in base.findings}
        self._outcomes = {(check.id, outcome.id) for check in base.checks for outcome in check.outcomes}

    def flaws(self) -> Iterator[Flaw]:
        for rule in active_rules(self._base):
            for key, wanted in (("fires", True), ("stays_quiet", False)):
                for example in getattr(rule, key):
                    if text := self._fault(rule.id, example, wanted):
                        yield Flaw("rule", rule.id, "example", f"{key}: {example!r}: {text}")

    def _fault(self, rule: str, example: str, wanted: bool) -> str | None:
        try:
            claims = claims_in(example)
        except KnowledgeError as error:
            return str(error)
        if strange := [claim.text for claim in claims if not self._known(claim)]:
            return f"no such finding or outcome: {', '.join(strange)}"
        if (rule in self._run(frozenset(claims))) == wanted:
            return None
        return "the rule does not fire on it" if wanted else "the rule fires on it"

    def _known(self, claim: Claim) -> bool:
        return (claim.id, claim.value) in self._outcomes if claim.kind == "outcome" else claim.id in self._findings

    def _run(self, claims: frozenset[Claim]) -> frozenset[str]:
        if claims not in self._fired:
            self._fired[claims] = frozenset(production.id for production in self._inference.fire(claims))
        return self._fired[claims]
