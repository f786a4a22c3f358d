"""The file of answers, one JSON line each: written as they come, and taken up again after an interruption."""

import json
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from expert.document import TriageDocument
from expert.queue.complaint import Complaint
from expert.queue.run import Answered
from expert.queue.urgency import urgency_of
from expert.queue.work import Answer
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase

BEGINNING = b'{"id":'


class Output:
    """Where the lines go: to a file, to standard output (`lines`), or nowhere, where only the table is wanted."""

    def __init__(self, path: Path | None, resume: bool, lines: bool) -> None:
        self._path = path
        self._lines = lines
        self._file: BinaryIO | None = None
        if path is not None:
            self._file = _opened(path, resume)

    def kept(self, complaints: Iterator[Complaint], base: KnowledgeBase) -> Iterator[Answered]:
        """Yield what the file holds already, beside the complaints it answers; cut a last line that is half-written.

        Raises `CallError` if the file holds anything but the answers to the first of these complaints.
        """
        if self._file is None:
            return
        end = 0
        for number, line in enumerate(iter(self._file.readline, b""), start=1):
            if not line.endswith(b"\n") and line[: len(BEGINNING)] == BEGINNING[: len(line)]:
                break
            complaint = next(complaints, None)
            yield self._answered(complaint, line, number, base)
            end += len(line)
        self._file.seek(end)
        self._file.truncate()

    def _answered(self, complaint: Complaint | None, line: bytes, number: int, base: KnowledgeBase) -> Answered:
        try:
            record: dict[str, Any] = json.loads(line)
            if complaint is not None and record["id"] == complaint.id:
                return complaint, _answer(line.decode("utf-8").rstrip("\n"), record, base)
        except (ValueError, KeyError, TypeError, RecursionError):
            pass
        raise CallError(
            f"{self._path}: line {number} does not answer complaint {number} of this queue; give another file"
        )

    def write(self, answer: Answer) -> None:
        """Add one line, and hand it on at once."""
        if self._file is not None:
            self._file.write(f"{answer.line}\n".encode())
            self._file.flush()
        elif self._lines:
            sys.stdout.write(f"{answer.line}\n")
            sys.stdout.flush()

    def close(self) -> None:
        """Close the file."""
        if self._file is not None:
            self._file.close()


def _opened(path: Path, resume: bool) -> BinaryIO:
    try:
        if resume and path.exists():
            return path.open("r+b")
        # The answers quote what owners wrote: they are for the eyes of whoever made them, as the cases are.
        return os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600), "rb+")
    except FileExistsError as error:
        raise CallError(f"{path}: exists already; go on with --resume, or give another name") from error
    except OSError as error:
        raise CallError(f"{path}: {error.strerror or error}; give a file that can be written") from error


def _answer(line: str, record: dict[str, Any], base: KnowledgeBase) -> Answer:
    if "error" in record:
        return Answer(line, None, str(record["error"]))
    return Answer(line, urgency_of(TriageDocument.model_validate(record["triage"]), base))
