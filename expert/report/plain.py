"""Text that may have come from anywhere, made safe to show, wrapped and coloured for a terminal."""

import os
import re
import shutil
import sys
import textwrap
import unicodedata
from typing import TextIO

STYLES = {"title": "1", "danger": "1;31", "caution": "33", "quiet": "2", "plain": ""}
NARROWEST, WIDEST = 40, 100
TIED = "\u00a0"  # a blank that does not break; none is left in a text that went through `printable`


def printable(text: str) -> str:
    """Give the text on one line, with every control, format and private character blanked.

    What an owner wrote never reaches a terminal unless it went through here.
    """
    return re.sub(r"\s+", " ", "".join(" " if unicodedata.category(c)[0] in "CZ" else c for c in text)).strip()


def counted(count: int, one: str, many: str) -> str:
    """Say how many there are: "1 entry", "2 entries"."""
    return f"{count} {one if count == 1 else many}"


def terminal_width(stream: TextIO) -> int:
    """Give the width to wrap at, in columns: the terminal's within sensible bounds, 80 where there is none."""
    columns = shutil.get_terminal_size((80, 24)).columns if stream.isatty() else 80
    return max(NARROWEST, min(columns, WIDEST))


def wants_colour(stream: TextIO) -> bool:
    """Colour only on a terminal, and never with NO_COLOR set or on a dumb terminal."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


class Page:
    """Lines of text, gathered and then written in one go."""

    def __init__(self, width: int = 80, colour: bool = False) -> None:
        self._width = width
        self._colour = colour
        self._lines: list[str] = []

    @classmethod
    def for_stream(cls, stream: TextIO | None = None) -> "Page":
        """Give an empty page that suits the stream, or standard output."""
        stream = stream or sys.stdout
        return cls(terminal_width(stream), wants_colour(stream))

    def heading(self, text: str, style: str = "title") -> None:
        """Add a blank line (not at the top) and a heading."""
        if self._lines:
            self._lines.append("")
        self.line(text, style)

    def blank(self) -> None:
        """Add an empty line."""
        self._lines.append("")

    def line(self, text: str, style: str = "plain", first: str = "", then: str = "") -> None:
        """Add a paragraph, wrapped; `first` and `then` are what its first and its other lines begin with."""
        # A number stays with its sign: no space that would part them is left when the text is wrapped.
        wrapped = textwrap.wrap(
            printable(text).replace(" %", f"{TIED}%"),
            self._width,
            initial_indent=first,
            subsequent_indent=then,
            break_long_words=True,
            break_on_hyphens=False,
        )
        code = STYLES[style] if self._colour else ""
        lines = [line.replace(TIED, " ") for line in wrapped or [first.rstrip()]]
        self._lines += [f"\x1b[{code}m{line}\x1b[0m" if code else line for line in lines]

    def item(self, text: str, style: str = "plain", mark: str = "-") -> None:
        """Add one item of a list."""
        self.line(text, style, first=f"  {mark} ", then=" " * (len(mark) + 3))

    def more(self, text: str, style: str = "plain") -> None:
        """Add a paragraph that belongs to the item above."""
        self.line(text, style, first="      ", then="      ")

    def text(self) -> str:
        """Give the page, ending in a newline."""
        return "\n".join(self._lines) + "\n"
