"""Weights of evidence against other published ways to combine it: certainty factors, reports of one sign, quiet trials.

Buchanan & Shortliffe, Rule-Based Expert Systems, 1984, chapters 10 to 12 (from memory): certainty factors and their
combining rule. Heckerman, Probabilistic interpretations for MYCIN's certainty factors, UAI-85: that rule multiplies
likelihood ratios, lambda = 1 / (1 - x) for x >= 0 and 1 + x below (the map from memory; it gives the same numbers).
"""

import warnings
from itertools import permutations
from math import log10

import pytest

from expert.belief import combine, posterior
from expert.evidence import Evidence

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its compiled part warns at import; ours is not to blame
    import pyagrum


def apart(weights: list[float]) -> list[Evidence]:
    """Give one piece for each weight, each on a group of its own."""
    return [Evidence("fault", weight, frozenset({f"g{n}"}), f"r{n}") for n, weight in enumerate(weights)]


def together(weights: list[float]) -> list[Evidence]:
    """Give one piece for each weight, all on one group."""
    return [piece._replace(groups=frozenset({"g"})) for piece in apart(weights)]


def odds(prior: float, evidence: list[Evidence]) -> float:
    """Give the odds of the fault against the one other."""
    share = posterior({"fault": prior, "other": 1 - prior}, evidence)["fault"]
    return share / (1 - share)


def weight_of_factor(factor: float) -> float:
    """Give the weight of a certainty factor: log10 of its lambda."""
    return log10(1 / (1 - factor) if factor >= 0 else 1 + factor)


def factor_of(evidence: list[Evidence]) -> float:
    """Give the certainty factor of what the weights come to."""
    ratio = 10.0 ** combine(evidence)["fault"]
    return 1 - 1 / ratio if ratio >= 1 else ratio - 1


@pytest.mark.parametrize(
    ("factors", "combined"),
    [
        ((0.6, 0.4), 0.76),
        ((-0.6, -0.4), -0.76),
        ((0.6, -0.4), 1 / 3),
        ((0.8, -0.5, 0.3), 0.72),
        ((0.6, 0.6, 0.6), 0.936),
        ((0.999, -0.8), 0.995),
    ],
)
def test_certainty_factors_combine_as_weights_add(factors, combined):
    """The combining rule by hand: x + y - xy, x + y + xy, (x + y) / (1 - min(|x|, |y|)); in any order.

    Before that rule belief and disbelief were summed apart and subtracted: .999 less .8 is .199, one against nine.
    """
    for order in permutations(factors):
        found = factor_of(apart([weight_of_factor(factor) for factor in order]))
        assert found == pytest.approx(combined, abs=1e-6)


def test_three_equal_factors_of_one_group_are_one():
    """Where adding would make .936 of .6 told three times."""
    assert factor_of(together([weight_of_factor(0.6)] * 3)) == pytest.approx(0.6)


def test_independent_evidence_goes_by_bayes_and_not_by_the_measures_of_belief():
    """Heckerman 1985: P(H) .5, P(H | e1) .8, P(H | e2) .7. Measures of belief .6 and .4 make .76, P = .88; Bayes .903.

    By hand: odds 4 times 7/3.
    """
    found = odds(0.5, apart([log10(4), log10(7 / 3)]))
    assert found / (1 + found) == pytest.approx(0.903226, abs=1e-6)


@pytest.mark.parametrize(("trials", "decibans"), [(1, 3.0103), (3, 9.0309), (5, 15.0515)])
def test_quiet_trials_after_a_repair_add_three_decibans_each(trials, decibans):
    """Good 1950: a trouble that shows in half of the trials stays away after the repair; ratio 2 for each of them."""
    found = odds(0.5, apart([log10(1.0 / 0.5)] * trials))
    assert 10 * log10(found) == pytest.approx(decibans, abs=1e-4)


def reports(count: int) -> float:
    """Give by the library the ratio of so many reports (.9 | .05) of a sign S with P(S | H) .8 and P(S | not H) .1."""
    names = [f"R{n}" for n in range(count)]
    net = pyagrum.fastBN(";".join(["H->S", *(f"S->{name}" for name in names)]))
    net.cpt("H").fillWith([0.9, 0.1])
    net.cpt("S")[{"H": 0}], net.cpt("S")[{"H": 1}] = [0.9, 0.1], [0.2, 0.8]
    for name in names:
        net.cpt(name)[{"S": 0}], net.cpt(name)[{"S": 1}] = [0.95, 0.05], [0.1, 0.9]
    after = pyagrum.getPosterior(net, target="H", evs=dict.fromkeys(names, 1))[1]
    return after / (1 - after) * 9


def test_reports_of_one_sign_stay_on_the_safe_side():
    """Pearl 1988, chapter 4 (from memory): a hidden sign and its reports; the exact ratios by the library and by hand.

    One report 5.407407, two 7.789790; never more than the sign itself, 8. Two reports multiplied make 29.240055. In
    one group they make what one of them makes: less than what is exact, and never more.
    """
    one, two, many = reports(1), reports(2), reports(12)
    assert (one, two) == (pytest.approx(5.407407, abs=1e-6), pytest.approx(7.789790, abs=1e-6))
    assert two < many < 8.0
    assert odds(0.1, together([log10(one)] * 2)) == pytest.approx(one / 9)
    assert odds(0.1, together([log10(one)] * 12)) < two / 9
    assert odds(0.1, apart([log10(one)] * 2)) * 9 == pytest.approx(29.240055, abs=1e-5)
    # From a prior of .1: one report .375321, two of them exactly .463960 (both by hand, 1 / (1 + 9 / ratio)).
    assert [r / (r + 9) for r in (one, two)] == pytest.approx([0.375321, 0.463960], abs=1e-6)
