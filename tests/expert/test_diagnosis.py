"""Diagnoses against published circuits, published families of sets, and an answer-set solver.

Reiter, A theory of diagnosis from first principles, AIJ 32 (1987): the full adder and the family of seven conflicts
(from memory, and reproduced by the solver). de Kleer & Williams, Diagnosing multiple faults, AIJ 32 (1987): the circuit
of three multipliers and two adders. The solver is clingo; it gets the circuits as such, and never our conflicts.
"""

import random
from itertools import product

import clingo
import pytest

from expert.diagnosis import conflict_of_swap, diagnosis_posterior, fewest, marginals, minimal_hitting_sets
from expert.repair_cost import entropy, information, split

POLYBOX = ("A1", "A2", "M1", "M2", "M3")
POLYBOX_CONFLICTS = (("A1", "M1", "M2"), ("A1", "A2", "M1", "M3"))
# A=3 B=2 C=2 D=3 E=3; X=AC, Y=BD, Z=CE, F=X+Y seen as 10, G=Y+Z seen as 12.
POLYBOX_PROGRAM = """
part(m1;m2;m3;a1;a2). {bad(P) : part(P)}. value(0..20).
1 {x(V) : value(V)} 1. 1 {y(V) : value(V)} 1. 1 {z(V) : value(V)} 1.
:- not bad(m1), not x(6). :- not bad(m2), not y(6). :- not bad(m3), not z(6).
:- not bad(a1), x(X), y(Y), X + Y != 10. :- not bad(a2), y(Y), z(Z), Y + Z != 12.
#project bad/1.
"""
# in 1, 0, carry in 1; sum seen as 1, carry as 0.
ADDER_PROGRAM = """
part(x1;x2;a1;a2;o1). {bad(P) : part(P)}. bit(0;1).
1 {x1(V) : bit(V)} 1. 1 {a1(V) : bit(V)} 1. 1 {a2(V) : bit(V)} 1.
:- not bad(x1), not x1(1). :- not bad(x2), x1(V), V ^ 1 != 1.
:- not bad(a1), not a1(0). :- not bad(a2), x1(V), a2(W), V & 1 != W.
:- not bad(o1), a1(V), a2(W), V ? W != 0.
#project bad/1.
"""


def sets(*names: str) -> set[frozenset[str]]:
    """Write sets of parts as words: "A2 M2"."""
    return {frozenset(name.split()) for name in names}


def consistent(program: str) -> set[frozenset[str]]:
    """Give every set of bad parts for which the solver finds the circuit possible."""
    control = clingo.Control(["0", "--project", "--warn=none"])
    control.add("base", [], program)
    control.ground([("base", [])])
    with control.solve(yield_=True) as models:
        return {
            frozenset(str(a.arguments[0]).upper() for a in m.symbols(atoms=True) if a.name == "bad") for m in models
        }


def minimal(family: set[frozenset[str]]) -> set[frozenset[str]]:
    """Give the members that hold no other one."""
    return {one for one in family if not any(other < one for other in family)}


def test_the_classic_circuit_has_four_minimal_diagnoses():
    """De Kleer & Williams 1987: three multipliers, two adders; the solver agrees, and finds 27 of 32 sets possible."""
    found = minimal_hitting_sets(POLYBOX_CONFLICTS)
    possible = consistent(POLYBOX_PROGRAM)
    assert set(found) == sets("A1", "M1", "A2 M2", "M2 M3") == minimal(possible)
    assert set(fewest(found)) == sets("A1", "M1")
    posterior = diagnosis_posterior(POLYBOX_CONFLICTS, dict.fromkeys(POLYBOX, 0.01))
    assert set(posterior) == possible
    assert len(possible) == 27


def test_the_classic_circuit_has_the_probabilities_of_enumeration():
    """De Kleer & Williams 1987, section 4: equal priors of .01, consistency alone; the figures from all 32 sets."""
    posterior = diagnosis_posterior(POLYBOX_CONFLICTS, dict.fromkeys(POLYBOX, 0.01))
    assert [posterior[frozenset({part})] for part in ("A1", "M1")] == pytest.approx([0.478026] * 2, abs=1e-6)
    assert posterior[frozenset({"A2", "M2"})] == pytest.approx(0.004829, abs=1e-6)
    expected = {"A1": 0.497635, "M1": 0.497635, "M2": 0.019609, "M3": 0.014780, "A2": 0.014780}
    assert marginals(posterior) == pytest.approx(expected, abs=1e-6)
    assert sum(diagnosis_posterior(POLYBOX_CONFLICTS, dict.fromkeys(POLYBOX, 0.01), most=1).values()) == 1.0


@pytest.mark.parametrize(
    ("seen", "conflicts", "expected"),
    [
        ("x(4)", ["M1"], ["M1"]),
        ("x(6)", ["A1 M2", "A1 A2 M3"], ["A1", "A2 M2", "M2 M3"]),
        ("x(5)", ["M1", "A1 M2", "A1 A2 M3"], ["A1 M1", "A2 M1 M2", "M1 M2 M3"]),
        ("y(6)", ["A1 M1"], ["A1", "M1"]),
        ("y(4)", ["M2", "A2 M3"], ["A2 M2", "M2 M3"]),
    ],
)
def test_one_more_measurement_narrows_the_classic_circuit(seen, conflicts, expected):
    """For X in lecture slides (Knowledge Engineering, University of Edinburgh, model-based reasoning); Y by hand.

    Conflicts by hand: X=4 agrees with F only through Y=6, so M1 alone; X=6 leaves F=10 against Y=6; and so on.
    """
    found = minimal_hitting_sets(sets(*conflicts))
    assert set(found) == sets(*expected) == minimal(consistent(f"{POLYBOX_PROGRAM} :- not {seen}."))


def test_the_full_adder_has_three_diagnoses():
    """Reiter 1987, the full adder (from memory); 22 of 32 sets are possible."""
    conflicts = (("X1", "X2"), ("X1", "A2", "O1"))
    possible = consistent(ADDER_PROGRAM)
    assert set(minimal_hitting_sets(conflicts)) == sets("X1", "A2 X2", "O1 X2") == minimal(possible)
    assert set(diagnosis_posterior(conflicts, dict.fromkeys(("X1", "X2", "A1", "A2", "O1"), 0.1))) == possible
    assert len(possible) == 22


@pytest.mark.parametrize(
    ("family", "expected"),
    [
        (["2 4 5", "1 2 3", "1 3 5", "2 4 6", "2 4", "2 3 5", "1 6"], "1 2, 1 3 4, 1 4 5, 2 3 6, 2 5 6, 3 4 6"),
        (["a b", "a c"], "a, b c"),
        (["A1 M1 M2", "A1 A2 M2 M3"], "A1, M2, A2 M1, M1 M3"),
        (["a b", "c"], "a c, b c"),
    ],
)
def test_hitting_sets_of_published_families(family, expected):
    """Reiter 1987: seven sets (from memory); two that lecture notes print; the last by hand."""
    assert set(minimal_hitting_sets(sets(*family))) == sets(*expected.split(", "))


def test_no_conflict_needs_no_fault_and_an_impossible_one_has_no_diagnosis():
    """By definition: the empty set hits nothing to hit; nothing hits the empty set."""
    assert minimal_hitting_sets([]) == (frozenset(),)
    assert minimal_hitting_sets([["a"], []]) == ()
    assert fewest(()) == ()
    assert diagnosis_posterior([[]], {"a": 0.5}) == {}


SWAP_PRIORS = {"psu": 0.05, "board": 0.03, "ram": 0.04, "gpu": 0.04}


@pytest.mark.parametrize(
    ("good_each_time", "expected"),
    [
        ([""], "psu, board, ram, gpu"),
        (["", "psu"], "board, ram, gpu"),
        (["", "psu", "ram"], "board, gpu, psu ram"),
        (["", "psu", "psu ram"], "board, gpu"),
        (["", "psu", "psu ram", "psu ram gpu"], "board"),
    ],
)
def test_swaps_clear_only_as_far_as_they_reach(good_each_time, expected):
    """A good part put back leaves a pair open; left in, it does not.

    By hand, after Reiter 1987: weak fault models, no part is cleared for having worked once.
    """
    conflicts = [conflict_of_swap(SWAP_PRIORS, good.split()) for good in good_each_time]
    assert set(minimal_hitting_sets(conflicts)) == sets(*expected.split(", "))


def test_a_swapped_part_falls_back_to_its_prior_and_not_to_nothing():
    """Reiter 1987, by hand: one swap that changes nothing is silent about the part taken out."""
    first = marginals(diagnosis_posterior([SWAP_PRIORS], SWAP_PRIORS))
    after = marginals(diagnosis_posterior([SWAP_PRIORS, conflict_of_swap(SWAP_PRIORS, ["psu"])], SWAP_PRIORS))
    # Each part's prior over 1 - P(all good); .05 / (1 - .95 * .97 * .96 * .96) = .331792 for the marginal.
    assert first["psu"] == pytest.approx(0.05 / (1 - 0.95 * 0.97 * 0.96 * 0.96))
    assert after["psu"] == pytest.approx(0.05)
    alone = diagnosis_posterior([SWAP_PRIORS], SWAP_PRIORS)[frozenset({"psu"})]
    assert alone == pytest.approx(0.2965, abs=5e-5)
    conflicts = [conflict_of_swap(SWAP_PRIORS, good.split()) for good in ("", "psu", "psu ram")]
    last = marginals(diagnosis_posterior(conflicts, SWAP_PRIORS))
    assert [last["gpu"], last["board"]] == pytest.approx([0.5814, 0.4360], abs=5e-5)


@pytest.mark.parametrize("bad_spare", [(0.02, 0.008499), (0.2, 0.078947)])
def test_a_part_that_a_doubtful_spare_seems_to_clear_stays_a_little_suspect(bad_spare):
    """X at .30, all else .70; the trouble stays with the spare: certain if it is elsewhere, else the spare is bad.

    By Bayes' rule, by hand; the replaced part as a source of information: Sun & Weld, AAAI-93.
    """
    chance, expected = bad_spare
    ((_, after),) = split((0.3, 0.7), [(chance, 1.0)])
    assert after[0] == pytest.approx(expected, abs=1e-6)


def test_a_swap_that_cures_does_not_tell_part_from_seat_and_putting_back_does():
    """Swapping also reseats: .1 failed, .2 badly seated; the trouble returns with the old part at 1 and .1.

    By Bayes' rule, by hand, after Sun & Weld, AAAI-93.
    """
    ((_, cured),) = split((0.1, 0.2, 0.7), [(1.0, 1.0, 0.0)])
    assert cured == pytest.approx((1 / 3, 2 / 3, 0.0))
    ((_, returned),) = split(cured, [(1.0, 0.1, 0.0)])
    assert returned[0] == pytest.approx(0.833333, abs=1e-6)


def test_the_best_probe_of_the_classic_circuit_is_published():
    """De Kleer & Williams 1987, section 4: measure X. The four minimal diagnoses at .495 .495 .005 .005.

    Predicted by A1, M1, {A2 M2}, {M2 M3}: X 6 4 6 6, Y 6 6 4 4, Z 6 6 8 and undetermined or 6, as the circuit says:
    A2 and M2 bad leaves Z=6; M2 and M3 bad needs Z=8.
    """
    belief = (0.495, 0.495, 0.005, 0.005)
    values = {"X": (6, 4, 6, 6), "Y": (6, 6, 4, 4), "Z": (6, 6, 6, 8)}
    told = {
        probe: information(belief, split(belief, [[float(v == value) for v in row] for value in sorted(set(row))]))
        for probe, row in values.items()
    }
    assert entropy(belief) == pytest.approx(1.080793, abs=1e-6)
    assert told == pytest.approx({"X": 0.999928, "Y": 0.080793, "Z": 0.045415}, abs=1e-6)


def test_over_all_diagnoses_the_best_probe_is_the_same():
    """De Kleer & Williams 1987, section 4: a diagnosis that predicts no value shares its mass over the possible ones.

    What each of the 27 predicts comes from the solver; figures by hand from these: H 1.359445, and again X first.
    """
    posterior = diagnosis_posterior(POLYBOX_CONFLICTS, dict.fromkeys(POLYBOX, 0.01))
    told = {}
    for probe in "xyz":
        allowed = {v: consistent(f"{POLYBOX_PROGRAM} :- not {probe}({v}).") for v in range(21)}
        fits = {bad: [value for value, possible in allowed.items() if bad in possible] for bad in posterior}
        values = sorted({found[0] for found in fits.values() if len(found) == 1})
        rows = [[float(f == [v]) if len(f) == 1 else 1 / len(values) for f in fits.values()] for v in values]
        told[probe] = information(tuple(posterior.values()), split(tuple(posterior.values()), rows))
    assert entropy(posterior.values()) == pytest.approx(1.359445, abs=1e-6)
    assert told == pytest.approx({"x": 0.994856, "y": 0.079297, "z": 0.044798}, abs=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_hitting_sets_are_those_of_the_solver(seed):
    """Random families; the solver enumerates all hitting sets, and the smallest among them are kept.

    One more conflict brings back no minimal diagnosis that was gone, unless by growing one that was there.
    """
    draw = random.Random(seed)
    parts = [f"p{n}" for n in range(draw.randint(3, 7))]
    family = [frozenset(draw.sample(parts, draw.randint(1, 3))) for _ in range(draw.randint(1, 7))]
    program = "".join(f"part({p})." for p in parts) + "{bad(P) : part(P)}. #project bad/1."
    program += "".join(f":- {', '.join(f'not bad({p})' for p in sorted(f))}." for f in family)
    found = minimal_hitting_sets(family)
    assert {frozenset(p.upper() for p in one) for one in found} == minimal(consistent(program))
    assert len(set(found)) == len(found)
    assert all(one & conflict for one, conflict in product(found, family))
    before = minimal_hitting_sets(family[:-1])
    assert all(any(old <= new for old in before) for new in found)
