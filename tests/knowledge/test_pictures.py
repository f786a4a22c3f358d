"""Clear pictures of each class of complaint: what leads, and what must not be crowded out."""

import tomllib
from pathlib import Path

import pytest

from expert.belief import Belief, believe
from expert.engine import Engine
from expert.facts import claims_in
from knowledge import shipped_base

BASE = shipped_base()
ENGINE = Engine(BASE)
PICTURES = tomllib.loads((Path(__file__).parent / "pictures.toml").read_text("utf-8"))
CLEAR = [(complaint, findings) for complaint, table in PICTURES["first"].items() for findings in table]


def belief_in(findings: str) -> Belief:
    """Weigh a set of findings."""
    return believe(ENGINE.run(claims_in(findings)), BASE)


def test_every_class_has_three_pictures():
    """None is left out."""
    assert {name: len(table) for name, table in PICTURES["first"].items()} == {c.id: 3 for c in BASE.complaints}


@pytest.mark.parametrize(("complaint", "findings"), CLEAR)
def test_a_clear_picture_is_of_its_class_and_led_by_what_a_technician_names(complaint, findings):
    """Common practice, no source."""
    belief = belief_in(findings)
    assert complaint in {claim.id for claim in belief.roots if claim.kind == "complaint"}
    assert belief.causes[0].id in PICTURES["first"][complaint][findings]


@pytest.mark.parametrize("case", PICTURES["honest"], ids=[case["findings"] for case in PICTURES["honest"]])
def test_what_leads_does_not_crowd_out_the_rest(case):
    """Several tellings of one event count once; what remains is looked at. Common practice, no source."""
    shares = {cause.id: cause.probability for cause in belief_in(case["findings"]).causes}
    assert shares[case["cause"]] <= case["most"]
    assert [cause for cause in case["remain"] if shares[cause] < 0.01] == []


DENIALS = [
    ("fans-spin, freezes", "dead", "psu-switch"),
    ("freezes", "wont-start", "psu-switch"),
    ("starts-then-stops", "power-cycles", "ram-seating"),
    ("reboots-randomly", "turns-on-by-itself", "power-button"),
    ("no-boot-device", "stuck-at-logo", "usb-device"),
    ("no-boot-device", "boot-loop", "os-corrupt"),
]


@pytest.mark.parametrize(("findings", "denied", "cause"), DENIALS)
def test_a_denial_speaks_against_what_the_sign_would_speak_for(findings, denied, cause):
    """And weakly: it never takes more than a factor of ten. Common practice, no source."""
    before = belief_in(findings).posterior[cause]
    after = belief_in(f"{findings}, {denied}=absent").posterior[cause]
    assert before / 10 < after < before
