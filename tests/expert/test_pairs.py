"""Coupled pairs against a Bayesian-network library (pyAgrum), and the noisy-OR of the literature.

Noisy-OR in the compound form: Henrion, Some practical issues in constructing belief networks, UAI (1989). The network
has the chain of events in it (what fails first, what it takes along, which signs that makes), not our hypotheses.
"""

import random
import warnings
from itertools import combinations, product
from math import prod

import pytest

from expert.diagnosis import marginals, minimal_hitting_sets
from expert.pairs import Sign, chance_of, hypotheses, noisy_or, pair_posterior
from knowledge import shipped_base
from knowledge.models import Pair

with warnings.catch_warnings():  # its bindings warn on import
    warnings.simplefilter("ignore")
    import pyagrum as gum

CAUSES = ("psu", "board", "ram", "lead")
PRIORS = {"psu": 0.4, "board": 0.3, "ram": 0.2, "lead": 0.1}


def pair(first: str, then: str, chance: float) -> Pair:
    """Make a pair."""
    return Pair(
        id=f"{first}-{then}", title="t", first=first, then=then, chance=chance, because="b", source="common practice"
    )


@pytest.mark.parametrize(("chances", "expected"), [((), 0.1), ((0.2,), 0.2), ((0.4,), 0.4), ((0.2, 0.4), 0.466667)])
def test_noisy_or_in_the_compound_form(chances, expected):
    """Henrion 1989: leak .1, causes .2 and .4, each as seen with the leak in it."""
    assert noisy_or(chances, 0.1) == pytest.approx(expected, abs=1e-6)


# Causes at work with .1 and .05; alone, and without the leak of .1, they make the sign in .2 and .4 of the cases.
NET = Sign({cause: 1 - (1 - 0.1) * (1 - alone) for cause, alone in (("c1", 0.2), ("c2", 0.4))}, 0.1)
TWO = {
    frozenset(at_work): (0.1 if "c1" in at_work else 0.9) * (0.05 if "c2" in at_work else 0.95)
    for at_work in ([], ["c1"], ["c2"], ["c1", "c2"])
}


def test_noisy_or_from_what_each_cause_does_without_the_leak():
    """Díez's net form, as Zagorecki & Druzdzel set it beside Henrion's: P(sign) for 00, 10, 01, 11, and its mean."""
    chances = [chance_of(NET, causes) for causes in TWO]
    assert chances == pytest.approx([0.1, 0.28, 0.46, 0.568])
    assert sum(p * share for p, share in zip(chances, TWO.values(), strict=True)) == pytest.approx(0.13564, abs=1e-6)


def test_one_cause_explains_the_other_away():
    """Pearl 1988, section 4.3 (from memory); the figures by the library: what is known of c2 takes weight off c1."""
    after = pair_posterior(TWO, [NET])
    assert marginals(after) == pytest.approx({"c1": 0.217045, "c2": 0.173548}, abs=1e-6)
    with_second = {causes: share for causes, share in TWO.items() if "c2" in causes}
    assert marginals(pair_posterior(with_second, [NET]))["c1"] == pytest.approx(0.120646, abs=1e-6)


def test_a_published_network_of_noisy_ors():
    """The noisy-OR model of Primula (Jaeger), a benchmark of probabilistic programming; its P(3) is .81441875.

    Five nodes, roots 0 and 4 even. Each parent makes its child with .8 if it is on and with .1 if it is off: of n
    parents a leak of 1 - .9 ** n, and the rest of each, (.8 - .1) / .9, without the leak.
    """
    parents = {1: (0,), 2: (0, 4), 3: (1, 2, 4)}
    total = 0.0
    for on in product((False, True), repeat=5):
        share = 0.25
        for child, above in parents.items():
            leak = 1 - 0.9 ** len(above)
            chance = noisy_or([1 - (1 - leak) * (1 - 0.7 / 0.9) for parent in above if on[parent]], leak)
            share *= chance if on[child] else 1 - chance
        total += share * on[3]
    assert total == pytest.approx(0.81441875, abs=1e-9)


def test_sets_of_causes_that_cover_the_signs_rank_by_their_likelihood():
    """Peng & Reggia 1990, chapter 4 (from memory): parsimonious covering, by hand; the leak is nothing.

    Signs m1 and m2 are there, m3 is not. {d1} .01/.99 * .9 * .4, {d3} .005/.995 * .8 * .8 * .1; {d2} leaves m1 open.
    """
    odds = {"d1": 0.01 / 0.99, "d2": 0.02 / 0.98, "d3": 0.005 / 0.995}
    sets = [frozenset(chosen) for size in (1, 2, 3) for chosen in combinations(odds, size)]
    shares = {causes: prod(odds[cause] for cause in causes) for causes in sets}
    m1, m2 = Sign({"d1": 0.9, "d3": 0.8}, 0.0), Sign({"d1": 0.4, "d2": 0.7, "d3": 0.8}, 0.0)
    after = pair_posterior(shares, [m1, m2, Sign({"d3": 0.9}, 0.0, seen=False)])
    d1, d2, d3, d1_and_d2 = (after[frozenset(name.split())] for name in ("d1", "d2", "d3", "d1 d2"))
    assert (d1, d2, d3, d1_and_d2) == pytest.approx((0.88212, 0.0, 0.07802, 0.03691), abs=1e-5)
    assert d1 / d3 == pytest.approx(0.0036363636 / 0.0003216080, rel=1e-6)
    assert d1 / d1_and_d2 == pytest.approx(0.0036363636 / 0.0001521336, rel=1e-6)
    covers = minimal_hitting_sets([m1.chances, m2.chances])
    assert set(covers) == {frozenset({"d1"}), frozenset({"d3"})}, "the irredundant ones"


def test_a_pair_takes_its_share_from_the_cause_that_comes_first():
    """By hand: .4 of which a tenth takes the board; the board that takes the supply joins the same pair."""
    shares = hypotheses(PRIORS, [pair("psu", "board", 0.1), pair("board", "psu", 0.2)])
    assert shares[frozenset({"psu", "board"})] == pytest.approx(0.04 + 0.06)
    assert [shares[frozenset({c})] for c in CAUSES] == pytest.approx([0.36, 0.24, 0.2, 0.1])
    assert sum(shares.values()) == pytest.approx(1.0)
    assert hypotheses(PRIORS, []) == {frozenset({c}): p for c, p in PRIORS.items()}


def network(chance: float, signs: list[Sign]) -> gum.BayesNet:
    """Make the network: what fails first, whether a bad supply takes the board, which parts are bad, the signs."""
    net = gum.BayesNet()
    net.add(gum.LabelizedVariable("first", "", list(CAUSES)))
    net.add(gum.LabelizedVariable("takes", "", 2))
    net.addArc("first", "takes")
    net.cpt("first").fillWith([PRIORS[cause] for cause in CAUSES])
    for place in range(len(CAUSES)):
        net.cpt("takes")[{"first": place}] = [1 - chance, chance] if place == 0 else [1, 0]
    for place, cause in enumerate(CAUSES):
        net.add(gum.LabelizedVariable(cause, "", 2))
        net.addArc("first", cause)
        net.addArc("takes", cause)
        for first in range(len(CAUSES)):
            for takes in range(2):
                bad = first == place or (cause == "board" and first == 0 and takes == 1)
                net.cpt(cause)[{"first": first, "takes": takes}] = [1 - bad, bad]
    for n, sign in enumerate(signs):
        net.addNoisyORCompound(gum.LabelizedVariable(f"sign{n}", "", 2), sign.leak)
        for cause, p in sign.chances.items():
            net.addWeightedArc(cause, f"sign{n}", p)
    return net


@pytest.mark.parametrize("seed", range(12))
def test_singles_and_pairs_agree_with_a_bayesian_network(seed):
    """Random noisy-OR signs, seen and not seen: the marginal of each part, and of the pair, as the library has them."""
    draw = random.Random(seed)
    chance = draw.choice([0.05, 0.3, 0.6])
    signs = []
    for _ in range(draw.randint(1, 4)):
        leak = draw.choice([0.02, 0.1])
        chances = {cause: draw.choice([0.2, 0.5, 0.9]) for cause in CAUSES if draw.random() < 0.6}
        signs.append(Sign(chances, leak, seen=draw.random() < 0.6))
    ours = pair_posterior(hypotheses(PRIORS, [pair("psu", "board", chance)]), signs)
    inference = gum.LazyPropagation(network(chance, signs))
    inference.setEvidence({f"sign{n}": int(sign.seen) for n, sign in enumerate(signs)})
    inference.setTargets(set(CAUSES))
    inference.addJointTarget({"psu", "board"})
    inference.makeInference()
    expected = {cause: inference.posterior(cause)[1] for cause in CAUSES}
    assert marginals(ours) == pytest.approx(expected, abs=1e-9)
    both = inference.jointPosterior({"psu", "board"})[{"psu": 1, "board": 1}]
    assert ours[frozenset({"psu", "board"})] == pytest.approx(both, abs=1e-9)


def test_a_good_supply_that_does_not_cure_leaves_the_pair_open():
    """Cured at .9 with a bad supply, .02 else: not cured weakens the supply alone tenfold, and the pair not at all.

    By hand: .36 * .1, .3 * .98, .2 * .98, .1 * .98, and the pair .04 * (1 - .9 * .02).
    """
    tried = Sign({"psu": 0.9}, 0.02, seen=False, cure=True)
    after = pair_posterior(hypotheses(PRIORS, [pair("psu", "board", 0.1)]), [tried])
    weights = [0.036, 0.294, 0.196, 0.098, 0.04 * 0.982]
    assert list(after.values()) == pytest.approx([w / sum(weights) for w in weights])


def test_what_no_hypothesis_allows_changes_nothing():
    """A sign that cannot be, seen: no division by zero, and no confident nonsense."""
    shares = hypotheses(PRIORS, [])
    assert pair_posterior(shares, [Sign({}, 0.0)]) == pytest.approx(shares)


def test_the_pairs_of_the_base_are_of_its_causes_and_leave_something_to_the_first():
    """Known ids, in the order of events, and less than everything taken away."""
    base = shipped_base()
    causes = {cause.id for cause in base.causes}
    taken: dict[str, float] = {}
    for one in base.pairs:
        assert {one.first, one.then} <= causes
        assert one.first != one.then
        taken[one.first] = taken.get(one.first, 0.0) + one.chance
    assert taken
    assert max(taken.values()) < 1.0
