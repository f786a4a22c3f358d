"""Belief against published arithmetic of evidence and against a Bayesian-network library (pyAgrum)."""

import random
import warnings
from math import log10

import pytest

from expert.belief import FLOOR, believe, combine, counted, doubted_priors, listed_causes, posterior, priors_of, rank
from expert.engine import Engine
from expert.evidence import TOLD, Evidence
from knowledge.models import Cause, Complaint, KnowledgeBase
from tests.expert.samples import claims, rule

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its compiled part warns at import; ours is not to blame
    import pyagrum

PRIORS = {"psu": 0.5, "board": 0.3, "button": 0.2}
LIKELIHOOD = {
    "no-light": {"psu": 0.8, "board": 0.4, "button": 0.1},
    "no-fans": {"psu": 0.9, "board": 0.6, "button": 0.9},
}
ANYBODY = {"no-light": 0.1, "no-fans": 0.7}  # the shared reference cancels: any value will do


def weight(cause: str, value: float, group: str, rule: str = "r", kind: str = "weigh") -> Evidence:
    """Give a piece of evidence on one group."""
    return Evidence(cause, value, frozenset({group}), rule, kind)


def told(finding: str, state: str = "present", reference: dict[str, float] = ANYBODY) -> list[Evidence]:
    """Give the evidence of one finding for every cause: P(state | cause) over P(state | anybody)."""
    k = reference[finding]
    chances = {cause: (p, k) if state == "present" else (1 - p, 1 - k) for cause, p in LIKELIHOOD[finding].items()}
    return [weight(cause, log10(p / k), finding, f"{finding}-{state}") for cause, (p, k) in chances.items()]


def two_way(prior: float, evidence: list[Evidence]) -> float:
    """Give the probability of one fault against one other."""
    return posterior({"fault": prior, "other": 1 - prior}, evidence)["fault"]


# Good, Probability and the Weighing of Evidence (1950): weights in decibans; the first two rows are printed in a
# wartime cipher report (WFAX7103) as "20 to 1 on" and "5 to 2 on".
@pytest.mark.parametrize(
    ("prior", "told_db", "odds"),
    [(-2, 15, 19.952623), (-2, 6, 2.511886), (0, 3.0103, 2.0), (0, 10, 10.0), (0, 20, 100.0), (0, -3.0103, 0.5)],
)
def test_weights_in_decibans_add(prior, told_db, odds):
    """Prior and evidence in decibans add, and ten of them are a factor of ten in the odds."""
    ratio = 10 ** (prior / 10)
    p = two_way(ratio / (1 + ratio), [weight("fault", told_db / 10, "g")])
    assert p / (1 - p) == pytest.approx(odds, rel=1e-6)


# Bayes' theorem on three exclusive causes, worked by hand from the tables above.
@pytest.mark.parametrize(
    ("evidence", "expected"),
    [
        (told("no-light"), (0.740741, 0.222222, 0.037037)),
        (told("no-light") + told("no-fans"), (0.8, 0.16, 0.04)),
        (told("no-light", "absent"), (0.217391, 0.391304, 0.391304)),
        ([], (0.5, 0.3, 0.2)),
    ],
)
def test_posterior_is_bayes_theorem(evidence, expected):
    """The weights against a shared reference give exactly Bayes' theorem."""
    assert tuple(posterior(PRIORS, evidence).values()) == pytest.approx(expected, abs=1e-6)


def test_one_ledger_of_odds_per_cause_would_give_something_else():
    """Johnson, Artificial Intelligence 29 (1986): ledgers with fixed P(f | not c) give .78125, .16, .042105."""
    ours = posterior(PRIORS, told("no-light") + told("no-fans"))
    assert sum(ours.values()) == pytest.approx(1.0, abs=1e-12)
    assert ours["psu"] == pytest.approx(0.8, abs=1e-9)
    assert abs(ours["psu"] - 0.78125) > 0.01


def test_reference_rate_cancels():
    """Any shared reference rate gives the same posterior."""
    other = {"no-light": 0.55, "no-fans": 0.02}
    mine = posterior(PRIORS, told("no-light") + told("no-fans"))
    theirs = posterior(PRIORS, told("no-light", reference=other) + told("no-fans", reference=other))
    assert mine == pytest.approx(theirs, abs=1e-12)


# Shenoy, No double counting semantics for conditional independence, ISIPTA 2005; figures by hand: a finding told once
# makes .9 of an even prior; told three times it must not make .998630.
@pytest.mark.parametrize(
    ("prior", "ratio", "expected", "if_summed"),
    [(0.5, 9.0, 0.9, 0.998630), (0.1, 10.0, 0.526316, 0.991080)],
)
def test_three_tellings_of_one_fact_count_once(prior, ratio, expected, if_summed):
    """In one group three tellings count once; in three groups they would add."""
    thrice = [weight("fault", log10(ratio), "smell", f"told-{n}") for n in range(3)]
    apart = [weight("fault", log10(ratio), f"group-{n}", f"told-{n}") for n in range(3)]
    assert two_way(prior, thrice) == pytest.approx(expected, abs=1e-6)
    assert two_way(prior, apart) == pytest.approx(if_summed, abs=1e-6)


def network_posterior(priors: dict[str, float], blocks: list[dict[str, float]], k: float = 1e-4) -> dict[str, float]:
    """Solve a naive Bayes network: the cause as one node, one finding node a block, P(f | c) = k times the ratio."""
    net = pyagrum.BayesNet()
    net.add(pyagrum.LabelizedVariable("cause", "", list(priors)))
    net.cpt("cause").fillWith([p / sum(priors.values()) for p in priors.values()])
    for n, ratios in enumerate(blocks):
        net.add(pyagrum.LabelizedVariable(f"f{n}", "", ["no", "yes"]))
        net.addArc("cause", f"f{n}")
        net.cpt(f"f{n}").fillWith([q for c in priors for q in (1 - k * ratios.get(c, 1.0), k * ratios.get(c, 1.0))])
    table = pyagrum.getPosterior(net, target="cause", evs={f"f{n}": "yes" for n in range(len(blocks))})
    return {cause: table[place] for place, cause in enumerate(priors)}


@pytest.mark.parametrize("seed", range(25))
def test_agrees_with_a_bayesian_network(seed):
    """Reference: pyAgrum's exact inference on the same model, drawn at random."""
    draw = random.Random(seed)
    causes = [f"c{n}" for n in range(draw.randint(2, 12))]
    priors = {cause: draw.uniform(0.001, 1.0) for cause in causes}
    evidence, blocks = [], []
    for n in range(draw.randint(1, 7)):
        weights = {c: draw.choice([-2, -1.5, -1, -0.5, 0.25, 0.5, 1, 2, 3]) for c in causes if draw.random() < 0.6}
        evidence += [weight(c, w, f"g{n}", f"rule-{n}") for c, w in weights.items()]
        evidence += [weight(c, w * 0.5, f"g{n}", f"echo-{n}") for c, w in weights.items()]  # weaker: must not count
        blocks.append({c: 10.0**w for c, w in weights.items()})
    draw.shuffle(evidence)
    ours = posterior({c: p / sum(priors.values()) for c, p in priors.items()}, evidence)
    assert ours == pytest.approx(network_posterior(priors, blocks), abs=1e-9)


def test_in_a_group_the_strongest_for_and_the_strongest_against_count():
    """By hand: -1.5 and 1.0 of five pieces."""
    pieces = [weight("a", w, "g", f"r{n}") for n, w in enumerate([0.5, 1.0, -0.5, -1.5, 0.25])]
    assert combine(pieces) == {"a": pytest.approx(-0.5)}
    assert [piece.weight for piece in counted(pieces)["a"]] == [-1.5, 1.0]


def test_evidence_that_shares_one_of_its_groups_does_not_count_again():
    """A piece on two groups uses up both, for its cause alone."""
    both = Evidence("a", 1.0, frozenset({"smell", "sound"}), "both")
    assert combine([both, weight("a", 0.5, "sound", "late"), weight("b", 0.5, "sound", "late")]) == {"a": 1.0, "b": 0.5}


def test_evidence_without_a_group_counts_once_per_rule():
    """A rule cannot count twice, whatever it rests on."""
    bare = Evidence("a", 0.5, frozenset(), "bare")
    assert combine([bare, bare]) == {"a": 0.5}


@pytest.mark.parametrize("seed", range(20))
def test_order_names_repeats_and_idle_findings_change_nothing(seed):
    """The posterior depends on what is told, not on how it is written down."""
    draw = random.Random(seed)
    causes = [f"c{n}" for n in range(6)]
    priors = {cause: draw.uniform(0.01, 1.0) for cause in causes}
    evidence = [
        Evidence(draw.choice(causes), draw.choice([-2, -1, 0.5, 1]), frozenset(draw.sample("uvwxyz", 2)), f"r{n}")
        for n in range(20)
    ]
    before = posterior(priors, evidence)
    mixed = draw.sample(evidence, len(evidence))
    assert posterior(priors, mixed) == before, "the order of the evidence"
    assert posterior(priors, evidence + mixed) == before, "evidence told twice"
    same_for_all = [weight(cause, 1.0, "idle", "idle") for cause in causes]
    assert posterior(priors, evidence + same_for_all) == pytest.approx(before, abs=1e-12)
    renamed = [piece._replace(cause=f"x-{piece.cause}") for piece in evidence]
    named = posterior({f"x-{cause}": prior for cause, prior in priors.items()}, renamed)
    assert list(named.values()) == list(before.values()), "the names of the causes"
    weaker = [
        piece._replace(weight=piece.weight / 2, rule="z") for pieces in counted(evidence).values() for piece in pieces
    ]
    assert posterior(priors, evidence + weaker) == before, "a weaker piece of the same group and sign"


def test_extreme_weights_stay_numbers():
    """Six hundred decades do not underflow."""
    evidence = [weight("psu", -2.0, f"g{n}") for n in range(300)]
    result = posterior(PRIORS, evidence)
    assert result["board"] == pytest.approx(0.6)
    assert sum(result.values()) == pytest.approx(1.0)
    certain = posterior(PRIORS, [weight("psu", 2.0, f"g{n}") for n in range(300)])
    assert certain["psu"] == pytest.approx(1.0)


CAUSES = tuple(
    Cause(id=i, title=i, part=i, plain="p", mechanism="m", remedy=f"mend {i}", minutes=10, source="common practice")
    for i in ("psu", "board", "button")
)
COMPLAINTS = (
    Complaint(id="dead", title="d", share=0.75, firmness=5, priors={"psu": (0.6, "C"), "board": (0.4, "C")}),
    Complaint(id="slow", title="s", share=0.25, firmness=5, priors={"board": (0.2, "C"), "button": (0.8, "C")}),
)
BASE = KnowledgeBase(causes=CAUSES, complaints=COMPLAINTS)


def test_the_first_complaint_of_the_base_sets_the_priors_and_the_rest_has_the_floor():
    """By hand, from two complaints."""
    total = 1.0 + FLOOR
    expected = {"psu": 0.6 / total, "board": 0.4 / total, "button": FLOOR / total}
    assert priors_of(BASE, ["slow", "dead"]) == pytest.approx(expected)


def test_without_a_complaint_the_priors_are_mixed_by_share():
    """By hand: three quarters of one complaint, one of the other."""
    total = 1.0 + FLOOR
    mixed = {"psu": 0.75 * 0.6 + 0.25 * FLOOR, "board": 0.75 * 0.4 + 0.25 * 0.2, "button": 0.75 * FLOOR + 0.25 * 0.8}
    assert priors_of(BASE, []) == pytest.approx({cause: share / total for cause, share in mixed.items()})


def test_complaints_whose_priors_do_not_sum_to_one_are_mixed_by_their_share_all_the_same():
    """By hand: 0.2 and 0.2 and the floor for the third; 0.8 and two floors; each row brought to 1, and the mixture."""
    low = Complaint(id="low", title="l", share=0.25, firmness=5, priors={"psu": (0.2, "C"), "board": (0.2, "C")})
    high = Complaint(id="high", title="h", share=0.25, firmness=5, priors={"button": (0.8, "C")})
    priors = priors_of(KnowledgeBase(causes=CAUSES, complaints=(low, high)), ())
    assert priors["psu"] == pytest.approx(0.5 * 0.2 / 0.401 + 0.5 * 0.001 / 0.802, abs=1e-9)
    assert priors["button"] == pytest.approx(0.5 * 0.001 / 0.401 + 0.5 * 0.8 / 0.802, abs=1e-9)


def test_the_complaint_that_the_rules_give_sets_the_priors():
    """And nothing else that is told."""
    rules = (rule("is-dead", "dark", "complaint:dead"), rule("is-lit", "slow", "lit"))
    base = KnowledgeBase(causes=CAUSES, complaints=COMPLAINTS, rules=rules)
    assert believe(Engine(base).run(claims("dark, slow")), base).priors == priors_of(base, {"dead"})
    assert believe(Engine(base).run(claims("slow")), base).priors == priors_of(base, ())


def test_a_complaint_that_is_doubted_chooses_the_priors_in_part():
    """By hand: three in ten against "dead"; without it "slow" holds, or no complaint at all."""
    dead, slow, any_ = (priors_of(BASE, complaints) for complaints in (["dead"], ["slow"], []))
    beside = {cause: 0.7 * dead[cause] + 0.3 * slow[cause] for cause in dead}
    alone = {cause: 0.7 * dead[cause] + 0.3 * any_[cause] for cause in dead}
    assert doubted_priors(BASE, {"slow": 0.0, "dead": 0.3}) == pytest.approx(beside)
    assert doubted_priors(BASE, {"dead": 0.3}) == pytest.approx(alone)
    assert doubted_priors(BASE, {"dead": TOLD}) == dead


def test_the_list_of_the_first_complaint_says_which_causes_can_show_as_it():
    """Every cause where no complaint is known."""
    base = KnowledgeBase(causes=CAUSES, complaints=COMPLAINTS)
    assert listed_causes(base, {"slow", "dead"}) == {"psu", "board"}
    assert listed_causes(base, ()) == {"psu", "board", "button"}


def test_a_rule_of_no_weight_speaks_neither_for_nor_against():
    """Its name stands in no reason."""
    (psu, *_) = rank(KnowledgeBase(causes=CAUSES[:1]), {"psu": 1.0}, [weight("psu", 0.0, "g", "idle")])
    assert (psu.rules_for, psu.rules_against) == ((), ())


def test_an_excluded_cause_keeps_a_residue_and_the_others_sum_to_one():
    """By hand, from prior times ratio."""
    ranked = rank(
        BASE, PRIORS, [weight("psu", -2.0, "light", "lit", "exclude"), weight("board", 1.0, "smell", "smelt")]
    )
    # By hand: .5/100, .3*10 and .2 over .3*10 + .2.
    expected = [("board", 3.0 / 3.2, "open"), ("button", 0.2 / 3.2, "open"), ("psu", 0.005 / 3.2, "excluded")]
    assert [(cause.id, cause.status) for cause in ranked] == [(cause, status) for cause, _, status in expected]
    assert [cause.probability for cause in ranked] == pytest.approx([p for _, p, _ in expected])
    assert [cause.rules_for for cause in ranked] == [("smelt",), (), ()]
    assert ranked[-1].rules_against == ("lit",)


def test_a_cause_that_is_confirmed_and_excluded_is_open():
    """A contradiction is for a person to settle."""
    confirmed = weight("psu", 3.0, "swap", "swapped", "confirm")
    assert rank(BASE, PRIORS, [confirmed])[0].status == "confirmed"
    assert rank(BASE, PRIORS, [confirmed, weight("psu", -2.0, "lit", "lit", "exclude")])[0].status == "open"


def test_equal_causes_keep_the_order_of_the_base():
    """Ties are broken by place."""
    assert [cause.id for cause in rank(BASE, dict.fromkeys(PRIORS, 1 / 3), [])] == ["psu", "board", "button"]


def test_an_exclusion_can_be_outweighed():
    """Odds by hand: 1 * 10 ** -2 * 10 ** 3 against 1."""
    pieces = [weight("psu", -2.0, "lit", "lit", "exclude"), weight("psu", 3.0, "swap", "swapped")]
    assert posterior({"psu": 0.5, "board": 0.5}, pieces)["psu"] == pytest.approx(10 / 11)


def test_an_exclusion_that_is_outweighed_is_contested_and_stays_open():
    """Two decades against, three for: nobody may call that ruled out, and the probabilities still sum to one."""
    exclusion = weight("psu", -2.0, "swap", "swapped", "exclude")
    causes = rank(BASE, PRIORS, [exclusion, weight("psu", 3.0, "rail", "low")])
    assert (causes[0].id, causes[0].status) == ("psu", "open")
    assert sum(cause.probability for cause in causes) == pytest.approx(1.0)
    assert next(cause for cause in rank(BASE, PRIORS, [exclusion]) if cause.id == "psu").status == "excluded"
