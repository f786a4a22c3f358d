"""The agenda of the engine: a total order, and a withdrawal that hits the one that is meant, or nothing."""

import pytest

from expert.compile import compile_rules
from expert.engine import PlaceStrategy
from expert.experta_ready import Activation, Agenda
from expert.productions import productions_of
from knowledge.models import KnowledgeBase
from tests.expert.samples import rule

RULES = compile_rules(productions_of(KnowledgeBase(rules=tuple(rule(f"r{n}", f"f{n}", f"g{n}") for n in range(5)))))


def _activations(*places: int) -> list[Activation]:
    return [Activation(RULES[place], []) for place in places]


def _waiting(agenda: Agenda) -> list[int]:
    """Give the places of the rules that wait, the next one first."""
    return [activation.rule.place for activation in reversed(agenda.activations)]


@pytest.mark.parametrize("gone", range(5))
def test_any_one_of_five_is_withdrawn_and_no_other(gone):
    """The strategy that experta brings along loses some of those in the middle."""
    agenda, strategy = Agenda(), PlaceStrategy()
    strategy.update_agenda(agenda, _activations(3, 0, 4, 1, 2), [])
    assert _waiting(agenda) == [0, 1, 2, 3, 4]
    strategy.update_agenda(agenda, [], _activations(gone))
    assert _waiting(agenda) == [place for place in range(5) if place != gone]


@pytest.mark.parametrize("fired", [0, 2, 4])
def test_what_has_fired_already_can_be_withdrawn_and_nothing_happens(fired):
    """It waits no more: before, between and after those that do."""
    agenda, strategy = Agenda(), PlaceStrategy()
    waiting = [place for place in range(5) if place != fired]
    strategy.update_agenda(agenda, _activations(*waiting), [])
    strategy.update_agenda(agenda, [], _activations(fired))
    assert _waiting(agenda) == waiting
