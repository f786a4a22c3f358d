"""Evidence from rules and checks: which number, in which group, on which facts; the bases here are invented."""

from math import log10

import pytest

from expert.belief import believe, combine, counted
from expert.engine import Engine
from expert.evidence import Evidence, Forecast, Forecasted, doubt_of, doubted, evidence_of, roots_of
from expert.facts import Claim, outcome_of
from knowledge.models import Cause, Check, Complaint, Finding, KnowledgeBase, Outcome, Rule, Strength
from tests.expert.samples import claims, rule

# The grades of Jeffreys, Theory of Probability (3rd ed. 1961), appendix B, in decades of the likelihood ratio.
GRADES = {"substantial": 0.5, "strong": 1.0, "decisive": 2.0, "proven": 3.0}


def finding(name: str, group: str | None = None) -> Finding:
    """Make a finding."""
    return Finding(id=name, title=name, kind="sign", present="p", absent="a", group=group)


def cause(name: str) -> Cause:
    """Make a cause."""
    return Cause(
        id=name, title=name, part=name, plain="p", mechanism="m", remedy=name, minutes=10, source="common practice"
    )


def check(name: str, positive: dict[str, float], otherwise: float, settled_by: tuple[str, ...] = ()) -> Check:
    """Make a check with the outcomes yes and no from P(yes | cause)."""
    negative = {cause: 1 - p for cause, p in positive.items()}
    return Check(
        id=name,
        title=name,
        how="h",
        minutes=1,
        who="bench",
        settled_by=settled_by,
        source="common practice",
        outcomes=(
            Outcome(id="yes", title="yes", likely=positive, otherwise=otherwise),
            Outcome(id="no", title="no", likely=negative, otherwise=1 - otherwise),
        ),
    )


def base(*rules: Rule, checks: tuple[Check, ...] = (), priors: dict[str, float] | None = None) -> KnowledgeBase:
    """Make a base with three causes, five findings (two of them in the group life), and the grades."""
    shares = priors or {"a": 0.5, "b": 0.3, "c": 0.2}
    return KnowledgeBase(
        findings=(finding("dead", "life"), finding("quiet", "life"), *map(finding, ("smell", "lit", "lamp"))),
        causes=tuple(map(cause, "abc")),
        complaints=(
            Complaint(id="k", title="k", share=1.0, firmness=1, priors={c: (p, "C") for c, p in shares.items()}),
        ),
        rules=rules,
        checks=checks,
        strengths=tuple(Strength(id=i, log10_ratio=value, title=i) for i, value in GRADES.items()),
    )


def evidence_in(known: KnowledgeBase, told: str) -> tuple[Evidence, ...]:
    """Run the engine on what is told, every fact of it sure, and give the evidence."""
    return evidence_of(Engine(known).run(claims(told)), known, dict.fromkeys(claims(told), 0.0))


@pytest.mark.parametrize(
    ("gives", "weight", "kind"),
    [
        ("support:a:strong", 1.0, "weigh"),
        ("weaken:a:substantial", -0.5, "weigh"),
        ("exclude:a", -2.0, "exclude"),
        ("exclude:a:strong", -1.0, "exclude"),
        ("confirm:a", 3.0, "confirm"),
    ],
)
def test_conclusions_weigh_what_their_grade_says(gives, weight, kind):
    """Each kind of conclusion on belief, with the grade that it names or the one that stands for it."""
    found = evidence_in(base(rule("r", "dead", gives)), "dead")
    assert found == (Evidence("a", weight, frozenset({"life"}), "r", kind),)


def test_the_setting_of_a_rule_is_not_evidence():
    """Only `when` is; what stands in `given` can support the same cause again."""
    known = base(rule("first", "smell", "support:a:strong", given="dead"), rule("second", "dead", "support:a:strong"))
    assert combine(evidence_in(known, "dead, smell")) == {"a": 2.0}


def test_a_derived_finding_counts_as_what_it_was_derived_from():
    """Two ways from one stated finding to one cause count once, the stronger one."""
    known = base(
        rule("derive", "smell", "lamp"),
        rule("far", "lamp", "support:a:strong"),
        rule("near", "smell", "support:a:decisive"),
    )
    found = evidence_in(known, "smell")
    assert {piece.rule: piece.groups for piece in found} == dict.fromkeys(("far", "near"), frozenset({"smell"}))
    assert [piece.rule for piece in counted(found)["a"]] == ["near"]


def test_findings_of_one_group_count_once():
    """Two signs of one group say one thing."""
    known = base(rule("r", "dead", "support:a:strong"), rule("s", "quiet", "support:a:substantial"))
    assert combine(evidence_in(known, "dead, quiet")) == {"a": 1.0}


def test_nothing_told_is_no_evidence():
    """Unknown is not absent, and a finding that is taken back leaves nothing behind."""
    known = base(rule("r", "dead=absent", "support:a:strong"))
    engine = Engine(known)
    before = believe(engine.run(claims("")), known)
    assert evidence_in(known, "dead=unknown") == ()
    assert believe(engine.run(claims("dead=absent")), known) != before
    assert repr(believe(engine.run(claims("")), known)) == repr(before)


# Observation of Heckerman, Breese & Rommelse (CACM 38(3), 1995), worked by hand: P(+ | a, b, c) = .9, .1, .1.
@pytest.mark.parametrize(("outcome", "expected"), [("yes", (0.9, 0.06, 0.04)), ("no", (0.1, 0.54, 0.36))])
def test_an_outcome_updates_by_bayes_theorem(outcome, expected):
    """The likelihoods of the outcome against the shared `otherwise`."""
    known = base(checks=(check("test", {"a": 0.9}, 0.1),))
    belief = believe(Engine(known).run([outcome_of("test", outcome)]), known)
    # The shipped priors have a floor for causes without a row; here every cause has one.
    assert tuple(belief.posterior.values()) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("weight", [0.0, 0.25, 1.0, 2.0, 3.0, -1.0, -3.0])
@pytest.mark.parametrize("doubt", [0.0, 0.005, 0.02, 0.15])
def test_a_doubted_fact_is_weighed_by_the_rule_of_total_probability(weight, doubt):
    """Jeffrey's rule (The Logic of Decision, 1965): P(H) = P(H | fact) P(fact) + P(H | no fact) P(no fact).

    By hand, an even question: 10 to 1 at a doubt of .02 is .98 * 10/11 + .02 * 1/11 = 9.82/11, so 9.82 to 1.18.
    """
    sure = 10**weight / (1 + 10**weight)
    mixed = sure * (1 - doubt) + (1 - sure) * doubt
    assert doubted(weight, doubt) == pytest.approx(log10(mixed / (1 - mixed)), abs=1e-9)
    assert doubted(1.0, 0.02) == pytest.approx(log10(9.82 / 1.18))
    assert doubted(12.0, 0.02) == pytest.approx(log10(49))


@pytest.mark.parametrize(
    ("told", "doubts", "expected"),
    [
        ("smell", {}, 0.005),  # an owner's word errs no less often than a check
        ("smell", {"smell": 0.15}, 0.15),
        ("smell, dead", {"smell": 0.0}, 0.005),  # as sure as the least sure of the two
        ("test/yes", {}, 0.0),  # a check's own table says how sure it is
    ],
)
def test_how_sure_a_fact_is_depends_on_where_it_comes_from(told, doubts, expected):
    """Judgement of this base, no source: told, told with doubt, seen at the bench, come out of a check."""
    apart = {Claim("finding", finding, "present"): doubt for finding, doubt in doubts.items()}
    assert doubt_of(claims(told), apart) == expected


def test_likelihoods_of_nought_and_one_are_clipped():
    """A check can be misread: .995 against .005, and no cause falls to nothing."""
    known = base(checks=(check("test", {"a": 1.0}, 0.0),))
    found = evidence_in(known, "test/yes")
    assert [piece.weight for piece in found] == [pytest.approx(log10(0.995 / 0.005))]


def test_a_check_tells_what_the_findings_that_settle_it_tell():
    """The owner's word and the bench's test of the same thing count once; a check that settles nothing counts apart."""
    supports = rule("said", "smell", "support:a:substantial")
    same = base(supports, checks=(check("sniff", {"a": 0.9}, 0.09, settled_by=("smell",)),))
    other = base(supports, checks=(check("sniff", {"a": 0.9}, 0.09),))
    assert combine(evidence_in(same, "smell, sniff/yes"))["a"] == pytest.approx(1.0)
    assert combine(evidence_in(other, "smell, sniff/yes"))["a"] == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ("test/yes", {"a": log10(0.9 / 0.1), "b": 1.0}),  # the table knows a; of b only the rule speaks
        ("test/yes, smell", {"a": 2.0, "b": 1.0}),  # with a fact of another kind: the stronger piece of the two
    ],
)
def test_a_rule_on_an_outcome_leaves_to_the_table_what_the_table_tells(told, expected):
    """P(yes | a) = .9 against .1: one observation moves a once, by Bayes' theorem, whatever a rule repeats of it."""
    known = base(
        rule("repeats", "test/yes", "support:a:strong, support:b:strong"),
        rule("adds", "test/yes, smell", "support:a:decisive"),
        checks=(check("test", {"a": 0.9}, 0.1),),
    )
    assert combine(evidence_in(known, told)) == pytest.approx(expected)


def test_what_a_rule_excludes_on_an_outcome_stands():
    """Exclusion and confirmation are statements of the rule, not a second weighing of the table."""
    known = base(rule("out", "test/yes", "exclude:a"), checks=(check("test", {"a": 0.1}, 0.9),))
    assert [piece.kind for piece in evidence_in(known, "test/yes")] == ["exclude", "weigh"]


CHAIN = base(
    rule("derive", "smell", "lamp"),
    rule("far", "lamp, dead", "support:a:strong"),
    rule("not-if-lit", "smell", "support:b:strong", unless="lit"),
    rule("needs-quiet", "smell, quiet", "support:c:strong"),
    rule("absent", "smell=absent", "exclude:a"),
    rule("danger", "smell", "hazard:fire"),
)


KEPT = Forecast(CHAIN)  # asked in several cases, as the planner's is: what it keeps must not leak from one to another


@pytest.mark.parametrize("told", ["dead", "dead, lit", "", "quiet, dead", "lit", "pop"])
@pytest.mark.parametrize("answer", ["present", "absent"])
def test_a_forecast_is_what_the_engine_finds_once_the_answer_is_in(told, answer):
    """Reference: the engine, run with and without the answer."""
    engine, claim = Engine(CHAIN), Claim("finding", "smell", answer)
    before, after = engine.run(claims(told)), engine.run(claims(told) | {claim})
    known = {fact: frozenset({fact}) for fact in claims(told)} | roots_of(before)
    forecast = KEPT.after(known, claim)
    assert set(forecast.evidence) == set(evidence_of(after, CHAIN)) - set(evidence_of(before, CHAIN))
    assert set(forecast.claims) == {claim, *roots_of(after)} - set(roots_of(before))


def test_a_fact_that_holds_already_brings_nothing():
    """Nothing fires twice."""
    smell = Claim("finding", "smell", "present")
    assert Forecast(CHAIN).after({smell: frozenset({smell})}, smell) == Forecasted()
