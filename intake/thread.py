"""The writer's own words out of an e-mail thread: older text that is quoted, and the signature, become spaces.

Same length in and out. Where everything is quoted (a forwarded complaint), the quoted text is what counts.
"""

import re

_QUOTED = re.compile(r"^[ \t]*>.*$", re.MULTILINE)
_MARK = re.compile(r"^[ \t]*>[> \t]*", re.MULTILINE)
_WROTE = re.compile(
    r"^(?:On\b[^\n]{4,200}(?:\n[^\n]{0,80})?\bwrote:|-{3,}[ ]?Original Message[ ]?-{3,}|_{10,})[ \t]*$",
    re.MULTILINE | re.IGNORECASE,
)
_HEADER = re.compile(r"^(?:From|Sent|To|Cc|Date|Subject):.*$", re.MULTILINE)
_SIGNATURE = re.compile(r"^-- ?$", re.MULTILINE)
_LONGEST_SIGNATURE = 600  # characters; what is longer is a letter, not a signature


def own_words(text: str) -> str:
    """Blank out quoted older text and the signature: "> did it beep?\\nno" -> "              \\nno"."""
    own = _without_signature(_without_older(text))
    if own.strip():
        return own
    return _without_signature(
        _MARK.sub(lambda match: _blank(match[0]), _HEADER.sub(_spaces, _WROTE.sub(_spaces, text)))
    )


def _without_older(text: str) -> str:
    match = _WROTE.search(text)
    older = match is not None and text[: match.start()].strip()
    if match and older and not _QUOTED.search(text, match.end()):
        return text[: match.start()] + _blank(text[match.start() :])  # top-posted: all that follows is older
    return _QUOTED.sub(_spaces, _WROTE.sub(_spaces, text))


def _without_signature(text: str) -> str:
    for match in _SIGNATURE.finditer(text):
        if len(text) - match.end() <= _LONGEST_SIGNATURE and text[: match.start()].strip():
            return text[: match.start()] + _blank(text[match.start() :])
    return text


def _spaces(match: re.Match[str]) -> str:
    return _blank(match[0])


def _blank(text: str) -> str:
    return re.sub(r"[^\n]", " ", text)
