"""The parts of a build, as they were read or told: what they are, how many, and what is known of them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from expert.case import Named
from expert.facts import slug
from knowledge.models import KnowledgeBase


@dataclass(frozen=True)
class Part:
    """Parts of one kind: `Part("memory", 2, {"generation": "ddr4"})`; the facts are those of the intake and the base.

    Further facts: `draw_watts` (told, sustained), `plugs` (ids of power plugs, one for each), `plug_watts` (what a
    16-pin plug announces), `main` and `cpu_sockets` (the board's power sockets; `main` also the supply's plug),
    `amps_12v` and `amps_12v_cpu` (a supply's), and those of `fit.toml`.
    `count_known` is false where the words do not say how many.
    """

    part: str
    count: int = 1
    facts: Mapping[str, object] = field(default_factory=dict)
    count_known: bool = True

    def number(self, fact: str) -> float | None:
        """Give a fact that is one number; None if it is missing, a range, or only about right."""
        value = self.facts.get(fact)
        known = isinstance(value, int | float) and not isinstance(value, bool) and not self.facts.get("approximately")
        return float(value) if known else None  # type: ignore[arg-type]

    def word(self, fact: str) -> str | None:
        """Give a fact as the base spells it: "Micro ATX" is "micro-atx", "2.5" stays."""
        value = self.facts.get(fact)
        if value is None or isinstance(value, list | tuple):
            return None
        text = str(value)
        return text if text.replace(".", "").isdigit() else slug(text)

    def words(self, fact: str) -> tuple[str, ...] | None:
        """Give a fact that lists several, one by one, as written; None if it is missing."""
        value = self.facts.get(fact)
        if value is None:
            return None
        listed: Iterable[object] = value if isinstance(value, list | tuple) else (value,)
        return tuple(f"{item:g}" if isinstance(item, float) else str(item).strip() for item in listed)


@dataclass(frozen=True)
class Ask:
    """Something that must be asked before a figure can be given: of which part, and in which words."""

    part: str
    text: str


def parts_of(base: KnowledgeBase, build: Sequence[Named]) -> tuple[Part, ...]:
    """Give the parts that a message names.

    Mentions that do not disagree are of one part: "the ssd" and "a 500 GB ssd". Of a part that a machine has once,
    all mentions are; a fact on which they disagree is dropped, and so asked for again.
    """
    single = {kind.id for kind in base.build_parts if kind.single}
    found: list[tuple[str, dict[str, object]]] = []
    for named in build:
        same = next((f for p, f in found if p == named.part and (p in single or not _clash(f, named.facts))), None)
        if same is None:
            found.append((named.part, dict(named.facts)))
        else:
            clash = _clash(same, named.facts)
            same |= named.facts
            same |= dict.fromkeys(clash)
    return tuple(_part(part, facts) for part, facts in found)


def _clash(one: Mapping[str, object], other: Mapping[str, object]) -> list[str]:
    return sorted(fact for fact in one.keys() & other.keys() if one[fact] != other[fact])


def _part(part: str, facts: Mapping[str, object]) -> Part:
    count = facts.get("count")
    known = isinstance(count, int) and not isinstance(count, bool)
    told = {fact: value for fact, value in facts.items() if value is not None}
    return Part(part, count if known else 1, told, known)  # type: ignore[arg-type]


def title_of(base: KnowledgeBase, part: str) -> str:
    """Give the plain name of a kind of part; of one that the base does not list, its id."""
    return next((known.title for known in base.build_parts if known.id == part), part)
