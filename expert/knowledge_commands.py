"""The commands about the knowledge base: check, list, show, render, schema. They answer at once and read no message."""

import argparse
import json
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from expert.shop import add_folder_option, base_of, read_base
from knowledge.census import (
    PUBLISHED,
    by_standing,
    count_records,
    count_sources,
    records_by_kind,
)
from knowledge.errors import CallError, KnowledgeError
from knowledge.load import Loaded, place_fault
from knowledge.models import KnowledgeBase
from knowledge.references import UNPUBLISHED


def add_knowledge(commands: Any, parser_class: type[argparse.ArgumentParser]) -> None:
    """Add `knowledge` and its topics to the commands of the program."""
    knowledge = commands.add_parser(
        "knowledge", help="check the knowledge base, list, show and render it, print schemas"
    )
    topics = knowledge.add_subparsers(title="topics", required=True, metavar="TOPIC", parser_class=parser_class)
    check = topics.add_parser("check", help="look for every fault of the base, and count what is in it")
    check.add_argument("--sources", action="store_true", help="count what rules, limits, ... rest on")
    check.set_defaults(run=_check)
    listing = topics.add_parser("list", help="list the ids of one kind, or of all")
    listing.add_argument("kind", nargs="?", default=None, metavar="KIND", help="rules, causes, hazards, checks, ...")
    listing.set_defaults(run=_list)
    show = topics.add_parser("show", help="show one record, with what rests on it")
    show.add_argument("id", metavar="ID")
    show.add_argument("--json", action="store_true", help="print the record itself as JSON")
    show.set_defaults(run=_show)
    render = topics.add_parser("render", help="write the base as static HTML pages")
    render.add_argument("folder", type=Path, metavar="DIR", help="a new or empty folder")
    render.set_defaults(run=_render)
    for topic in (check, listing, show, render):
        add_folder_option(topic)
    schema = topics.add_parser("schema", help="print the JSON Schema of a document")
    schema.add_argument("name", choices=["triage", "report", "case"])
    schema.set_defaults(run=_schema)


def _check(options: argparse.Namespace) -> int:
    loaded = read_base(options)
    if faults := [*loaded.faults, *(_lint(loaded) if loaded.whole else ())]:
        from expert.report.plain import counted, printable

        print("\n".join(map(printable, faults)))
        more = "" if loaded.whole else "; mend these first, the rest is looked at when every record can be read"
        count = counted(len(faults), "fault", "faults")
        raise KnowledgeError([f"{count} in the knowledge base, listed on standard output{more}"])
    if options.sources:
        print("\n".join(_source_lines(loaded.base)))
    else:
        print("\n".join(f"{count:6}  {name}" for name, count in count_records(loaded.base)))
    return 0


def _lint(loaded: Loaded) -> list[str]:
    from expert.rule_examples import example_flaws
    from knowledge.lint import flaws, unaccepted

    found = unaccepted(loaded.base, [*flaws(loaded.base), *example_flaws(loaded.base)])
    return [place_fault(loaded.places, (f.section, f.record), f"{f.check}: {f.text}") for f in found]


def _source_lines(base: KnowledgeBase) -> list[str]:
    counts = count_sources(base)
    total: Counter[str] = sum(counts.values(), Counter())
    standings = (PUBLISHED, *UNPUBLISHED)
    widths = {standing: max(15, len(standing) + 2) for standing in standings}
    lines = [f"{'':10}{'all':>7}" + "".join(f"{standing:>{width}}" for standing, width in widths.items())]
    for kind, origins in [*counts.items(), ("together", total)]:
        standing, all_of = by_standing(origins), sum(origins.values())
        shares = (
            f"{standing[name]:>{width - 8}}{_percent(standing[name], all_of):>8}" for name, width in widths.items()
        )
        lines.append(f"{kind:10}{all_of:>7}" + "".join(shares))
    titles = {source.id: source.title for source in base.sources}
    published = [(source, count) for source, count in total.most_common() if source in titles]
    lines += ["", "published sources, by the first one that a record names; a limit counts once for each band"]
    return lines + [f"{count:6}  {source}  {titles[source]}" for source, count in published]


def _percent(part: int, whole: int) -> str:
    return f"{part / whole:.1%}" if whole else "-"


def _list(options: argparse.Namespace) -> int:
    kinds = records_by_kind(base_of(options))
    if options.kind is not None and options.kind not in kinds:
        raise CallError(f"no kind {options.kind!r}; known are {', '.join(kinds)}")
    from knowledge.describe import Describer

    for kind in kinds if options.kind is None else (options.kind,):
        sys.stdout.writelines(f"{kind}\t{record.id}\t{Describer.title(record)}\n" for record in kinds[kind])
    return 0


def _show(options: argparse.Namespace) -> int:
    base = base_of(options)
    found = [(kind, r) for kind, records in records_by_kind(base).items() for r in records if r.id == options.id]
    if not found:
        raise CallError(f"no record {options.id!r}; 'ohmbudsman knowledge list' prints all ids")
    for kind, record in found:
        if options.json:
            print(json.dumps({kind: record.model_dump(exclude_defaults=True)}, indent=2, ensure_ascii=False))
        else:
            sys.stdout.write(_text_of(base, kind, record))
    return 0


def _text_of(base: KnowledgeBase, kind: str, record: Any) -> str:
    from expert.report.plain import Page
    from knowledge.describe import Describer

    shown = Describer(base).page(kind, record)
    page = Page.for_stream()
    page.heading(shown.title)
    page.line(f"{kind}: {shown.id}", "quiet")
    for section in shown.sections:
        page.heading(section.heading)
        for line in section.lines:
            page.item("".join(part if isinstance(part, str) else part.id for part in line))
    return page.text()


def _render(options: argparse.Namespace) -> int:
    folder: Path = options.folder
    base = base_of(options)
    from knowledge.render import render

    try:
        if folder.exists() and any(folder.iterdir()):
            raise CallError(f"{folder}: holds something already; give a new or empty folder")
        pages = render(base)
        for name, text in pages.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise CallError(f"{folder}: {error.strerror or error}; give a folder that can be written") from error
    print(f"{len(pages)} files; open {folder / 'index.html'}")
    return 0


def _schema(options: argparse.Namespace) -> int:
    from pydantic import BaseModel

    from expert.document import TriageDocument
    from expert.portable import CaseFile
    from expert.report.model import CaseReport

    documents: dict[str, type[BaseModel]] = {"triage": TriageDocument, "report": CaseReport, "case": CaseFile}
    print(json.dumps(documents[options.name].model_json_schema(by_alias=True), indent=2))
    return 0
