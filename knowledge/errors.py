"""The errors that this project raises on purpose, as one tree.

OhmbudsmanError            anything we raise on purpose
├─ KnowledgeError          the base cannot be used: carries the list of faults
├─ MessageError            the message cannot be read: too long, not text
├─ CaseError               the case file cannot be used, or an entry does not fit the state
└─ CallError               the command was called wrongly

A text says what is wrong, where, and what to do. The command line turns an error into one line and exit 2.
"""

from collections.abc import Sequence


class OhmbudsmanError(Exception):
    """Anything this project raises on purpose; the text is meant for the person at the bench."""


class KnowledgeError(OhmbudsmanError):
    """The knowledge base cannot be used; `faults` holds one line for each thing to mend."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


class MessageError(OhmbudsmanError):
    """The owner's message cannot be read."""


class CaseError(OhmbudsmanError):
    """A case file cannot be used, or an entry does not fit the state of the case."""


class CallError(OhmbudsmanError):
    """The command was called wrongly."""
