"""Each danger sign, what it must raise, and at which level: a table written apart from the rules."""

import tomllib
from pathlib import Path

from expert.engine import Engine
from expert.facts import claims_in
from knowledge import shipped_base
from knowledge.models import KnowledgeBase

TABLE = tomllib.loads((Path(__file__).parent / "hazards.toml").read_text("utf-8"))


def unmet(base: KnowledgeBase) -> list[str]:
    """Give a line for each thing of the table that a base does not do."""
    engine = Engine(base)
    levels = {hazard.id: hazard.level for hazard in base.hazards}
    lines = [
        f"{name}: level {levels.get(name)}" for name, level in TABLE["levels"].items() if levels.get(name) != level
    ]
    for row in TABLE["sign"]:
        raised = _said(engine, row["signs"], "hazard")
        lines += [f"{row['signs']}: no {name}" for name in row["raises"] if name not in raised]
        lines += [f"{row['signs']}: {name}" for name in row["without"] if name in raised]
    for row in TABLE["lift"]:
        lifted = _said(engine, row["signs"], "lift")
        lines += [f"{row['signs']}: {name} stays" for name in row["lifts"] if name not in lifted]
        lines += [f"{row['signs']}: {name} lifted" for name in row["keeps"] if name in lifted]
    return lines


def _said(engine: Engine, signs: str, kind: str) -> set[str]:
    firings = engine.run(claims_in(signs))
    return {gives.about for firing in firings for gives in firing.gives_conclusions if gives.kind == kind}


def test_every_danger_sign_raises_what_it_must():
    """And nothing of what would send a sound machine away."""
    assert unmet(shipped_base()) == []


def test_every_hazard_of_the_base_has_its_level_in_the_table():
    """A new hazard is put into the table as well."""
    assert set(TABLE["levels"]) == {hazard.id for hazard in shipped_base().hazards}
