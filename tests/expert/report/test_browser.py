"""The pages in a real browser: quiet, offline, readable at every width, on paper and by keyboard."""

import re

import pytest

from expert.report.letter import letter_of
from expert.report.page import write_letter_page, write_page, write_sheet_page
from expert.report.sheet import sheet_of
from knowledge import shipped_base
from knowledge.render import render
from tests.expert.report.browser import axe_script, chromium, opened
from tests.expert.report.cases import attack, bench, closed, danger

PAGES = {
    "bench": lambda: write_page(bench()),
    "danger": lambda: write_page(danger()),
    "attack": lambda: write_page(attack()),
    "letter": lambda: write_letter_page(letter_of(danger(), "first")),
    "handover": lambda: write_letter_page(letter_of(closed(), "handover")),
    "sheet of danger": lambda: write_sheet_page(sheet_of(danger())),
    "sheet": lambda: write_sheet_page(sheet_of(bench())),
}
EVERY = pytest.mark.parametrize("name", PAGES)


@pytest.fixture(scope="module")
def browser():
    """One browser for all tests here."""
    with chromium() as started:
        yield started


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Each page as a file."""
    folder = tmp_path_factory.mktemp("pages")
    for name, write in PAGES.items():
        (folder / f"{name}.html").write_text(write(), encoding="utf-8")
    return {name: folder / f"{name}.html" for name in PAGES}


@EVERY
@pytest.mark.parametrize("width", [320, 1280])
def test_a_page_is_quiet_and_fits_its_width(browser, files, name, width):
    """No error, no request, and nothing to scroll sideways: 320 is the narrowest of WCAG 2.2, 1.4.10."""
    with opened(browser, files[name], viewport={"width": width, "height": 800}) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.locator("h1").count() == 1


@EVERY
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(browser, files, name, scheme):
    """No violation of the accessibility rules of axe-core, light and dark."""
    script = axe_script()
    with opened(browser, files[name], color_scheme=scheme, bypass_csp=True) as page:
        page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
        page.evaluate(script)
        found = page.evaluate("axe.run()")
        assert [(v["id"], [node["html"] for node in v["nodes"]][:3]) for v in found["violations"]] == []
        assert len(found["passes"]) > 5


def test_light_and_dark_differ(browser, files):
    """The page follows the reader's setting."""
    grounds = set()
    for scheme in ("light", "dark"):
        with opened(browser, files["bench"], color_scheme=scheme) as page:
            grounds.add(page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert len(grounds) == 2


def test_hostile_text_runs_nothing(browser, files):
    """No dialog opens, no script and no picture is in the document, and the text is there to be read."""
    with opened(browser, files["attack"]) as page:
        assert page.evaluate("document.querySelectorAll('script, img, main [onerror]').length") == 0
        assert "<script>alert(1)</script>" in page.locator(".letter").inner_text()


def test_the_keyboard_reaches_every_derivation(browser, files):
    """Tab goes to each reason; Enter opens it and what is below it; the focus can be seen."""
    with opened(browser, files["bench"]) as page:
        wanted = page.evaluate("document.querySelectorAll('details').length")
        assert wanted > 10
        seen = 0
        for _ in range(40 * wanted):
            page.keyboard.press("Tab")
            tag = page.evaluate("document.activeElement.tagName")
            if tag == "BODY":
                break
            if tag == "SUMMARY":
                seen += 1
                page.keyboard.press("Enter")
                assert page.evaluate("document.activeElement.parentElement.open")
                assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        assert seen == wanted


def test_a_quote_is_one_step_from_its_finding(browser, files):
    """The label in the message leads to the finding, and the finding back to its words."""
    with opened(browser, files["bench"]) as page:
        page.locator(".letter .tag").first.click()
        assert page.evaluate("document.querySelector(':target').tagName") == "LI"
        page.locator("li:target a").first.click()
        assert page.evaluate("document.querySelector(':target').tagName") == "MARK"


def test_on_paper_everything_is_to_be_read(browser, files):
    """In print the derivations stand open, and no background is needed."""
    with opened(browser, files["bench"]) as page:
        page.emulate_media(media="print")
        inner = page.locator("details .tree li").first
        assert inner.bounding_box()["height"] > 0


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_sheet_is_one_page_of_paper(browser, files, size):
    """On either paper, as the browser would print it."""
    for name in ("sheet", "sheet of danger"):
        with opened(browser, files[name]) as page:
            assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=size, prefer_css_page_size=False))) == 1


def test_the_pages_of_the_base_are_quiet(browser, tmp_path):
    """The index, the matrix, a list and a page of each kind; every link leads to a file that was written."""
    pages = render(shipped_base())
    for name, text in pages.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    first_of_kind = {name.split("/")[0]: name for name in reversed(pages) if "/" in name}
    shown = ["index.html", "matrix.html", *first_of_kind.values(), *(f"{kind}.html" for kind in first_of_kind)]
    assert len(first_of_kind) >= 10
    for name in shown:
        with opened(browser, tmp_path / name) as page:
            links = page.evaluate("[...document.querySelectorAll('a[href]')].map(a => a.href.split('#')[0])")
            files = {link.removeprefix(tmp_path.as_uri() + "/") for link in links}
            assert files <= set(pages), name
