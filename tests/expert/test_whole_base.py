"""What must hold on the whole base whatever is told: no error, sums of one, nothing lost, nothing gained by repeating.

Probability theory, no source for each: sums, Bayes' theorem as a bound, and that nothing told is no evidence; locked
checks last: common practice, no source.
"""

from math import isfinite

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from expert.assess import Expert
from expert.belief import believe
from expert.case import AnswerEntry, Entry, HandEntry, MessageEntry, OutcomeEntry, StepEntry, WithdrawEntry, fold
from expert.engine import Engine
from expert.evidence import clip
from expert.facts import claims_in, outcome_of
from expert.verdict import conclude
from knowledge import shipped_base

BASE = shipped_base()
EXPERT = Expert(BASE)
ENGINE = Engine(BASE)
FINDINGS = [finding.id for finding in BASE.findings]
OUTCOMES = [(check.id, outcome.id) for check in BASE.checks for outcome in check.outcomes]
GEAR = sorted({need for check in BASE.checks for need in (*check.tools, *check.spares)})
LAST_FIRST = BASE.model_copy(update={"rules": BASE.rules[::-1]})
TURNED = (LAST_FIRST, Engine(LAST_FIRST))
OPENING = MessageEntry(text="It does not start.", sentences=1, redactions=0)

answers = st.builds(
    AnswerEntry,
    finding=st.sampled_from(FINDINGS),
    state=st.sampled_from(["present", "absent", "unknown"]),
    words=st.just("so"),
    seen=st.booleans(),
)
outcomes = st.sampled_from(OUTCOMES).map(lambda pair: OutcomeEntry(check=pair[0], outcome=pair[1]))
hands = st.builds(HandEntry, have=st.lists(st.sampled_from(GEAR), max_size=6, unique=True).map(tuple))
withdrawals = st.builds(WithdrawEntry, finding=st.sampled_from(FINDINGS))
entries = st.one_of(answers, outcomes, answers, outcomes, hands, withdrawals)
quick = settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def judged(log: list[Entry]):
    """Assess and conclude."""
    case = fold([OPENING, *log])
    assessment = EXPERT.assess(case)
    return assessment, conclude(BASE, case, assessment)


@quick
@given(st.lists(entries, max_size=25))
def test_any_answers_in_any_order_give_an_assessment(log):
    """Every figure a number, every distribution a sum of one, every lock at the end, and a verdict on top."""
    assessment, verdict = judged(log)
    belief = assessment.belief
    assert sum(belief.posterior.values()) == pytest.approx(1.0)
    assert all(0.0 < p <= 1.0 for p in belief.posterior.values()), "never 0: that could not be undone"
    assert sum(c.probability for c in belief.causes if c.status != "excluded") == pytest.approx(1.0)
    for plan in (*assessment.checks, *assessment.questions):
        assert sum(outcome.probability for outcome in plan.outcomes) == pytest.approx(1.0)
        assert isfinite(plan.saves)
        assert 0.0 <= plan.bits < float("inf")
    locked = [plan.locked_by is not None for plan in assessment.checks]
    assert locked == sorted(locked)
    assert all(0.0 <= group.probability <= 1.0 + 1e-9 for group in verdict.ambiguity.groups)
    assert all(0.0 <= companion.chance <= 1.0 for companion in verdict.companions)


@quick
@given(st.lists(entries, max_size=10), st.lists(answers, min_size=1, max_size=3))
def test_what_is_taken_back_leaves_no_trace(log, more):
    """As it was, byte for byte, after as many steps back."""
    steps = [StepEntry(kind="undo")] * len(more)
    assert repr(judged([*log, *more, *steps])) == repr(judged(log))


@quick
@given(st.lists(entries, max_size=10), st.sampled_from(FINDINGS))
def test_an_unknown_finding_is_no_evidence(log, finding):
    """Withdrawn or not known is the same belief: unknown is not absent."""
    unknown = AnswerEntry(finding=finding, state="unknown", words="?")
    found = [judged([*log, last])[0] for last in (unknown, WithdrawEntry(finding=finding))]
    assert found[0].belief.posterior == found[1].belief.posterior
    assert found[0].hazards == found[1].hazards


@quick
@given(st.lists(answers, max_size=10, unique_by=lambda entry: entry.finding), st.randoms(use_true_random=False))
def test_the_order_of_telling_and_of_the_rules_does_not_matter(log, draw):
    """The same answers in another order; the same rules, the last one first: the same belief to rounding."""
    belief = judged(log)[0].belief
    mixed = draw.sample(log, len(log))
    assert judged(mixed)[0].belief.posterior == belief.posterior
    claims = judged(log)[0].claims
    ours, theirs = (believe(engine.run(claims), base).posterior for base, engine in ((BASE, ENGINE), TURNED))
    assert theirs == pytest.approx(ours, rel=1e-9)


SWAPS = [check for check in BASE.checks if check.spares]


@pytest.mark.parametrize("check", SWAPS, ids=lambda check: check.id)
def test_a_part_that_a_swap_clears_keeps_what_the_table_leaves_it(check):
    """Bayes' theorem: P(cause | outcome) >= P(cause) P(outcome | cause), since P(outcome) <= 1; so never 0."""
    before = believe(ENGINE.run(claims_in("dead")), BASE).posterior
    for outcome in check.outcomes:
        facts = {*claims_in("dead"), outcome_of(check.id, outcome.id)}
        belief = believe(ENGINE.run(facts), BASE)
        excluded = {piece.cause for piece in belief.evidence if piece.kind != "weigh"}
        for cause in before.keys() - excluded:
            least = before[cause] * clip(outcome.likely.get(cause, outcome.otherwise))
            assert belief.posterior[cause] >= least * (1 - 1e-9), (outcome.id, cause)
