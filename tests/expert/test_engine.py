"""The engine as the others call it: worked examples of forward chaining with negation, and order independence.

Negation as in the CLIPS Basic Programming Guide, section 5.4 (not, exists); `exists` and joins are written out as one
ground rule for each part, which is what our rules are.
"""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expert.engine import Engine
from expert.facts import Claim
from knowledge.models import KnowledgeBase
from tests.expert.samples import Cases, base, claims, layered_bases, rule


def _fired(rules: KnowledgeBase, facts: str) -> list[str]:
    return [firing.rule for firing in Engine(rules).run(claims(facts))]


PARTS = ("psu", "ram")
SWAPPED = base(*(rule(part, f"part-{part}, swap-{part}", f"exclude:{part}") for part in PARTS))
UNSWAPPED = base(*(rule(part, f"part-{part}", f"exclude:{part}", unless=f"swap-{part}") for part in PARTS))


@pytest.mark.parametrize(
    ("rules", "facts", "fires"),
    [
        (base(rule("both", "a, b", "exclude:x")), "a", []),
        (SWAPPED, "part-psu, part-ram, swap-psu", ["psu"]),
        (UNSWAPPED, "part-psu, part-ram, swap-psu", ["ram"]),
        (base(rule("neither", "start", "exclude:x", unless="a, b")), "start", ["neither"]),
        (base(rule("neither", "start", "exclude:x", unless="a, b")), "start, a, b", []),
    ],
    ids=["and-with-one-missing", "a-part-and-its-swap", "a-part-not-swapped", "not-with-none", "not-with-both"],
)
def test_ground_rules_fire_as_in_clips(rules, facts, fires):
    """Expected: what CLIPS 6.4 fires for the same left sides and facts."""
    assert _fired(rules, facts) == fires


@pytest.mark.parametrize("first", ["blame", "exclude"])
def test_an_exception_is_settled_before_the_rule_that_looks_at_it(first):
    """Fired in the other order, blame would fall on a part that is cleared too late, and nothing takes it back."""
    rules = {
        "blame": rule("blame", "dead", "support:psu-failed:strong", unless="supply-good"),
        "exclude": rule("exclude", "supply-swapped", "supply-good"),
    }
    second = next(name for name in rules if name != first)
    both = base(rules[first], rules[second])
    assert _fired(both, "dead, supply-swapped") == ["exclude"]
    assert _fired(both, "dead") == ["blame"]


def test_what_a_withdrawn_fact_supported_is_gone_in_the_next_run():
    """CLIPS needs `logical` for this; a run from the facts as they are needs nothing."""
    engine = Engine(base(rule("r1", "a", "b"), rule("r2", "b", "exclude:x")))
    assert len(engine.run(claims("a"))) == 2
    assert engine.run(claims("c")) == ()
    assert len(engine.run(claims("a"))) == 2


def test_equal_salience_fires_in_the_order_of_the_base():
    """Eight rules on one fact, the case in which object addresses decided."""
    rules = [rule(f"r{number}", "a", f"exclude:c{number}") for number in (3, 1, 7, 0, 5, 2, 6, 4)]
    assert _fired(base(*rules), "a") == ["r3", "r1", "r7", "r0", "r5", "r2", "r6", "r4"]


def test_a_rule_fires_once_whatever_gives_its_facts():
    """Refraction: two reasons for one fact are two firings of theirs and one of the rule."""
    rules = base(rule("one", "a", "c"), rule("two", "b", "c"), rule("three", "c", "exclude:x"))
    assert _fired(rules, "a, b") == ["one", "two", "three"]


def test_a_state_is_part_of_the_fact():
    """Absent and unknown are told apart from not said."""
    rules = base(
        rule("absent", "fans-spin=absent", "exclude:x"),
        rule("unknown", "fans-spin=unknown", "exclude:x"),
        rule("not-said", "dead", "exclude:x", unless="fans-spin, fans-spin=absent, fans-spin=unknown"),
    )
    assert _fired(rules, "dead, fans-spin=absent") == ["absent"]
    assert _fired(rules, "dead, fans-spin=unknown") == ["unknown"]
    assert _fired(rules, "dead") == ["not-said"]


def test_order_and_repetition_of_facts_do_not_matter():
    """A run is a function of the set of facts, and of nothing that ran before."""
    compared = 0

    @settings(max_examples=80, deadline=None, derandomize=True, database=None)
    @given(layered_bases(), st.randoms(use_true_random=False))
    def agree(rules: KnowledgeBase, chance: random.Random) -> None:
        nonlocal compared
        engine = Engine(rules)
        stated = list(Cases(engine.productions).draw(chance))
        expected = engine.run(stated)
        engine.run(Cases(engine.productions).draw(chance))
        chance.shuffle(stated)
        assert engine.run([*stated, *stated[:1]]) == expected
        compared += len(expected) > 1

    agree()
    assert compared


def test_the_order_of_the_rules_changes_the_order_of_firings_only():
    """Shuffling the files of the base leaves what follows unchanged: that is what strata are for."""
    compared = 0

    @settings(max_examples=80, deadline=None, derandomize=True, database=None)
    @given(layered_bases(), st.randoms(use_true_random=False))
    def agree(rules: KnowledgeBase, chance: random.Random) -> None:
        nonlocal compared
        engine = Engine(rules)
        stated = Cases(engine.productions).draw(chance)
        shuffled = Engine(base(*chance.sample(rules.rules, len(rules.rules))))
        one, other = engine.run(stated), shuffled.run(stated)
        assert {(f.rule, f.gives) for f in one} == {(f.rule, f.gives) for f in other}
        compared += [f.rule for f in one] != [f.rule for f in other]

    agree()
    assert compared


def test_facts_that_no_rule_knows_are_let_be():
    """A case may hold findings that a shop's own base does not use."""
    assert Engine(base(rule("r", "a", "exclude:x"))).run([Claim("finding", "never-heard", "present")]) == ()
