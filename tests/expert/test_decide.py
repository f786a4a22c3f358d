"""What comes next is decided once: danger first, then what is at an end, the data, what does not agree, the repair.

The order is common practice, no source; the cases are invented.
"""

import pytest

from expert.case import CloseEntry, fold
from expert.decide import lock_words
from knowledge import shipped_base
from knowledge.errors import KnowledgeError
from knowledge.load import BASE as FOLDER
from knowledge.load import load
from tests.expert.test_verdict import case_of, verdict_of

BASE = shipped_base()


def decided(told: str):
    """Give the verdict on a case told in facts."""
    return verdict_of(case_of(told))[1]


def test_nothing_is_replaced_while_it_is_dangerous():
    """Even a supply that is convicted: first a qualified person makes it safe."""
    verdict = decided("dead, burning-smell, known-good-supply-beside-case/cured")
    assert verdict.decision.kind == "make-safe"
    assert "fire" in {hazard.id for hazard in verdict.decision.hazards}
    assert not verdict.plan.decided
    assert verdict.plan.parts("replace", "replace-together") == ()
    assert next(step for step in verdict.plan.steps if step.part == "psu").reason.startswith("Decided once it is safe")


@pytest.mark.parametrize(
    ("told", "part"),
    [
        ("dead, cleaned, press-power-leads-home/main-lead", "leads"),
        ("no-boot-device, drive-lead-and-port/cured", "storage"),
        ("dead, beeps, memory-reseated-and-wiped/cured", "memory"),
    ],
)
def test_after_a_cure_nothing_is_replaced_and_nothing_is_looked_for(told, part):
    """What was pressed home is kept; what is left is to see that all of it works."""
    verdict = decided(told)
    assert verdict.decision.kind == "mended"
    assert [(step.part, step.action) for step in verdict.plan.steps] == [(part, "keep")]
    assert not verdict.plan.decided
    assert (verdict.ambiguity.groups, verdict.ambiguity.decide, verdict.contradictions, verdict.companions) == (
        (),
        False,
        (),
        (),
    )
    assert any(part in item.parts for item in verdict.plan.verification)


def test_a_good_spare_that_cures_is_a_reason_to_replace():
    """The trouble is gone with somebody else's part, not with the machine's own."""
    assert decided("dead, known-good-supply-beside-case/cured").decision.kind == "replace"


def test_a_check_after_a_cure_says_that_the_trouble_is_looked_for_again():
    """Otherwise a fault that came back could never be traced."""
    verdict = decided("dead, press-power-leads-home/main-lead, power-drain/no-change")
    assert verdict.decision.kind not in ("mended", "closed")


def test_the_data_comes_before_the_drive():
    """A clicking drive is copied before anything else; no long run is made before that."""
    assessment, verdict = verdict_of(case_of("slow, drive-noise, freezes"))
    assert (verdict.decision.kind, verdict.decision.check) == ("first", "The data copied first")
    assert not verdict.plan.decided
    free = {plan.id for plan in assessment.checks if plan.locked_by is None}
    long = {"drive-self-test-long", "memory-test-overnight", "fault-shown-on-the-bench", "graphics-load"}
    assert free
    assert not free & long


def test_once_it_is_copied_the_drive_is_replaced():
    """The hazard is lifted by the copy that was read back."""
    verdict = decided("slow, drive-noise, freezes, smart-warning, data-copied-first/clean")
    assert verdict.decision.kind == "replace"
    assert verdict.plan.parts("replace") == ("storage",)


def test_only_what_the_replaced_parts_need_is_asked_before_an_order():
    """The watts of the processor matter to whoever buys a supply, not to whoever buys a drive."""
    verdict = decided("slow, drive-noise, freezes, smart-warning, data-copied-first/clean")
    assert not any("processor" in ask.text for ask in verdict.plan.asks)


def test_a_closed_case_is_at_an_end():
    """Unless it is not safe, which stays said."""
    closed = case_of("dead, cleaned").model_copy(update={"closed": CloseEntry(cause="psu-lead-loose")})
    assert verdict_of(closed)[1].decision.kind == "closed"
    unsafe = case_of("dead, smoke").model_copy(update={"closed": CloseEntry()})
    assert verdict_of(unsafe)[1].decision.kind == "make-safe"


def test_with_nothing_told_something_comes_next():
    """An empty case has a decision as well."""
    assert verdict_of(fold([]))[1].decision.kind in ("check", "ask")


@pytest.mark.parametrize("rule", [rule for rule in BASE.rules if any(gives.lock for gives in rule.gives)])
def test_a_lock_is_said_in_words(rule):
    """The reason of the rule, and never its id."""
    assert lock_words(BASE, rule.id) == rule.because.rstrip(".")


def test_a_lock_of_a_hazard_is_its_title():
    """In the words of the base."""
    assert lock_words(BASE, "data-loss") == next(hazard.title for hazard in BASE.hazards if hazard.id == "data-loss")


def test_a_check_that_comes_first_must_exist(tmp_path):
    """A shop's own hazard that names an unknown check is refused."""
    record = next(h for h in BASE.hazards if h.id == "data-loss")
    (tmp_path / "hazards.toml").write_text(
        f'[[hazard]]\nid = "data-loss"\nreplaces = true\ntitle = "{record.title}"\nlevel = "caution"\n'
        'advice = "Copy."\n'
        'takeover = "The bench."\nlocks = ["erase-data"]\nfirst = "no-such-check"\nlifted_when = "copied"\n'
        'source = "common practice"\n'
    )
    with pytest.raises(KnowledgeError, match="no-such-check"):
        load([FOLDER, tmp_path])


def test_what_is_nearly_sure_is_settled_by_a_check_of_that_part():
    """With a spare drive on hand the drive can still be proved; unplugging USB devices proves nothing about it."""
    case = case_of("slow, drive-noise, freezes, smart-warning, data-copied-first/errors")
    case = case.model_copy(update={"have": (*{tool for check in BASE.checks for tool in check.tools}, "spare-drive")})
    decision = verdict_of(case)[1].decision
    assert decision.kind == "check"
    check = next(check for check in BASE.checks if check.title == decision.check)
    told = {gives.about for outcome in check.outcomes for gives in outcome.gives if gives.kind in ("clear", "convict")}
    assert "storage" in told
