"""The pages without a browser: well-formed, whole in themselves, no anchor that leads nowhere, nothing unescaped."""

import re
from html.parser import HTMLParser

import pytest

from expert.report.drawing import course_rows, message_pieces
from expert.report.letter import letter_of
from expert.report.page import write_letter_page, write_page, write_sheet_page
from expert.report.sheet import sheet_of
from tests.expert.report.cases import HOSTILE, attack, bench, closed, danger

VOID = {"meta", "link", "br", "rect", "line", "path", "circle"}  # of HTML, and what SVG writes with a slash


class Reader(HTMLParser):
    """Reads a page: its ids, its links, its text, its tags, and whether elements close in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        """Note the tag, its id and where it links to."""
        self.tags.append(tag)
        self.ids += [value for name, value in attrs if name == "id"]
        self.links += [value for name, value in attrs if name in ("href", "src", "xlink:href")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Elements close in the order in which they were opened."""
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        """Note the text."""
        self.words.append(data)


PAGES = {
    "bench": lambda: write_page(bench()),
    "danger": lambda: write_page(danger()),
    "closed": lambda: write_page(closed()),
    "attack": lambda: write_page(attack()),
    "letter": lambda: write_letter_page(letter_of(attack(), "handover")),
    "sheet": lambda: write_sheet_page(sheet_of(danger())),
}


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_in_itself(name):
    """Elements close, ids are unique, links stay on the page, nothing is fetched and nothing runs."""
    page = PAGES[name]()
    reader = Reader(page)
    assert reader.open == []
    assert len(reader.ids) == len(set(reader.ids))
    inside = [link[1:] for link in reader.links if link.startswith("#")]
    assert [link for link in reader.links if not link.startswith("#")] == ["data:,"]
    assert set(inside) <= set(reader.ids)
    assert not {"script", "img", "iframe", "object"} & set(reader.tags)
    assert "url(" not in page
    assert not re.search(r"<[^>]*\son\w+=", page)


def test_the_report_has_links_to_follow():
    """The check above looked at something."""
    assert len(Reader(write_page(bench())).links) > 50


@pytest.mark.parametrize("name", ["attack", "letter"])
def test_hostile_text_stays_text(name):
    """The reader gets the very characters, as text."""
    words = " ".join("".join(Reader(PAGES[name]()).words).split())
    assert "<script>alert(1)</script>" in words
    assert "{{ 7 * 7 }}" in words
    assert "\x1b" in HOSTILE
    assert "\x1b" not in words


def test_the_message_is_whole_and_each_finding_is_marked():
    """The pieces are the message; each finding of it starts and ends once."""
    pieces = message_pieces(bench())
    assert "".join(piece.text for piece in pieces) == bench().message.text
    placed = [i for i, finding in enumerate(bench().findings) if finding.start is not None]
    assert sorted(i for piece in pieces for i in piece.starts) == placed
    assert sorted(i for piece in pieces for i in piece.ends) == placed
    quotes = {i: "".join(p.text for p in pieces if i in p.findings) for i in placed}
    assert quotes == {i: bench().findings[i].quote for i in placed}


def test_findings_that_overlap_are_both_marked():
    """Cut where either begins or ends, as "no fans and no lights" inside a longer quote."""
    case = danger()
    text = case.message.text
    start = text.index("from the back")
    wide = case.findings[0].model_copy(update={"start": 0, "end": start, "quote": text[:start]})
    pieces = message_pieces(case.model_copy(update={"findings": [wide, *case.findings]}))
    assert "".join(piece.text for piece in pieces) == text
    assert max(len(piece.findings) for piece in pieces) == 2


def test_the_bars_stand_on_the_ground_and_are_as_high_as_the_probability():
    """A bar of probability p is p times as high as the row; no two of a row overlap."""
    for row, place in zip(course_rows(bench()), range(6), strict=True):
        shares = [moment.probabilities[place] for moment in bench().course.moments]
        assert [bar.height / 38.0 for bar in row.bars] == pytest.approx(shares, abs=1e-3)
        assert {round(bar.y + bar.height, 1) for bar in row.bars} == {39.5}
        assert all(a.x + a.width < b.x for a, b in zip(row.bars, row.bars[1:], strict=False))
        assert all(f"after step {n}" in row.words for n in range(1, 6))
