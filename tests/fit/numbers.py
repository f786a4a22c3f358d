"""Labels as columns, and numbers in few bits."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy

from intake.model import Label
from tests.fit.examples import Example

_LARGEST = 127  # of a number in eight bits


def columns_of(example: Example, labels: Sequence[Label]) -> tuple[list[int], list[int], list[int]]:
    """Give the columns of what the wordings find, of what the example says and of what it tells nothing of."""
    columns = _columns(tuple(labels))
    told, says, unknown = (
        sorted(columns[label] for label in some if label in columns)
        for some in (example.told, example.says, example.unknown)
    )
    return told, says, unknown


@lru_cache(maxsize=1)
def _columns(labels: tuple[Label, ...]) -> dict[Label, int]:
    return {label: column for column, label in enumerate(labels)}


def in_bytes(array: Any, axis: int) -> tuple[Any, Any]:
    """Give the numbers as whole ones of eight bits, and the factor of each line along the axis."""
    scales = numpy.maximum(numpy.abs(array).max(axis=axis, keepdims=True), 1e-9) / _LARGEST
    return numpy.rint(array / scales).astype(numpy.int8), scales.astype(numpy.float32)


def in_halves(numbers: Mapping[str, Any]) -> dict[str, Any]:
    """Give the numbers in sixteen bits."""
    return {name: numpy.asarray(array).astype(numpy.float16) for name, array in numbers.items()}
