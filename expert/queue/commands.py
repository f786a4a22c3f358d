"""The command `queue`: many complaints at once, as JSON lines or as a table ordered by urgency."""

import argparse
import os
import sys
from collections.abc import Generator, Iterator
from contextlib import closing
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from knowledge.errors import CallError, MessageError

if TYPE_CHECKING:
    from expert.queue.complaint import Complaint
    from expert.queue.run import Answered
    from expert.queue.table import Table
    from expert.queue.work import Answer
    from knowledge.models import KnowledgeBase

# To start workers takes as long as some sixty complaints do in this process.
SHORT = 64


def add_queue(commands: Any, parser_class: type[argparse.ArgumentParser]) -> None:
    """Add `queue` to the commands of the program."""
    from expert.shop import add_folder_option

    queue = commands.add_parser("queue", help="triage many complaints and order them by urgency")
    queue.add_argument(
        "source",
        metavar="SOURCE",
        help="a folder of .txt and .eml files, a mailbox, CSV or JSON Lines file; - reads JSON Lines",
    )
    queue.add_argument("--json", action="store_true", help="one JSON line per complaint, in the order of the input")
    queue.add_argument("--output", type=Path, metavar="FILE", help="write the JSON lines into a new file")
    queue.add_argument("--resume", action="store_true", help="go on with --output where it was interrupted")
    queue.add_argument("--workers", type=int, metavar="N", help="processes on this machine (default: one per core)")
    queue.add_argument(
        "--scheduler", metavar="ADDRESS", help="run on the Dask cluster of this scheduler; only on a network you trust"
    )
    queue.add_argument("--format", choices=("jsonl", "csv", "mbox", "eml", "text"), help="what SOURCE holds")
    queue.add_argument("--id", default="id", metavar="NAME", help="the column or key of the id (default: id)")
    queue.add_argument("--text", default="text", metavar="NAME", help="that of the message (default: text)")
    queue.add_argument("--owner", metavar="NAME", help="that of the owner: joins what one owner sent; never printed")
    queue.add_argument("--encoding", default="utf-8", help="of text, CSV and JSON Lines (default: utf-8)")
    add_folder_option(queue)
    queue.set_defaults(run=_queue)


def _queue(options: argparse.Namespace) -> int:
    _check(options)
    from expert.queue.output import Output
    from expert.queue.table import Table
    from expert.shop import base_of

    base = base_of(options)
    complaints = _begun(_complaints(options))
    tally = _Tally(None if options.json else Table())
    try:
        with closing(Output(options.output, options.resume, options.json)) as output:
            for complaint, answer in output.kept(complaints, base):
                tally.add(complaint, answer)
            with closing(_answered(complaints, base, options, tally.count)) as fresh:
                for complaint, answer in fresh:
                    output.write(answer)
                    tally.add(complaint, answer)
    except KeyboardInterrupt:
        if options.output is None:
            raise
        raise CallError(f"interrupted after {tally.count} complaints; the same call with --resume goes on") from None
    if tally.table is not None:
        from expert.report.plain import Page, terminal_width, wants_colour

        sys.stdout.write(tally.table.text(Page.for_stream(), terminal_width(sys.stdout), wants_colour(sys.stdout)))
    tally.check()
    return 0


@dataclass
class _Tally:
    """What is known of the answers so far; the rows of the table are the only part that grows."""

    table: "Table | None"
    count: int = 0
    unread: int = 0
    first: str = ""

    def add(self, complaint: "Complaint", answer: "Answer") -> None:
        self.count += 1
        if self.table is not None:
            self.table.add(complaint, answer)
        if answer.urgency is None:
            self.unread += 1
            self.first = self.first or f"{complaint.id}: {answer.error}"

    def check(self) -> None:
        if self.unread:
            from expert.report.plain import printable

            first = printable(self.first)
            raise MessageError(
                f"{self.unread} of {self.count} complaints could not be read, the others are done; first {first}"
            )


def _check(options: argparse.Namespace) -> None:
    if options.resume and options.output is None:
        raise CallError("--resume needs --output, the file to go on with")
    if options.workers is not None and options.workers < 1:
        raise CallError("--workers takes a number from 1 up")
    if options.workers is not None and options.scheduler is not None:
        raise CallError("--workers and --scheduler exclude each other; the cluster has its own workers")


def _complaints(options: argparse.Namespace) -> "Iterator[Complaint]":
    from expert.queue.records import Keys
    from expert.queue.sources import Source

    keys = Keys(options.id, options.text, options.owner)
    return Source(options.source, options.format, keys, options.encoding).complaints()


def _begun(complaints: "Iterator[Complaint]") -> "Iterator[Complaint]":
    """Read the first one at once: a source that cannot be read is refused before a file is made for its answers."""
    return chain(list(islice(complaints, 1)), complaints)


def _answered(
    complaints: "Iterator[Complaint]", base: "KnowledgeBase", options: argparse.Namespace, done: int
) -> "Generator[Answered, None, None]":
    answers = _run(complaints, base, options)
    if not sys.stderr.isatty() or (options.json and options.output is None and sys.stdout.isatty()):
        yield from answers
        return
    from expert.queue.progress import shown

    # A file is read twice: to count its complaints takes a thousandth of the time that they take.
    total = None if options.source == "-" else sum(1 for _ in _complaints(options)) - done
    yield from shown(answers, total)


def _run(complaints: "Iterator[Complaint]", base: "KnowledgeBase", options: argparse.Namespace) -> "Iterator[Answered]":
    from expert.queue.run import run_here, run_workers

    if options.scheduler is not None:
        try:
            from expert.queue.cluster import run_cluster
        except ImportError as error:
            raise CallError("--scheduler needs Dask; install it with: pip install 'ohmbudsman[cluster]'") from error
        yield from run_cluster(complaints, base, options.scheduler)
        return
    begun = list(islice(complaints, SHORT)) if options.workers is None else []
    is_short = options.workers is None and len(begun) < SHORT
    workers = options.workers or os.cpu_count() or 1
    if is_short or workers == 1:
        yield from run_here(chain(begun, complaints), base)
    else:
        yield from run_workers(chain(begun, complaints), base, workers)
