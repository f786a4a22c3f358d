"""Priors that learn from closed cases: against published examples, and never behind the back of an old case."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expert.assess import Expert
from expert.belief import FLOOR, priors_of
from expert.case import AnswerEntry, ExperienceEntry, fold
from expert.experience import cases_behind, experience_of, learned, tell_experience
from knowledge import shipped_base
from knowledge.models import Cause, Complaint, KnowledgeBase

NAMES = ("first", "second", "third")


def _base(weights: dict[str, float], firmness: int) -> KnowledgeBase:
    filler = {"part": "psu", "plain": "x", "mechanism": "x", "remedy": "x", "minutes": 1, "source": "common practice"}
    causes = tuple(Cause(id=name, title=name, **filler) for name in NAMES)
    rows = {name: (weight, "C") for name, weight in weights.items()}
    complaint = Complaint(id="dead", title="dead", share=1.0, firmness=firmness, priors=rows)
    return KnowledgeBase(causes=causes, complaints=(complaint,))


def _priors(base: KnowledgeBase, counts: dict[str, int]) -> dict[str, float]:
    return priors_of(learned(base, ExperienceEntry(counts={"dead": counts})), ["dead"])


def test_a_poll_of_three_choices():
    """Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 3.4 (figures from memory).

    727, 583 and 137 answers on a uniform prior worth three: Dirichlet(728, 584, 138), whose mean is each over 1450.
    """
    priors = _priors(_base(dict.fromkeys(NAMES, 1.0), 3), dict(zip(NAMES, (727, 583, 137), strict=True)))
    assert priors == pytest.approx({"first": 728 / 1450, "second": 584 / 1450, "third": 138 / 1450})


@pytest.mark.parametrize(("seen", "of"), [(0, 1), (1, 1), (3, 4), (17, 20)])
def test_the_rule_of_succession(seen: int, of: int):
    """Laplace, 1774: after s of n, on two causes that are equally likely before, (s + 1) / (n + 2)."""
    base = _base({"first": 1.0, "second": 1.0}, 2)
    base = base.model_copy(update={"causes": base.causes[:2]})
    assert _priors(base, {"first": seen, "second": of - seen})["first"] == pytest.approx((seen + 1) / (of + 2))


def test_the_example_of_the_module():
    """By hand: 3 to 1, worth 4 cases, then 4 of the second: 3 to 5."""
    base = _base({"first": 0.75, "second": 0.25}, 4)
    base = base.model_copy(update={"causes": base.causes[:2]})
    assert _priors(base, {"second": 4}) == pytest.approx({"first": 3 / 8, "second": 5 / 8})


def test_a_cause_without_a_row_can_be_learned_and_one_without_a_case_keeps_its_floor():
    """By hand: weights 1 and the floor twice; ten cases of the second, on a prior worth five."""
    total = 1 + 2 * FLOOR
    expected = {"first": 5 / total / 15, "second": (5 * FLOOR / total + 10) / 15, "third": 5 * FLOOR / total / 15}
    assert _priors(_base({"first": 1.0}, 5), {"second": 10}) == pytest.approx(expected)


@given(st.lists(st.sampled_from(NAMES), max_size=12), st.integers(0, 12))
def test_it_does_not_matter_in_which_order_or_how_many_at_a_time(cases: list[str], cut: int):
    """All at once, or a first part as the base of the second with the firmness that it has by then."""
    base = _base({"first": 0.6, "second": 0.4}, 7)
    cut = min(cut, len(cases))
    first, rest = ({name: part.count(name) for name in NAMES} for part in (cases[:cut], cases[cut:]))
    halfway = _base(_priors(base, first), 7 + cut)
    assert _priors(halfway, rest) == pytest.approx(_priors(base, {name: cases.count(name) for name in NAMES}))


def test_what_the_base_does_not_know_is_left_out():
    """A cause or a complaint that was withdrawn since does no harm."""
    base = _base({"first": 1.0}, 5)
    assert learned(base, ExperienceEntry(counts={"gone": {"first": 3}, "dead": {"gone": 3}})) is base
    assert learned(base, None) is base


def test_the_same_counts_give_the_same_object():
    """What is kept for each base is then kept for this one too."""
    base = _base({"first": 1.0}, 5)
    one, two = (ExperienceEntry(counts={"dead": dict.fromkeys(order, 1)}) for order in (NAMES, NAMES[::-1]))
    assert learned(base, one) is learned(base, two) is not base


def test_counts_of_the_store_become_an_entry():
    """And are told in words; none at all is no entry."""
    experience = experience_of({("slow", "a"): 1, ("dead", "c"): 30, ("dead", "b"): 6, ("dead", "d"): 0})
    assert experience == ExperienceEntry(counts={"dead": {"b": 6, "c": 30}, "slow": {"a": 1}})
    assert (cases_behind(experience), cases_behind(experience, "dead"), cases_behind(None)) == (37, 36, 0)
    assert tell_experience(experience) == "priors from the base and from 37 closed cases here"
    assert tell_experience(experience_of({("dead", "b"): 1})).endswith("1 closed case here")
    assert (experience_of({}), tell_experience(None)) == (None, "")


def test_the_assessment_follows_the_counts_in_the_log_only():
    """Thirty cases of one cause lift it; a log without them ranks as before."""
    expert = Expert(shipped_base())
    answer = AnswerEntry(finding="dead", state="present", words="dead")
    taught = ExperienceEntry(counts={"dead": {"power-button": 30}})
    plain, lifted, again = (expert.assess(fold(log)).belief for log in ([answer], [taught, answer], [answer]))
    assert plain == again
    assert lifted.causes[0].id == "power-button"
    assert plain.causes[0].id != "power-button"
    # The base is worth 30 cases of this complaint (firmness), so that it and the shop count half each.
    assert lifted.priors["power-button"] == pytest.approx((plain.priors["power-button"] + 1) / 2)
