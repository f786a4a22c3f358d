"""The expert: facts, rules, belief, the log of a case; at its edge the triage, the reports, the terminal, the command.

findings ──engine──▶ firings ──evidence──▶ belief ──planner──▶ next check, next question
    ▲                                                                  │
    └────────────────── answers, outcomes, readings ◀──────────────────┘

From Python: `from expert.triage import triage`. Imports `knowledge`; `intake` only in `triage`.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
