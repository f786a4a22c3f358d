"""One complaint of a queue: its id, the words, and whose they are."""

from typing import NamedTuple


class Complaint(NamedTuple):
    """A complaint as it came; `fault` says in one line why it cannot be read, and is empty where it can.

    `owner` is personal data: it serves to join what one person sent twice, and is never printed.
    """

    id: str
    text: str
    owner: str = ""
    fault: str = ""


def received(number: str, text: str, owner: str = "") -> Complaint:
    """Give the complaint; at fault where the words could not be decoded (undecodable bytes are lone surrogates)."""
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        return Complaint(
            number, "", owner, f"not text at character {error.start}; save it as UTF-8, or say its --encoding"
        )
    return Complaint(number, text, owner)
