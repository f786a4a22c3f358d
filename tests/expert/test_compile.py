"""Productions and what experta is given: the ground language, rule by rule."""

import subprocess
import sys

import pytest

from expert.compile import Known, compile_rules
from expert.experta_ready import NOT
from expert.facts import Claim, claims_in, concluded, slug
from expert.productions import productions_of, rules_of_checks
from knowledge.errors import KnowledgeError
from knowledge.models import Check, Conclusion, Condition, KnowledgeBase, Outcome, Rule
from tests.expert.samples import base, rule

LAMP = Check(
    id="lamp",
    title="plug a lamp into the outlet",
    how="Plug a lamp into the same outlet.",
    minutes=1,
    who="owner",
    outcomes=(
        Outcome(id="lit", title="the lamp lights", otherwise=0.5, gives=(Conclusion(reached="mains"),)),
        Outcome(id="dark", title="the lamp stays dark", otherwise=0.5),
    ),
    source="common practice",
)


def _with_detail(**place: tuple[Condition, ...]) -> Rule:
    parts: dict[str, tuple[Condition, ...]] = {"when": (Condition(finding="dead"),), **place}
    return rule("with-detail", "a", "exclude:x").model_copy(update=parts)


MEMORY = Condition(finding="part-replaced", detail="memory")


def test_a_condition_with_a_detail_needs_the_finding_and_the_detail():
    """Two facts, since each can hold without that the rule means it."""
    (production,) = productions_of(base(_with_detail(when=(MEMORY,))))
    assert [claim.text for claim in production.needs] == ["part-replaced=present", "part-replaced:memory"]


def test_an_exception_with_a_detail_bars_only_that_detail():
    """Otherwise the replacement of any part would keep a rule quiet that excepts the replacement of memory."""
    (production,) = productions_of(base(_with_detail(unless=(MEMORY,))))
    assert [claim.text for claim in production.unless] == ["part-replaced:memory"]


def test_drafts_and_withdrawn_rules_are_not_compiled():
    """Only what is active fires."""
    rules = [
        rule(status, "a", "b").model_copy(update={"status": status}) for status in ("draft", "active", "withdrawn")
    ]
    assert [production.id for production in productions_of(base(*rules))] == ["active"]


def test_each_outcome_of_a_check_becomes_a_rule_of_its_own():
    """Named check/outcome, resting on that outcome alone."""
    lit, dark = rules_of_checks(KnowledgeBase(checks=(LAMP,)))
    assert (lit.id, lit.because, lit.source) == ("lamp/lit", "the lamp lights", "common practice")
    assert lit.needs == (Claim("outcome", "lamp", "lit"),)
    assert lit.adds == (Claim("reached", "mains"),)
    assert (dark.id, dark.adds, dark.gives) == ("lamp/dark", (), ())


def test_the_experta_rule_holds_the_patterns_the_exceptions_and_the_stratum():
    """What is handed to experta, part by part."""
    plain, barred = compile_rules(
        productions_of(base(rule("plain", "a", "b"), rule("barred", "x, y", "c", unless="b")))
    )
    assert tuple(plain) == (Known(Claim("finding", "a", "present")),)
    assert tuple(barred) == (
        Known(Claim("finding", "x", "present")),
        Known(Claim("finding", "y", "present")),
        NOT(Known(Claim("finding", "b", "present"))),
    )
    assert (plain.salience, barred.salience) == (0, -1)
    assert (plain.__name__, plain.place, barred.place) == ("plain", 0, 1)


@pytest.mark.parametrize(
    ("conclusion", "fact"),
    [
        (Conclusion(finding="dead", state="absent"), "dead=absent"),
        (Conclusion(complaint="slow"), "complaint:slow"),
        (Conclusion(reached="post"), "reached:post"),
        (Conclusion(fails_at="post"), "fails-at:post"),
        (Conclusion(hazard="fire"), "hazard:fire"),
        (Conclusion(lift="fire"), "lift:fire"),
    ],
)
def test_conclusions_that_others_can_build_on_become_facts(conclusion, fact):
    """Each kind that a condition can look at."""
    assert concluded(conclusion).text == fact


@pytest.mark.parametrize("kind", ["exclude", "confirm", "lock", "ask", "clear", "convict"])
def test_effects_do_not_become_facts(kind):
    """They change belief or the plan, and no rule looks at them."""
    assert concluded(Conclusion(**{kind: "x"})) is None


def test_a_condition_and_the_conclusion_it_waits_for_are_the_same_fact():
    """Otherwise a chain would break without a word."""
    for kind in ("finding", "complaint", "hazard", "reached", "fails_at"):
        chain = rule("uses", "a", "exclude:x").model_copy(update={"when": (Condition(**{kind: "x"}),)})
        (production,) = productions_of(base(chain))
        assert production.needs == (concluded(Conclusion(**{kind: "x"})),)


@pytest.mark.parametrize(
    ("example", "facts"),
    [
        ("dead, outlet-good=absent", ["dead=present", "outlet-good=absent"]),
        ("part-replaced:memory", ["part-replaced=present", "part-replaced:memory"]),
        ("picture=unknown, lamp/lit", ["picture=unknown", "lamp/lit"]),
        ("", []),
    ],
)
def test_examples_of_rules_are_read(example, facts):
    """The grammar in which rules write their examples."""
    assert [claim.text for claim in claims_in(example)] == facts


@pytest.mark.parametrize("item", ["dead=maybe", "Dead", "dead outlet-good", "a/b/c", "=absent"])
def test_an_example_that_is_no_fact_is_named(item):
    """A slip in an example must not pass for a quiet rule."""
    with pytest.raises(KnowledgeError, match="is not a fact: write finding"):
        claims_in(f"dead, {item}")


def test_a_detail_is_spelled_as_an_id():
    """Whatever the reader found, a rule can name it."""
    assert slug(" 1 long, 2 short ") == "1-long-2-short"


FRESH = """
import collections, logging
before, handlers = set(dir(collections)), list(logging.root.handlers)
import expert.experta_ready as ready
assert ready.KnowledgeEngine.__module__ == "experta.engine"
assert set(dir(collections)) - before <= {"abc"}, set(dir(collections)) - before
assert logging.root.handlers == handlers, logging.root.handlers
print("ready")
"""


def test_the_import_of_experta_leaves_collections_and_the_root_logger_as_they_were():
    """In a fresh process, since an import happens once; it would fail at frozendict 1.2 without the help."""
    run = subprocess.run([sys.executable, "-W", "error", "-c", FRESH], capture_output=True, text=True, check=False)
    assert (run.stdout, run.stderr) == ("ready\n", "")


def test_the_import_keeps_the_handlers_that_were_there():
    """A host program's own logging is not ours to take away."""
    own = "import logging; logging.basicConfig(); before = list(logging.root.handlers); import expert.experta_ready; "
    own += "assert logging.root.handlers == before != []"
    assert subprocess.run([sys.executable, "-c", own], check=False).returncode == 0
