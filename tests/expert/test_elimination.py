"""The status of parts after swaps and measurements, on an invented base of four parts.

What a swap clears and convicts, and under which assumption: Reiter, AIJ 32 (1987); that a cure by swapping does not
tell the part from its seat, and that a part proven elsewhere is good as far as it is loaded the same way: common
practice, no source. The numbers are the priors of the worked example of swaps (psu .05, board .03, ram .04, gpu .04).
"""

from math import log10

import pytest

from expert.belief import believe
from expert.elimination import MOVED, ONE_FAULT, SAME_LOAD, Elimination, eliminate
from expert.engine import Engine
from knowledge.models import Cause, Check, Complaint, Finding, KnowledgeBase, Strength
from tests.expert.samples import claims, rule

PRIORS = {"psu": 0.05, "board": 0.03, "ram": 0.04, "gpu": 0.04}


def swap(part: str) -> Check:
    """Make a check that puts a good part in the place of this one."""
    return trial(f"swap-{part}", part, f"spare-{part}")


def bench(part: str) -> Check:
    """Make a check that takes the part to a machine known to be good."""
    return trial(f"bench-{part}", part, "known-good-bench")


def meter(part: str) -> Check:
    """Make a check that measures the part itself: its limits are kept, or not."""
    return trial(f"meter-{part}", part)


def trial(name: str, part: str, *spares: str) -> Check:
    """Make a check of a part with the outcomes good (.1 if it is bad, else .9) and bad."""
    outcomes = [
        {"id": "good", "title": f"{name} good", "likely": {part: 0.1}, "otherwise": 0.9, "gives": [{"clear": part}]},
        {"id": "bad", "title": f"{name} bad", "likely": {part: 0.9}, "otherwise": 0.1, "gives": [{"convict": part}]},
    ]
    record = {"id": name, "title": name, "how": "h", "minutes": 9, "who": "bench", "source": "common practice"}
    return Check.model_validate({**record, "spares": spares, "outcomes": outcomes})


BASE = KnowledgeBase(
    findings=tuple(
        Finding.model_validate({"id": i, "title": i, "kind": kind, "present": "p", "absent": "a"})
        for i, kind in (("swapped", "trial"), ("seen", "sign"), ("heard", "sign"), ("felt", "sign"), ("hint", "sign"))
    ),
    causes=tuple(
        Cause(id=i, title=i, part=p, plain="p", mechanism="m", remedy=i, minutes=9, source="common practice")
        for i, p in (*zip(PRIORS, PRIORS, strict=True), ("slot", "ram"), ("nothing", "none"))
    ),
    complaints=(Complaint(id="k", title="k", share=1.0, firmness=1, priors={c: (p, "C") for c, p in PRIORS.items()}),),
    rules=(
        rule("told", "swapped", "clear:gpu"),
        rule("no-module", "seen", "exclude:ram"),
        rule("no-slot", "heard", "exclude:slot"),
        rule("broken-module", "felt", "confirm:ram"),
        rule("hinted", "hint", "support:board:slight"),
    ),
    checks=tuple(make(part) for part in PRIORS for make in (swap, bench, meter)),
    strengths=(
        Strength(id="decisive", log10_ratio=2.0, title="d"),
        Strength(id="proven", log10_ratio=3.0, title="p"),
        Strength(id="slight", log10_ratio=0.3, title="s"),
    ),
)


def after(told: str) -> Elimination:
    """Eliminate on what is told."""
    firings = Engine(BASE).run(claims(told))
    return eliminate(BASE, believe(firings, BASE), firings)


def statuses(told: str) -> dict[str, str]:
    """Give the status of each part."""
    return {status.part: status.status for status in after(told).parts}


@pytest.mark.parametrize(
    ("told", "status", "assumes"),
    [
        ("meter-psu/bad", "convicted", ""),
        ("meter-psu/good", "cleared", ""),
        ("bench-psu/good", "cleared", SAME_LOAD),
        ("bench-psu/bad", "convicted", ""),
        ("swap-psu/good", "cleared", ONE_FAULT),
        ("swap-psu/bad", "convicted", MOVED),
    ],
)
def test_a_part_is_cleared_or_convicted_and_the_assumption_is_said(told, status, assumes):
    """A rail out of its limits convicts; a good spare that changes nothing clears only if there is one fault."""
    psu = after(told).parts[0]
    assert (psu.part, psu.status) == ("psu", status)
    ((_, firing, because, assumed, weight),) = psu.grounds
    check, outcome = told.split("/")
    assert (firing, because, assumed) == (1, f"{check}: {check} {outcome}.", assumes)
    # P(outcome | psu) over P(outcome | any other): .1 / .9 or .9 / .1.
    assert weight == pytest.approx(log10(0.1 / 0.9) * (1 if status == "cleared" else -1))


def test_a_trial_that_the_owner_told_of_takes_one_fault_for_granted():
    """The finding is a trial, the rule clears the part, and the belief is not moved by that alone."""
    (ground,) = after("swapped").parts[3].grounds
    assert (ground.verdict, ground.assumes, ground.weight) == ("clears", ONE_FAULT, 0.0)


def test_a_part_is_untested_until_something_points_to_it():
    """At the outset each has a share of 3/16 or more and is a suspect; one without a share is not."""
    assert set(statuses("").values()) == {"suspect"}
    # Twice found bad, each 9 times as likely in psu as elsewhere: .05 * 81 against .041, .04 and .03, at most 1 %.
    assert statuses("meter-psu/bad, bench-psu/bad") == {
        "psu": "convicted", "board": "untested", "ram": "untested", "gpu": "untested",
    }  # fmt: skip


def test_the_slightest_hint_makes_a_suspect_of_a_part_that_has_next_to_no_share():
    """As above, and the board twice as likely as before: still 2 %."""
    hinted = statuses("meter-psu/bad, bench-psu/bad, hint")
    assert hinted == {"psu": "convicted", "board": "suspect", "ram": "untested", "gpu": "untested"}


def test_a_part_without_a_cause_left_is_cleared_and_a_confirmed_cause_convicts():
    """Two causes sit in the memory: one excluded leaves it open."""
    assert statuses("seen")["ram"] != "cleared"
    assert statuses("seen, heard")["ram"] == "cleared"
    assert statuses("felt")["ram"] == "convicted"


@pytest.mark.parametrize("told", ["swap-ram/good, meter-ram/bad", "seen, felt", "bench-psu/good, swap-psu/bad"])
def test_a_part_both_cleared_and_convicted_is_asked_about(told):
    """No verdict is drawn; the question names both."""
    (status,) = [status for status in after(told).parts if status.ask]
    assert status.status == "suspect"
    assert all(ground.because in status.ask for ground in status.grounds)
    assert {ground.verdict for ground in status.grounds} == {"clears", "convicts"}


def test_the_question_gives_each_side_its_own_reason():
    """What says that the part is good, and what says that it is bad, are not mixed up."""
    (ask,) = [status.ask for status in after("swap-ram/good, meter-ram/bad").parts if status.ask]
    assert "it is good (swap-ram: swap-ram good.)" in ask
    assert "it is bad (meter-ram: meter-ram bad.)" in ask


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ("", "psu, gpu, ram, board"),
        ("swap-psu/good", "gpu, ram, board"),
        ("swap-psu/good, swap-ram/good", "gpu, board"),
        ("swap-psu/good, swap-ram/good, swap-gpu/good, swap-board/good", "gpu psu, psu ram, board psu, gpu ram,"
         " board gpu, board ram"),
        ("swap-psu/good, swap-ram/good, swap-gpu/good, bench-board/good", "gpu psu, psu ram, gpu ram"),
        ("swap-psu/good, swap-ram/good, swap-gpu/good, swap-board/good, bench-board/good", "gpu psu, psu ram, gpu ram"),
        ("meter-psu/bad, meter-board/bad", "board psu"),
        ("bench-psu/good, bench-ram/good, bench-gpu/good, bench-board/good", ""),
    ],
)  # fmt: skip
def test_the_smallest_explanations_do_without_the_single_fault(told, expected):
    """Conflicts by hand: all parts but the swapped one, less those proven elsewhere; likeliest set first.

    Products of the priors, the slot's floor of .001 with the memory's: psu .05, ram .041, gpu .04, board .03.
    """
    result = after(told)
    wanted = [frozenset(one.split()) for one in expected.split(", ") if one]
    assert set(result.explanations) == set(wanted)
    assert len(result.explanations) == len(wanted)
    chance = {**PRIORS, "ram": 0.041}
    products = [chance[a] if not rest else chance[a] * chance[rest[0]] for a, *rest in map(sorted, result.explanations)]
    assert products == sorted(products, reverse=True)
    assert result.one_fault_will_do == any(len(one) == 1 for one in wanted)
