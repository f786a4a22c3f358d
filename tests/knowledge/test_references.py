"""References that lead nowhere: one id misspelt at a time, in every place where a record names another."""

import pytest

from knowledge.references import reference_faults
from tests.knowledge.small import SOUND, base_of, changed, coded

CODE_SHAPE = """
[[code-shape]]
finding = "{finding}"
pattern = "beep"
reads = "sound"
"""
QUESTION = """
[[question]]
id = "ask-more"
text = "More?"
asks = "dead"
why = "So that more is known."
{key} = [{{ {condition} }}]
"""
PAIR = """
[[pair]]
id = "both"
title = "both"
first = "outlet"
then = "{then}"
chance = 0.5
because = "One takes the other with it."
source = "{source}"
"""
NO_SOURCE = (
    "source: 'a blog' is neither 'common practice', 'from memory', 'no published source found' "
    "nor begins with the id of a [[source]]"
)
TABLES = [
    ("stop-code", coded("stop-code", code="0x1A", name="MEMORY_MANAGEMENT"), "0x1A"),
    ("beep-meaning", coded("beep-meaning", family="classic", pattern="1 long"), "1 long"),
    ("checkpoint", coded("checkpoint", family="aptio", first="55", last="55", fault=True), "aptio 55"),
]


def faults(text: str) -> list[tuple[tuple[str, str], str]]:
    """Give the faults of a base."""
    return list(reference_faults(base_of(text)))


def test_the_sound_base_has_none():
    """Nor have the tables and shapes below where they name what exists."""
    tables = "".join(table.format(part="supply-path", source="house-wiring page 1") for _, table, _ in TABLES)
    assert faults(SOUND + tables + CODE_SHAPE.format(finding="dead")) == []


@pytest.mark.parametrize(("section", "table", "name"), TABLES, ids=[section for section, _, _ in TABLES])
def test_tables_of_codes_point_at_known_parts_and_sources(section, table, name):
    """A code has no id: it is named by what is read on the screen."""
    assert faults(SOUND + table.format(part="suply-path", source="a blog")) == [
        ((section, name), "part: no such id 'suply-path'; did you mean 'supply-path'?"),
        ((section, name), NO_SOURCE),
    ]


def test_a_pair_is_of_known_causes_and_has_a_source():
    """Both of them."""
    assert faults(SOUND + PAIR.format(then="outlets", source="a blog")) == [
        (("pair", "both"), "cause: no such id 'outlets'; did you mean 'outlet'?"),
        (("pair", "both"), NO_SOURCE),
    ]


def test_the_shape_of_a_code_states_a_known_finding():
    """Otherwise what it reads is lost."""
    assert faults(SOUND + CODE_SHAPE.format(finding="daed")) == [
        (("code-shape", "daed"), "finding: no such id 'daed'; did you mean 'dead'?")
    ]


@pytest.mark.parametrize("key", ["when", "unless"])
@pytest.mark.parametrize(
    ("condition", "told"),
    [
        ('finding = "daed"', "finding: no such id 'daed'; did you mean 'dead'?"),
        ('check = "lamp", outcome = "green"', "outcome: check 'lamp' has no outcome 'green'"),
    ],
)
def test_conditions_of_questions_name_what_exists(key, condition, told):
    """As those of rules and checks do."""
    assert faults(SOUND + QUESTION.format(key=key, condition=condition)) == [(("question", "ask-more"), told)]


@pytest.mark.parametrize(
    ("old", "new", "record", "told"),
    [
        ('asks = "lamp-good"', 'asks = "lamp-god"', ("question", "ask-lamp"), "'lamp-god'"),
        ('finding = "smoke"\npresent', 'finding = "smok"\npresent', ("wording", "smok"), "'smok'"),
        ("[complaint.priors]\noutlet", "[complaint.priors]\noutlets", ("complaint", "dead"), "'outlets'"),
        ('{ hazard = "fire" }', '{ hazard = "fires" }', ("rule", "smoke-is-fire"), "'fires'"),
        ("likely = { outlet = 0.1 }", "likely = { outlets = 0.1 }", ("check", "lamp"), "'outlets'"),
        ('source = "house-wiring page 3"', 'source = "wiring page 3"', ("limit", "mains-voltage"), "'wiring page 3'"),
    ],
)
def test_a_misspelt_id_is_told_at_its_record(old, new, record, told):
    """With what was written there."""
    assert [key for key, fault in faults(changed(old, new)) if told in fault] == [record]
