"""E-mail into complaints: single messages, and mailboxes of many after RFC 4155.

What is triaged is the subject, a blank line, and the body: the plain-text part, or the HTML part reduced to text.
Attachments are left alone.
"""

import re
from collections.abc import Callable, Iterator
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import parseaddr
from html.parser import HTMLParser
from typing import BinaryIO, cast

from expert.queue.complaint import Complaint, received
from knowledge.errors import CallError

# Of a longer message the rest is not kept: the words come first, what is large comes after them.
LARGEST_MAIL = 20_000_000

_BLANKS = (b"\n", b"\r\n")
_SEPARATOR = re.compile(rb"From \S+ +\S")
_QUOTED_SEPARATOR = re.compile(rb">+From ")
_BLOCKS = {"address", "blockquote", "br", "div", "h1", "h2", "h3", "h4", "h5", "h6", "hr", "li", "p", "pre", "tr"}
_UNSEEN = {"head", "script", "style", "template", "title"}


def read_mail(content: bytes, name: str) -> Complaint:
    """Read one message after RFC 5322; its id is the Message-ID, or `name` where it has none."""
    message = message_from_bytes(content, policy=policy.default)
    number = _tolerant(lambda: str(message["Message-ID"] or "").strip()) or name
    owner = parseaddr(_tolerant(lambda: str(message["From"] or "")))[1].casefold()
    subject = _tolerant(lambda: str(message["Subject"] or "")).strip()
    body = _tolerant(lambda: _body(message))
    text = "\n\n".join(part for part in (subject, body) if part.strip())
    if not text:
        return Complaint(number, "", owner, "no words in this e-mail; look whether they are in an attachment")
    return received(number, text, owner)


def read_mailbox(stream: BinaryIO, name: str) -> Iterator[Complaint]:
    """Read the messages of a mailbox one by one; a message without an id is called by its place.

    Raises `CallError` if it does not begin as a mailbox does.
    """
    for place, content in enumerate(split_mailbox(stream, name), start=1):
        yield read_mail(content, f"message {place}")


def split_mailbox(stream: BinaryIO, name: str) -> Iterator[bytes]:
    """Cut a mailbox at its separators: a line "From sender time" at the start or after a blank line.

    The blank line that ends each message belongs to the mailbox, as does one ">" before a "From " in a body.
    """
    lines: list[bytes] = []
    size, begun, blank = 0, False, True
    # A line without end is taken in pieces; only the first one can be a separator.
    while line := stream.readline(LARGEST_MAIL):
        if blank and _SEPARATOR.match(line):
            if begun:
                yield _joined(lines)
            lines, size, begun, blank = [], 0, True, False
            continue
        if not begun and line.strip():
            raise CallError(f"{name}: not a mailbox: its first line is no 'From sender time'; say its --format")
        blank = line in _BLANKS
        size += len(line)
        if size <= LARGEST_MAIL:
            lines.append(line[1:] if _QUOTED_SEPARATOR.match(line) else line)
    if begun:
        yield _joined(lines)


def text_of_html(markup: str) -> str:
    """Reduce HTML to its words, a line for each block."""
    reader = _Words()
    reader.feed(markup)
    reader.close()
    lines = (" ".join(line.split()) for line in "".join(reader.words).split("\n"))
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip()


def _joined(lines: list[bytes]) -> bytes:
    return b"".join(lines[:-1] if lines and lines[-1] in _BLANKS else lines)


def _tolerant(look: Callable[[], str]) -> str:
    """Give what is looked for, or nothing: malformed mail raises all kinds of errors in the standard library."""
    try:
        return look()
    except Exception:
        return ""


def _body(message: EmailMessage) -> str:
    for kind in ("plain", "html"):
        part = message.get_body(preferencelist=(kind,))
        if part is not None and (text := _decoded(cast(EmailMessage, part))).strip():
            return text if kind == "plain" else text_of_html(text)
    return ""


def _decoded(part: EmailMessage) -> str:
    content = cast(bytes, part.get_payload(decode=True) or b"")
    for charset in (part.get_content_charset("utf-8"), "utf-8"):
        try:
            return content.decode(charset).replace("\r\n", "\n")
        except (LookupError, UnicodeDecodeError):
            continue
    # Mail that says its charset wrongly, or not at all, is mostly from western Europe.
    return content.decode("cp1252", errors="replace").replace("\r\n", "\n")


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self._unseen = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag in _UNSEEN:
            self._unseen += 1
        if tag in _BLOCKS:
            self.words.append("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag in _UNSEEN:
            self._unseen = max(0, self._unseen - 1)
        if tag in _BLOCKS:
            self.words.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._unseen:
            self.words.append(re.sub(r"\s+", " ", data))
