"""How far a queue is, shown on the terminal while it runs."""

import sys
from collections.abc import Iterator
from typing import TypeVar

from prompt_toolkit.input import DummyInput
from prompt_toolkit.output.defaults import create_output
from prompt_toolkit.shortcuts import ProgressBar

Item = TypeVar("Item")


def shown(items: Iterator[Item], total: int | None) -> Iterator[Item]:
    """Pass the items on, with a bar on standard error; `total` is None where the end is not known."""
    # Without an input of its own the bar leaves the keyboard alone: Ctrl-C stays with the program.
    with ProgressBar(input=DummyInput(), output=create_output(stdout=sys.stderr)) as bar:
        yield from bar(items, label="complaints", total=total)
