"""The trace: each conclusion followed back to what was stated, and forward again when that is withdrawn.

HOW is read downwards from a firing, after Davis, TEIRESIAS (chapter 3, explanation).
"""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from expert.engine import Engine
from expert.facts import Claim, concluded
from expert.trace import Firing, conclusion_text, explain, roots
from knowledge.models import Conclusion, KnowledgeBase
from tests.expert.samples import Cases, base, claims, layered_bases, rule

# "No lights": the supply path is suspect. "The outlet works with a lamp": it is not the outlet. So look at the lead.
LEAD = base(
    rule("r-dead", "no-lights", "supply-path-suspect"),
    rule("r-outlet-good", "outlet-good", "outlet-cleared"),
    rule("r-lead", "supply-path-suspect, outlet-cleared", "ask:lead-seated"),
)


def test_how_a_conclusion_was_reached_is_read_from_the_trace():
    """HOW(ask for the lead) = 3, from 1 from "no lights" and 2 from "outlet works"."""
    firings = Engine(LEAD).run(claims("no-lights, outlet-good"))
    assert [(f.n, f.rule, f.from_, f.gives) for f in firings] == [
        (1, "r-dead", ("no-lights=present",), ("finding:supply-path-suspect=present",)),
        (2, "r-outlet-good", ("outlet-good=present",), ("finding:outlet-cleared=present",)),
        (3, "r-lead", (1, 2), ("ask:lead-seated",)),
    ]
    assert explain(firings, 3) == firings
    assert explain(firings, 2) == firings[1:2]
    assert roots(firings, 3) == claims("no-lights, outlet-good")


def test_withdrawing_a_finding_takes_every_firing_that_rests_on_it():
    """Without "outlet works", firings 2 and 3 must vanish."""
    assert [f.rule for f in Engine(LEAD).run(claims("no-lights"))] == ["r-dead"]


def test_a_fact_both_stated_and_derived_counts_as_stated():
    """The owner's own word is the shorter way back."""
    (dead, lead) = Engine(base(rule("one", "a", "b"), rule("two", "b", "exclude:x"))).run(claims("a, b"))
    assert (dead.from_, lead.from_) == (("a=present",), ("b=present",))
    assert roots((dead, lead), 2) == claims("b")


def test_a_fact_given_twice_refers_to_its_first_giver():
    """And both firings stand in the trace."""
    rules = base(rule("one", "a", "c"), rule("two", "b", "c"), rule("three", "c", "exclude:x"))
    firings = Engine(rules).run(claims("a, b"))
    assert [f.from_ for f in firings] == [("a=present",), ("b=present",), (1,)]


def test_two_facts_from_one_firing_refer_to_it_once():
    """`from` is a list of reasons, not of facts."""
    firings = Engine(base(rule("one", "a", "b, c"), rule("two", "b, c", "exclude:x"))).run(claims("a"))
    assert firings[1].from_ == (1,)


def test_the_setting_of_a_rule_is_a_root_but_no_evidence():
    """Also through a chain: what `given` rests on does not count."""
    rules = base(
        rule("one", "a", "b", given="laptop"), rule("two", "b", "exclude:x", given="c"), rule("three", "d", "c")
    )
    last = Engine(rules).run(claims("a, d, laptop"))[-1]
    assert last.rule == "two"
    assert last.stated == claims("a, d, laptop")
    assert last.evidence == claims("a")


def test_the_json_of_a_firing_has_the_public_keys_in_their_order():
    """n, rule, because, from, gives, source."""
    (firing,) = Engine(base(rule("r", "a", "support:psu-failed:strong"))).run(claims("a"))
    assert list(firing.as_json().items()) == [
        ("n", 1),
        ("rule", "r"),
        ("because", "because of r"),
        ("from", ["a=present"]),
        ("gives", ["support:psu-failed:strong"]),
        ("source", "common practice"),
    ]


def test_each_kind_of_conclusion_is_written_one_way():
    """The words of the trace; `fails_at` is spelled as its fact."""
    written = {
        "finding:dead=absent": Conclusion(finding="dead", state="absent"),
        "hazard:fire": Conclusion(hazard="fire"),
        "fails-at:post": Conclusion(fails_at="post"),
        "exclude:mains-outlet": Conclusion(exclude="mains-outlet"),
        "exclude:mains-outlet:strong": Conclusion(exclude="mains-outlet", strength="strong"),
    }
    assert {text: conclusion_text(conclusion) for text, conclusion in written.items()} == {t: t for t in written}


def _gives(firing: Firing) -> set[Claim | None]:
    return {concluded(conclusion) for conclusion in firing.gives_conclusions}


def test_numbers_rise_and_each_reason_is_stated_or_earlier_and_roots_suffice():
    """Numbers rise by one, every `from` is a stated fact or a smaller number, every root is a stated fact."""
    chained = 0

    @settings(max_examples=120, deadline=None, derandomize=True, database=None)
    @given(layered_bases(), st.integers(0, 2**32))
    def hold(rules: KnowledgeBase, seed: int) -> None:
        nonlocal chained
        engine = Engine(rules)
        stated = Cases(engine.productions).draw(random.Random(seed))
        names = {claim.text for claim in stated}
        firings = engine.run(stated)
        assert [firing.n for firing in firings] == list(range(1, len(firings) + 1))
        for firing in firings:
            assert all(f in names if isinstance(f, str) else 0 < f < firing.n for f in firing.from_)
            assert firing.evidence <= firing.stated <= stated
            assert firing.stated
            chained += any(isinstance(f, int) for f in firing.from_)

    hold()
    assert chained


def test_removing_a_root_removes_the_firing_or_shows_another_support():
    """Run without it: the rule stays quiet, or rests on facts without the removed one."""
    gone = other_support = 0

    @settings(max_examples=120, deadline=None, derandomize=True, database=None)
    @given(layered_bases(), st.integers(0, 2**32))
    def hold(rules: KnowledgeBase, seed: int) -> None:
        nonlocal gone, other_support
        engine = Engine(rules)
        stated = Cases(engine.productions).draw(random.Random(seed))
        for firing in engine.run(stated):
            for root in sorted(firing.stated):
                again = [f for f in engine.run(stated - {root}) if f.rule == firing.rule]
                assert all(root not in f.stated for f in again)
                gone += not again
                other_support += bool(again)

    hold()
    assert gone
    assert other_support
