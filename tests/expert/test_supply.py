"""The supply for a build: the rating it wants, the plugs, whether one at hand is enough, and the draw at the wall.

All parts are invented. That the figures of the base are those of the published tables is tested in tests/sources.
"""

import random
from itertools import combinations_with_replacement, permutations

import pytest

from expert.build import Part
from expert.power import budget_of
from expert.supply import cpu_plugs, judge_supply, plugs_needed, rating_for, unserved, wall_draw
from knowledge import shipped_base
from tests.expert.builds import TOLD_PARTS, without

BASE = shipped_base()
GOLD = next(e for e in BASE.efficiencies if e.id == "gold-115")


def test_a_quarter_more_than_the_load_leaves_a_fifth_of_the_rating():
    """400 W with 20 % of the rating to spare: 400 / 0.8 = 500 W; with 30 %: 571.4, the next usual one is 600 W."""
    rating = rating_for(BASE, budget_of(BASE, TOLD_PARTS))
    assert (rating.watts, rating.better) == (500, 600)
    assert rating.amps_12v == pytest.approx(400 / 12)
    assert any("500 W" in reason and "20%" in reason for reason in rating.reasons)


@pytest.mark.parametrize("more", [1, 5])
def test_the_rating_is_rounded_up_to_a_usual_one(more):
    """401 / 0.8 = 501.25 and 405 / 0.8 = 506.25 are not 500."""
    cpu = Part("cpu", 1, {"draw_watts": 120 + more})
    assert rating_for(BASE, budget_of(BASE, without("cpu", cpu))).watts == 550


def test_disks_that_spin_up_together_can_decide_the_rating():
    """Ten disks: sustained 79.7 + 30 W, over .8 only 137; while they spin up 10 x (2.0 x 12 + 3.205) + 30 = 302 W."""
    none = [Part(part, 0) for part in ("memory", "cooling", "ports", "board")]
    others = [Part("cpu", 1, {"draw_watts": 30}), Part("graphics", 1, {"kind": "onboard"})]
    rating = rating_for(BASE, budget_of(BASE, [*none, *others, Part("storage", 10, {"kind": "hdd"})]))
    assert rating.watts == 350


def test_the_highest_power_of_a_processor_can_decide_the_rating():
    """Held to 60 W, its class still takes 34 A x 11.2 V = 380.8 W for 10 ms, and a supply bears 135 % for so long.

    380.8 / 1.35 = 282.1, so 300 W, and not the 250 W that 60 / .8 = 75 W would let one buy (tables 2-1 and 3-3).
    """
    none = [Part(part, 0) for part in ("memory", "cooling", "ports", "board", "storage")]
    parts = [*none, Part("cpu", 1, {"watts": 65, "draw_watts": 60}), Part("graphics", 1, {"kind": "onboard"})]
    assert rating_for(BASE, budget_of(BASE, parts)).watts == 300


def test_a_load_beyond_every_usual_rating_gets_none():
    """1600 W with a fifth to spare carry 1280 W; more is said, not rounded down."""
    cpu = Part("cpu", 1, {"draw_watts": 1280 - 280 + 1})
    rating = rating_for(BASE, budget_of(BASE, without("cpu", cpu)))
    assert rating.watts is None
    assert "more than the largest" in rating.reasons[0]


def test_a_card_with_the_16_pin_plug_asks_for_its_excursions_too():
    """A 450 W card: 180 W of others + 3 x 450 = 1530 W for 0.1 ms, 200 % of the rating: 765 W; the sustained load
    630 / 0.8 = 787.5 W decides. A 600 W card: 180 + 1800 = 1980 / 2 = 990 W; 780 / 0.8 = 975 W; so 1000 W."""
    for card, others, least in ((450, 180, 787.5), (600, 180, 990)):
        facts = {"watts": card, "plugs": ["gpu-16"], "plug_watts": card if card < 600 else 600}
        budget = budget_of(BASE, without("graphics", Part("graphics", 1, facts)))
        assert budget.continuous == pytest.approx(card + others)
        rating = rating_for(BASE, budget, ["gpu-16"])
        assert rating.watts == min(r for r in BASE.headrooms[0].ratings if r >= least)


# ---- plugs ----


def test_the_plugs_that_a_build_needs():
    """The board's sockets, the card's own, and one plug for each drive with leads."""
    parts = [
        Part("cpu", 1, {"watts": 125}),
        Part("board", 1, {"main": "main-24", "cpu_sockets": ["cpu-8", "cpu-4"]}),
        Part("storage", 2, {"kind": "hdd"}),
        Part("storage", 1, {"kind": "ssd"}),
        Part("storage", 1, {"kind": "nvme"}),
        Part("graphics", 1, {"plugs": ["gpu-8", "gpu-6"]}),
    ]
    needed, asks = plugs_needed(BASE, parts)
    assert needed == {"main-24": 1, "cpu-8": 1, "cpu-4": 1, "gpu-8": 1, "gpu-6": 1, "sata": 3}
    assert asks == ()


def test_sockets_that_are_not_known_are_asked_for():
    """The board's main socket and the plugs of a card of which only the power was told."""
    parts = without("board", Part("board"))
    parts = [part for part in parts if part.part != "graphics"] + [Part("graphics", 1, {"watts": 200})]
    _, asks = plugs_needed(BASE, parts)
    assert {ask.part for ask in asks} == {"board", "graphics"}


SOCKETS = ("cpu-4", "cpu-8", "gpu-6", "gpu-8", "main-20", "main-24")


def test_as_many_sockets_are_served_as_any_way_of_plugging_would():
    """Against every order of giving plugs to sockets, on random sets of both."""
    chance = random.Random(7)
    known = {plug.id: plug for plug in BASE.connectors}
    tight = 0
    for _ in range(150):
        sockets = [chance.choice(SOCKETS) for _ in range(chance.randint(1, 4))]
        plugs = [
            chance.choice([*SOCKETS, "gpu-6-2", "cpu-4-4", "main-20-4", "sata"]) for _ in range(chance.randint(0, 5))
        ]
        padded = [*plugs, *[None] * len(sockets)]
        best = max(
            sum(plug is not None and socket in known[plug].serves for plug, socket in zip(order, sockets, strict=False))
            for order in permutations(padded, len(sockets))
        )
        needed = {socket: sockets.count(socket) for socket in sockets}
        left = sum(unserved(BASE, needed, plugs).values())
        assert left == len(sockets) - best
        tight += 0 < left < len(sockets)
    assert tight > 20, "the hard case, some served and some not, came up"


def test_nothing_serves_a_socket_of_the_makers_own():
    """Not even a plug that looks like it."""
    assert unserved(BASE, {"main-own": 1}, ["main-24", "main-own"]) == {"main-own": 1}


@pytest.mark.parametrize("amps", [0.5, 11, 16, 16.1, 23, 32, 32.1, 37.5, 48, 48.1, 64])
def test_the_fewest_processor_plugs(amps):
    """Against every choice of up to four plugs, of 16 A and of 32 A."""
    sizes = {"cpu-4": 16.0, "cpu-8": 32.0}
    choices = [c for n in range(1, 5) for c in combinations_with_replacement(sizes, n)]
    fewest = min(len(c) for c in choices if sum(sizes[plug] for plug in c) >= amps)
    plugs = cpu_plugs(BASE, amps)
    assert len(plugs) == fewest
    assert sum(sizes[plug] for plug in plugs) >= amps


ENOUGH = {"watts": 500, "amps_12v": 38, "plugs": ["main-20-4", "cpu-4-4", "gpu-6-2", "sata", "sata"]}


def test_a_supply_that_is_enough():
    """400 W and 33.3 A against 500 W and 38 A, with every plug."""
    verdict = judge_supply(BASE, budget_of(BASE, TOLD_PARTS), TOLD_PARTS, Part("psu", 1, ENOUGH))
    assert (verdict.is_enough, verdict.short, verdict.tight, verdict.unknown) == (True, (), (), ())


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"watts": 399}, "W sustained"),
        ({"amps_12v": 33}, "A at 12 V"),
        ({"amps_12v_cpu": 9.9}, "A for the processor"),
        ({"plugs": ["main-20-4", "cpu-4-4", "gpu-6", "sata"]}, "socket gpu-8"),
        ({"plugs": ["main-10", "cpu-4-4", "gpu-8", "sata"]}, "socket main-24"),
        ({"plugs": ["main-24", "cpu-4-4", "gpu-8"]}, "socket sata"),
    ],
)
def test_a_supply_that_is_short_of_one_thing(changed, said):
    """The total is not the 12 V, and neither is the plugs; the processor takes 10 A here."""
    verdict = judge_supply(BASE, budget_of(BASE, TOLD_PARTS), TOLD_PARTS, Part("psu", 1, ENOUGH | changed))
    assert verdict.is_enough is False
    assert len(verdict.short) == 1
    assert said in verdict.short[0]


def test_a_supply_without_room_is_tight():
    """400 of 480 W leave 16.7 %, below the usual 20 % (common practice, no source)."""
    verdict = judge_supply(BASE, budget_of(BASE, TOLD_PARTS), TOLD_PARTS, Part("psu", 1, ENOUGH | {"watts": 480}))
    assert verdict.is_enough is True
    assert "16.7%" in verdict.tight[0]


def test_a_processor_that_takes_more_than_its_sockets_carry():
    """37.5 A of the 165 W class (table 2-1) through one socket of 8, four contacts of 8 A: 32 A."""
    parts = without("cpu", Part("cpu", 1, {"watts": 165}))
    supply = Part("psu", 1, ENOUGH | {"watts": 1000, "amps_12v": 80})
    (short,) = judge_supply(BASE, budget_of(BASE, parts), parts, supply).short
    assert "37.5 A" in short
    assert "32" in short


def test_a_supply_that_nobody_has_read_the_label_of_is_neither():
    """Without the 12 V current a total says nothing."""
    supply = Part("psu", 1, {"watts": 500, "plugs": ENOUGH["plugs"]})
    verdict = judge_supply(BASE, budget_of(BASE, TOLD_PARTS), TOLD_PARTS, supply)
    assert verdict.is_enough is None
    assert any("12 V" in ask.text for ask in verdict.unknown)


def test_the_main_plug_of_a_twelve_volt_only_board_has_a_limit_of_its_own():
    """288 W by three contacts of 8 A: board and drives of 250 W, and the 75 W that a slot gives, are too much."""
    parts = [
        Part("cpu", 1, {"draw_watts": 100}),
        Part("board", 1, {"draw_watts": 250, "main": "main-10", "cpu_sockets": ["cpu-8"]}),
        Part("graphics", 1, {"watts": 75, "plugs": []}),
        *(Part(part, 0) for part in ("memory", "storage", "cooling", "ports")),
    ]
    supply = Part("psu", 1, {"watts": 850, "amps_12v": 70, "plugs": ["main-10", "cpu-8"]})
    verdict = judge_supply(BASE, budget_of(BASE, parts), parts, supply)
    assert len(verdict.short) == 1
    assert "through the board" in verdict.short[0]
    lighter = [
        Part("board", 1, {"draw_watts": 213, "main": "main-10", "cpu_sockets": ["cpu-8"]}) if p.part == "board" else p
        for p in parts
    ]
    assert judge_supply(BASE, budget_of(BASE, lighter), lighter, supply).is_enough is True


# ---- the wall ----


@pytest.mark.parametrize(
    ("watts", "percent", "how"),
    [
        (100, 87.0, "published value at 20 %"),
        (250, 90.0, "published value at 50 %"),
        (500, 87.0, "published value at 100 %"),
        (175, 88.5, "between the published values at 20 % and 50 %"),  # 35 % load: half way from 87 to 90
        (375, 88.5, "between the published values at 50 % and 100 %"),  # 75 % load: half way from 90 to 87
    ],
)
def test_wall_draw_says_where_it_stands_between_the_points(watts, percent, how):
    """Gold, 115 V: 87, 90, 87 % at 20, 50, 100 % load (programme table); a straight line in between."""
    wall = wall_draw(GOLD, 500, watts)
    assert wall.efficiency_percent == pytest.approx(percent)
    assert wall.watts == pytest.approx(watts / percent * 100)
    assert how in wall.how


@pytest.mark.parametrize("watts", [0, 99, 501])
def test_no_wall_draw_where_the_programme_promises_nothing(watts):
    """Below 20 % load, and above the rating."""
    assert wall_draw(GOLD, 500, watts) is None
