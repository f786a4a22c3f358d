"""The expert: facts, rules, belief, the log of a case; at its edge the triage, the reports, the terminal, the command.

findings ──engine──▶ firings ──evidence──▶ belief ──planner──▶ next check, next question
    ▲                                                                  │
    └────────────────── answers, outcomes, readings ◀──────────────────┘

From Python: `from expert import triage`. Imports `knowledge`; `intake` only in `first_pass`.
"""

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from expert.document import TriageDocument
    from knowledge import KnowledgeBase

__all__ = ["__version__", "triage"]

__version__ = "0.2.0"

# Our products of matrices are small: a second thread of theirs would only spin. Read when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def triage(message: str, base: "KnowledgeBase | None" = None) -> "TriageDocument":
    """Triage one complaint: hazards, likely causes with their rules, next checks, questions, the trace.

    `message`: up to 200,000 characters. `base`: the rules to go by, the shipped ones unless given. The same message and
    base give the same document. Raises `MessageError` if the message is empty, not text, or longer.
    """
    from expert.first_pass import triage as first_pass  # here, since what reads and reasons takes a second to load

    return first_pass(message, base)
