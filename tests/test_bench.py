"""The simulated bench, in small: fewer minutes than the other ways of asking, on the same faults.

Kalagnanam & Henrion, UAI 1988: a decision-theoretic order against the experts' fixed one, by simulation. Minutes are
compared within the run, never against a figure from elsewhere.
"""

from statistics import mean

import pytest

from knowledge import shipped_base
from tests.bench import STRATEGIES, run
from tests.simulated import Bench, faults


@pytest.fixture(scope="module")
def sessions():
    """Take fifteen dead machines to their verdict by three strategies."""
    bench = Bench(shipped_base(), spares=True, wrong=0.0)
    machines = list(faults(bench, 15, 7, "dead"))
    return {
        name: [run(bench, fault, *STRATEGIES[name]) for fault in machines]
        for name in ("planner", "checklist", "p/cost")
    }


def test_the_planner_takes_at_most_sixty_percent_of_the_checklist(sessions):
    """And at most 85 % of plain probability per cost, which asks the owner nothing."""
    minutes = {name: mean(session.minutes for session in runs) for name, runs in sessions.items()}
    assert minutes["planner"] <= 0.6 * minutes["checklist"]
    assert minutes["planner"] <= 0.85 * minutes["p/cost"]


def test_the_verdict_is_mostly_right(sessions):
    """At least 80 % of so few machines; `python -m tests.bench` measures it on many."""
    assert mean(session.right for session in sessions["planner"]) >= 0.8


def test_a_check_comes_out_the_same_for_every_strategy():
    """The dice belong to the machine and the check, not to the order of asking."""
    bench = Bench(shipped_base(), spares=True, wrong=0.05)
    (fault,) = faults(bench, 1, 7, "dead")
    check = bench.view(fault.opening).allowed[0]
    assert len({bench.draw_outcome(fault, check) for _ in range(5)}) == 1
    others = {bench.draw_outcome(other, check) for other in faults(bench, 40, 7, "dead")}
    assert len(others) > 1
