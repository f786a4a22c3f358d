"""Hostile or odd text into safe text of the same length, so that every offset stays.

Control characters, terminal escape sequences, zero-width and bidirectional characters and HTML tags become
spaces. Mojibake is left as it is: what the owner wrote is not guessed at.
"""

import re
import unicodedata

from knowledge.errors import MessageError

LONGEST = 200_000  # characters; about 35,000 words, far above any letter

_ESCAPE = re.compile(
    r"\x1b\[[0-?]{0,64}[ -/]{0,16}[@-~]"  # control sequence: colours, cursor, title
    r"|\x1b\][^\x07\x1b]{0,512}(?:\x07|\x1b\\)?"  # operating-system command, e.g. a window title or a link
    r"|\x1b[@-_]?|\x9b[0-?]{0,64}[ -/]{0,16}[@-~]"
)
_BREAK = re.compile(r"<(?:br|/?p|/?div|/?li|/?tr|/?h[1-6])\b[^<>]{0,300}>", re.IGNORECASE)
_HIDDEN = re.compile(r"<(script|style)\b[^<>]{0,300}>.{0,1000}?</\1\s*>", re.IGNORECASE | re.DOTALL)
_TAG = re.compile(r"</?[a-zA-Z][^<>]{0,300}>|<!--.{0,300}?-->|&(?:nbsp|zwnj|shy|#160);", re.DOTALL)
_LINE_ENDS = re.compile(r"\r\n?|[\v\f\x85\u2028\u2029]")
_INVISIBLE = re.compile("[\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180e\u3164\ufe00-\ufe0f\ufff9-\ufffb]")


def check(message: str) -> None:
    """Raise `MessageError` where the message is blank, too long, or not text."""
    if len(message) > LONGEST:
        raise MessageError(
            f"the message has {len(message):,} characters, more than {LONGEST:,}; give the owner's letter only"
        )
    if not message.strip():
        raise MessageError("the message is empty; give the owner's own words")
    strange = sum(map(_is_control, message))
    if "\0" in message or strange * 2 > len(message):
        raise MessageError("the message is not text (it holds binary data); give the owner's letter as plain text")


def clean(message: str) -> str:
    """Give the message with everything that is not plain text as spaces; same length, line ends as `\\n`.

    "no \\x1b[31mfans" -> "no      fans".
    """
    text = _ESCAPE.sub(_spaces, message)
    text = _LINE_ENDS.sub(lambda match: "\n".rjust(len(match[0])), text)
    text = _HIDDEN.sub(_spaces, text)
    text = _BREAK.sub(lambda match: "\n".rjust(len(match[0])), text)
    text = _TAG.sub(_spaces, text)
    text = _INVISIBLE.sub(" ", text)
    return text if text.isascii() and text.isprintable() else "".join(map(_safe, text))


def _spaces(match: re.Match[str]) -> str:
    """As many spaces as there were characters; line ends stay, so that lines are counted right."""
    return "".join("\n" if character == "\n" else " " for character in match[0])


def _is_control(character: str) -> bool:
    return (
        (character < " " and character not in "\t\n\r\f\v\x1b") or "\x7f" <= character < "\xa0" or character == "\ufffd"
    )


def _safe(character: str) -> str:
    if character == "\n" or " " <= character < "\x7f":
        return character
    return " " if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zs", "Zl", "Zp") else character
