"""Patterns that the reading would refuse are refused when the base is read, with file, line and key."""

import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from intake.patterns import Element, parse
from intake.shapes import Expressions
from intake.terms import Terms
from knowledge import load
from knowledge.errors import KnowledgeError
from knowledge.expressions import expression_fault
from knowledge.patterns import pattern_fault
from knowledge.shapes import Piece
from tests.knowledge.small import SOUND

CONCEPTS = {"fan": Element(frozenset(["fan"])), "spin": Element(frozenset(["spin"]))}
LEXICON: object = SimpleNamespace(terms=Terms([]), concept=CONCEPTS.__getitem__)

OWN = """
[[concept]]
id = "fan"
words = ["fan"]

[[wording]]
finding = "smoke"
present = ["{fan} smokes", "{fam} smokes"]
absent = ['..']

[[wording]]
finding = "smoke"
about = ["fam"]
denied = ["smoke #x"]

[[cue]]
category = "negated"
say = ["never", "nay?"]
"""


def refused(text: str) -> bool:
    """Tell whether the compiler of the reading refuses a pattern."""
    try:
        list(parse(text, LEXICON))
    except (KeyError, ValueError):
        return True
    return False


@given(st.lists(st.sampled_from(["fan", "{fan}", "{spin}", "{fam}", "..", "...", "~", *"ab-|?#={} 3'é."])).map("".join))
@example("")
@example("a||b")
@example("{fan}?")
@example("= ?")
def test_what_the_reading_refuses_is_refused_here_and_nothing_else(text):
    """The compiler of the patterns decides; this is the second opinion that needs none of it."""
    assert bool(pattern_fault(text, CONCEPTS)) == refused(text)


def test_both_kinds_of_pattern_are_met():
    """What the property above holds together: patterns of either kind."""
    assert [refused(text) for text in ("{fan} spin", "a|{fan} ..", "{fam}", "#a", "..")] == [
        False,
        False,
        True,
        True,
        True,
    ]


def test_a_wrong_pattern_is_told_with_file_line_and_key(tmp_path: Path):
    """Where two records speak of one finding, the line tells which one it is."""
    (tmp_path / "sound.toml").write_text(SOUND, encoding="utf-8")
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        load([tmp_path])
    assert list(caught.value.faults) == [
        "own.toml:8: wording 'smoke': present: pattern '{fam} smokes': no concept 'fam'; did you mean 'fan'?",
        "own.toml:9: wording 'smoke': absent: pattern '..': it names no word that must be there",
        "own.toml:14: wording 'smoke': denied: pattern 'smoke #x': '#x' is not a word, a {concept}, '#' or a gap",
        "own.toml:13: wording 'smoke': about: no concept 'fam'; did you mean 'fan'?",
        "own.toml:18: cue 'negated': say: pattern 'nay?': it names no word that must be there",
    ]


def test_a_pattern_that_is_spelt_with_escapes_is_told_without_its_line(tmp_path: Path):
    """The file and the record are enough to find it."""
    (tmp_path / "sound.toml").write_text(SOUND + '[[wording]]\nfinding = "dead"\npresent = ["#\\u0061"]\n', "utf-8")
    with pytest.raises(KnowledgeError, match=r"^sound.toml: wording 'dead': present: pattern '#a'"):
        load([tmp_path])


PIECES = {"unit": "{watts} ?(?:w|watt)", "both": "{unit} to {unit}", "self": "a{self}", "deep": "x{unit}"}
EXPRESSIONS = Expressions([Piece(id=name, pattern=pattern) for name, pattern in PIECES.items()], [])


@pytest.mark.parametrize(
    ("expression", "told"),
    [
        ("{unit} supply", ""),
        ("{deep}|(?P<count>x{1,3})", ""),
        ("{watts} or {watts}", "it reads 'watts' twice"),
        ("{both}", "it reads 'watts' twice"),
        ("{unit} (?P<watts>x)", "it reads 'watts' twice"),
        ("{nope} supply", "no piece 'nope'"),
        ("{self}", "the piece 'self' lies too deep in others, or in itself"),
    ],
)
def test_an_expression_is_refused_where_the_reading_cannot_make_it(expression, told):
    """Written out by the reading and given to the compiler of the standard library."""
    assert expression_fault(expression, PIECES) == told
    try:
        re.compile(EXPRESSIONS.expand(expression))
    except (KnowledgeError, re.error):
        assert told
    else:
        assert not told


def test_a_wrong_expression_is_told_with_file_line_and_key(tmp_path: Path):
    """As a wrong pattern is."""
    shape = '[[shape]]\nparts = ["psu"]\nworth = "part"\npattern = "\\\\b{nope}"\n'
    (tmp_path / "own.toml").write_text(SOUND + shape, encoding="utf-8")
    line = len(SOUND.splitlines()) + 4
    with pytest.raises(KnowledgeError) as caught:
        load([tmp_path])
    assert list(caught.value.faults) == [rf"own.toml:{line}: shape '\\b{{nope}}': pattern: no piece 'nope'"]
