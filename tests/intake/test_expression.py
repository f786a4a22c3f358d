"""Expressions that are run only where they can match: never a match less than `re` itself finds."""

import re
import sys

import pytest

from intake.expression import Expression, folded, needs_of
from intake.read import reader
from intake.shapes import sentences
from knowledge import shipped_base
from tests.reading import letters


@pytest.mark.parametrize(
    ("source", "needs"),
    [
        ("fans?", [["fan"]]),
        ("fan|light", [["fan", "light"]]),
        ("(?:mother)?board", [["board"]]),
        (r"(?:\d{1,4})\s?w\b", [["w"], list("0123456789")]),
        ("[1-3]x", [["x"], ["1", "2", "3"]]),
        ("(?<!no )beep(?= code)", [["beep"]]),
        ("be{2,12}p", [["b"], ["e"], ["p"]]),
        ("(?P<n>a|b)?", []),
        (r"\w{3}", []),
        ("x|", []),
        ("[^a]", []),
        ("°c", [["c"]]),
    ],
)
def test_what_a_match_holds_is_read_from_the_expression(source, needs):
    """By hand, a row for each kind of item: what may be missing, or is only looked at, is not needed."""
    assert sorted(needs_of(source)) == sorted(needs)


def test_folding_knows_every_twin_of_a_letter():
    """Asked of `re`, over all of Unicode: what it takes for an ASCII letter, or for a digit, folds to that."""
    letter, digit = re.compile("[a-z]", re.IGNORECASE), re.compile(r"\d")
    signs = [chr(code) for code in range(128, sys.maxunicode + 1)]
    twins = [sign for sign in signs if letter.match(sign)]
    assert len(twins) >= 4
    for sign in twins:
        assert re.match(folded(sign), sign, re.IGNORECASE)
        assert re.match("[a-z]$", folded(sign))
    numerals = [sign for sign in signs if digit.match(sign)]
    assert len(numerals) > 500
    assert {folded(sign) for sign in numerals} == set("0123456789")


def test_no_match_is_lost():
    """Every shipped shape in every sentence of the development letters, against `re` on its own."""
    base = shipped_base()
    known = reader(base).tokenizer.lexicon.expressions
    expressions = [known.make(shape.pattern) for shape in (*base.shapes, *base.code_shapes)]
    texts = [letter.text for letter in letters("development")]
    spans = [(text, *span) for text in texts for span in sentences(text)][::5]
    found, left_out = 0, 0
    for expression in expressions:
        plain = re.compile(expression.source, re.IGNORECASE)
        for text, start, end in spans:
            ours = [match.span() for match in expression.finditer(text, start, end)]
            assert ours == [match.span() for match in plain.finditer(text, start, end)]
            found += len(ours)
            left_out += not expression.may_match(folded(text[start:end]))
    assert found > 100
    assert left_out > len(expressions) * len(spans) / 2


def test_case_and_odd_letters_do_not_matter():
    """The Kelvin sign is a k to `re`."""
    assert [match[0] for match in Expression("ink", [["ink"]]).finditer("ınK, INK, oink", 0, 9)] == ["ınK", "INK"]
