"""JSON Lines and CSV (RFC 4180) into complaints, line by line; a bad record is a complaint at fault, not the end."""

import csv
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TextIO

from expert.queue.complaint import Complaint, received
from knowledge.errors import CallError

# A letter of the longest kind that is read, every character of it written as a JSON escape.
LONGEST_LINE = 4_000_000


@dataclass(frozen=True)
class Keys:
    """What the id, the words and the owner are called in the records; without `owner` nobody's complaints are joined
    on their name.
    """

    id: str = "id"
    text: str = "text"
    owner: str | None = None


def read_json_lines(stream: TextIO, keys: Keys) -> Iterator[Complaint]:
    """Read one object a line; blank lines do not count, other keys are ignored."""
    for number, line in enumerate(_lines(stream), start=1):
        if line.strip():
            yield _from_json(line, f"line {number}", keys)


def _from_json(line: str, place: str, keys: Keys) -> Complaint:
    if len(line) >= LONGEST_LINE:
        return Complaint(place, "", fault=f"the line is longer than {LONGEST_LINE:,} characters")
    try:
        record = json.loads(line)
    except (ValueError, RecursionError):
        return Complaint(place, "", fault="not JSON; give one object a line")
    if not isinstance(record, dict):
        return Complaint(place, "", fault="not a JSON object; give one object a line")
    return _complaint(record, place, keys)


def read_csv(stream: TextIO, keys: Keys, name: str) -> Iterator[Complaint]:
    """Read a table with a first line of column names; comma, semicolon and tab are told apart by that line.

    Raises `CallError` if the columns that are asked for are not there.
    """
    csv.field_size_limit(LONGEST_LINE - 1)
    lines = _lines(stream)
    header = next(lines, "")
    delimiter = max(",;\t", key=header.count)
    columns = [column.strip() for column in next(csv.reader([header], delimiter=delimiter), [])]
    wanted = {keys.id: _column(keys.id, columns), keys.text: _column(keys.text, columns)}
    if keys.owner:
        wanted[keys.owner] = _column(keys.owner, columns)
    # Rows without a column "id" are called by their number; a name that was asked for must be there.
    if missing := [key for key, at in wanted.items() if at is None and key != Keys.id]:
        known = ", ".join(columns)[:200] or "none"
        raise CallError(f"{name}: no column {missing[0]!r} (there are: {known}); say which with --id, --text, --owner")
    rows = csv.reader(lines, delimiter=delimiter)
    number = 0
    while True:
        number += 1
        try:
            row = next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            yield Complaint(f"row {number}", "", fault=f"not a row of the table ({error})")
            continue
        if row:
            yield _complaint(
                {key: row[at] for key, at in wanted.items() if at is not None and at < len(row)}, f"row {number}", keys
            )


def _column(name: str, columns: list[str]) -> int | None:
    names = [column.casefold() for column in columns]
    return names.index(name.casefold()) if name.casefold() in names else None


def _complaint(record: dict[str, Any], place: str, keys: Keys) -> Complaint:
    given, text = record.get(keys.id), record.get(keys.text)
    owner = str(record.get(keys.owner) or "").strip().casefold() if keys.owner else ""
    whole = isinstance(given, str | int) and not isinstance(given, bool)
    number = (str(given) if whole else "") or place
    if given is not None and not whole:
        return Complaint(number, "", owner, f"{keys.id!r} is no text; give it as a string")
    if not isinstance(text, str):
        return Complaint(number, "", owner, f"no text under {keys.text!r}; say with --text where it is")
    return received(number, text, owner)


def _lines(stream: TextIO) -> Iterator[str]:
    """Yield the lines; of one that is too long only the beginning, so that it cannot fill the memory."""
    while line := stream.readline(LONGEST_LINE):
        yield line
        while len(line) == LONGEST_LINE and not line.endswith("\n"):
            line = stream.readline(LONGEST_LINE)
