"""What a person wrote, made fit to be handed on: personal data blanked, nothing in it that cannot be seen.

In the owner's message personal data is blanked where its place gives it away: a salutation, a sign-off, a number, an
address. A name found there is blanked as well in all that was entered later: answers, notes, the last word on the case.
A name that only the technician wrote stays, with the technician who put it there to look after it.
Every character that is blanked leaves one in its place, so that spans into the message stay right.
"""

import re
import unicodedata

from expert.case import MessageEntry
from expert.first_pass import without_private

Names = frozenset[str]
BLANK = "█"
_NAME = re.compile(r"\b[A-Z][^\W\d_]{2,}")
_TITLES = frozenset({"Mrs", "Miss", "Prof"})
HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def shown(text: str, names: Names = frozenset()) -> str:
    """Give a text of a person as it may be shown; each of the names is blanked where it stands as a word."""
    blanked = _NAME.sub(lambda found: BLANK * len(found[0]) if found[0] in names else found[0], without_private(text))
    return visible(blanked)


def names_of(message: MessageEntry | None) -> Names:
    """Give the names that were recognised in the owner's message, word by word."""
    if message is None:
        return frozenset()
    runs = (message.text[run.start() : run.end()] for run in re.finditer(f"{BLANK}+", shown_message(message)))
    named = (run for run in runs if not any(c.isdigit() or c == "@" for c in run))
    return frozenset(name for run in named for name in _NAME.findall(run) if name not in _TITLES)


def shown_message(message: MessageEntry) -> str:
    """Give the owner's message as it may be shown; what a finding was read from stays readable."""
    spans = [(told.start, told.end) for told in message.findings if told.start is not None and told.end is not None]
    return visible(without_private(message.text, spans))


def visible(text: str) -> str:
    """Put a blank in place of each control, format, private and unassigned character, but for line ends.

    Terminal escapes and characters that turn the direction of writing are among them; tags stay, as the text they are.
    """
    return "".join(" " if c != "\n" and unicodedata.category(c) in HIDDEN else c for c in text)
