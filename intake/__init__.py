"""The owner's message as findings with quotes.

message ──clean, redact──▶ safe text of the same length
            │ words (split, mend, merge)     spaCy Doc, offsets kept
            ▼ clauses ─▶ mentions ─▶ scope ─▶ second look ─▶ outcomes
         resolve ─▶ Reading (frozen)

Imports `knowledge` only. spaCy is loaded when the first message is read, not before.
"""

import os

from intake.reading import FoundFinding, Reading
from knowledge import KnowledgeBase

__all__ = ["FoundFinding", "Reading", "read_complaint"]

# Our products of matrices are small: a second thread of theirs would only spin. Read when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def read_complaint(message: str, base: KnowledgeBase) -> Reading:
    """Read what `message` says of the machine; raise `MessageError` where it cannot be read."""
    from intake.read import read  # here, since loading spaCy takes up to a second

    return read(message, base)
