"""The repair plan, the estimate, and the list before the machine goes home; machines and prices are invented.

Expected cost: Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting, CACM 38(3), 1995, one remedy and a
price of service. Watts: the tables named in tests/sources/test_power_tables.py.
"""

import random
from fractions import Fraction

import pytest

from expert.assess import Expert
from expert.build import Part
from expert.case import Case, Told
from expert.elimination import Ground, PartStatus
from expert.estimate import compare, estimate
from expert.repair import locked_parts, plan_repair, verification_list
from expert.repair_cost import repair_plan
from knowledge import load, shipped_base
from knowledge.errors import KnowledgeError
from knowledge.fit_models import Price
from knowledge.load import BASE as FOLDER
from tests.expert.worked import PRICES, WORKED_FINDINGS, WORKED_PARTS

BASE = shipped_base()
EXPERT = Expert(BASE)


def status(part, verdict, share=0.0):
    """Give the status of a part, on grounds if it is cleared or convicted."""
    said = {"cleared": "clears", "convicted": "convicts"}.get(verdict)
    grounds = (Ground(said, 1, f"The {part} was seen.", "", 0.0),) if said else ()
    return PartStatus(part, verdict, share, grounds)


def actions(plan):
    """Give the action for each part."""
    return {step.part: step.action for step in plan.steps}


# ---- the estimate ----


@pytest.mark.parametrize(
    ("p", "expected", "tries"), [(0.6, 278.0, True), (0.5, 306.5, False), (1.0, 164.0, True), (0.0, 449.0, False)]
)
def test_on_each_side_of_the_break_even(p, expected, tries):
    """164 + .4 x 285 = 278; 164 + .5 x 285 = 306.5; certain: 164; hopeless: 164 + 285 = 449."""
    comparison = compare(estimate(PRICES, ["psu"], hunted={"psu"}), estimate(PRICES, ["psu", "board", "case"], 600), p)
    assert comparison.expected == pytest.approx(expected)
    assert comparison.try_first is tries


def _plain(part, money, back=0):
    return (
        Price(id="hour", part="labour", title="-", money=0),
        Price(id=part, part=part, title="-", money=money, back=back),
    )


def test_the_example_in_the_module():
    """60 to try, 300 to rebuild, nothing comes back: break-even .2, at p .5 trying costs 210."""
    comparison = compare(estimate(_plain("psu", 60), ["psu"]), estimate(_plain("board", 300), ["board"]), 0.5)
    assert (comparison.expected, comparison.break_even) == (pytest.approx(210), pytest.approx(0.2))


def test_the_estimate_is_that_of_one_remedy_with_a_price_of_service():
    """Heckerman, Breese & Rommelse 1995: c + (1 - p) S, taken where it is below S; against exact fractions as well."""
    chance = random.Random(3)
    sides = {True: 0, False: 0}
    for _ in range(200):
        c, r, p = chance.randint(1, 300), chance.randint(1, 300), chance.randint(0, 20)
        comparison = compare(estimate(_plain("psu", c), ["psu"]), estimate(_plain("board", r), ["board"]), p / 20)
        exact = c + (1 - Fraction(p, 20)) * r
        assert comparison.expected == pytest.approx(float(exact))
        cheaper = exact < r
        sides[cheaper] += 1
        assert (comparison.expected < comparison.rebuild.total - 1e-9) is cheaper
        assert (p / 20 > comparison.break_even + 1e-9) is cheaper
        cost, order = repair_plan([p / 20], [c], service=r)
        assert cost == pytest.approx(min(float(exact), r))
        assert (order == (0,)) is cheaper
    assert min(sides.values()) > 20


def test_a_part_that_costs_more_than_the_rebuild_is_never_tried():
    """Break-even above 1."""
    comparison = compare(estimate(_plain("psu", 310), ["psu"]), estimate(_plain("board", 300), ["board"]), 1.0)
    assert comparison.break_even > 1
    assert not comparison.try_first


def test_no_break_even_where_everything_comes_back():
    """A rebuild that costs no more than what comes back: nothing to weigh by probability."""
    comparison = compare(estimate(_plain("psu", 50, back=50), ["psu"]), estimate(_plain("board", 40), ["board"]), 0.5)
    assert comparison.break_even is None


def test_no_price_is_made_up():
    """What the list lacks is said, line by line; a supply too small, or without a rating, is no line."""
    assert estimate(PRICES, ["memory", "board"]) == ("The price list has no line for memory.",)
    assert estimate((), ["psu"])[0].startswith("The price list has no line 'labour'")
    assert estimate(PRICES, ["psu"], watts=1000) == ("The price list has no line for psu of 1000 W or more.",)
    unrated = (PRICES[0], Price(id="supply", part="psu", title="?", money=10))
    assert estimate(unrated, ["psu"], watts=300) == ("The price list has no line for psu of 300 W or more.",)
    assert "to be searched for" in estimate(PRICES, ["board"], hunted={"board"})[0]


def test_a_makers_own_supply_is_taken_whatever_its_rating():
    """Common practice, no source: it is bought by its number, like for like; a new rating is for a new supply."""
    (line,) = estimate(PRICES, ["psu"], 600, hunted={"psu"}).lines
    assert (line.id, line.watts) == ("supply-own", None)


def test_a_shop_keeps_its_prices_in_its_own_folder(tmp_path):
    """A list is read with the knowledge of the shop; a part that does not exist is named."""
    (tmp_path / "prices.toml").write_text('[[price]]\nid = "b"\npart = "board"\ntitle = "board"\nmoney = 80\n', "utf-8")
    assert [price.money for price in load([FOLDER, tmp_path]).prices] == [80]
    (tmp_path / "prices.toml").write_text('[[price]]\nid = "b"\npart = "bord"\ntitle = "board"\nmoney = 80\n', "utf-8")
    with pytest.raises(KnowledgeError, match="price 'b': part: no such id 'bord'"):
        load([FOLDER, tmp_path])


# ---- the steps ----

STANDARD = (Part("cpu", 1, {"watts": 65}), Part("board", 1, {"main": "main-24", "cpu_sockets": ["cpu-8"]}), Part("psu"))


def test_a_convicted_part_is_replaced_alone_on_a_standard_machine():
    """And everything cleared is kept."""
    plan = plan_repair(BASE, [status("psu", "convicted", 0.97), status("board", "cleared")], STANDARD, {"dead"})
    assert actions(plan) == {"psu": "replace", "board": "keep", "cpu": "retest"}
    assert plan.refused[0].id == "opening-the-supply"


def test_a_suspect_is_retested_as_long_as_a_check_can_tell():
    """Nothing is bought on suspicion."""
    suspects = [status("psu", "suspect", 0.6), status("board", "suspect", 0.3)]
    plan = plan_repair(BASE, suspects, STANDARD, {"dead"}, checkable={"psu"})
    assert not plan.decided
    assert set(plan.parts("retest")) == {"psu", "board", "cpu"}
    later = plan_repair(BASE, suspects, STANDARD, {"dead"})
    assert later.decided
    assert actions(later)["psu"] == "replace"
    assert actions(later)["board"] == "retest", "it is tried again with the new supply"


def test_a_suspect_that_a_locked_check_could_settle_is_replaced_with_the_lock_named():
    """That a check is forbidden is another reason than that there is none."""
    suspects = [status("psu", "suspect", 0.6)]
    bare = plan_repair(BASE, suspects, STANDARD, {"dead"}).steps[0].reason
    locked = plan_repair(BASE, suspects, STANDARD, {"dead"}, locked={"psu": "wrong-supply"}).steps[0].reason
    assert bare.endswith("no check that is open to this bench can settle it.")
    assert locked.endswith("what could settle it is locked (wrong-supply).")


@pytest.mark.parametrize(("share", "action"), [(0.04, "retest"), (0.06, "replace")])
def test_what_has_next_to_no_belief_on_it_is_not_bought(share, action):
    """The rest is on something that is no part to buy, such as the mains."""
    assert actions(plan_repair(BASE, [status("psu", "suspect", share)], STANDARD, {"dead"}))["psu"] == action


def test_a_contradiction_is_asked_about_before_anything_is_bought():
    """The question of the elimination is the reason of the step."""
    torn = PartStatus("psu", "suspect", 0.9, (), "Which of the two was seen for certain?")
    plan = plan_repair(BASE, [torn], STANDARD, {"dead"})
    assert not plan.decided
    assert next(step for step in plan.steps if step.part == "psu").reason == torn.ask


def test_with_the_right_spare_the_makers_own_supply_is_replaced_alone():
    """The same machine as in the worked case, and a compatible supply on the shelf."""
    statuses = [status("psu", "convicted"), status("board", "cleared")]
    plan = plan_repair(BASE, statuses, WORKED_PARTS, WORKED_FINDINGS, have=["compatible-supply"])
    assert actions(plan)["psu"] == "replace"
    assert actions(plan)["board"] == "keep"
    assert plan.stuck, "and no supply on sale goes with the board, which is said"


def test_what_is_not_known_of_a_kept_part_is_asked_before_an_order():
    """Without the processor's socket and class no board and no rating."""
    parts = [*(part for part in WORKED_PARTS if part.part != "cpu"), Part("cpu")]
    plan = plan_repair(BASE, [status("board", "convicted"), status("cpu", "cleared")], parts, WORKED_FINDINGS)
    assert {ask.part for ask in plan.asks} == {"cpu"}
    assert len(plan.asks) == 2
    assert plan.rating.watts is None


def test_steps_come_in_one_order_whatever_the_order_of_the_parts():
    """What goes first, what stays last; the same plan for the same facts."""
    statuses = [status(part, "cleared") for part in ("memory", "cpu", "case")] + [status("psu", "convicted")]
    plans = [plan_repair(BASE, order, STANDARD, {"dead"}).steps for order in (statuses, statuses[::-1])]
    assert plans[0] == plans[1]
    assert plans[0][0].part == "psu"


def test_what_a_hazard_locks_is_named_for_the_part_that_it_could_settle():
    """A machine that burnt is not energised for a trial; with the spare on the shelf, the fire is what forbids it."""
    told = [Told(id=f, state="present", quote=f) for f in ("dead", "smoke")]
    checks = EXPERT.assess(Case(findings=tuple(told), have=("spare-supply", "screwdriver"))).checks
    lock = next(plan.locked_by for plan in checks if plan.id == "known-good-supply-beside-case")
    assert lock is not None
    assert locked_parts(BASE, checks)["psu"] == lock
    assert "psu" not in locked_parts(BASE, [plan for plan in checks if plan.locked_by is None])


# ---- before it goes home ----

ALWAYS = {
    "self-test",
    "parts-listed",
    "boot-device",
    "operating-system",
    "load-and-temperature",
    "drive-health",
    "owner-told",
}


@pytest.mark.parametrize(
    ("touched", "findings", "more"),
    [
        ((), (), set()),
        (("psu",), (), {"leads-and-screws", "earth-and-mains-lead", "rails-in-setup"}),
        (("board",), (), {"leads-and-screws", "clock-and-settings", "memory-test"}),
        (("memory",), (), {"leads-and-screws", "memory-test"}),
        ((), ("clock-resets",), {"clock-and-settings"}),
        ((), ("settings-cleared",), {"clock-and-settings"}),
        ((), ("shock",), {"earth-and-mains-lead"}),
    ],
)
def test_what_is_due_before_the_machine_goes_home(touched, findings, more):
    """Always the chain from self-test to load, and drive health; the rest by what was touched (common practice)."""
    assert {item.id for item in verification_list(BASE, touched, findings)} == ALWAYS | more
