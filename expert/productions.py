"""Rules and outcomes of checks in one ground form: facts that must hold, facts that must not, and what follows."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from expert.facts import Claim, claim_of, concluded, outcome_of
from knowledge.models import Check, Conclusion, Condition, KnowledgeBase, Outcome, Rule


@dataclass(frozen=True)
class Production:
    """If all of `when` and `given` hold and none of `unless`, then `gives`; `when` alone counts as evidence."""

    id: str
    when: tuple[Claim, ...]
    given: tuple[Claim, ...]
    unless: tuple[Claim, ...]
    gives: tuple[Conclusion, ...]
    because: str
    source: str

    @cached_property
    def needs(self) -> tuple[Claim, ...]:
        """Every fact that must hold, each once, in the order of the record."""
        return tuple(dict.fromkeys((*self.when, *self.given)))

    @cached_property
    def adds(self) -> tuple[Claim, ...]:
        """The conclusions that become facts, each once."""
        return tuple(dict.fromkeys(claim for gives in self.gives if (claim := concluded(gives))))


def productions_of(base: KnowledgeBase) -> tuple[Production, ...]:
    """Give the productions of the base, in its order: the active rules, then the outcomes of the checks."""
    rules = tuple(_of_rule(rule) for rule in base.rules if rule.status == "active")
    return rules + rules_of_checks(base)


def rules_of_checks(base: KnowledgeBase) -> tuple[Production, ...]:
    """Give one production `check/outcome` for each outcome of each check; what it does to belief is not told here."""
    return tuple(_of_outcome(check, outcome) for check in base.checks for outcome in check.outcomes)


def _of_rule(rule: Rule) -> Production:
    return Production(
        id=rule.id,
        when=_all_of(rule.when),
        given=_all_of(rule.given),
        # "Not this detail" looks at the detail alone: a detail never stands without its finding.
        unless=tuple(dict.fromkeys(claim_of(condition)[-1] for condition in rule.unless)),
        gives=rule.gives,
        because=rule.because,
        source=rule.source,
    )


def _all_of(conditions: Iterable[Condition]) -> tuple[Claim, ...]:
    return tuple(dict.fromkeys(claim for condition in conditions for claim in claim_of(condition)))


def _of_outcome(check: Check, outcome: Outcome) -> Production:
    return Production(
        id=f"{check.id}/{outcome.id}",
        when=(outcome_of(check.id, outcome.id),),
        given=(),
        unless=(),
        gives=outcome.gives,
        because=outcome.title,
        source=check.source,
    )
