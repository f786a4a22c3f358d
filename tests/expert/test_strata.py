"""Stratified negation: Apt, Blair & Walker, Towards a Theory of Declarative Knowledge (1988), from memory.

The win/move program is the standard example of what has no stratification: Van Gelder, Ross & Schlipf, The
Well-Founded Semantics for General Logic Programs, Journal of the ACM 38 (1991), from memory.
"""

import pytest
from hypothesis import given, settings

from expert.productions import productions_of
from expert.strata import LAYERS, strata
from knowledge import shipped_base
from knowledge.errors import KnowledgeError
from knowledge.models import CONCLUSION_KINDS, KnowledgeBase, Rule
from tests.expert.samples import base, layered_bases, rule


def _strata(*rules: Rule) -> dict[str, int]:
    productions = productions_of(base(*rules))
    return {production.id: stratum for production, stratum in zip(productions, strata(productions), strict=True)}


def test_win_move_on_a_cycle_is_rejected_with_the_names_of_the_rules():
    """win(x) if move(x, y) and not win(y), with moves a-b and b-a: neither can be settled before the other."""
    rules = (rule("win-a", "move-a-b", "win-a", unless="win-b"), rule("win-b", "move-b-a", "win-b", unless="win-a"))
    with pytest.raises(KnowledgeError, match=r"'win-a' -> 'win-b' -> 'win-a'") as error:
        _strata(*rules)
    assert len(error.value.faults) == 1


def test_win_move_on_a_path_has_a_stratum_for_each_move():
    """The same rules with moves a-b, b-c, c-d are (locally) stratified: the end of the path comes first."""
    rules = (
        rule("win-a", "move-a-b", "win-a", unless="win-b"),
        rule("win-b", "move-b-c", "win-b", unless="win-c"),
        rule("win-c", "move-c-d", "win-c", unless="win-d"),
    )
    assert _strata(*rules) == {"win-a": 2, "win-b": 1, "win-c": 0}


def test_a_rule_that_denies_itself_is_rejected():
    """The smallest negative cycle."""
    with pytest.raises(KnowledgeError, match="'liar' -> 'liar'"):
        _strata(rule("liar", "a", "b", unless="b"))


def test_a_cycle_through_a_positive_condition_is_rejected_where_one_link_is_negative():
    """One exception anywhere on the cycle is enough; the whole cycle is named."""
    with pytest.raises(KnowledgeError, match="'one' -> 'two' -> 'three' -> 'one'"):
        _strata(rule("one", "x", "a", unless="c"), rule("two", "a", "b"), rule("three", "b", "c"))


def test_a_positive_cycle_is_allowed():
    """Recursion without negation lies within one stratum."""
    assert _strata(rule("there", "a", "b"), rule("back", "b", "a")) == {"there": 0, "back": 0}


def test_what_only_states_differ_in_is_no_cycle():
    """`b=absent` is another fact than `b`."""
    assert _strata(rule("one", "a", "b", unless="b=absent")) == {"one": 0}


def test_layers_follow_the_kind_of_conclusion_whatever_the_place():
    """Derived findings, then hazards, then elimination, then evidence, then locks."""
    rules = (
        rule("lock", "a", "lock:lamp"),
        rule("evidence", "a", "support:psu-failed:strong"),
        rule("elimination", "a", "exclude:mains-lead"),
        rule("danger", "a", "hazard:fire"),
        rule("derived", "a", "b"),
    )
    assert _strata(*rules) == {"derived": 0, "danger": 1, "elimination": 2, "evidence": 3, "lock": 4}


def test_a_rule_of_several_conclusions_waits_for_the_last_of_their_layers():
    """What derives a finding and raises a hazard fires with the hazards."""
    ranks = _strata(rule("both", "a", "b, hazard:fire"), rule("derived", "a", "c"), rule("danger", "a", "hazard:surge"))
    assert ranks == {"derived": 0, "both": 1, "danger": 1}


def test_a_chain_of_exceptions_inside_a_layer_stays_below_the_next_layer():
    """A hazard waits for every derived finding, also for those of a long chain."""
    rules = (
        rule("danger", "x", "hazard:fire"),
        rule("first", "x", "a"),
        rule("second", "x", "b", unless="a"),
        rule("third", "x", "c", unless="b"),
    )
    assert _strata(*rules) == {"first": 0, "second": 1, "third": 2, "danger": 3}


def test_a_finding_derived_from_a_hazard_comes_after_it():
    """Dependencies go before layers."""
    ranks = _strata(rule("after", "hazard:fire", "b", unless="hazard:surge"), rule("surge", "a", "hazard:surge"))
    assert ranks == {"surge": 0, "after": 1}


def test_every_kind_of_conclusion_has_a_layer():
    """A new kind without a layer would fail on the first rule that uses it."""
    assert sorted(kind for layer in LAYERS for kind in layer) == sorted(CONCLUSION_KINDS)


@settings(max_examples=100, deadline=None, derandomize=True, database=None)
@given(layered_bases())
def test_the_two_conditions_of_the_definition_hold(rules: KnowledgeBase):
    """Level of a rule >= levels of the givers of its conditions, > levels of the givers of its exceptions."""
    _check_definition(rules)


def test_the_shipped_rules_are_stratified():
    """The definition, checked on what we ship."""
    assert _check_definition(shipped_base()) > 0


def _check_definition(rules: KnowledgeBase) -> int:
    productions = productions_of(rules)
    ranked = list(zip(productions, strata(productions), strict=True))
    for user, above in ranked:
        for giver, below in ranked:
            assert above >= below or not set(user.needs) & set(giver.adds)
            assert above > below or not set(user.unless) & set(giver.adds)
    return len(ranked)
