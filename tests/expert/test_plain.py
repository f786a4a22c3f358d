"""Text from anywhere never steers a terminal."""

import io
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expert.report.plain import Page, printable, wants_colour


@given(st.text())
def test_no_control_character_gets_through(text: str):
    """Nothing of Unicode's control, format, surrogate or private categories is left, nor any line break."""
    shown = printable(text)
    assert [c for c in shown if unicodedata.category(c).startswith("C") or (c.isspace() and c != " ")] == []


@given(st.text(st.characters(codec="ascii", categories=["L", "N", "P"]), min_size=1), st.integers(40, 100))
def test_no_line_is_wider_than_the_page(text: str, width: int):
    """A word longer than the page is broken."""
    page = Page(width)
    page.item(text)
    assert max(map(len, page.text().splitlines())) <= width


def test_escape_sequences_lose_their_escape():
    """The two ways to begin one (ECMA-48, 5th ed., 5.4): ESC [ and the single character CSI."""
    assert printable("a\x1b[31mred\x9b2Jb") == "a [31mred 2Jb"


def test_no_colour_where_there_is_no_terminal():
    """Output into a pipe or a file is plain."""
    assert not wants_colour(io.StringIO())
    assert "\x1b" not in (page := Page()).text() + str(page.item("x", "danger"))


@pytest.mark.parametrize("width", range(40, 60))
def test_a_number_stays_with_its_percent_sign(width):
    """A line that begins with "%" reads as nothing (SI brochure, 9th edition, section 5.4.7: a space between them)."""
    page = Page(width)
    page.line("now: 96 % (+58) the main lead; 1 % (-2) the protection latched; 1 % (-15) the board; 100 % in all")
    lines = page.text().splitlines()
    assert [line for line in lines if line.startswith("%")] == []
    assert "96 %" in page.text()
