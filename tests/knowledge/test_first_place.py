"""Every cause can come first: a set of at most six findings that does it, through the whole of the expert."""

import tomllib
from pathlib import Path

import pytest

from expert.assess import Expert
from expert.case import AnswerEntry, OutcomeEntry, fold
from expert.facts import claims_in
from knowledge import shipped_base

BASE = shipped_base()
SETS: dict[str, str] = tomllib.loads((Path(__file__).parent / "first_place.toml").read_text("utf-8"))["sets"]
WITHOUT = {"unlisted-fault"}  # what is left when nothing on the list fits


@pytest.fixture(scope="module")
def expert() -> Expert:
    """All rules of the base together."""
    return Expert(BASE)


def test_every_cause_has_its_set():
    """A cause that nothing can bring forward is no use in a list of causes."""
    assert {cause.id for cause in BASE.causes} - WITHOUT == set(SETS)


@pytest.mark.parametrize(("cause", "told"), [pytest.param(*pair, id=pair[0]) for pair in SETS.items()])
def test_its_set_brings_a_cause_to_first_place(expert, cause, told):
    """Answers and outcomes as a technician would enter them, one after the other."""
    assert len(told.split(",")) <= 6
    assert expert.assess(fold(_log(told))).belief.causes[0].id == cause


def _log(told: str) -> list[AnswerEntry | OutcomeEntry]:
    claims = claims_in(told)
    details = {claim.id: claim.value for claim in claims if claim.kind == "detail"}
    answers = [
        AnswerEntry(finding=c.id, state=c.value, detail=details.get(c.id), words=c.text)
        for c in claims
        if c.kind == "finding"
    ]
    return answers + [OutcomeEntry(check=c.id, outcome=c.value) for c in claims if c.kind == "outcome"]
