"""The figures of the measurements: how good a ranking is, how well it is calibrated, and how sure a share is.

Proper scores and their parts: Brier 1950; Murphy, A new vector partition of the probability score, 1973. Intervals:
Wilson 1927, as in Newcombe, Statistics in Medicine 17 (1998).
"""

from collections.abc import Iterator, Mapping, Sequence
from math import log, sqrt
from statistics import mean, median
from typing import NamedTuple

CERTAIN = 1.959963984540054  # standard deviations of the normal distribution that leave out one in twenty


class Ranked(NamedTuple):
    """A ranking beside the truth: the causes in order, the probability of each, and the true one."""

    order: Sequence[str]
    shares: Mapping[str, float]
    true: str

    @property
    def rank(self) -> int:
        """The place of the true cause from 1; after all of them where the ranking has left it out."""
        return self.order.index(self.true) + 1 if self.true in self.order else len(self.shares)


class Cell(NamedTuple):
    """Statements of about the same probability: how many, what was said on average, and the share that was right."""

    low: float
    count: int
    said: float
    was: float


def log_loss(cases: Sequence[Ranked]) -> float:
    """Give the mean of -ln p(true), in nats."""
    return mean(-log(case.shares[case.true]) for case in cases)


def brier(cases: Sequence[Ranked]) -> float:
    """Give the mean of the summed squares of p less 1 for the true cause, of p for every other one."""
    return mean(sum((p - (cause == case.true)) ** 2 for cause, p in case.shares.items()) for case in cases)


def cells(stated: Sequence[tuple[float, bool]]) -> list[Cell]:
    """Sort statements (probability, right) into tenths."""
    found = []
    for low in range(10):
        cell = [(p, right) for p, right in stated if low <= min(10 * p, 9.999) < low + 1]
        if cell:
            found.append(Cell(low / 10, len(cell), mean(p for p, _ in cell), mean(right for _, right in cell)))
    return found


def calibration_error(found: Sequence[Cell]) -> float:
    """Give the expected calibration error: the mean distance of what was said from what was."""
    return sum(cell.count * abs(cell.said - cell.was) for cell in found) / sum(cell.count for cell in found)


def murphy(found: Sequence[Cell]) -> tuple[float, float, float]:
    """Give reliability, resolution and uncertainty: the Brier score is the first, less the second, plus the third."""
    total = sum(cell.count for cell in found)
    overall = sum(cell.count * cell.was for cell in found) / total
    reliability = sum(cell.count * (cell.said - cell.was) ** 2 for cell in found) / total
    resolution = sum(cell.count * (cell.was - overall) ** 2 for cell in found) / total
    return reliability, resolution, overall * (1 - overall)


def calibration(stated: Sequence[tuple[float, bool]]) -> Iterator[str]:
    """Write how often the leading cause was right by how probable it was said to be: (probability, right)."""
    found = cells(stated)
    yield f"calibration of the leading cause, {len(stated)} statements"
    for cell in found:
        yield f"  {cell.low:.1f} to {cell.low + 0.1:.1f}: said {cell.said:6.1%}, was {cell.was:6.1%}  ({cell.count})"
    reliability, resolution, uncertainty = murphy(found)
    yield f"  expected calibration error {calibration_error(found):.3f}; Brier score, by its parts:"
    yield f"  reliability {reliability:.3f} - resolution {resolution:.3f} + uncertainty {uncertainty:.3f}"


def wilson(right: int, total: int) -> tuple[float, float]:
    """Give the bounds between which a share lies with 95 % confidence."""
    p, scale = right / total, 1 + CERTAIN**2 / total
    middle = p + CERTAIN**2 / (2 * total)
    width = CERTAIN * sqrt(p * (1 - p) / total + CERTAIN**2 / (4 * total**2))
    return max((middle - width) / scale, 0.0), min((middle + width) / scale, 1.0)


def share(right: int, total: int) -> str:
    """Write a share with its bounds: "80.0% (60.9% to 91.1%)"."""
    low, high = wilson(right, total)
    return f"{right / total:.1%} ({low:.1%} to {high:.1%})"


def spread(values: Sequence[float]) -> tuple[float, float, float]:
    """Give the mean, the median and the 90th percentile (the value that nine in ten do not pass)."""
    return mean(values), median(values), sorted(values)[int(0.9 * (len(values) - 1))]
