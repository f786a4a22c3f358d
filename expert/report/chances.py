"""Chances in words out of ten, for people who do not reckon in percentages."""

from collections.abc import Sequence

TENTHS = 10
SURE = 0.95


def chances(shares: Sequence[float]) -> list[str]:
    """Put shares that sum to one into words; the tenths that are named sum to ten.

    By the largest remainder (Hamilton's method: Balinski & Young, Fair Representation, 1982, chapter 3): each gets its
    whole tenths, and those that are left go to the largest remainders; ties by place.
    """
    if max(shares, default=0.0) >= SURE:
        return ["almost certain" if share >= SURE else "less than 1 in 20" for share in shares]
    # Rounded, so that a share of seven tenths has seven of them on every machine.
    exact = [round(TENTHS * share, 9) for share in shares]
    tenths = [int(value) for value in exact]
    order = sorted(range(len(exact)), key=lambda i: (tenths[i] - exact[i], i))
    for i in order[: max(0, TENTHS - sum(tenths))]:
        tenths[i] += 1
    return [f"about {n} in 10" if n else "less than 1 in 10" for n in tenths]
