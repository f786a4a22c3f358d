"""The pages: every link leads somewhere, everything is escaped, and whoever uses a keyboard or a reader finds a way."""

import re
from html.parser import HTMLParser
from posixpath import dirname, join, normpath

import pytest

from knowledge import shipped_base
from knowledge.render import STYLE, coverage, render
from tests.knowledge.small import SOUND, base_of, changed

VOID = {"meta", "link"}  # the HTML standard's void elements, as far as the pages use them


class Reader(HTMLParser):
    """Reads a page: its links, its text, its start tags, and whether every element is closed in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.texts: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        """Note the tag and where it links to."""
        self.tags.append((tag, dict(attrs)))
        self.links += [value for name, value in attrs if name in ("href", "src")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Elements close in the order in which they were opened."""
        assert self.open.pop() == tag

    def handle_data(self, data):
        """Note the text."""
        self.texts.append(data)


@pytest.fixture(scope="module")
def shipped() -> dict[str, str]:
    """The pages of the shipped base."""
    return render(shipped_base())


@pytest.fixture(scope="module")
def read(shipped) -> dict[str, Reader]:
    """Each HTML page, read."""
    return {name: Reader(page) for name, page in shipped.items() if name.endswith(".html")}


def test_every_link_leads_to_a_page(shipped, read):
    """Relative, inside the folder; an anchor is on the page itself; the empty picture needs no request."""
    broken = []
    count = 0
    for name, reader in read.items():
        for link in reader.links:
            if link == "data:,":
                continue
            count += 1
            if link.startswith("#"):
                known = any(attributes.get("id") == link[1:] for _, attributes in reader.tags)
            else:
                known = normpath(join(dirname(name), link)) in shipped
            broken += [] if known else [(name, link)]
    assert broken == []
    assert count > len(read)


def test_every_page_is_well_formed_and_can_be_used_without_a_mouse(read):
    """Every element is closed; a language, a title, one main heading, a main part, and a way past the navigation."""
    for name, reader in read.items():
        tags = [tag for tag, _ in reader.tags]
        assert reader.open == [], name
        assert (tags.count("h1"), tags.count("main"), tags.count("title")) == (1, 1, 1), name
        assert ("html", {"lang": "en"}) in reader.tags, name
        assert ("a", {"class": "skip", "href": "#content"}) in reader.tags, name
        assert "script" not in tags, name


def test_no_page_asks_the_network(shipped):
    """The folder is complete by itself."""
    loads = ("src=", "url(", "@import", "http://", "https://")
    assert [
        name for name, page in shipped.items() if any(word in page for word in loads) and "sources/" not in name
    ] == []


def test_each_record_has_its_page(shipped):
    """Each cause, rule and hazard, by its id."""
    base = shipped_base()
    kinds = {"causes": base.causes, "rules": base.rules, "hazards": base.hazards, "checks": base.checks}
    wanted = {f"{kind}/{record.id}.html" for kind, records in kinds.items() for record in records}
    assert wanted - shipped.keys() == set()


def test_a_cause_shows_every_rule_for_it_and_against_it(read):
    """Under its heading, with the rule's reason and its source."""
    base = shipped_base()
    for cause in base.causes:
        text = "".join(read[f"causes/{cause.id}.html"].texts)
        sides = text.partition("Rules against it")
        for rule in base.rules:
            kinds = {gives.kind for gives in rule.gives if gives.about == cause.id}
            if kinds & {"support", "confirm"}:
                assert f"{rule.id} — {rule.because} [{rule.source}]" in sides[0]
            if kinds & {"weaken", "exclude"}:
                assert f"{rule.id} — {rule.because} [{rule.source}]" in sides[2]


def test_a_rule_shows_its_source_and_its_examples(read):
    """What the justification names can be looked up."""
    for rule in shipped_base().rules:
        text = "".join(read[f"rules/{rule.id}.html"].texts)
        assert rule.source in text
        assert [example for example in (*rule.fires, *rule.stays_quiet) if example not in text] == []


HOSTILE = "<script>alert(\"1\")</script> & 'quoted'"


def test_everything_is_escaped():
    """A base is somebody's text: it comes out as text, wherever it stands."""
    text = SOUND
    for old in ("Nothing works there.", "the outlet is dead", "unplug", "Put a lamp there.", "House wiring"):
        assert f'= "{old}"' in text
        text = text.replace(f'= "{old}"', f"= '''{HOSTILE}'''")
    pages = render(base_of(text))
    shown = [name for name, page in pages.items() if name.endswith(".html") and HOSTILE in "".join(Reader(page).texts)]
    assert {"causes/outlet.html", "hazards/fire.html", "checks/lamp.html", "sources/house-wiring.html"} <= set(shown)
    assert [name for name, page in pages.items() if "<script" in page] == []


def test_the_matrix_counts_rules_for_and_against():
    """By hand from the little base: one rule for the outlet when no lamp works, one against when one does."""
    assert coverage(base_of(SOUND)) == {("lamp-good", "outlet"): (1, 1)}
    assert "+1 −1" in render(base_of(SOUND))["matrix.html"]


def test_a_rule_that_is_withdrawn_covers_nothing():
    """It does not fire, so that its finding is no evidence."""
    text = changed('id = "no-lamp-is-outlet"', 'id = "no-lamp-is-outlet"\nstatus = "withdrawn"')
    assert coverage(base_of(text)) == {("lamp-good", "outlet"): (0, 1)}


def luminance(colour: str) -> float:
    """Relative luminance of "#rrggbb": Web Content Accessibility Guidelines 2.2, section 6, "relative luminance"."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, same place: (L1 + 0.05) / (L2 + 0.05), the lighter one on top."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_of_contrast_has_its_published_ends():
    """Black on white is 21:1, a colour on itself 1:1 (same guidelines); #767676 is the last grey at 4.5:1 on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == 1.0
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(
    ("text", "ground"),
    [("ink", "ground"), ("soft", "ground"), ("link", "ground"), ("ink", "for"), ("ink", "against"), ("ink", "both")],
)
def test_text_stands_out_in_light_and_in_dark(scheme, text, ground):
    """At least 4.5:1 (Web Content Accessibility Guidelines 2.2, success criterion 1.4.3, level AA)."""
    schemes = STYLE.read_text("utf-8").split("prefers-color-scheme: dark")
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", schemes[scheme]))
    assert contrast(colours[text], colours[ground]) >= 4.5


def test_every_further_kind_of_record_has_its_pages():
    """Strengths, pairs, loads, plugs, fits, verifications: whatever has an id can be read, with what is filled in."""
    base = shipped_base()
    pages = render(base)
    kinds = {
        kind: getattr(base, kind) for kind in ("strengths", "pairs", "loads", "connectors", "fits", "verifications")
    }
    assert [
        f"{kind}/{r.id}.html" for kind, all_of in kinds.items() for r in all_of if f"{kind}/{r.id}.html" not in pages
    ] == []
    assert all(kinds.values())
    pair = base.pairs[0]
    assert pair.first in pages[f"pairs/{pair.id}.html"]
    assert pair.then in pages[f"pairs/{pair.id}.html"]
