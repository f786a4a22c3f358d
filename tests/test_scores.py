"""The figures of the measurements against published examples and by hand."""

from math import sqrt
from statistics import mean, pstdev

import pytest

from expert.repair_cost import repair_plan
from tests.bench import minutes_to_mend
from tests.scores import Ranked, brier, calibration_error, cells, log_loss, murphy, spread, wilson

SHARES = [
    ({"psu": 0.6, "board": 0.3, "ram": 0.1}, "psu"),
    ({"psu": 0.5, "board": 0.3, "ram": 0.2}, "board"),
    ({"psu": 0.2, "board": 0.7, "ram": 0.1}, "ram"),
    ({"psu": 0.25, "board": 0.25, "ram": 0.5}, "ram"),
]
CASES = [Ranked(sorted(shares, key=lambda c: -shares[c]), shares, true) for shares, true in SHARES]


def test_rankings_are_scored():
    """By hand, with -ln p of .6, .3, .1 and .5; squares after Brier, Monthly Weather Review 78 (1950)."""
    ranks = [case.rank for case in CASES]
    assert ranks == [1, 2, 3, 1]
    assert mean(1 / rank for rank in ranks) == pytest.approx(0.708333, abs=1e-6)
    assert [mean(rank <= most for rank in ranks) for most in (1, 2)] == [0.5, 0.75]
    assert log_loss(CASES) == pytest.approx(1.177633, abs=1e-6)
    assert [brier([case]) for case in CASES] == pytest.approx([0.26, 0.78, 1.34, 0.375])
    assert brier(CASES) == pytest.approx(0.68875)


def test_a_cause_that_the_ranking_leaves_out_comes_last():
    """And a probability next to nothing costs as much as its logarithm: 1e-15 is 34.5388 nats, 1e-3 is 6.9078."""
    assert Ranked(["psu", "board"], {"psu": 0.6, "board": 0.3, "ram": 0.1}, "ram").rank == 3
    for p, nats in ((1e-15, 34.5388), (1e-3, 6.9078)):
        assert log_loss([Ranked(["a"], {"a": p}, "a")]) == pytest.approx(nats, abs=1e-4)


def test_calibration_and_the_parts_of_the_score():
    """Murphy, Journal of Applied Meteorology 12 (1973), by hand: ten at .9 with 8 right, ten at .6 with 6 right."""
    stated = [(0.9, n < 8) for n in range(10)] + [(0.6, n < 6) for n in range(10)]
    found = cells(stated)
    assert [(cell.low, cell.count) for cell in found] == [(0.6, 10), (0.9, 10)]
    assert calibration_error(found) == pytest.approx(0.05)
    assert murphy(found) == pytest.approx((0.005, 0.010, 0.210))
    assert mean((p - right) ** 2 for p, right in stated) == pytest.approx(0.005 - 0.010 + 0.210)


@pytest.mark.parametrize(
    ("right", "total", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_interval_of_a_share_is_published(right, total, low, high):
    """Newcombe, Statistics in Medicine 17 (1998) 857, Wilson's score method; figures from memory, recomputed."""
    assert wilson(right, total) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(
    ("right", "total", "low", "high"),
    [
        (10, 10, 0.722467, 1.0),
        (20, 20, 0.838875, 1.0),
        (29, 30, 0.833296, 0.994091),
        (60, 60, 0.939828, 1.0),
        (95, 100, 0.888250, 0.978456),
        (5, 6, 0.436497, 0.969947),
    ],
)
def test_the_interval_solves_its_equation(right, total, low, high):
    """Wilson 1927: the bounds are the shares P from which the one seen is as far as z deviations, z sqrt(P(1-P)/n)."""
    bounds = wilson(right, total)
    assert bounds == pytest.approx((low, high), abs=1e-6)
    for bound in bounds:
        assert abs(bound - right / total) == pytest.approx(1.95996398 * sqrt(bound * (1 - bound) / total), abs=1e-7)


@pytest.mark.parametrize(("total", "bound"), [(35, 0.90), (73, 0.95), (381, 0.99)])
def test_how_many_without_a_miss_for_a_bound(total, bound):
    """All n right: the lower bound is n / (n + z * z), so one fewer does not reach it."""
    assert wilson(total, total)[0] >= bound > wilson(total - 1, total - 1)[0]


def test_minutes_of_sessions_that_try_remedies_by_probability_over_cost():
    """Kadane & Simon 1977, by hand: p .4 .3 .2 .1 and 8 4 5 1 minutes: d, b, a, c after 1, 5, 13 and 18 minutes.

    Ten machines that come as often as their faults: mean 10.4 as expected, deviation 5.642694, median 13, p90 18.
    """
    p = {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}
    minutes = {"a": 8, "b": 4, "c": 5, "d": 1}
    machines = [minutes_to_mend(p, minutes, fault) for fault in p for _ in range(round(10 * p[fault]))]
    assert sorted(set(machines)) == [1, 5, 13, 18]
    assert spread(machines) == (pytest.approx(10.4), 13, 18)
    assert pstdev(machines) == pytest.approx(5.642694, abs=1e-6)
    assert mean(machines) == pytest.approx(repair_plan(list(p.values()), list(minutes.values()))[0])
