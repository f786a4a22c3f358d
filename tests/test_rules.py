"""Every rule by its own examples, in the whole base, and by near misses made here: the rule alone, less one fact.

Example grammar: "dead, outlet-good=absent, part-replaced:memory"; `check/outcome` stands for the outcome of a check.
"""

from collections.abc import Iterator

import pytest

from expert.engine import Engine
from expert.facts import Claim, claims_in
from expert.productions import productions_of
from knowledge import shipped_base
from knowledge.models import KnowledgeBase, Rule

ACTIVE = [rule for rule in shipped_base().rules if rule.status == "active"]
EACH = [pytest.param(rule, id=rule.id) for rule in ACTIVE]


@pytest.fixture(scope="module")
def engine() -> Engine:
    """All rules of the base together."""
    return Engine(shipped_base())


@pytest.fixture(scope="module")
def names() -> set[tuple[str, str]]:
    """What an example may name: (kind of fact, id), and for outcomes (check, outcome)."""
    base = shipped_base()
    outcomes = {(check.id, outcome.id) for check in base.checks for outcome in check.outcomes}
    return {(kind, finding.id) for finding in base.findings for kind in ("finding", "detail")} | outcomes


def test_there_are_rules():
    """The tables below would all pass on an empty base."""
    assert ACTIVE


@pytest.mark.parametrize("rule", EACH)
def test_a_rule_fires_on_its_examples_and_not_on_its_near_misses(engine, rule):
    """In the whole base, where others may bar it, and others may derive what a near miss leaves out."""
    examples = (*rule.fires, *rule.stays_quiet)
    fired = [example for example in examples if rule.id in {firing.rule for firing in engine.run(claims_in(example))}]
    assert fired == [*rule.fires]


def test_the_examples_of_the_rules_name_what_exists(names):
    """A misspelt finding in a near miss would keep any rule quiet."""
    unknown = [
        (rule.id, claim.text) for rule in ACTIVE for claim in _claims_of_examples(rule) if _name(claim) not in names
    ]
    assert unknown == []


@pytest.mark.parametrize("rule", EACH)
def test_a_rule_alone_needs_each_of_its_facts_and_none_of_its_exceptions(rule):
    """The smallest set that fires it; the same less any one fact; the same with any one exception."""
    alone = Engine(KnowledgeBase(rules=(rule,)))
    (production,) = productions_of(KnowledgeBase(rules=(rule,)))
    needs = frozenset(production.needs)
    assert [firing.rule for firing in alone.run(needs)] == [rule.id]
    assert [claim.text for claim in production.needs if alone.run(needs - {claim})] == []
    assert [claim.text for claim in production.unless if alone.run(needs | {claim})] == []


def _claims_of_examples(rule: Rule) -> Iterator[Claim]:
    for example in (*rule.fires, *rule.stays_quiet):
        yield from claims_in(example)


def _name(claim: Claim) -> tuple[str, str]:
    return (claim.id, claim.value) if claim.kind == "outcome" else (claim.kind, claim.id)
