"""Parts that the message names, with what can be read of them."""

from typing import TYPE_CHECKING

from intake.reading import BuildMention

if TYPE_CHECKING:
    from spacy.tokens import Doc


def read_build(doc: "Doc") -> list[BuildMention]:
    """List the hardware named in `doc`; `doc._.text` is the safe text with the offsets of the message."""
    return []
