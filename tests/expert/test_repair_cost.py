"""The expected cost of repair against worked examples and exhaustive search.

Kadane & Simon, Ann. Statist. 5 (1977): descending p/c is optimal for one fault, independent perfect remedies, fixed
costs. Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting, CACM 38(3) (1995): expected cost of repair,
the price of service, and of an observation. Convention here: the last candidate is tried and paid for as well.
"""

import random
from itertools import combinations, permutations

import pytest

from expert.repair_cost import Remedies, entropy, information, repair_plan, split


def ecr(order, p, c, service=0.0, check_last=True):
    """Give the expected cost of trying the remedies in this order, straight from the definition."""
    left, cost = 1.0, 0.0
    for n, i in enumerate(order):
        if check_last or n < len(order) - 1:
            cost += left * c[i]
        left -= p[i]
    return cost + max(left, 0.0) * service


def best_order(p, c, service=0.0, partial=False, check_last=True):
    """Try every order (of every subset, if partial)."""
    sizes = range(len(p) + 1) if partial else [len(p)]
    sets = (chosen for size in sizes for chosen in combinations(range(len(p)), size))
    return min((ecr(o, p, c, service, check_last), o) for chosen in sets for o in permutations(chosen))


FOUR = ((0.40, 0.30, 0.20, 0.10), (8, 4, 5, 1))  # a, b, c, d


def test_descending_ratio_is_the_cheapest_order():
    """Kadane & Simon 1977; a, b, c, d worked over all 24 orders: d, b, a, c at 10.4."""
    cost, order = repair_plan(*FOUR)
    assert (cost, order) == (pytest.approx(10.4), (3, 1, 0, 2))
    assert ecr((0, 1, 2, 3), *FOUR) == pytest.approx(12.0), "by probability alone"
    assert ecr((3, 1, 2, 0), *FOUR) == pytest.approx(10.8), "by cost alone"
    every = sorted((ecr(order, *FOUR), order) for order in permutations(range(4)))
    assert [each[1] for each in (every[0], every[1], every[-1])] == [(3, 1, 0, 2), (1, 3, 0, 2), (2, 0, 1, 3)]
    assert [each[0] for each in (every[0], every[1], every[-1])] == pytest.approx([10.4, 10.5, 13.1])


def test_the_last_candidate_is_paid_for_as_well():
    """The other convention, the last one taken for granted, would prefer another order: d, b, c, a at 7.6."""
    assert best_order(*FOUR, check_last=False) == (pytest.approx(7.6), (3, 1, 2, 0))
    assert repair_plan(*FOUR)[0] == pytest.approx(best_order(*FOUR)[0])
    # p .9, .1 and c 10, 2. Taken for granted: 10 against 2. Paid for: 10 + .1 * 2 = 10.2 against 2 + .9 * 10 = 11.
    assert best_order((0.9, 0.1), (10, 2), check_last=False) == (pytest.approx(2.0), (1, 0))
    assert repair_plan((0.9, 0.1), (10, 2)) == (pytest.approx(10.2), (0, 1))


@pytest.mark.parametrize(("service", "order", "cost"), [(60, (2, 0, 1, 3), 18.8), (20, (2, 0, 1), 12.2), (9, (), 9.0)])
def test_service_is_called_where_it_is_cheaper(service, order, cost):
    """Heckerman, Breese & Rommelse 1995: the service call as the last action; worked over all 65 ordered subsets."""
    assert repair_plan((0.45, 0.25, 0.10, 0.05), (6, 4, 1, 8), service) == (pytest.approx(cost), order)
    # At 9 even the best first remedy does not pay: one minute, then .9 of the service.
    assert ecr((2,), (0.45, 0.25, 0.10, 0.05), (6, 4, 1, 8), 9) == pytest.approx(9.1)


@pytest.mark.parametrize("service", [None, 5.0, 20.0, 80.0])
def test_no_order_is_cheaper(service):
    """Reference: exhaustive search, up to six remedies, some of them not enough to be sure of a repair."""
    draw, stopped = random.Random(4), 0
    for _ in range(25):
        n = draw.randint(1, 6 if service is None else 5)
        share = draw.choice([0.7, 1.0])
        raw = [draw.random() for _ in range(n)]
        p, c = [share * x / sum(raw) for x in raw], [draw.randint(1, 30) for _ in range(n)]
        cost, order = repair_plan(p, c, service)
        assert cost == pytest.approx(best_order(p, c, service or 0.0, partial=service is not None)[0], abs=1e-9)
        assert cost == pytest.approx(ecr(order, p, c, service or 0.0), abs=1e-9)
        stopped += len(order) < n
    assert (stopped > 0) == (service is not None), "the hard case, a service call before the end, was reached"


def test_equal_ratios_keep_the_order_of_the_base():
    """Ties go by place."""
    assert repair_plan((0.2, 0.4, 0.4), (10, 20, 20))[1] == (0, 1, 2)


# Heckerman, Breese & Rommelse 1995, one observation before repair: p .5, .3, .2, every remedy 10 minutes.
THREE = (0.5, 0.3, 0.2)
TENS = Remedies((0, 1, 2), (10.0, 10.0, 10.0))


def binary(positive):
    """Give the likelihoods of yes and no."""
    return [list(positive), [1 - p for p in positive]]


def test_an_observation_pays_where_it_changes_the_order():
    """ECR 17.0; after + .9, .06, .04 at 11.4, after - .1, .54, .36 at 15.6; so 13.5 and the cost of looking."""
    seen = split(THREE, binary((0.9, 0.1, 0.1)))
    assert TENS.cost(THREE) == pytest.approx(17.0)
    assert [chance for chance, _ in seen] == pytest.approx([0.5, 0.5])
    assert [TENS.cost(after) for _, after in seen] == pytest.approx([11.4, 15.6])
    assert TENS.cost(THREE) - TENS.cost_after(seen) == pytest.approx(3.5), "the break-even price"


def test_an_observation_that_changes_no_order_is_worth_nothing():
    """P(+) .6, .5, .4: some information, but a, b, c either way."""
    seen = split(THREE, binary((0.6, 0.5, 0.4)))
    assert TENS.cost_after(seen) == pytest.approx(17.0)
    assert information(THREE, seen) > 0.01


def test_information_of_a_noisy_test():
    """Good 1950, de Kleer & Williams 1987: expected entropy; H 1.485475, IG .531004 bits."""
    assert entropy(THREE) == pytest.approx(1.485475, abs=1e-6)
    assert information(THREE, split(THREE, binary((0.9, 0.1, 0.1)))) == pytest.approx(0.531004, abs=1e-6)


def test_information_pays_for_what_the_repair_does_not_need():
    """Causes a1 and a2 share a remedy: telling them apart has the most information and the least use."""
    p, remedies = (0.4, 0.4, 0.2), Remedies.of([("swap", 10), ("swap", 10), ("mend", 10)])
    first, second = split(p, binary((1, 0, 0))), split(p, binary((0, 0, 1)))
    assert [information(p, seen) for seen in (first, second)] == pytest.approx([0.970951, 0.721928], abs=1e-6)
    costs = [remedies.cost(p), 1 + remedies.cost_after(first), 1 + remedies.cost_after(second)]
    assert costs == pytest.approx([12.0, 13.0, 11.0])


def test_half_split_halves_the_probability_not_the_count():
    """Eight stages in a chain: the best first test is after stage 1, and is worth one bit (half-split)."""
    p = (0.5, 0.2, 0.1, 0.05, 0.05, 0.04, 0.03, 0.03)
    bits = [information(p, split(p, binary([float(i > k) for i in range(8)]))) for k in range(7)]
    assert entropy(p) == pytest.approx(2.218059, abs=1e-6)
    assert (max(bits), bits.index(max(bits))) == (pytest.approx(1.0), 0)


def test_information_of_the_published_test_matrix():
    """Pattipati & Alexandridis, IEEE T-SMC 20(4) (1990): six states, five tests; figures from memory, recomputed."""
    p, rows = (0.70, 0.01, 0.02, 0.10, 0.05, 0.12), ("00000", "01001", "00110", "10011", "11000", "11110")
    bits = [information(p, split(p, binary([float(row[t]) for row in rows]))) for t in range(5)]
    assert bits == pytest.approx([0.841465, 0.680077, 0.584239, 0.795040, 0.499916], abs=1e-6)


def test_a_failed_imperfect_remedy_leaves_part_of_its_cause():
    """P .5, .3, .2; a remedy of the first that works in .8 of the cases did not help: .166667, .5, .333333."""
    (_, after) = split(THREE, [[1 - 0.8, 1.0, 1.0]])[0]
    assert after == pytest.approx((0.166667, 0.5, 0.333333), abs=1e-6)


def test_information_is_never_negative_nor_more_than_there_is():
    """0 <= IG <= H(causes) and <= H(outcome); 0 where every cause predicts the same."""
    draw = random.Random(5)
    for _ in range(200):
        raw = [draw.random() ** 3 for _ in range(draw.randint(2, 8))]
        p = tuple(x / sum(raw) for x in raw)
        seen = split(p, binary([draw.choice([0.0, 1.0, draw.random()]) for _ in p]))
        bits = information(p, seen)
        assert 0.0 <= bits <= min(entropy(p), entropy([chance for chance, _ in seen])) + 1e-12
        assert information(p, split(p, binary([0.3] * len(p)))) == pytest.approx(0.0, abs=1e-12)


def test_the_price_of_service_bounds_the_expected_cost():
    """However many causes there are, handing on is never dearer than its price."""
    remedies = Remedies.of([(f"mend {n}", 60) for n in range(100)], 240.0)
    assert remedies.cost([0.01] * 100) == pytest.approx(240.0)
