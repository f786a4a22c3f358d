"""How far a queue is, shown on the terminal while it runs."""

import sys
from collections.abc import Iterator
from typing import TypeVar

from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output.defaults import create_output
from prompt_toolkit.output.vt100 import Vt100_Output
from prompt_toolkit.shortcuts import ProgressBar

Item = TypeVar("Item")


def shown(items: Iterator[Item], total: int | None) -> Iterator[Item]:
    """Pass the items on, with a bar on standard error; `total` is None where the end is not known."""
    output = create_output(stdout=sys.stderr)
    if isinstance(output, Vt100_Output):
        output.enable_cpr = False  # nobody would read where the terminal says that its cursor is
    # With an input of its own the bar leaves the keyboard alone: Ctrl-C stays with the program.
    with create_pipe_input() as silent, ProgressBar(input=silent, output=output) as bar:
        yield from bar(items, label="complaints", total=total)
