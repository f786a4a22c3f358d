"""The base as static pages: an index, a list for each kind, a page for each record, and a matrix of coverage.

The pages need no network and no script: HTML and one stylesheet, whose every link is relative, so that the folder can
be opened from a disk, put on a server or carried on a stick. Whatever comes from the base is escaped in `_text`.
"""

from collections import Counter
from collections.abc import Iterable
from html import escape
from pathlib import Path

from knowledge.census import count_sources
from knowledge.describe import Describer, RecordPage, Section
from knowledge.lint import active_rules
from knowledge.models import KnowledgeBase
from knowledge.phrases import AGAINST, FOR, Line, Ref

STYLE = Path(__file__).parent / "pages" / "style.css"
TITLE = "ohmbudsman: the knowledge base"
CAUTION = (
    "A first opinion for the bench. Local codes and licensed practice decide what may be done to anything on the mains "
    "side, and by whom. A power supply is never opened."
)
MATRIX = "matrix.html"

# Of a finding and a cause: how many rules for it, and how many against it.
Cell = tuple[int, int]


def render(base: KnowledgeBase) -> dict[str, str]:
    """Give every page: its path below the folder, and its text; equal bases give equal bytes."""
    describer = Describer(base)
    kinds = tuple(describer.kinds)
    pages = {
        "style.css": STYLE.read_text(encoding="utf-8"),
        "index.html": _index(describer),
        MATRIX: _matrix(describer),
    }
    for kind, records in describer.kinds.items():
        lines = tuple((Ref(kind, record.id), f" — {describer.title(record)}") for record in records)
        pages[f"{kind}.html"] = _page(kind.capitalize(), _items(lines, ""), kinds, here=f"{kind}.html")
        for record in records:
            page = describer.page(kind, record)
            pages[f"{kind}/{record.id}.html"] = _page(page.title, _record(page), kinds, up="../")
    return pages


def _page(title: str, body: str, kinds: Iterable[str], up: str = "", here: str = "", wide: bool = False) -> str:
    entries = [("index.html", "overview"), *((f"{kind}.html", kind) for kind in kinds), (MATRIX, "matrix")]
    now = {here: ' aria-current="page"'}
    links = "".join(f'<li><a href="{up}{path}"{now.get(path, "")}>{_text(name)}</a></li>' for path, name in entries)
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{_text(title)} · {TITLE}</title>
<link rel="stylesheet" href="{up}style.css">
<link rel="icon" href="data:,">
</head>
<body>
<header>
<a class="skip" href="#content">Skip to the content</a>
<nav aria-label="Kinds of records"><ul>{links}</ul></nav>
</header>
<main id="content"{' class="wide"' if wide else ""}>
<h1>{_text(title)}</h1>
{body}
</main>
<footer><p>{CAUTION}</p></footer>
</body>
</html>
"""


def _text(text: str) -> str:
    """Escape a text of the base for HTML, in an element or in an attribute."""
    return escape(text, quote=True)


def _line(line: Line, up: str) -> str:
    return "".join(_link(part, up) if isinstance(part, Ref) else _text(part) for part in line)


def _link(ref: Ref, up: str) -> str:
    return f'<a href="{up}{ref.kind}/{ref.id}.html"><code>{_text(ref.id)}</code></a>'


def _items(lines: Iterable[Line], up: str) -> str:
    return "<ul>\n" + "".join(f"<li>{_line(line, up)}</li>\n" for line in lines) + "</ul>"


def _section(section: Section, up: str) -> str:
    single = len(section.lines) == 1
    body = f"<p>{_line(section.lines[0], up)}</p>" if single else _items(section.lines, up)
    return f"<h2>{_text(section.heading)}</h2>\n{body}"


def _record(page: RecordPage) -> str:
    head = f'<p class="kind">{page.kind}: <code>{_text(page.id)}</code></p>'
    return "\n".join([head, *(_section(section, "../") for section in page.sections)])


def _index(describer: Describer) -> str:
    counts = [f'<li><a href="{kind}.html">{len(records)} {kind}</a></li>' for kind, records in describer.kinds.items()]
    matrix = f'<li><a href="{MATRIX}">coverage: findings against causes</a></li>'
    totals = sum(count_sources(describer.base).values(), Counter())
    rows = "".join(f"<li>{count} {_origin(origin, describer.known)}</li>\n" for origin, count in totals.most_common())
    body = "\n".join(
        [
            f"<p>{CAUTION}</p>",
            "<h2>What it holds</h2>",
            f"<ul>{''.join(counts)}{matrix}</ul>",
            "<h2>What rules, checks, causes, hazards and limits rest on</h2>",
            f"<ul>{rows}</ul>",
        ]
    )
    return _page("The knowledge base", body, describer.kinds, here="index.html")


def _origin(origin: str, known: set[str]) -> str:
    return _link(Ref("sources", origin), "") if origin in known else _text(origin)


def coverage(base: KnowledgeBase) -> dict[tuple[str, str], Cell]:
    """Count, for each finding and cause, the active rules that look at the finding as evidence for or against it."""
    cells: dict[tuple[str, str], Cell] = {}
    for rule in active_rules(base):
        findings = {condition.finding for condition in rule.when if condition.finding}
        sides = {(gives.about, gives.kind in FOR) for gives in rule.gives if gives.kind in (*FOR, *AGAINST)}
        for finding in findings:
            for cause, is_for in sides:
                good, bad = cells.get((finding, cause), (0, 0))
                cells[finding, cause] = (good + is_for, bad + (not is_for))
    return cells


def _matrix(describer: Describer) -> str:
    base = describer.base
    cells = coverage(base)
    head = "".join(f'<th scope="col">{_link(Ref("causes", cause.id), "")}</th>' for cause in base.causes)
    rows = [
        f'<tr><th scope="row">{_link(Ref("findings", finding.id), "")}</th>'
        + "".join(_cell(cells.get((finding.id, cause.id), (0, 0))) for cause in base.causes)
        + "</tr>\n"
        for finding in base.findings
    ]
    caption = "How many rules take a finding, present or absent, as evidence for (+) or against (−) a cause."
    body = f"""<div class="sheet" tabindex="0" role="region" aria-label="Coverage, scrolls both ways">
<table>
<caption>{caption}</caption>
<thead><tr><th scope="col">finding</th>{head}</tr></thead>
<tbody>
{"".join(rows)}</tbody>
</table>
</div>"""
    return _page("Coverage: findings against causes", body, describer.kinds, here=MATRIX, wide=True)


def _cell(cell: Cell) -> str:
    good, bad = cell
    if not good and not bad:
        return "<td></td>"
    side = "both" if good and bad else "for" if good else "against"
    text = " ".join(filter(None, (f"+{good}" if good else "", f"−{bad}" if bad else "")))
    return f'<td class="{side}">{text}</td>'
