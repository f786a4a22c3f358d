"""The supply for a build: the rating to buy, what the one at hand is short of, and what the wall sees.

Headroom is a share of the rating, not of the load: 400 W with 20 % to spare need 400 / 0.8 = 500 W.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from expert.build import Ask, Part
from expert.power import Budget, graphics_slot
from knowledge.fit_models import Connector, Efficiency, Excursion
from knowledge.models import KnowledgeBase

BRIEF = 10.0  # milliseconds that a processor's highest power may last (table 2-1 of the supply guide)
SLACK = 1e-6  # watts; below it a difference is rounding


@dataclass(frozen=True)
class Rating:
    """The rating to buy, in watts, and the better one; None where no usual rating is enough or something is not known.

    `amps_12v` is what its 12 V outputs must give together; `reasons` say which of the demands decided.
    """

    watts: int | None
    better: int | None
    amps_12v: float
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Verdict:
    """Whether a supply is enough: `short` says of what it is short, `unknown` what must be asked first."""

    short: tuple[str, ...]
    tight: tuple[str, ...]
    unknown: tuple[Ask, ...]

    @property
    def is_enough(self) -> bool | None:
        """Whether it is enough; None where it is not known to be short of anything, but not everything is known."""
        if self.short:
            return False
        return None if self.unknown else True


@dataclass(frozen=True)
class Wall:
    """What the mains sees: the load of the supply in percent, its least efficiency there, and the watts it draws.

    `how` says where the efficiency comes from: a point of the table, or a straight line between two.
    """

    load_percent: float
    efficiency_percent: float
    watts: float
    how: str


def rating_for(base: KnowledgeBase, budget: Budget, plugs: Sequence[str] = ()) -> Rating:
    """Give the smallest usual rating that meets every demand of the build; `plugs` are those of its graphics card."""
    room = base.headrooms[0]
    if not budget.is_complete:
        return Rating(None, None, budget.continuous_amps, tuple(ask.text for ask in budget.asks))

    def smallest(spare: float) -> int | None:
        demands = (max(watts for watts, _ in _demands(base, budget, plugs, spare, rating)) for rating in room.ratings)
        return next((r for r, watts in zip(room.ratings, demands, strict=True) if watts <= r + SLACK), None)

    watts = smallest(room.spare)
    last = watts or room.ratings[-1]
    reasons = [f"{why}: {ceil(need - SLACK)} W" for need, why in _demands(base, budget, plugs, room.spare, last)]
    if watts is None:
        reasons.insert(0, f"more than the largest usual rating, {last} W")
    return Rating(watts, smallest(room.better), budget.continuous_amps, tuple(reasons))


def excursion_for(base: KnowledgeBase, rating: float, plugs: Sequence[str]) -> Excursion:
    """Give what a supply of this rating must bear for moments: of the records that apply, the first."""
    return next(e for e in base.excursions if rating > e.over_watts and (e.plug is None or e.plug in plugs))


def bears(excursion: Excursion, milliseconds: float) -> float:
    """Give the share of its rating that a supply must bear for so long: 1.6 is 160 %; the next longer time counts."""
    longer = [share for duration, share in excursion.points if duration >= milliseconds]
    return longer[0] / 100 if longer else 1.0


def _demands(
    base: KnowledgeBase, budget: Budget, plugs: Sequence[str], spare: float, rating: float
) -> Iterator[tuple[float, str]]:
    """Yield what the rating must be at least, and why."""
    excursion, slot = excursion_for(base, rating, plugs), graphics_slot(base)
    yield budget.continuous / (1 - spare), f"the sustained load with {spare:.0%} of the rating to spare"
    yield budget.start, "everything sustained while the disks spin up"
    yield budget.peak / bears(excursion, BRIEF), f"the highest load for {BRIEF:g} ms, at {excursion.title}"
    if excursion.plug:
        card = sum(line.watts[0] for line in budget.lines if line.part == "graphics")
        first = excursion.points[0]
        yield (
            (budget.peak + (slot.excursion - 1) * card) / (first[1] / 100),
            f"the card at {slot.excursion:g} times its power for {first[0]:g} ms ({slot.source})",
        )


def plugs_needed(base: KnowledgeBase, parts: Sequence[Part]) -> tuple[dict[str, int], tuple[Ask, ...]]:
    """Give the sockets of the build that need a plug of the supply, and what must be asked to know them all."""
    needed: Counter[str] = Counter()
    open_parts: list[str] = []
    for part in parts:
        if part.part == "board":
            main, cpu = part.word("main"), part.words("cpu_sockets")
            needed.update([*filter(None, [main]), *(cpu or ())])
            open_parts += ["board"] if main is None or cpu is None else []
        elif part.part == "graphics" and part.count and part.word("kind") != "onboard":
            card = part.words("plugs")
            needed.update(card or ())
            open_parts += ["graphics"] if card is None else []
        elif part.part == "storage":
            drives = {plug.id: part.count for plug in base.connectors if part.word("kind") in plug.drives}
            needed.update(drives)
    asks = [Ask(kind.id, kind.ask_plugs) for kind in base.build_parts if kind.id in open_parts]
    return {socket: count for socket, count in needed.items() if count}, tuple(asks)


def cpu_plugs(base: KnowledgeBase, amps: float) -> tuple[str, ...]:
    """Give the fewest processor plugs that carry so many amperes: 26 A take one of 8, 37.5 A one of 8 and one of 4."""
    plain = [plug for plug in base.connectors if plug.feeds == "cpu" and plug.serves == (plug.id,)]
    by_size = sorted(plain, key=_carries)
    found: list[str] = []
    left = amps
    while left > 0 and by_size:
        plug = next((plug for plug in by_size if _carries(plug) >= left), by_size[-1])
        found.append(plug.id)
        left -= _carries(plug)
    return tuple(found)


def unserved(base: KnowledgeBase, needed: Mapping[str, int], present: Sequence[str]) -> dict[str, int]:
    """Give the sockets that no plug of the supply is left for; a plug that parts serves one socket."""
    known = {plug.id: plug for plug in base.connectors}
    free = sorted((known[plug] for plug in present if plug in known), key=lambda plug: (len(plug.serves), plug.id))
    left: Counter[str] = Counter()
    for socket in sorted(Counter(needed).elements()):
        plug = next((plug for plug in free if socket in plug.serves), None)
        if plug is None:
            left[socket] += 1
        else:
            free.remove(plug)
    return dict(left)


def _carries(plug: Connector) -> float:
    return plug.contacts * (plug.contact_amps or 0.0)


def judge_supply(base: KnowledgeBase, budget: Budget, parts: Sequence[Part], supply: Part) -> Verdict:
    """Hold a supply against the load and the sockets of a build."""
    needed, asks = plugs_needed(base, parts)
    unknown = [*budget.asks, *asks]
    kind = next(kind for kind in base.build_parts if kind.id == supply.part)
    rating, amps, plugs = supply.number("watts"), supply.number("amps_12v"), supply.words("plugs")
    if rating is None or amps is None:
        unknown.append(Ask(kind.id, kind.ask))
    if plugs is None:
        unknown.append(Ask(kind.id, kind.ask_plugs))
    lacking = unserved(base, needed, plugs) if plugs is not None else {}
    sustained = list(_short(budget.continuous, rating, "W sustained", "in all"))
    short = [
        *(sustained or _short(budget.start, rating, "W while the disks spin up", "in all")),
        *_short(budget.continuous_amps, amps, "A at 12 V", "on its 12 V outputs together"),
        *_short(budget.amps_of("cpu"), supply.number("amps_12v_cpu"), "A for the processor", "on that 12 V output"),
        *_main_plug_short(base, budget, needed),
        *_cpu_sockets_short(base, budget, needed),
        *(f"{count} plug{'s' if count > 1 else ''} missing for a socket {socket}" for socket, count in lacking.items()),
    ]
    return Verdict(tuple(short), tuple(_tight(base, budget, rating)), tuple(dict.fromkeys(unknown)))


def _tight(base: KnowledgeBase, budget: Budget, rating: float | None) -> Iterator[str]:
    usual = base.headrooms[0].spare
    if rating and rating * (1 - usual) + SLACK < budget.continuous <= rating:
        yield f"{1 - budget.continuous / rating:.1%} of the rating to spare; usual are {usual:.0%} or more"


def _main_plug_short(base: KnowledgeBase, budget: Budget, needed: Mapping[str, int]) -> Iterator[str]:
    """Hold the main plug, where it has a limit, against all that the board hands on: the slot's share of a card too."""
    slot = graphics_slot(base).watts
    for plug in base.connectors:
        if plug.feeds == "board" and plug.watts is not None and plug.id in needed:
            through = [line.watts[0] for line in budget.lines if line.part not in ("cpu", "graphics")]
            cards = [min(line.watts[0], slot) for line in budget.lines if line.part == "graphics"]
            yield from _short(sum(through) + sum(cards), plug.watts, "W through the board", f"by its {plug.title}")


def _cpu_sockets_short(base: KnowledgeBase, budget: Budget, needed: Mapping[str, int]) -> Iterator[str]:
    sockets = [(plug, needed[plug.id]) for plug in base.connectors if plug.feeds == "cpu" and plug.id in needed]
    if sockets:
        carried = sum(count * _carries(plug) for plug, count in sockets)
        yield from _short(budget.amps_of("cpu"), carried, "A for the processor", "through the board's sockets for it")


def _short(need: float, given: float | None, what: str, where: str) -> Iterator[str]:
    if given is not None and need > given:
        yield f"needs {need:.4g} {what}, the supply gives {given:g} {where}"


def wall_draw(efficiency: Efficiency, rating: float, watts: float) -> Wall | None:
    """Give what the mains sees at a load of so many watts; None outside the points, where nothing is published.

    Between two points a straight line is taken; the class promises the points only. 400 W at 80 % are 500 W.
    """
    load = 100 * watts / rating
    points = efficiency.points
    if not points[0][0] <= load <= points[-1][0]:
        return None
    place = next(i for i, (point, _) in enumerate(points) if load <= point)
    upper = points[place]
    if load == upper[0]:
        percent, how = upper[1], f"the published value at {load:g} % load"
    else:
        lower = points[place - 1]
        percent = lower[1] + (upper[1] - lower[1]) * (load - lower[0]) / (upper[0] - lower[0])
        how = f"a straight line between the published values at {lower[0]:g} % and {upper[0]:g} % load"
    return Wall(load, percent, watts / (percent / 100), f"{how} ({efficiency.source})")
