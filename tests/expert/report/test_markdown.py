"""The Markdown, read by an independent reader of CommonMark."""

from markdown_it import MarkdownIt

from expert.case import HandEntry
from expert.report.markdown import md, write_markdown
from tests.expert.report.cases import HOSTILE, attack, bench, danger, message, report

READER = MarkdownIt("commonmark").enable("table")


def _tokens(text: str):
    found = []
    for token in READER.parse(text):
        found += [token, *(token.children or ())]
    return found


def _headings(text: str) -> list[str]:
    tokens = READER.parse(text)
    return [
        tokens[i + 1].content for i, token in enumerate(tokens) if token.type == "heading_open" and token.tag == "h2"
    ]


def test_sections_come_in_order_danger_first():
    """Whoever prints it reads the danger before anything else."""
    headings = _headings(write_markdown(bench()))
    assert headings[:3] == ["Danger first", "The message", "What is known"]
    wanted = ["Likely causes", "How the ranking moved", "Measured", "Checks done", "The plan", "Rules that fired"]
    assert [heading for heading in headings if heading in wanted] == wanted


def test_hostile_text_makes_no_mark():
    """Scripts, links, pictures, code and tables in the words of a person are plain text for the reader."""
    types = {token.type for token in _tokens(write_markdown(attack()))}
    assert not types & {"html_block", "html_inline", "link_open", "image", "code_inline", "code_block", "fence"}
    text = "".join(token.content for token in READER.parseInline(md(HOSTILE))[0].children)
    assert "<script>alert(1)</script>" in text
    assert "**bold**" in text


def test_a_reason_is_nested_down_to_the_quote():
    """Below the rule stands the sentence of the finding with its words."""
    lines = write_markdown(bench()).splitlines()
    rule = next(i for i, line in enumerate(lines) if "outlet-cleared-by-another-load" in line)
    below = lines[rule + 1]
    assert "“router on the same strip is fine”" in below
    assert len(below) - len(below.lstrip()) == len(lines[rule]) - len(lines[rule].lstrip()) + 2


def test_a_reason_is_given_once_under_the_causes():
    """Later on it is named by its number."""
    text = write_markdown(bench())
    causes = text[text.index("## Likely causes") : text.index("## How the ranking moved")]
    shared = [f for f in bench().trace if causes.count(f"firing {f.n}:") > 1]
    assert shared
    assert [f.rule for f in shared if causes.count(f"(firing {f.n}: {md(f.rule)}; ") != 1] == []


def test_a_lock_gives_its_reason_and_no_id():
    """Common practice, no source: the supply of a ready-built machine is looked at before another one goes in."""
    told = (("prebuilt", "present", "ready-built"), ("dead", "present", "dead"))
    text = write_markdown(report(message("A ready-built tower, dead.", told, 0), HandEntry(have=("spare-supply",))))
    following = text[text.index("## What to check next") : text.index("## Rules that fired")]
    assert "Not to be done (Ready-built machines often have plugs of their own" in following
    assert "no-other-supply-in-ready-built-unseen" not in following


def test_a_table_has_as_many_cells_in_every_row():
    """The reader finds each table whole."""
    tokens = READER.parse(write_markdown(bench()))
    rows: list[int] = []
    for token in tokens:
        if token.type == "tr_open":
            rows.append(0)
        rows[-1:] = [rows[-1] + 1] if token.type in ("td_open", "th_open") else rows[-1:]
    assert len(rows) == 1 + 5 + 1 + 1
    assert len(set(rows[:6])) == 1


def test_a_stop_is_said_in_words():
    """The level is not told by a mark alone."""
    assert "STOP: do not switch it on" in write_markdown(danger())
