"""The base of a call: what comes with the package, and a shop's own folders merged into it.

A shop's records come from the folder `knowledge` in the user's configuration folder, if there is one, and from each
`--knowledge DIR`, in this order.
"""

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from platformdirs import user_config_path

from knowledge.errors import CaseError
from knowledge.load import BASE, Loaded, prepared, read, shipped_base
from knowledge.models import KnowledgeBase

if TYPE_CHECKING:
    from expert.case import Entry


def add_folder_option(parser: argparse.ArgumentParser) -> None:
    """Let a command take the shop's own folders."""
    parser.add_argument(
        "--knowledge",
        action="append",
        default=[],
        type=Path,
        metavar="DIR",
        help="a folder of your own rules, causes, ... (*.toml), merged into the base; may be given again",
    )


def folders(given: Iterable[Path]) -> list[Path]:
    """Give the folders in the order in which they are merged."""
    own = user_config_path("ohmbudsman", appauthor=False) / "knowledge"
    return [BASE, *([own] if any(own.rglob("*.toml")) else []), *given]


def base_of(options: argparse.Namespace) -> KnowledgeBase:
    """Give the base of this call.

    Raises `KnowledgeError` with one line per fault: file, record, key, what is wrong.
    """
    merged = folders(options.knowledge)
    return shipped_base() if merged == [BASE] else prepared(merged)


def read_base(options: argparse.Namespace) -> Loaded:
    """Give the base of this call with its faults, and with the file of each record."""
    return read(folders(options.knowledge))


def ensure_known(log: Sequence["Entry"], base: KnowledgeBase) -> None:
    """Raise `CaseError` where a case holds a finding or a check that the base does not have.

    Nothing would follow from it, and a danger that a shop's own folder raised would be gone without a word.
    """
    from expert.case import fold

    case = fold(log)
    known = {finding.id for finding in base.findings} | {check.id for check in base.checks}
    held = [*(told.id for told in case.findings), *(done.check for done in case.outcomes)]
    if unknown := next((id_ for id_ in held if id_ not in known), None):
        raise CaseError(
            f"the case holds {unknown!r}, which this knowledge base does not know; give the folder it was made with: "
            "--knowledge DIR"
        )
