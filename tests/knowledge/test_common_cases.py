"""Sixty common cases of a bench against the ranking: what is most likely found is among the first three."""

import tomllib
from pathlib import Path

import pytest

from expert.belief import believe
from expert.engine import Engine
from expert.facts import claims_in
from knowledge import shipped_base

BASE = shipped_base()
ENGINE = Engine(BASE)
FOUND = tomllib.loads((Path(__file__).parent / "common_cases.toml").read_text("utf-8"))["found"]


def leading(findings: str) -> list[str]:
    """Give the causes that are not excluded, most probable first."""
    return [cause.id for cause in believe(ENGINE.run(claims_in(findings)), BASE).causes if cause.status != "excluded"]


@pytest.mark.parametrize(("findings", "causes"), FOUND.items())
def test_what_is_most_likely_found_is_among_the_first_three(findings, causes):
    """Common practice, no source."""
    assert causes[0] in leading(findings)[:3]


@pytest.mark.parametrize(
    ("findings", "cause"),
    [
        ("picture=absent, memory-reseated:no-change", "ram-seating"),
        ("picture=absent, graphics-reseated:no-change", "gpu-seating"),
        ("picture=absent, memory-swapped:no-change", "ram-failed"),
        ("clock-resets, coin-cell-replaced:no-change", "coin-cell"),
        ("stuck-at-logo, settings-cleared:no-change", "firmware-settings"),
    ],
)
def test_a_trial_of_the_owners_without_effect_weakens_and_does_not_exclude(findings, cause):
    """Common practice, no source: an owner's reseating, new cell or clearing is often not done right."""
    without = findings.split(", ")[0]
    told, before = (believe(ENGINE.run(claims_in(text)), BASE) for text in (findings, without))
    assert cause in leading(findings)
    assert told.posterior[cause] < before.posterior[cause]


@pytest.mark.parametrize("told", ["part-added:memory", "new-build", "overclocked"])
def test_a_cure_by_other_memory_does_not_confirm_the_module_where_something_else_explains_it(told):
    """Common practice, no source."""
    told_with = believe(ENGINE.run(claims_in(f"memory-swapped:cured, picture=absent, {told}")), BASE)
    other = {"overclocked": "unstable-tuning"}.get(told, "ram-mismatch")
    assert told_with.causes[0].status == "open"
    assert other in [cause.id for cause in told_with.causes[:3]]


def test_a_tingle_alone_points_to_the_earth_of_outlet_or_lead():
    """Common practice, no source: without its earth, the filter of a supply puts half the mains on the case."""
    assert leading("shock")[0] == "mains-outlet"
