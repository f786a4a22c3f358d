"""The load of a build: the sums, what is asked, and what no card can take; all parts are invented.

That the figures of the base are those of the published tables is tested in tests/sources.
"""

from itertools import permutations

import pytest

from expert.build import Part
from expert.power import TOLD, budget_of
from expert.supply import rating_for
from knowledge import shipped_base
from tests.expert.builds import TOLD_PARTS, without

BASE = shipped_base()


def test_the_sum_of_what_was_told():
    """120 + 30 + 2 x 5 + 4 + 220 + 2 x 3 + 4 x 2.5 = 400 W, all held against 12 V: 33.3 A."""
    budget = budget_of(BASE, TOLD_PARTS)
    assert budget.is_complete
    assert budget.faults == ()
    assert budget.continuous == pytest.approx(400)
    assert budget.continuous_amps == pytest.approx(400 / 12)
    assert {line.source for line in budget.lines} == {TOLD}


@pytest.mark.parametrize("part", ["cpu", "memory", "storage", "graphics", "cooling", "ports"])
def test_a_part_that_was_not_named_is_asked_for(part):
    """The sum stands as a least value, and no rating is given."""
    budget = budget_of(BASE, without(part))
    assert [ask.part for ask in budget.asks] == [part]
    assert not budget.is_complete
    rating = rating_for(BASE, budget)
    assert (rating.watts, rating.better) == (None, None)
    assert rating.reasons == (budget.asks[0].text,)


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (Part("cpu"), "Which processor"),
        (Part("cpu", 1, {"watts": "65-95"}), "Which processor"),
        (Part("cpu", 1, {"watts": 65, "approximately": True}), "Which processor"),
        (Part("cpu", 1, {"watts": 280}), "turbo limit"),
        (Part("storage"), "kind of drive"),
        (Part("storage", 1, {"kind": "tape"}), "kind of drive"),
        (Part("graphics"), "board power"),
        (Part("graphics", 1, {"plugs": ["gpu-16"]}), "16-pin"),
        (Part("graphics", 1, {"plugs": ["gpu-9"]}), "board power"),
        (Part("cooling", 1, {"kind": "liquid"}), "pump"),
        (Part("ports", 6), "USB 2.0 or USB 3"),
        (Part("cards"), "kind of slot"),
    ],
)
def test_what_is_not_known_well_enough_is_asked_and_not_guessed(part, said):
    """A range, a figure that is only about right, a class beyond the table, a kind that no class covers."""
    budget = budget_of(BASE, without(part.part, part))
    assert [ask.part for ask in budget.asks] == [part.part]
    assert said in budget.asks[0].text
    assert part.part not in {line.part for line in budget.lines}


def test_none_of_a_kind_is_an_answer():
    """No USB port and no drive: nothing to ask, nothing to add."""
    parts = [p for p in TOLD_PARTS if p.part not in ("ports", "storage")]
    budget = budget_of(BASE, [*parts, Part("ports", 0), Part("storage", 0)])
    assert budget.is_complete
    assert budget.continuous == pytest.approx(400 - 10 - 4)


def test_the_board_counts_even_if_nobody_names_it():
    """Every machine has one; 50 W at most by the practice of the trade, no source."""
    budget = budget_of(BASE, without("board"))
    assert budget.is_complete
    assert budget.continuous == pytest.approx(400 - 30 + 50)


def test_supply_case_and_screen_draw_nothing_here():
    """What is fed by the build, not what feeds it."""
    others = [Part("psu", 1, {"watts": 450}), Part("case"), Part("display", 1, {"inches": 24})]
    assert budget_of(BASE, [*TOLD_PARTS, *others]) == budget_of(BASE, TOLD_PARTS)


def test_what_was_told_comes_before_the_class_and_the_class_still_bounds_the_moment():
    """A 65 W processor held to 90 W: 90 W sustained; for 10 ms still 34 A at 11.2 V, 380.8 W (table 2-1)."""
    cpu = Part("cpu", 1, {"watts": 65, "draw_watts": 90})
    (line,) = [line for line in budget_of(BASE, without("cpu", cpu)).lines if line.part == "cpu"]
    assert line.watts == pytest.approx((90, 380.8))
    assert line.amps_12v == pytest.approx((7.5, 34))


def test_disks_count_for_the_start_and_processors_for_the_moment():
    """Four 3.5-inch disks, 2.0 A each at 12 V (DB35.4, table 2); a 125 W processor, 26 A and 39 A (table 2-1)."""
    parts = [
        Part("cpu", 1, {"watts": 125}),
        Part("storage", 4, {"kind": "hdd"}),
        Part("graphics", 1, {"kind": "onboard"}),
    ]
    budget = budget_of(BASE, parts)
    spinning = 4 * (2.0 - 0.397)
    assert budget.start_amps - budget.continuous_amps == pytest.approx(spinning)
    assert budget.start - budget.continuous == pytest.approx(spinning * 12)
    assert budget.peak_amps - budget.start_amps == pytest.approx(39 - 26)


def test_the_order_of_the_parts_changes_nothing():
    """The budget of every order of four parts is the same sum."""
    sums = {budget_of(BASE, list(order)).continuous for order in permutations(TOLD_PARTS[:4])}
    assert len(sums) == 1


@pytest.mark.parametrize(
    ("facts", "faults"),
    [
        ({"watts": 225, "plugs": ["gpu-8"]}, 0),
        ({"watts": 226, "plugs": ["gpu-8"]}, 1),
        ({"watts": 600, "plugs": ["gpu-16"], "plug_watts": 600}, 0),
        ({"watts": 525, "plugs": ["gpu-16"], "plug_watts": 450}, 0),
        ({"watts": 526, "plugs": ["gpu-16"], "plug_watts": 450}, 1),
        ({"watts": 601}, 1),
        ({"watts": 75, "plugs": []}, 0),
        ({"watts": 76, "plugs": []}, 1),
    ],
)
def test_a_card_cannot_take_more_than_slot_and_plugs_carry(facts, faults):
    """75 W from the slot, 150 W from a plug of 8, 600 W in all (CEM, table 3-5)."""
    assert len(budget_of(BASE, without("graphics", Part("graphics", 1, facts))).faults) == faults
