"""Where probability over cost is not the best order, and what the planner's arithmetic gives there: its known limits.

Ottosen & Jensen, UAI 2010: shared costs, and their technical report 10-001: actions that overlap, are where descending
p/c falls short. The figures are by hand and by trying every order; nothing here is a fault of the arithmetic, but of
its assumptions: one fault, one remedy for each cause, each with a price of its own.
"""

from itertools import permutations

import pytest

from expert.repair_cost import Remedies, repair_plan, split

FAULTS = {"f1": 0.26, "f2": 0.26, "f3": 0.24, "f4": 0.24}
MENDS = {"A": {"f1", "f2"}, "B": {"f1", "f3"}, "C": {"f2", "f4"}}


def overlapping(order):
    """Give the expected minutes of remedies of one minute each, until the fault is mended."""
    left, cost = dict(FAULTS), 0.0
    for remedy in order:
        cost += sum(left.values())
        left = {fault: p for fault, p in left.items() if fault not in MENDS[remedy]}
    return cost


def test_remedies_that_overlap_are_beyond_the_ratio():
    """The likeliest first takes A, then B and C: 1 + .48 + .24; B and C alone mend everything for 1.5."""
    together = [sum(FAULTS[fault] for fault in mends) for mends in MENDS.values()]
    order = ["ABC"[place] for place in repair_plan(together, (1, 1, 1))[1]]
    assert overlapping(order) == pytest.approx(1.72)
    assert min(map(overlapping, permutations("ABC"))) == overlapping("BCA") == pytest.approx(1.5)


INSIDE = {"in1": (0.40, 2), "in2": (0.28, 3), "in3": (0.20, 3)}
OPENING = 5


def shared(order, outside):
    """Give the expected minutes where the first remedy inside pays for the opening; the other one stands outside."""
    left, cost, opened = 1.0, 0.0, False
    for name in order:
        p, minutes = INSIDE.get(name, (0.12, outside))
        cost += left * (minutes + (0 if name == "out" or opened else OPENING))
        opened = opened or name != "out"
        left -= p
    return cost


@pytest.mark.parametrize(
    ("outside", "best", "least", "by_ratio"),
    [(2, ("in1", "in2", "in3", "out"), 10.0, 10.2), (1, ("out", "in1", "in2", "in3"), 9.2, 9.2)],
)
def test_an_opening_that_remedies_share_is_beyond_the_ratio(outside, best, least, by_ratio):
    """The opening added to each remedy inside puts the one outside first, which is right only where it is cheap."""
    names = [*INSIDE, "out"]
    p = [*(share for share, _ in INSIDE.values()), 0.12]
    minutes = [*(minutes + OPENING for _, minutes in INSIDE.values()), outside]
    order = [names[place] for place in repair_plan(p, minutes)[1]]
    assert order == ["out", "in1", "in2", "in3"]
    assert shared(order, outside) == pytest.approx(by_ratio)
    assert min(permutations(names), key=lambda each: shared(each, outside)) == best
    assert shared(best, outside) == pytest.approx(least)


@pytest.mark.parametrize(("service", "without", "asking"), [(40, 15.0, 14.3), (100, 21.0, 20.3)])
def test_a_question_before_the_repair_is_worth_its_price(service, without, asking):
    """Vomlel, Decision theoretic troubleshooting (slides, 2007): four causes, actions of 5, 15 and 1, a question of 2.

    The slides' tables could not be read, so that these are assumed: the actions mend the first, the second and the
    third cause, nothing the fourth; the question tells the first two from the rest. By hand: 1 + .8 * 5 + .4 * 15 and
    .1 of service; after the question 5 + 3/7 * 15, or 1 and a third of service.
    """
    causes = (0.4, 0.3, 0.2, 0.1)
    remedies = Remedies.of([("first", 5), ("second", 15), ("third", 1), ("none", 10_000)], service)
    assert remedies.cost(causes) == pytest.approx(without)
    assert 2 + remedies.cost_after(split(causes, [(1, 1, 0, 0), (0, 0, 1, 1)])) == pytest.approx(asking)
    assert repair_plan(causes[:3], (5, 15, 1), service)[1] == (2, 0, 1)
