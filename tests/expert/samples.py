"""Rules and sets of facts for the tests of the engine: written short, or drawn at random; all invented."""

import random
from collections.abc import Iterable, Sequence

from hypothesis import strategies as st

from expert.facts import Claim, claims_in
from expert.productions import Production
from knowledge.models import Conclusion, Condition, KnowledgeBase, Rule

LEVELS = 5
WIDTH = 3


def conditions(text: str) -> tuple[Condition, ...]:
    """Read "a, b=absent, hazard:fire" as conditions."""
    return tuple(_condition(item.strip()) for item in text.split(",") if item.strip())


def _condition(item: str) -> Condition:
    if item.startswith("hazard:"):
        return Condition(hazard=item.removeprefix("hazard:"))
    finding, _, state = item.partition("=")
    return Condition(finding=finding, state=state or "present")


def conclusions(text: str) -> tuple[Conclusion, ...]:
    """Read "a, b=absent, hazard:fire, support:psu-failed:strong" as conclusions."""
    return tuple(_conclusion(item.strip()) for item in text.split(","))


def _conclusion(item: str) -> Conclusion:
    if ":" not in item:
        finding, _, state = item.partition("=")
        return Conclusion(finding=finding, state=state or "present")
    kind, about, *strength = item.split(":")
    return Conclusion(**{kind: about}, strength=strength[0] if strength else None)


def rule(name: str, when: str, gives: str, unless: str = "", given: str = "") -> Rule:
    """Make a rule from its conditions and conclusions, written short."""
    return Rule(
        id=name,
        when=conditions(when),
        given=conditions(given),
        unless=conditions(unless),
        gives=conclusions(gives),
        because=f"because of {name}",
        source="common practice",
        fires=("not used",),
        stays_quiet=("not used",),
    )


def base(*rules: Rule) -> KnowledgeBase:
    """Make a base that holds these rules and nothing else."""
    return KnowledgeBase(rules=rules)


def claims(text: str) -> frozenset[Claim]:
    """Read a set of facts."""
    return frozenset(claims_in(text))


def _atom(level: int, place: int) -> str:
    # Hazards stand in the middle, so that what is derived from a hazard crosses the layers.
    return f"{'hazard:' if level == 2 else ''}a{level}-{place}"


@st.composite
def layered_bases(draw: st.DrawFn) -> KnowledgeBase:
    """Draw rules that look up to their own level, and for exceptions below it: stratified, in a shuffled order."""
    rules = []
    for number in range(draw(st.integers(4, 24))):
        level = draw(st.integers(0, LEVELS - 1))
        here = [_atom(level, place) for place in range(WIDTH)]
        below = [_atom(lower, place) for lower in range(level) for place in range(WIDTH)]
        needs = draw(st.lists(st.sampled_from(here + below), min_size=1, max_size=3, unique=True))
        bars = draw(st.lists(st.sampled_from(below), max_size=2, unique=True)) if below else []
        gives = draw(st.sampled_from([*here, "exclude:mains-lead", "support:psu-failed:strong", "lock:lamp"]))
        rules.append(rule(f"r{number}", ", ".join(needs), gives, ", ".join(bars)))
    return base(*draw(st.permutations(rules)))


def facts_for(productions: Sequence[Production], chance: random.Random) -> frozenset[Claim]:
    """Draw the facts of a case: what some of the productions need, now and then what bars them, and some noise."""
    facts: set[Claim] = set()
    for production in chance.sample(productions, min(len(productions), chance.randint(1, 5))):
        facts.update(_mostly(production.needs, 0.9, chance), _mostly(production.unless, 0.2, chance))
    pool = productions[chance.randrange(len(productions))]
    facts.update(_mostly((*pool.needs, *pool.unless), 0.5, chance))
    return frozenset(facts)


def _mostly(from_these: Iterable[Claim], share: float, chance: random.Random) -> list[Claim]:
    return [claim for claim in from_these if chance.random() < share]
