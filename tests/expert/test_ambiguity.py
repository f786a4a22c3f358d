"""Ambiguity groups against a worked test matrix, and what would split them; the base is invented.

The matrix and its figures of merit (detected share, isolated share, expected group size, best guess) are the usual
ones of testability analysis; ambiguity group as in MIL-STD-1309D: replaceable items with the same fault signature.
"""

import random
from itertools import combinations, pairwise

import pytest

from expert.ambiguity import TRIFLE, find_ambiguity, inseparable, separation, stop_testing, tells_apart
from expert.planner import rank_checks
from knowledge.models import Check
from tests.expert.plans import base, cause, check, checks_for, look

MATRIX = {
    "psu-failed": (0.25, "10000"),
    "psu-lead-loose": (0.10, "01000"),
    "cpu-power-loose": (0.15, "01000"),
    "ram-seating": (0.20, "00110"),
    "ram-failed": (0.10, "00100"),
    "board-failed": (0.10, "00000"),
    "gpu-failed": (0.10, "00001"),
}


def columns(rows: dict[str, str]) -> list[Check]:
    """Make a check of each column of a test matrix: 1 says that the test fails if the fault is there."""
    width = len(next(iter(rows.values())))
    return [check(f"t{n}", {c: 1.0 for c, row in rows.items() if row[n] == "1"}, 0.0) for n in range(width)]


@pytest.mark.parametrize(
    ("tests", "detected", "isolated", "size", "best"),
    [
        ((1, 2, 3, 4, 5), 0.9, 0.722222, 1.25, 0.9),
        ((1, 2, 3, 5), 0.9, 0.388889, 1.55, 0.8),
        ((1, 3), 0.55, 0.454545, 2.65, 0.6),
    ],
)
def test_the_groups_of_a_test_matrix_have_its_figures_of_merit(tests, detected, isolated, size, best):
    """Seven faults, five tests, then fewer; a fault without a row of ones is not detected.

    The figures of merit as in Sheppard & Kaufman on IEEE P1522; the matrix is invented, its figures are by hand.
    """
    p = {name: share for name, (share, _) in MATRIX.items()}
    every = columns({name: row for name, (_, row) in MATRIX.items()})
    used = [every[n - 1] for n in tests]
    groups = inseparable(p, used)
    (silent,) = [set(group) for group in inseparable([*p, "nothing"], used) if "nothing" in group]
    mass = [sum(p[name] for name in group) for group in groups]
    seen = sum(p[name] for name in p if name not in silent)
    alone = sum(p[group[0]] for group in groups if len(group) == 1 and group[0] not in silent)
    assert seen == pytest.approx(detected)
    assert alone / seen == pytest.approx(isolated, abs=1e-6)
    assert sum(m * len(group) for m, group in zip(mass, groups, strict=True)) == pytest.approx(size)
    assert sum(max(p[name] for name in group) for group in groups) == pytest.approx(best)


def test_all_five_tests_are_needed_and_leave_one_pair():
    """The worked matrix again: the two leads look alike; without any one test more faults do."""
    every = columns({name: row for name, (_, row) in MATRIX.items()})
    groups = inseparable(MATRIX, every)
    assert [group for group in groups if len(group) > 1] == [("psu-lead-loose", "cpu-power-loose")]
    assert len(groups) == 6
    assert all(len(inseparable(MATRIX, [*every[:n], *every[n + 1 :]])) < 6 for n in range(5))


def test_one_fault_masks_two_others_together():
    """Rows 11, 10, 01: the first looks like the other two at once, a pair whose row is their union.

    Masking of multiple faults: Deb, Pattipati et al. 1995, multi-signal flow graphs (from memory).
    """
    rows = {"first": "11", "second": "10", "third": "01", "second-and-third": "11"}
    assert inseparable(rows, columns(rows)) == (("first", "second-and-third"), ("second",), ("third",))


@pytest.mark.parametrize("seed", range(20))
def test_one_more_test_never_merges_two_groups(seed):
    """Random matrices of graded likelihoods, with every order of magnitude of separation."""
    draw = random.Random(seed)
    names = [f"c{n}" for n in range(6)]
    checks = [check(f"t{n}", {name: draw.choice([0.02, 0.3, 0.5, 0.6, 0.98]) for name in names}) for n in range(4)]
    finer = [inseparable(names, checks[:n]) for n in range(5)]
    assert finer[0] == (tuple(names),)
    for before, after in pairwise(finer):
        assert all(any(set(new) <= set(old) for old in before) for new in after)
        assert sorted(name for group in after for name in group) == names
    together = {frozenset(pair) for group in finer[4] for pair in combinations(group, 2)}
    untold = {frozenset(p) for p in combinations(names, 2) if not tells_apart(checks, *p)}
    assert untold <= together


def test_a_trifle_does_not_tell_apart():
    """By hand: an even question settled at .9 against .1 tells 1 - H(.1) = .531004 bits; equal rows tell nothing."""
    good = check("good", {"a": 0.9, "b": 0.1})
    assert separation(good, "a", "b") == pytest.approx(0.531004, abs=1e-6)
    assert separation(check("same", {"a": 0.6, "b": 0.6}), "a", "b") == pytest.approx(0.0, abs=1e-12)
    assert 0 < separation(check("weak", {"a": 0.5, "b": 0.4}), "a", "b") < TRIFLE


SUPPLY_OR_BOARD = base(
    checks=(
        check("lamp", {"c": 0.98}, 0.02),
        check("other-supply", {"a": 0.95}, 0.05, spares=("spare-supply",)),
        check("other-board", {"b": 0.95}, 0.05, minutes=200, spares=("spare-board",), risks=("energise",)),
        check("other-lamp", {"c": 0.9}, 0.1, spares=("spare-lamp",)),
    ),
    priors={"a": 0.5, "b": 0.3, "c": 0.2},
    causes=(cause("a", 30), cause("b", 60), cause("c", 60)),
)


def ambiguity(told: str, known=SUPPLY_OR_BOARD, have=(), risks=None):
    """Rank the checks, and find what they leave open."""
    belief, held, _ = look(known, told)
    plans = rank_checks(known, belief, held, have, risks)
    return find_ambiguity(known, belief, held, plans, have, risks)


def test_what_the_bench_cannot_separate_is_one_group_with_what_would_separate_it():
    """Without spares the lamp tells c from the rest and nothing tells a from b; the spare lamp would not help there."""
    result = ambiguity("")
    (group,) = result.groups
    assert (group.causes, group.probability) == (("a", "b"), pytest.approx(0.8))
    assert [(s.check, s.missing) for s in group.separators] == [
        ("other-supply", ("spare-supply",)),
        ("other-board", ("spare-board",)),
    ]
    # The supply is worth having for one minute, a board for two hundred minutes is not.
    assert [s.saves > 0 for s in group.separators] == [True, False]
    assert not result.decide
    done = ambiguity("lamp/no")
    assert [group.causes for group in done.groups] == [("a", "b")]
    assert done.decide


def test_with_the_spare_the_group_is_gone():
    """The spare supply is on hand: the check is open, and no group is left."""
    assert ambiguity("", have=("spare-supply",)).groups == ()
    # It was tried; then nothing is left to tell the rest apart but the spare board, since the lamp is not done either.
    assert [g.causes for g in ambiguity("other-supply/yes, lamp/no").groups] == [("a", "b")]


def test_a_check_that_a_hazard_locks_separates_nothing():
    """Neither at hand nor out of reach: what is forbidden is not proposed by way of a spare part."""
    (group,) = ambiguity("", risks={"energise": "fire"}).groups
    assert [s.check for s in group.separators] == ["other-supply"]
    (group,) = ambiguity("", have=("spare-board",), risks={"energise": "fire"}).groups
    assert group.causes == ("a", "b")


def test_causes_with_one_remedy_are_no_ambiguity():
    """Whichever of the two it is, the same work mends it."""
    known = SUPPLY_OR_BOARD.model_copy(update={"causes": (cause("a", remedy="r"), cause("b", remedy="r"), cause("c"))})
    assert ambiguity("", known).groups == ()


def test_stop_testing_where_no_check_saves_what_it_costs():
    """Heckerman, Breese & Rommelse 1995, by hand: the observation saves 2.5 minutes for its one, nothing at four."""
    assert not stop_testing(checks_for(base(checks=(check("test", {"a": 0.9}),))))
    assert stop_testing(checks_for(base(checks=(check("test", {"a": 0.9}, minutes=4),))))
    locked = checks_for(base(checks=(check("test", {"a": 0.9}, risks=("energise",)),)), risks={"energise": "fire"})
    assert stop_testing(locked)
    assert stop_testing(())
