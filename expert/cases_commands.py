"""The commands about the cases of the shop: find, show, close, reopen, carry, delete, back up, save what is damaged.

A list reads columns only and loads no knowledge; it answers at once.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from knowledge.errors import CallError, CaseError

if TYPE_CHECKING:
    from expert.case import CloseEntry, Entry, ReopenEntry
    from expert.store import CaseRow, Stamped, Store
    from knowledge.models import KnowledgeBase

NO_CASE = "no case yet; 'ohmbudsman consult' begins one"


def add_cases(commands: Any, parser_class: type[argparse.ArgumentParser]) -> None:
    """Add `cases` and its topics to the commands of the program."""
    from expert.shop import add_folder_option

    cases = commands.add_parser("cases", help="the cases of the shop: list, search, show, close, export, delete, ...")
    topics = cases.add_subparsers(title="topics", required=True, metavar="TOPIC", parser_class=parser_class)

    def topic(name: str, run: Callable[[argparse.Namespace], int], about: str) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = topics.add_parser(name, help=about)
        parser.set_defaults(run=run)
        return parser

    listing = topic("list", _list, "the cases, last changed first")
    _add_state(listing)
    search = topic("search", _search, "the cases that hold all that is asked for")
    search.add_argument("words", nargs="*", metavar="WORDS", help="in the title, or in what was written or said")
    search.add_argument("--cause", metavar="ID", help="confirmed, or leading where none is confirmed")
    search.add_argument("--part", metavar="ID", help="named in the case, or replaced")
    search.add_argument("--hazard", metavar="ID", help="raised when the case was last written")
    search.add_argument("--since", metavar="DAY", help="changed on this day (2026-03-01) or later")
    search.add_argument("--until", metavar="DAY", help="changed on this day or earlier")
    _add_state(search)
    show = topic("show", _show, "one case, entry by entry")
    show.add_argument("case", metavar="CASE", help="its number, or a case file")
    show.add_argument("--json", action="store_true", help="print the case file")
    close = topic("close", _close, "close a case with what was found")
    close.add_argument("number", type=int, metavar="NUMBER")
    found = close.add_mutually_exclusive_group(required=True)
    found.add_argument("--cause", metavar="ID", help="the confirmed cause")
    found.add_argument("--not-found", action="store_true", help="no cause was confirmed")
    close.add_argument("--replaced", action="append", default=[], metavar="PART", help="may be given again")
    close.add_argument("--note", default="", metavar="WORDS", help="a word on it")
    reopen = topic("reopen", _reopen, "go on with a closed case")
    reopen.add_argument("number", type=int, metavar="NUMBER")
    taking = topic("import", _import, "take in case files, each under a new number")
    taking.add_argument("files", nargs="+", type=Path, metavar="FILE")
    _add_files(topic)
    learn = topic("learn", _learn, "what the closed cases taught; switch it on or off for new cases")
    learn.add_argument("switch", nargs="?", choices=["on", "off"])
    for parser in (show, close, reopen, taking):
        add_folder_option(parser)


def _add_files(topic: Callable[..., argparse.ArgumentParser]) -> None:
    """Add the topics that write cases into files, or do away with them."""
    export = topic("export", _export, "write one case into a file of its own, with all personal data in it")
    export.add_argument("number", type=int, metavar="NUMBER")
    export.add_argument("file", metavar="FILE", help="a new file, best named *.case.json; - prints it")
    export.set_defaults(document=True)
    delete = topic("delete", _delete, "delete a case for good, personal data included")
    delete.add_argument("number", type=int, metavar="NUMBER")
    delete.add_argument("--yes", action="store_true", help="really")
    backup = topic("backup", _backup, "write all cases into one new file")
    backup.add_argument("file", type=Path, metavar="FILE")
    recover = topic("recover", _recover, "save what can be read of a damaged store or case file; it stays as it is")
    recover.add_argument("file", type=Path, metavar="FILE")
    recover.add_argument("folder", type=Path, metavar="DIR", help="a new or empty folder, for one file a case")


def resolve_case(name: str, store: "Store | None" = None) -> "tuple[Stamped, ...]":
    """Give the log of a case by its number in the store (the user's, if none is given), or by the path of its file.

    Raises `CaseError` if there is none, or it cannot be read.
    """
    if not _is_number(name):
        from expert.portable import read_case

        return read_case(Path(name))
    if store:
        return store.stamped(int(name))
    from expert.store import Store

    with Store.open() as opened:
        return opened.stamped(int(name))


def _is_number(name: str) -> bool:
    return name.isascii() and name.isdigit() and len(name) < 19


def _add_state(parser: argparse.ArgumentParser) -> None:
    state = parser.add_mutually_exclusive_group()
    state.add_argument("--open", action="store_true", help="only those that are open")
    state.add_argument("--closed", action="store_true", help="only those that are closed")


def _state(options: argparse.Namespace) -> bool | None:
    return False if options.open else True if options.closed else None


def _list(options: argparse.Namespace) -> int:
    from expert.store import Store

    with Store.open() as store:
        state = _state(options)
        none = NO_CASE if state is None else f"no case is {'closed' if state else 'open'}"
        return _print_rows(store.rows(state), none)


def _search(options: argparse.Namespace) -> int:
    from expert.store import Store, Wanted

    wanted = Wanted(
        words=tuple(options.words),
        cause=options.cause,
        part=options.part,
        hazard=options.hazard,
        since=_day(options.since),
        until=_day(options.until),
    )
    try:
        "".join((*wanted.words, wanted.cause or "", wanted.part or "", wanted.hazard or "")).encode()
    except UnicodeEncodeError as error:
        raise CallError("what is searched for is no text in this terminal's encoding; type it anew") from error
    if not any(wanted):
        raise CallError("say what to search for: words, --cause, --part, --hazard, --since or --until")
    with Store.open() as store:
        return _print_rows(store.search(wanted, _state(options)), "no case holds all of that")


def _day(text: str | None) -> str | None:
    from datetime import date

    try:
        return date.fromisoformat(text).isoformat() if text else None
    except ValueError as error:
        raise CallError(f"{text!r} is no day; write it like 2026-03-01") from error


def _print_rows(rows: "Sequence[CaseRow]", none: str) -> int:
    from expert.report.plain import printable

    if not rows:
        print(none)
    for row in rows:
        state = "closed" if row.closed else "open"
        cause = row.cause or (f"{row.leading}?" if row.leading and not row.closed else "-")
        print(f"{row.number:5}  {row.changed[:10]}  {state:6}  {cause:20}  {printable(row.title)}")
    return 0


def _show(options: argparse.Namespace) -> int:
    stamped = resolve_case(options.case)
    if options.json:
        from expert.portable import write_case

        sys.stdout.write(write_case(stamped).decode("utf-8"))
        return 0
    from expert.entry_lines import line_of
    from expert.report.plain import Page
    from expert.shop import base_of

    base, page = base_of(options), Page.for_stream()
    for at, entry in stamped:
        page.line(f"{at[:10]} {at[11:16]}  {line_of(base, entry)}", then=" " * 18)
    sys.stdout.write(page.text() if stamped else "no entry yet\n")
    return 0


def _close(options: argparse.Namespace) -> int:
    from expert.case import CloseEntry, fold
    from expert.shop import base_of
    from expert.store import Store

    base = base_of(options)
    _known("cause", options.cause, (cause.id for cause in base.causes))
    for part in options.replaced:
        _known("part", part, _part_ids(base))
    with Store.open() as store:
        log = store.log(options.number)
        if fold(log).closed:
            raise CaseError(f"case {options.number} is closed already; 'ohmbudsman cases reopen' opens it again")
        entry = CloseEntry(cause=options.cause, replaced=tuple(options.replaced), words=options.note)
        _add(store, base, options.number, log, entry)
    print(f"case {options.number} closed: {options.cause or 'not found out'}")
    return 0


def _reopen(options: argparse.Namespace) -> int:
    from expert.case import ReopenEntry, fold
    from expert.shop import base_of
    from expert.store import Store

    with Store.open() as store:
        log = store.log(options.number)
        if not fold(log).closed:
            raise CaseError(f"case {options.number} is open; 'ohmbudsman cases list' shows which are closed")
        _add(store, base_of(options), options.number, log, ReopenEntry())
    print(f"case {options.number} is open again")
    return 0


def _add(
    store: "Store", base: "KnowledgeBase", number: int, log: "Sequence[Entry]", entry: "CloseEntry | ReopenEntry"
) -> None:
    from expert.case import fold
    from expert.first_pass import expert_of
    from expert.store import Summary

    log = (*log, entry)
    store.append(number, [entry], len(log) - 1, Summary.of(base, expert_of(base).assess(fold(log))))


def _known(kind: str, given: str | None, ids: Iterable[str]) -> None:
    known = list(ids)
    if given is None or given in known:
        return
    from difflib import get_close_matches

    near = get_close_matches(given, known, n=3)
    meant = f"did you mean {' or '.join(near)}?" if near else f"known are {', '.join(sorted(set(known)))}"
    raise CallError(f"no {kind} {given!r}; {meant}")


def _part_ids(base: "KnowledgeBase") -> Iterable[str]:
    yield from (kind.id for kind in base.build_parts)
    yield from (cause.part for cause in base.causes)


def _import(options: argparse.Namespace) -> int:
    from expert.case import fold
    from expert.first_pass import expert_of
    from expert.portable import read_case_file
    from expert.shop import base_of
    from expert.store import Store, Summary

    files = [(path, read_case_file(path)) for path in options.files]  # all are read before the first is taken in
    base = base_of(options)
    with Store.open() as store:
        for path, case in files:
            log = case.stamped
            if (known := _same(store, log, case.title)) is not None:
                print(f"{path}: is here already, as case {known}")
                continue
            summary = Summary.of(base, expert_of(base).assess(fold([each.entry for each in log])))
            print(f"{path}: case {store.take_in(log, case.title, summary)}")
    return 0


def _same(store: "Store", log: "Sequence[Stamped]", title: str) -> int | None:
    """Give the number of a case with the very same log and title, so that none is counted twice."""
    alike = (row for row in store.rows() if log and (row.opened, row.entries) == (log[0].at, len(log)))
    named = (row for row in alike if title in ("", row.title))
    return next((row.number for row in named if store.stamped(row.number) == tuple(log)), None)


def _export(options: argparse.Namespace) -> int:
    from expert.portable import write_case
    from expert.store import Store

    with Store.open() as store:
        content = write_case(store.stamped(options.number), store.row(options.number).title, options.number)
    if options.file == "-":
        sys.stdout.write(content.decode("utf-8"))
        return 0
    _write_new(Path(options.file), content)
    print(f"{options.file}: case {options.number}, with the owner's message as it came")
    return 0


def _write_new(path: Path, content: bytes) -> None:
    """Write a file that only its owner may read; never over one that is there."""
    import os

    try:
        with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as stream:
            stream.write(content)
    except FileExistsError as error:
        raise CallError(f"{path}: is there already; give another name") from error
    except OSError as error:
        raise CallError(f"{path}: {error.strerror or error}; give a place that can be written") from error


def _delete(options: argparse.Namespace) -> int:
    from expert.report.plain import counted, printable
    from expert.store import Store

    with Store.open() as store:
        row = store.row(options.number)
        if not options.yes:
            held = f"“{printable(row.title)}”, {counted(row.entries, 'entry', 'entries')}"
            raise CallError(f"case {row.number} ({held}) would be gone for good; say --yes to delete it")
        store.delete(row.number)
    print(f"case {options.number} is gone from the store; backups and exported files stay until you delete them")
    return 0


def _backup(options: argparse.Namespace) -> int:
    from expert.report.plain import counted
    from expert.store import Store

    with Store.open() as store:
        store.backup(options.file)
        cases = counted(len(store.rows()), "case", "cases")
        print(f"{options.file}: {cases}; to go back to it, put it in the place of {store.path}")
    return 0


def _recover(options: argparse.Namespace) -> int:
    from expert.portable import write_case
    from expert.recover import recover
    from expert.report.plain import counted

    folder: Path = options.folder
    if not options.file.is_file():
        raise CallError(f"{options.file}: No such file; give the store or the case file to read")
    found = recover(options.file)
    try:
        folder.mkdir(parents=True, mode=0o700, exist_ok=True)
        if any(folder.iterdir()):
            raise CallError(f"{folder}: holds something already; give a new or empty folder")
    except OSError as error:
        raise CallError(f"{folder}: {error.strerror or error}; give a folder that can be written") from error
    for place, case in enumerate(found.cases, start=1):
        content = write_case(case.stamped, case.title, case.number)
        _write_new(folder / f"{case.number or place}.case.json", content)
    lost = (
        f", {counted(found.lost, 'entry', 'entries')} lost (a note stands in the place of each)" if found.lost else ""
    )
    print(
        f"{counted(len(found.cases), 'case', 'cases')} saved in {folder}{lost}; 'ohmbudsman cases import' takes them in"
    )
    return 0


def _learn(options: argparse.Namespace) -> int:
    from expert.store import Store

    with Store.open() as store:
        if options.switch:
            store.set_learning(options.switch == "on")
        counts = store.confirmed()
        state = "on: new cases start from the base and" if store.learning else "off: new cases leave aside what comes"
    closed = sum(counts.values())
    print(f"learning is {state} from {closed} closed case{'' if closed == 1 else 's'} here")
    for (complaint, cause), count in counts.items():
        print(f"{count:5}  {complaint}: {cause}")
    return 0
