"""Where a queue comes from: a folder, a file or standard input; which reader takes it; nothing is held in memory."""

import codecs
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import TextIOWrapper
from pathlib import Path
from typing import BinaryIO, TextIO

from expert.queue.complaint import Complaint, received
from expert.queue.mail import LARGEST_MAIL, read_mail, read_mailbox
from expert.queue.records import Keys, read_csv, read_json_lines
from knowledge.errors import CallError

LARGEST_TEXT = 1_000_000
FORMATS = {
    "jsonl": (".jsonl", ".ndjson", ".json"),
    "csv": (".csv", ".tsv"),
    "mbox": (".mbox", ".mbx"),
    "eml": (".eml",),
    "text": (".txt",),
}


@dataclass(frozen=True)
class Source:
    """A queue as it is named in the call; `name` is a path or - for standard input."""

    name: str
    format: str | None = None
    keys: Keys = field(default_factory=Keys)
    encoding: str = "utf-8"

    def complaints(self) -> Iterator[Complaint]:
        """Read the complaints one by one, in the order of the source; of a folder by file name.

        Raises `CallError` if the source cannot be opened or is of no kind that is known.
        """
        encoding = _encoding(self.encoding)
        try:
            if self.name != "-" and Path(self.name).is_dir():
                yield from _folder(Path(self.name), encoding)
            else:
                with _opened(self.name) as stream:
                    yield from self._stream(stream, encoding)
        except OSError as error:
            raise CallError(f"{self.name}: {error.strerror or error}; give a folder, a file, or -") from error
        except UnicodeError as error:
            raise CallError(f"{self.name}: not {self.encoding} text; say its --encoding") from error

    def _stream(self, stream: BinaryIO, encoding: str) -> Iterator[Complaint]:
        name, kind = self.name, self.format or _format_of(self.name)
        if kind == "mbox":
            yield from read_mailbox(stream, name)
        elif kind in ("eml", "text"):
            yield _file(stream, Path(name).name, kind, encoding)
        elif kind == "csv":
            # Line ends inside quotes belong to the field, so they are left as they are.
            with _text(stream, encoding, "") as text:
                yield from read_csv(text, self.keys, name)
        else:
            with _text(stream, encoding, "\n") as text:
                yield from read_json_lines(text, self.keys)


@contextmanager
def _text(stream: BinaryIO, encoding: str, line_end: str) -> Iterator[TextIO]:
    text = TextIOWrapper(stream, encoding, "surrogateescape", newline=line_end)
    try:
        yield text
    finally:
        text.detach()  # who opened the stream closes it


def _encoding(name: str) -> str:
    try:
        found = codecs.lookup(name).name
        "".encode(found)  # refuses codecs that are no encoding of text, such as hex
    except (LookupError, UnicodeError) as error:
        raise CallError(f"no encoding {name!r}; give one such as utf-8, cp1252 or utf-16") from error
    return "utf-8-sig" if found == "utf-8" else found


def _format_of(name: str) -> str:
    if name == "-":
        return "jsonl"
    for kind, endings in FORMATS.items():
        if Path(name).suffix.lower() in endings:
            return kind
    raise CallError(f"{name}: cannot tell what it holds by its name; say with --format: {', '.join(FORMATS)}")


@contextmanager
def _opened(name: str) -> Iterator[BinaryIO]:
    if name == "-":
        yield sys.stdin.buffer
    else:
        with Path(name).open("rb") as stream:
            yield stream


def _folder(folder: Path, encoding: str) -> Iterator[Complaint]:
    endings = (*FORMATS["text"], *FORMATS["eml"])
    names = sorted(p.name for p in folder.iterdir() if p.suffix.lower() in endings and not p.name.startswith("."))
    if not names:
        raise CallError(f"{folder}: no {' or '.join(endings)} file in it; give a folder of messages")
    for name in names:
        path = folder / name
        kind = "eml" if path.suffix.lower() in FORMATS["eml"] else "text"
        if not path.is_file():
            yield Complaint(name, "", fault="not a file")
            continue
        try:
            with path.open("rb") as stream:
                yield _file(stream, name, kind, encoding)
        except OSError as error:
            yield Complaint(name, "", fault=f"cannot be opened: {error.strerror or error}")


def _file(stream: BinaryIO, name: str, kind: str, encoding: str) -> Complaint:
    if kind == "eml":
        return read_mail(stream.read(LARGEST_MAIL), name)
    content = stream.read(LARGEST_TEXT + 1)
    if len(content) > LARGEST_TEXT:
        return Complaint(name, "", fault=f"more than {LARGEST_TEXT:,} bytes; cut it down to the owner's message")
    return received(name, content.decode(encoding, "surrogateescape"))
