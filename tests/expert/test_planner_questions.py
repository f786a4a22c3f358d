"""Which question comes next, by hand and against the engine; the bases here are invented.

Questions are worth what they save on the way to the repair, as observations are (Heckerman, Breese & Rommelse,
Decision-theoretic troubleshooting, CACM 38(3), 1995); those that guard safety come first (common practice, no source).
"""

from itertools import permutations

import pytest

from expert.belief import believe
from expert.engine import Engine
from expert.facts import claims_in
from expert.planner import rank_checks, rank_questions
from knowledge.models import Complaint, Condition, Rule
from tests.expert.plans import base, check, question, questions_for
from tests.expert.samples import rule

SIGNS = (
    rule("strong-sign", "lit", "support:a:strong"),
    rule("weak-sign", "beeps", "weaken:c:substantial"),
    rule("needs-hum", "hot, hums", "support:b:strong"),
)


def test_questions_that_change_the_repair_come_first_and_idle_ones_are_left_out():
    """`hot` matters only once `hums` is known; `hums` likewise."""
    asked = tuple(question(f"ask-{name}", name) for name in ("beeps", "hot", "hums", "lit"))
    known = base(*SIGNS, questions=asked)
    assert [plan.id for plan in questions_for(known)] == ["ask-lit", "ask-beeps"]
    assert "ask-hot" in [plan.id for plan in questions_for(known, "hums")]
    assert [plan.id for plan in questions_for(known, "lit=unknown")] == ["ask-beeps"]
    assert [plan.id for plan in questions_for(known, asked=("beeps",))] == ["ask-lit"]


def test_the_answer_to_a_question_is_foretold_by_rate_and_ratio():
    """By hand: rate .2; a tenfold for `a`, clipped to .98 against .8, so P(yes | a) = .98 / 1.78, else .2."""
    known = base(SIGNS[0], questions=(question("ask", "lit"),))
    (plan,) = questions_for(known)
    yes = 0.5 * 0.98 / 1.78 + 0.5 * 0.2
    assert [o.probability for o in plan.outcomes] == pytest.approx([yes, 1 - yes])
    assert plan.outcomes[0].leader_probability == pytest.approx(0.5 * 0.98 / 1.78 / yes)


def test_a_question_that_settles_the_complaint_counts_through_the_priors():
    """Nothing else speaks, yet the answer decides between two complaints."""
    complaints = tuple(
        Complaint(id=i, title=i, share=0.5, firmness=1, priors={c: (p, "C") for c, p in zip("abc", ps, strict=True)})
        for i, ps in (("dead", (0.8, 0.1, 0.1)), ("slow", (0.1, 0.1, 0.8)))
    )
    rules = tuple(
        Rule.model_validate({**rule(i, "lit", "beeps").model_dump(), "when": [{"finding": "lit", "state": state}],
                             "gives": [{"complaint": i}]})
        for i, state in (("dead", "present"), ("slow", "absent"))
    )  # fmt: skip
    (plan,) = questions_for(base(*rules, questions=(question("ask", "lit"),), complaints=complaints))
    assert [(o.outcome, o.leader) for o in plan.outcomes] == [("present", "a"), ("absent", "c")]
    assert plan.saves > 0


GUARDS = (
    rule("burns", "smell", "hazard:fire"),
    rule("wets", "spill, hums", "hazard:wet"),
    rule("copies", "beeps", "hazard:data"),
    rule("pulls", "hot", "hazard:fire", unless="lit"),
)


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ("", [("ask-smell", "fire"), ("ask-spark", "spark")]),
        ("hums", [("ask-smell", "fire"), ("ask-spill", "wet"), ("ask-spark", "spark")]),
        ("hums, lit", [("ask-smell", "fire"), ("ask-spill", "wet"), ("ask-spark", "spark")]),
        ("smell", [("ask-spark", "spark")]),
    ],
)
def test_questions_that_guard_safety_come_first(told, expected):
    """Whatever else of a hazard's rule holds already, the missing part is asked, stop before caution; a notice waits.

    A danger that no rule sees to (`spark`) is asked about as well; a hazard that is raised is not asked for again.
    What is no danger sign (`hot`) takes its turn with the rest, though it would raise a hazard too.
    """
    names = ("lit", "beeps", "spark", "smell", "hot", "spill")
    known = base(*GUARDS, SIGNS[0], questions=tuple(question(f"ask-{name}", name) for name in names))
    plans = questions_for(known, told)
    assert [(plan.id, plan.guards) for plan in plans if plan.guards] == expected
    assert [bool(plan.guards) for plan in plans] == sorted((bool(plan.guards) for plan in plans), reverse=True)


def test_a_question_that_a_rule_wants_asked_comes_before_the_rest():
    """It need not change the belief."""
    asked = tuple(question(f"ask-{name}", name) for name in ("lit", "hums", "smell"))
    known = base(*GUARDS, SIGNS[0], rule("wants", "beeps", "ask:ask-hums"), questions=asked)
    assert [plan.id for plan in questions_for(known, "beeps")] == ["ask-smell", "ask-hums", "ask-lit"]


def test_a_question_has_conditions():
    """As a check has."""
    only = question("ask", "lit", when=(Condition(finding="hums"),), unless=(Condition(finding="hot"),))
    known = base(SIGNS[0], questions=(only,))
    offered = [bool(questions_for(known, told)) for told in ("", "hums", "hums, hot")]
    assert offered == [False, True, False]


def test_plans_do_not_depend_on_the_order_of_the_facts():
    """The same facts in any order, and held as a list or a set."""
    known = base(*SIGNS, checks=(check("test", {"a": 0.9}),), questions=(question("ask", "beeps"),))
    facts = claims_in("lit, hums, hot")
    plans = set()
    for order in permutations(facts):
        belief = believe(Engine(known).run(order), known)
        plans.add((rank_checks(known, belief, order), rank_questions(known, belief, list(order))))
    assert len(plans) == 1
