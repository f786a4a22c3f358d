"""Records for what is read by its shape: hardware with its ratings, beep patterns, codes; and the tables of codes.

An expression is a regular expression in which a blank stands for one to three white characters and `{name}` for a
piece, a numeral or a number of that name. Every quantifier has an upper bound, so that the reading stays linear.
"""

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationInfo, model_validator

from knowledge.record import KEPT, Id, Record, Text

_SIZES = ["watts", "kilowatts", "capacity_gb", "capacity_tb", "count", "module_gb", "speed_mts", "cores", "ghz"]
NUMBERS = frozenset([*_SIZES, "inches", "mm", "age_years", "year"])
WORDS = frozenset(["efficiency", "modular", "generation", "socket", "model", "family", "kind", "form_factor"])
FACTS = NUMBERS | WORDS | {"approximately"}
CODE_GROUPS = frozenset(["count", "length", "code", "light", "celsius"])

_UNBOUNDED = re.compile(r"(?<!\\)(?:\\\\)*(?:\{\d*,\}|[*+])")
_CLASS = re.compile(r"\[(?:\\.|[^\]\\])*\]")
_NAME = re.compile(r"\{([a-z][a-z_-]*)\}")
_GROUP = re.compile(r"\(\?P<(\w+)>")


def _bounded(expression: str, info: ValidationInfo) -> str:
    if info.context == KEPT:  # compiling them all takes as long as reading the rest of the base
        return expression
    if _UNBOUNDED.search(_CLASS.sub("x", expression)):
        raise ValueError("give every quantifier an upper bound: {0,20} instead of * or +")
    try:
        re.compile(_NAME.sub("x", expression))
    except re.error as error:
        raise ValueError(f"not a regular expression: {error}") from error
    return expression


Expression = Annotated[str, Field(min_length=1), AfterValidator(_bounded)]


def _groups(expression: str) -> set[str]:
    """The facts that an expression reads: its named groups, and the numbers it names."""
    return set(_GROUP.findall(expression)) | set(_NAME.findall(expression)) & (NUMBERS | CODE_GROUPS)


class Piece(Record):
    """A part of expressions, by name."""

    id: Id
    pattern: Expression


class Naming(Record):
    """Words for one value: of a number ("two", "dual") or of a status light ("dram", "memory")."""

    kind: Literal["number", "light"]
    value: Text
    words: Annotated[tuple[str, ...], Field(min_length=1)]


class Shape(Record):
    """How a part, or a fact about one, is written.

    `parts`: what it can belong to, the likeliest first; `elsewhere` is what is no part of the machine.
    `gives` is a fact that the words mean as a whole ("kind=ssd"); others come from the groups of the pattern.
    `worth`: `part` only names the part; `alone` is worth keeping wherever it stands; `named` where the part is named
    or follows from another shape; `had` where it is said to be there ("it has an ssd"); `extra` only adds.
    """

    parts: Annotated[tuple[Id, ...], Field(min_length=1)]
    pattern: Expression
    gives: str = ""
    worth: Literal["part", "alone", "named", "had", "extra"]

    @model_validator(mode="after")
    def _facts_known(self) -> "Shape":
        facts = _groups(self.pattern) | ({self.gives.partition("=")[0]} if self.gives else set())
        if strange := sorted(facts - FACTS):
            raise ValueError(f"no fact {strange[0]!r}; known are {', '.join(sorted(FACTS))}")
        if not facts and self.worth != "part":
            raise ValueError("nothing is read: name a group of the pattern after a fact, or give one")
        return self


class CodeShape(Record):
    """How a finding that carries a code is written.

    `reads` says how the detail is made: steps of a beep pattern, one imitated beep, dashes ("1-2-2-3"), a
    checkpoint, a stop code, a light, a temperature, or the fixed `detail`. `near` must be found around the match,
    `unless` must not, `unless_before` must not stand right before it.
    """

    finding: Id
    pattern: Expression
    reads: Literal["step", "sound", "dashes", "checkpoint", "stop", "light", "celsius", "fixed"]
    detail: str = ""
    near: Expression | None = None
    unless: Expression | None = None
    unless_before: Expression | None = None

    @model_validator(mode="after")
    def _detail_known(self) -> "CodeShape":
        if strange := sorted(_groups(self.pattern) - CODE_GROUPS):
            raise ValueError(f"no group {strange[0]!r}; known are {', '.join(sorted(CODE_GROUPS))}")
        if (self.reads == "fixed") != bool(self.detail):
            raise ValueError("detail belongs to reads = 'fixed'")
        return self


class StopCode(Record):
    """A stop code of the operating system: its documented meaning in our words, and the parts it can point at.

    `direct`: the documentation names hardware as the cause; the others need a pattern over several crashes.
    `also` are other ways in which the name is said.
    """

    code: Annotated[str, Field(pattern=r"^0x[0-9A-F]{1,8}$")]
    name: Annotated[str, Field(pattern=r"^[A-Z0-9]+(_[A-Z0-9]+)*$")]
    also: tuple[str, ...] = ()
    meaning: Text
    points_at: tuple[Id, ...]
    direct: bool = False
    source: Text


class BeepMeaning(Record):
    """What a beep pattern means in one family of firmware. A fallback: the board's manual decides."""

    family: Id
    pattern: Text
    meaning: Text
    points_at: tuple[Id, ...]
    source: Text


class Checkpoint(Record):
    """What a checkpoint, or a range of them, means in one family of firmware. A fallback: the board's manual decides.

    `first` and `last` are hexadecimal, both within the range.
    """

    family: Id
    first: Annotated[str, Field(pattern=r"^[0-9A-F]{2}$")]
    last: Annotated[str, Field(pattern=r"^[0-9A-F]{2}$")]
    meaning: Text
    points_at: tuple[Id, ...]
    fault: bool
    source: Text

    @model_validator(mode="after")
    def _in_order(self) -> "Checkpoint":
        if int(self.first, 16) > int(self.last, 16):
            raise ValueError("first is above last")
        return self
