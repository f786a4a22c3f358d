"""What a repair costs by the shop's price list, and whether to try the cheap repair first or to rebuild at once.

Try first: its price c, and with probability 1 - p the rebuild r as well, less what comes back for the part (b):
    c + (1 - p) (r - b)
Rebuild at once: r. Trying is cheaper where p > (c - b) / (r - b), the break-even. It is the order of one remedy with
a price of service r in Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting, CACM 38(3), 1995.
Without a price list there is no estimate: no price is ever made up.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from math import fsum

from knowledge.fit_models import Price

LABOUR = "labour"
SUPPLY = "psu"


@dataclass(frozen=True)
class Estimate:
    """The lines of the price list that a repair takes, and their sum with labour, in the money of the list."""

    lines: tuple[Price, ...]
    minutes: int
    labour: float
    total: float


@dataclass(frozen=True)
class Comparison:
    """Trying one part first against the rebuild at once.

    `probability`: that the part alone mends it. `break_even`: from here on trying is the cheaper one; above 1 never,
    and None where the rebuild costs no more than what comes back.
    """

    first: Estimate
    rebuild: Estimate
    probability: float
    expected: float
    break_even: float | None

    @property
    def try_first(self) -> bool:
        """Whether trying first is expected to cost less than the rebuild at once."""
        return self.expected < self.rebuild.total


def estimate(
    prices: Sequence[Price], parts: Iterable[str], watts: float | None = None, hunted: Collection[str] = ()
) -> Estimate | tuple[str, ...]:
    """Give what these parts cost, fitted; or what the price list lacks, one sentence each.

    Each part at the cheapest line; a supply at the cheapest one of at least so many `watts`; what is `hunted` (a
    maker's own part, like for like, so whatever its rating) at a line that says so, and nothing else at one.
    The hour of labour is the line `labour`.
    """
    hour = next((price for price in prices if price.part == LABOUR), None)
    lacking = [] if hour else ["The price list has no line 'labour' with the price of an hour."]
    lines: list[Price] = []
    for part in dict.fromkeys(parts):
        fitting = [p for p in prices if p.part == part and p.hunted == (part in hunted) and _is_enough(p, watts)]
        if fitting:
            lines.append(min(fitting, key=lambda price: (price.money, price.id)))
        else:
            what = "to be searched for " if part in hunted else ""
            rated = f" of {watts:g} W or more" if watts and part == SUPPLY and part not in hunted else ""
            lacking.append(f"The price list has no line {what}for {part}{rated}.")
    if lacking or hour is None:
        return tuple(lacking)
    minutes = sum(line.minutes for line in lines)
    labour = hour.money * minutes / 60
    return Estimate(tuple(lines), minutes, labour, fsum(line.money for line in lines) + labour)


def compare(first: Estimate, rebuild: Estimate, probability: float) -> Comparison:
    """Hold "try this first" against "rebuild at once".

    Example: 60 to try, 300 to rebuild, nothing comes back: break-even at .2; at p .5 trying costs 60 + .5 * 300 = 210.
    """
    back = fsum(line.back for line in first.lines)
    expected = first.total + (1 - probability) * (rebuild.total - back)
    even = (first.total - back) / (rebuild.total - back) if rebuild.total > back else None
    return Comparison(first, rebuild, probability, expected, even)


def _is_enough(price: Price, watts: float | None) -> bool:
    """Tell whether a line will do; a supply whose rating the list does not say never does where one is wanted."""
    return watts is None or price.part != SUPPLY or price.hunted or (price.watts or 0.0) >= watts
