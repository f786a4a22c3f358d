"""What a person wrote, made fit to be handed on: personal data blanked, nothing in it that cannot be seen.

Every character that is blanked leaves one in its place, so that spans into the message stay right.
"""

import unicodedata

from expert.case import MessageEntry
from expert.first_pass import without_private

HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def shown(text: str) -> str:
    """Give a text of a person as it may be shown."""
    return visible(without_private(text))


def shown_message(message: MessageEntry) -> str:
    """Give the owner's message as it may be shown; what a finding was read from stays readable."""
    spans = [(told.start, told.end) for told in message.findings if told.start is not None and told.end is not None]
    return visible(without_private(message.text, spans))


def visible(text: str) -> str:
    """Put a blank in place of each control, format, private and unassigned character, but for line ends.

    Terminal escapes and characters that turn the direction of writing are among them; tags stay, as the text they are.
    """
    return "".join(" " if c != "\n" and unicodedata.category(c) in HIDDEN else c for c in text)
