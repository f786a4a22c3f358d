"""The expressions of shapes, looked over without compiling them: names that are no piece, and groups named twice."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping

from knowledge.shapes import NUMBERS

DEEPEST = 4  # pieces within pieces; deeper is a piece that names itself
_READ = NUMBERS | {"count", "light"}  # what a name reads by itself
_NAMED = re.compile(r"\{([a-z][a-z_-]*)\}|\(\?P<(\w+)>")


def expression_fault(text: str, pieces: Mapping[str, str]) -> str:
    """Say what is wrong with an expression whose pieces have these patterns; nothing if the reading takes it.

    Example: "{watts} or {watts}" gives "it reads 'watts' twice".
    """
    try:
        counts = Counter(_groups(text, pieces, 0))
    except KeyError as error:
        return f"no piece {error.args[0]!r}"
    except RecursionError as error:
        return str(error)
    twice = [name for name, count in counts.items() if count > 1]
    return f"it reads {twice[0]!r} twice" if twice else ""


def _groups(text: str, pieces: Mapping[str, str], depth: int) -> Iterator[str]:
    """Give the groups of an expression written out, a number or a light being one."""
    for match in _NAMED.finditer(text):
        name, group = match.groups()
        if group or name in _READ:
            yield group or name
        elif depth > DEEPEST:
            raise RecursionError(f"the piece {name!r} lies too deep in others, or in itself")
        else:
            yield from _groups(pieces[name], pieces, depth + 1)
