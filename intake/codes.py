"""Beep patterns, checkpoint codes, stop codes and status lights."""

from typing import TYPE_CHECKING

from intake.mentions import Mention

if TYPE_CHECKING:
    from spacy.tokens import Doc


def read_codes(doc: "Doc") -> list[Mention]:
    """List the mentions of codes; `Mention.at` makes one from offsets into `doc._.text`, with its detail."""
    return []
