"""The load of a build from its parts: watts and 12 V amperes, sustained, at the start, and for milliseconds.

parts ──class, or what was told──▶ lines ──sum──▶ Budget
A part that belongs to no class, and of which nothing was told, is asked for; it is never given a guessed figure.
All highest values are taken together, which is careful: disks spin up before the processor is at its highest.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Literal

from expert.build import Ask, Part, title_of
from knowledge.fit_models import Load, Slot
from knowledge.models import KnowledgeBase

TOLD = "as told for this part"
VOLTS = 12.0  # at which watts that were told, or may come from any rail, are turned into amperes

Pair = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """What the parts of one kind draw together: watts and amperes at 12 V, each sustained and at the highest.

    `lasts`: whether the highest value holds for milliseconds or for seconds.
    """

    part: str
    title: str
    count: int
    watts: Pair
    amps_12v: Pair
    lasts: Literal["ms", "s"]
    source: str


@dataclass(frozen=True)
class Budget:
    """The load of a build; complete only if nothing is left to ask.

    `continuous`, `start` (disks spinning up as well) and `peak` (a few milliseconds) are in watts, the same with
    `_amps` in amperes at 12 V. `faults` are figures that cannot be right, or limits that are exceeded.
    """

    lines: tuple[Line, ...]
    asks: tuple[Ask, ...]
    faults: tuple[str, ...]
    continuous: float
    start: float
    peak: float
    continuous_amps: float
    start_amps: float
    peak_amps: float

    @property
    def is_complete(self) -> bool:
        """Whether every part that counts is known."""
        return not self.asks

    def amps_of(self, part: str) -> float:
        """Give the sustained amperes at 12 V of the parts of one kind."""
        return fsum(line.amps_12v[0] for line in self.lines if line.part == part)


def budget_of(base: KnowledgeBase, parts: Sequence[Part]) -> Budget:
    """Add up what the parts draw; supply, case, leads and what stands outside draw nothing here."""
    drawing = {load.part for load in base.loads}
    silent = {part.id for part in base.build_parts if part.always} - {part.part for part in parts}
    there = [part for part in (*parts, *map(Part, sorted(silent))) if part.part in drawing and part.count > 0]
    counted = {part.id for part in base.build_parts if part.counted}
    drawn = [(p, None if p.part in counted and not p.count_known else _line(base, p)) for p in there]
    lines = tuple(line for _, line in drawn if line is not None)
    unclear = [_unclear(base, part) for part, line in drawn if line is None]
    return Budget(
        lines=lines,
        asks=tuple(dict.fromkeys([*_missing(base, parts), *unclear])),
        faults=tuple(fault for part in there if part.part == "graphics" for fault in _card_faults(base, part)),
        continuous=_sum(lines, "steady", "watts"),
        start=_sum(lines, "start", "watts"),
        peak=_sum(lines, "peak", "watts"),
        continuous_amps=_sum(lines, "steady", "amps"),
        start_amps=_sum(lines, "start", "amps"),
        peak_amps=_sum(lines, "peak", "amps"),
    )


def graphics_slot(base: KnowledgeBase) -> Slot:
    """Give the slot that a graphics card sits in: the one with a limit for the whole card."""
    return next(slot for slot in base.slots if slot.card_watts is not None)


def card_ceiling(base: KnowledgeBase, plugs: Sequence[str], plug_watts: float | None = None) -> float | None:
    """Give the most that slot and plugs may carry for longer than a second, in watts.

    A plug of several classes counts with what it announces (`plug_watts`); None where that is not known, or no such
    plug exists. Example: an 8-pin and a 6-pin plug: 75 + 150 + 75 = 300.
    """
    known = {plug.id: plug for plug in base.connectors if plug.feeds == "graphics"}
    slot, total = graphics_slot(base), graphics_slot(base).watts
    for plug in map(known.get, plugs):
        carries = None if plug is None else plug.watts
        if plug is not None and plug.classes:
            carries = plug_watts if plug_watts in plug.classes else None
        if carries is None:
            return None
        total += carries
    return min(total, slot.card_watts or total)


def _missing(base: KnowledgeBase, parts: Sequence[Part]) -> Iterator[Ask]:
    named = {part.part for part in parts}
    yield from (Ask(part.id, part.ask) for part in base.build_parts if part.needed and part.id not in named)


def _unclear(base: KnowledgeBase, part: Part) -> Ask:
    """Ask for what would give the class; where the power class is known but not listed, for the draw itself."""
    known = next(kind for kind in base.build_parts if kind.id == part.part)
    by_power = any(load.up_to_watts is not None for load in base.loads if load.part == part.part)
    return Ask(part.part, known.ask if by_power and part.number("watts") is None else known.ask_kind)


def _line(base: KnowledgeBase, part: Part) -> Line | None:
    """Give the line of a part: what was told of it comes first, then its class; None if neither is known."""
    load = _class_of(base, part)
    told = part.number("draw_watts")
    if part.part == "graphics" and load is None:
        told = told or part.number("watts")
        ceiling = _ceiling_of(base, part)
        if told is None and ceiling is not None:
            return _told_line(base, part, ceiling, graphics_slot(base).source)
    if told is not None:
        return _told_line(base, part, told, TOLD, load)
    return None if load is None else _class_line(part, load)


def _class_of(base: KnowledgeBase, part: Part) -> Load | None:
    """Give the class of a part: the lowest power class that is not below it, else the closest match of its facts."""
    watts = part.number("watts")
    found = [
        load
        for load in base.loads
        if load.part == part.part
        and all(part.word(fact) == value for fact, value in load.match.items())
        and (load.up_to_watts is None or (watts is not None and watts <= load.up_to_watts))
    ]
    return min(found, key=lambda load: (-len(load.match), load.up_to_watts or 0.0), default=None)


def _class_line(part: Part, load: Load) -> Line:
    watts, amps = _draw(load)
    n = part.count
    return Line(
        part.part, load.title, n, (n * watts[0], n * watts[1]), (n * amps[0], n * amps[1]), load.lasts, load.source
    )


def _told_line(base: KnowledgeBase, part: Part, told: float, source: str, load: Load | None = None) -> Line:
    """Give the line of a told figure: in full against 12 V; its class still says how high it may go for a while."""
    watts, amps = (told, told), (told / VOLTS, told / VOLTS)
    if load and load.watts_12v[0] + load.watts_minor[0] < load.watts_12v[1] + load.watts_minor[1]:
        highest = _draw(load)
        watts, amps = (told, max(told, highest[0][1])), (told / VOLTS, max(told / VOLTS, highest[1][1]))
    n = part.count
    return Line(
        part.part,
        load.title if load else title_of(base, part.part),
        n,
        (n * watts[0], n * watts[1]),
        (n * amps[0], n * amps[1]),
        load.lasts if load else "ms",
        source,
    )


def _draw(load: Load) -> tuple[Pair, Pair]:
    """Give watts and 12 V amperes of one part of a class, each sustained and at the highest."""
    sure, minor, either = load.watts_12v, load.watts_minor, load.watts_either
    watts = (sure[0] + minor[0] + either[0], sure[1] + minor[1] + either[1])
    return watts, (load.amps_12v[0] + either[0] / VOLTS, load.amps_12v[1] + either[1] / VOLTS)


def _ceiling_of(base: KnowledgeBase, part: Part) -> float | None:
    plugs = part.words("plugs")
    return None if plugs is None else card_ceiling(base, plugs, part.number("plug_watts"))


def _card_faults(base: KnowledgeBase, part: Part) -> Iterator[str]:
    told = part.number("draw_watts") or part.number("watts")
    slot = graphics_slot(base)
    if told is None:
        return
    if slot.card_watts and told > slot.card_watts:
        yield f"{told:g} W for one graphics card: {slot.card_watts:g} W from all sources is the most ({slot.source})"
    ceiling = _ceiling_of(base, part)
    if ceiling is not None and told > ceiling:
        yield f"{told:g} W for the graphics card, slot and plugs carry {ceiling:g} W: which is wrong? ({slot.source})"


def _sum(lines: Sequence[Line], at: str, by: str) -> float:
    """Add the lines: `steady`, at the `start` (what is highest for seconds), or at the `peak`; in watts or `amps`."""
    total = []
    for line in lines:
        pair = line.watts if by == "watts" else line.amps_12v
        total.append(pair[1] if at == "peak" or (at == "start" and line.lasts == "s") else pair[0])
    return fsum(total)
