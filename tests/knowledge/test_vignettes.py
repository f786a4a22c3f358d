"""Ordinary cases against the ranking: what a senior technician would name first is among the first three."""

import tomllib
from pathlib import Path

import pytest

from expert.belief import believe
from expert.engine import Engine
from expert.facts import claims_in
from knowledge import shipped_base

BASE = shipped_base()
VIGNETTES = tomllib.loads((Path(__file__).parent / "vignettes.toml").read_text("utf-8"))["vignette"]


@pytest.fixture(scope="module")
def ranked():
    """The causes of each case, most probable first."""
    engine = Engine(BASE)
    beliefs = {case["id"]: believe(engine.run(claims_in(case["findings"])), BASE) for case in VIGNETTES}
    return {name: [cause.id for cause in belief.causes] for name, belief in beliefs.items()}


@pytest.mark.parametrize("case", [pytest.param(case, id=case["id"]) for case in VIGNETTES])
def test_what_a_technician_names_first_is_among_the_first_three(ranked, case):
    """Judgement of the trade, no source; where he names two, either of them counts."""
    assert set(case["causes"]) & set(ranked[case["id"]][:3])


def test_mostly_it_is_the_very_first(ranked):
    """In nine of ten such cases, judgement of the trade, no source."""
    first = sum(ranked[case["id"]][0] in case["causes"] for case in VIGNETTES)
    assert first >= 0.9 * len(VIGNETTES)
