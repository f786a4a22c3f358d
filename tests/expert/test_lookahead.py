"""Many steps at once come to what one step at a time comes to, by the functions that the published examples hold."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expert.lookahead import look_ahead
from expert.repair_cost import Remedies, information, normalised, split

CAUSES = 5
chances = st.floats(0.005, 0.995)
rows = st.lists(st.lists(chances, min_size=CAUSES, max_size=CAUSES), min_size=1, max_size=4)
minutes = st.lists(st.integers(1, 90).map(float), min_size=3, max_size=3)
service = st.one_of(st.none(), st.integers(1, 300).map(float))


@given(st.lists(chances, min_size=CAUSES, max_size=CAUSES), st.lists(rows, min_size=1, max_size=4), minutes, service)
def test_as_one_by_one(weights, steps, minutes, service):
    """Probabilities, leaders, cost after, and both kinds of information agree for every step."""
    now = [weight / sum(weights) for weight in weights]
    remedies = Remedies(mends=(2, 0, 1, 0, 2), minutes=tuple(minutes), service=service)
    for ahead, step in zip(look_ahead(now, remedies, steps), steps, strict=True):
        outcomes = split(now, normalised(step))
        assert ahead.chances == pytest.approx([chance for chance, _ in outcomes])
        assert ahead.shares == pytest.approx([max(after) for _, after in outcomes])
        for leader, (_, after) in zip(ahead.leaders, outcomes, strict=True):
            assert after[leader] == pytest.approx(max(after))
        assert ahead.repair == pytest.approx(remedies.cost_after(outcomes))
        assert ahead.cause_bits == pytest.approx(information(now, outcomes), abs=1e-9)
        together = [(chance, _together(after, remedies)) for chance, after in outcomes]
        assert ahead.bits == pytest.approx(information(_together(now, remedies), tuple(together)), abs=1e-9)


def test_no_step_gives_nothing():
    """Where nothing is open, nothing is looked ahead at."""
    assert look_ahead([1.0], Remedies((0,), (5.0,)), []) == ()


def _together(causes, remedies):
    together = [0.0] * len(remedies.minutes)
    for place, probability in zip(remedies.mends, causes, strict=True):
        together[place] += probability
    return tuple(together)
