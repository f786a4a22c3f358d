"""The linter: silent on a sound base, and for each of its checks a base with one thing broken that it must find."""

import pytest

from expert.rule_examples import example_flaws
from knowledge.lint import Flaw, flaws, opposite, unaccepted
from knowledge.models import Conclusion
from tests.knowledge.small import SOUND, base_of, changed, finding, rule

UNTOLD = finding("moon") + rule("by-moon", '[{ finding = "moon" }]', '[{ hazard = "fire" }]')


def added(text: str) -> str:
    """Give the sound base with more records."""
    return SOUND + text


# Check of the linter -> a base with that fault, and the record that is at fault.
BROKEN = {
    "unreachable": (
        added(rule("up", '[{ reached = "mains" }, { fails_at = "mains" }]', '[{ hazard = "fire" }]')),
        "up",
    ),
    "finding-untold": (added(UNTOLD), "moon"),
    "never-holds": (
        added(rule("both", '[{ finding = "dead" }]', '[{ hazard = "fire" }]', 'unless = [{ finding = "dead" }]')),
        "both",
    ),
    "finding-unused": (added(finding("idle")), "idle"),
    "cause-never-supported": (changed('support = "outlet", strength', 'weaken = "outlet", strength'), "outlet"),
    "cause-never-weakened": (changed('{ exclude = "outlet" }, ', ""), "outlet"),
    "cause-never-excluded": (changed('{ exclude = "outlet" }, ', ""), "outlet"),
    "cause-without-check": (
        changed("likely = { outlet = 0.1 }", "").replace(
            "likely = { outlet = 0.9 }", 'gives = [{ reached = "mains" }]'
        ),
        "outlet",
    ),
    "cause-without-prior": (changed("outlet = [0.5", "outlet = [0.0"), "outlet"),
    "duplicate": (added(rule("again", '[{ finding = "smoke" }]', '[{ hazard = "fire" }]')), "again"),
    "contradiction": (
        added(rule("against", '[{ finding = "lamp-good" }]', '[{ support = "outlet", strength = "slight" }]')),
        "against",
    ),
    "hazard-never-raised": (changed('{ hazard = "fire" }', '{ clear = "supply-path" }'), "fire"),
    "hazard-locks-nothing": (changed('locks = ["energise"]', "locks = []"), "fire"),
    "lock-without-check": (changed('locks = ["energise"]', 'locks = ["energise", "heat"]'), "fire"),
    "lift-unseen": (added(rule("calm", '[{ complaint = "dead" }]', '[{ lift = "fire" }]')), "calm"),
    "no-precaution": (changed('precautions = ["Not with smoke."]', ""), "lamp"),
    "risk-without-lock": (changed('risks = ["energise"]', 'risks = ["energise", "heat"]'), "lamp"),
    "outcome-idle": (changed("likely = { outlet = 0.1 }", "likely = { outlet = 0.9 }"), "lamp"),
    "complaint-never-concluded": (changed('gives = [{ complaint = "dead" }]', 'gives = [{ lock = "lamp" }]'), "dead"),
    "stage-never-concluded": (changed(', { reached = "mains" }', ""), "mains"),
    "source-uncited": (added('[[source]]\nid = "unread"\ntitle = "Unread"\nseen = "read"\n'), "unread"),
    "example": (changed('fires = ["dead"]', 'fires = ["smoke"]'), "dead-is-dead"),
    "no-strata": (
        added(rule("liar", '[{ finding = "dead" }]', '[{ hazard = "fire" }]', 'unless = [{ hazard = "fire" }]')),
        "liar",
    ),
}


def found(text: str) -> list[Flaw]:
    """Give every fault of a base, the examples of its rules among them."""
    base = base_of(text)
    return [*flaws(base), *example_flaws(base)]


def test_a_sound_base_has_no_fault():
    """The little base that all others are broken from."""
    assert found(SOUND) == []


@pytest.mark.parametrize(("check", "broken"), BROKEN.items(), ids=BROKEN)
def test_each_check_finds_its_fault(check, broken):
    """One thing broken: that check names that record."""
    text, record = broken
    assert (check, record) in {(flaw.check, flaw.record) for flaw in found(text)}


def test_all_faults_are_found_in_one_run():
    """Two broken things, two checks."""
    text = changed('precautions = ["Not with smoke."]', "", finding("idle"))
    assert {flaw.check for flaw in found(text)} == {"no-precaution", "finding-unused"}


def test_a_rule_that_waits_for_an_unreachable_one_is_unreachable_too():
    """`first` waits for what nothing concludes, `second` for what only `first` concludes."""
    text = added(
        finding("deep")
        + rule("first", '[{ fails_at = "mains" }]', '[{ finding = "deep" }]')
        + rule("second", '[{ finding = "dead" }, { finding = "deep", state = "present" }]', '[{ lock = "lamp" }]')
    )
    told = {(flaw.record, flaw.check): flaw.text for flaw in found(text)}
    assert "fails_at 'mains'" in told["first", "unreachable"]
    assert "second" in told["deep", "finding-untold"]


def test_what_follows_over_several_rules_is_reachable_whatever_their_order():
    """`last` rests on `middle`, which rests on `start`, which rests on what is told."""
    text = added(
        finding("one")
        + finding("two")
        + rule("last", '[{ finding = "two" }]', '[{ lock = "lamp" }]')
        + rule("middle", '[{ finding = "one" }]', '[{ finding = "two" }]')
        + rule("start", '[{ finding = "dead" }]', '[{ finding = "one" }]')
    )
    assert {flaw.check for flaw in found(text)} & {"unreachable", "finding-untold"} == set()


def test_a_finding_that_nobody_can_tell_is_told_once_with_those_who_wait():
    """The rules that wait are named at the finding."""
    told = [flaw for flaw in found(added(UNTOLD)) if flaw.check in ("unreachable", "finding-untold")]
    assert [(flaw.section, flaw.record) for flaw in told] == [("finding", "moon")]
    assert "by-moon" in told[0].text


def test_a_detail_of_a_finding_without_details_is_unreachable():
    """Nobody can tell it."""
    text = added(rule("fine", '[{ finding = "dead", detail = "quite" }]', '[{ lock = "lamp" }]'))
    assert ("fine", "unreachable") in {(flaw.record, flaw.check) for flaw in found(text)}


def test_what_is_evidence_and_what_is_setting_makes_no_other_conditions():
    """The same facts, the other way round, and the same effect: still said twice."""
    text = added(
        rule(
            "turned",
            '[{ complaint = "dead" }]',
            '[{ support = "outlet", strength = "slight" }]',
            'given = [{ finding = "lamp-good", state = "absent" }]',
        )
    )
    assert ("turned", "duplicate") in {(flaw.record, flaw.check) for flaw in found(text)}


def test_another_exception_makes_other_conditions():
    """Two rules that differ in `unless` may say the same."""
    text = added(
        rule("cold", '[{ finding = "smoke" }]', '[{ hazard = "fire" }]', 'unless = [{ finding = "lamp-good" }]')
    )
    assert "duplicate" not in {flaw.check for flaw in found(text)}


def test_a_rule_that_is_withdrawn_counts_for_nothing():
    """Neither as support of a cause nor as a double."""
    again = rule("again", '[{ finding = "smoke" }]', '[{ hazard = "fire" }]', 'status = "withdrawn"')
    assert found(added(again)) == []


@pytest.mark.parametrize(
    ("example", "told"),
    [
        ('fires = ["dead, lamp-good"]', "the rule does not fire on it"),
        ('stays_quiet = ["dead, lamp-good=absent, smoke"]', "the rule fires on it"),
        ('stays_quiet = ["daed"]', "no such finding or outcome: daed=present"),
        ('stays_quiet = ["lamp/green"]', "no such finding or outcome: lamp/green"),
        ('stays_quiet = ["dead is it"]', "is not a fact"),
    ],
)
def test_an_example_that_comes_out_otherwise_is_told(example, told):
    """With the example itself, and what is wrong with it."""
    key = example.split(" ")[0]
    old = {
        "fires": 'fires = ["dead, lamp-good=absent"]',
        "stays_quiet": 'stays_quiet = ["lamp-good=absent"]\n\n[[rule]]\nid = "lamp-c',
    }[key]
    new = example if key == "fires" else f'{example}\n\n[[rule]]\nid = "lamp-c'
    [flaw] = found(changed(old, new))
    assert (flaw.record, flaw.check) == ("no-lamp-is-outlet", "example")
    assert told in flaw.text
    assert flaw.text.startswith(key)


@pytest.mark.parametrize(
    ("first", "second", "is_opposite"),
    [
        ({"support": "a", "strength": "b"}, {"weaken": "a", "strength": "b"}, True),
        ({"confirm": "a"}, {"exclude": "a"}, True),
        ({"support": "a", "strength": "b"}, {"confirm": "a"}, False),
        ({"hazard": "a"}, {"lift": "a"}, True),
        ({"clear": "a"}, {"convict": "a"}, True),
        ({"reached": "a"}, {"fails_at": "a"}, True),
        ({"finding": "a"}, {"finding": "a", "state": "absent"}, True),
        ({"clear": "a"}, {"exclude": "a"}, False),
    ],
)
def test_what_cannot_both_be_meant(first, second, is_opposite):
    """Opposites by their meaning, in either order."""
    pair = Conclusion(**first), Conclusion(**second)
    assert opposite(*pair) is opposite(*reversed(pair)) is is_opposite


ACCEPTED = '[[accepted]]\nrecord = "idle"\ncheck = "finding-unused"\nreason = "kept for later"\n'


def test_an_accepted_fault_is_not_told():
    """The record and the check are named with the reason."""
    base = base_of(added(finding("idle") + ACCEPTED))
    assert unaccepted(base, flaws(base)) == []


def test_an_acceptance_that_nothing_needs_is_a_fault():
    """The fault is mended, so the acceptance goes as well."""
    base = base_of(added(ACCEPTED))
    assert [(flaw.record, flaw.check) for flaw in unaccepted(base, flaws(base))] == [("idle", "accepted-for-nothing")]
