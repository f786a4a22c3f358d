"""The parts of a build, as they were read or told: what they are, how many, and what is known of them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from expert.case import Named
from expert.facts import slug
from knowledge.fit_models import BuildPart
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

    Mentions of one part are taken together: of what a machine has once, or counts, and otherwise those that share a
    fact and disagree on none, such as "the ssd" and "a 500 GB ssd". A fact on which mentions of the one part that a
    machine has disagree is dropped, and so asked for again.
    """
    kinds = {kind.id: kind for kind in base.build_parts}
    found: list[tuple[str, dict[str, object]]] = []
    for named in build:
        mentions = [facts for part, facts in found if part == named.part]
        same = next((facts for facts in mentions if _is_same(kinds.get(named.part), facts, named.facts)), None)
        if same is None:
            found.append((named.part, dict(named.facts)))
        else:
            disagreed = dict.fromkeys(_clash(same, named.facts))
            same |= named.facts
            same |= disagreed
    return tuple(_part(part, facts) for part, facts in found)


def _is_same(kind: BuildPart | None, one: Mapping[str, object], other: Mapping[str, object]) -> bool:
    if kind is not None and kind.single:
        return True
    shares = one.keys() & other.keys() or (kind is not None and kind.counted)
    return bool(shares) and not _clash(one, other)


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
