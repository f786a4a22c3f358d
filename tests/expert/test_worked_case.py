"""The long worked case from the log to the plan: what is cleared, what cannot be told apart, what is bought.

Which trial clears what: common practice, no source; the watts by hand from the tables that tests/sources names; hunting
for the maker's supply against a rebuild: Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting, CACM 38(3),
1995, one remedy and a price of service.
"""

import pytest

from expert.assess import Expert
from expert.elimination import SUSPECT
from expert.estimate import estimate
from expert.verdict import conclude
from knowledge import shipped_base
from tests.expert.worked import PRICES, WORKED_CHECKS, worked_case

BASE = shipped_base().model_copy(update={"prices": PRICES})
EXPERT = Expert(BASE)
BENCH = ("known-good-bench", "multimeter", "spare-supply")


@pytest.fixture(scope="module")
def worked():
    """Give assessment and verdict of the worked case."""
    case = worked_case(BENCH)
    assessment = EXPERT.assess(case)
    return assessment, conclude(BASE, case, assessment)


def statuses(verdict):
    """Give the status of each part."""
    return {status.part: status for status in verdict.elimination.parts}


def test_supply_and_board_are_left(worked):
    """The outside and the movable parts are cleared; supply and board are left, the supply ahead."""
    found = statuses(worked[1])
    cleared = {part for part, s in found.items() if s.status == "cleared"}
    assert cleared >= {"supply-path", "case", "memory", "graphics", "cpu", "storage"}
    assert (found["psu"].status, found["board"].status) == ("suspect", "suspect")
    others = [s.probability for part, s in found.items() if part not in ("psu", "board")]
    assert found["psu"].probability > found["board"].probability > max(others)


def test_the_movable_parts_are_cleared_one_by_one():
    """Each trial on the good bench clears its own part, and none before its turn."""
    parts = {"memory": "memory", "card": "graphics", "processor": "cpu", "drive": "storage"}
    for done, check in enumerate(WORKED_CHECKS, start=1):
        trial = check.removeprefix("their-").removesuffix("-in-bench-machine")
        if trial in parts:
            before, after = (worked_case(BENCH, count) for count in (done - 1, done))
            found = [statuses(conclude(BASE, case, EXPERT.assess(case)))[parts[trial]] for case in (before, after)]
            assert [status.status == "cleared" for status in found] == [False, True], check


def test_the_weak_coin_cell_is_not_it(worked):
    """The clock resets and the meter calls it flat, but a new one changes nothing: no suspect, and looked at again."""
    done = list(WORKED_CHECKS).index("coin-cell-by-meter") + 1
    early = EXPERT.assess(worked_case(BENCH, done)).belief
    late = worked[0].belief
    for belief in (early, late):
        assert belief.causes[0].id == "psu-failed"
        assert next(cause.probability for cause in belief.causes if cause.id == "coin-cell") < SUSPECT
    assert "clock-and-settings" in [item.id for item in worked[1].plan.verification]


@pytest.mark.parametrize("meter", [("multimeter",), ()])
def test_supply_and_board_cannot_be_told_apart(meter):
    """No supply or board of their make is to be had: one group, the supply ahead; a rail by meter settles little."""
    case = worked_case(("known-good-bench", "spare-supply", *meter))
    ambiguity = conclude(BASE, case, EXPERT.assess(case)).ambiguity
    (group,) = [group for group in ambiguity.groups if "psu-failed" in group.causes]
    assert group.causes[:2] == ("psu-failed", "board-failed")
    assert "unlisted-fault" not in group.causes
    parts = {cause.id: cause.part for cause in BASE.causes}
    assert {parts[cause] for cause in group.causes} & {"memory", "graphics", "cpu", "storage"} == set()
    assert ambiguity.decide
    # The spare supply that would tell is locked, so that it is neither open nor something to get.
    assert "known-good-supply-beside-case" not in {separator.check for separator in group.separators}


def test_board_supply_and_case_are_replaced_together_and_what_is_proven_is_kept(worked):
    """No compatible supply is to be had, so that nothing can tell the two apart any more."""
    plan = worked[1].plan
    assert plan.decided
    assert set(plan.parts("replace-together")) == {"psu", "board", "case"}
    assert plan.parts("replace") == ()
    assert set(plan.parts("keep")) >= {"cpu", "memory", "storage", "graphics"}
    assert [c.id for c in plan.together] == ["own-supply-board-case"]
    case = next(step for step in plan.steps if step.part == "case")
    assert "not shown to be bad" in case.reason


def test_the_standard_supply_is_refused_as_a_test(worked):
    """A standard spare stands on the shelf; no check offers it, and the plan says why."""
    assessment, verdict = worked
    assert "known-good-supply-beside-case" not in {c.id for c in assessment.checks if c.locked_by is None}
    assert "wrong-supply" in {raised.hazard.id for raised in assessment.hazards}
    refusal = next(r for r in verdict.plan.refused if r.id == "standard-supply-on-own-board")
    assert "stays dead" in refusal.because
    assert "wrong pin" in refusal.because
    assert refusal.source == "atx12vo-2-1 table 4-3"


def test_what_the_new_parts_must_be_is_said(worked):
    """Socket, generation, module shape, drives and cooler bind the board; the card's length binds the case."""
    plan = worked[1].plan
    said = {(r.part, r.kept): r.text for r in plan.requirements if r.fit not in ("memory-shape", "cooler-height")}
    assert "LGA 1200" in said["board", "cpu"]
    assert "ddr4" in said["board", "memory"]
    assert "240 mm or more" in said["case", "graphics"]
    assert any("dimm" in r.text for r in plan.requirements)
    assert any("60 mm or more" in r.text for r in plan.requirements)
    assert not {r.part for r in plan.requirements} - {"board", "case"}
    assert (plan.stuck, plan.asks) == ((), ())


def test_the_new_supply_is_sized(worked):
    """By hand, from the tables: sustained watts, 12 V amperes, and the rating with a fifth to spare.

    Processor 23 A x 11.2 V = 257.6 (table 2-1); board 50; memory 2 x 5; solid-state drive 4; disk .397 x 12 + 3.205
    (DB35.4, table 2); fans 2 x 3; ports 6 x 2.5 + 2 x 4.5; card 120: 479.57 W, over .8 = 599.5, so 600 W.
    At 12 V: 23 + (50 + 10 + 120) / 12 + .397 + 2 x .25 = 38.9 A.
    """
    plan = worked[1].plan
    assert plan.budget.continuous == pytest.approx(257.6 + 50 + 10 + 4 + 7.969 + 6 + 15 + 9 + 120)
    assert (plan.rating.watts, plan.rating.better) == (600, 750)
    assert plan.rating.amps_12v == pytest.approx(23 + 180 / 12 + 0.397 + 0.5)
    assert plan.plugs == {"sata": 2, "gpu-6": 1, "cpu-8": 1}


def test_it_ends_with_the_list_before_it_goes_home(worked):
    """Self-test, clock and settings, boot device, operating system, load and temperature, drive health: in order."""
    due = [item.id for item in worked[1].plan.verification]
    wanted = [
        "self-test",
        "clock-and-settings",
        "boot-device",
        "operating-system",
        "load-and-temperature",
        "drive-health",
    ]
    assert [item for item in due if item in wanted] == wanted


def test_the_hunt_for_the_makers_supply_is_held_against_the_rebuild(worked):
    """Rebuild 305; hunt 164, of which 20 come back: break-even at 144 / 285, expected 164 + (1 - p) 285."""
    _, verdict = worked
    found = verdict.comparison
    assert found is not None
    rebuild = estimate(PRICES, verdict.plan.parts("replace-together"), watts=verdict.plan.rating.watts)
    assert {line.id for line in rebuild.lines} == {"board-new", "case-plain", "supply-600"}
    assert (found.first.total, found.rebuild.total) == (pytest.approx(164), pytest.approx(305))
    assert found.rebuild == rebuild
    assert found.probability >= statuses(verdict)["psu"].probability - 1e-9
    assert found.break_even == pytest.approx(144 / 285)
    assert found.expected == pytest.approx(164 + (1 - found.probability) * 285)
    assert found.try_first == (found.probability > 144 / 285)
