"""Rules and sets of facts for the tests of the engine: written short, or drawn at random; all invented."""

import random
from collections.abc import Sequence

from hypothesis import strategies as st

from expert.facts import Claim, claims_in
from expert.productions import Production
from knowledge.models import Conclusion, Condition, KnowledgeBase, Rule

LEVELS = 5
WIDTH = 3


def conditions(text: str) -> tuple[Condition, ...]:
    """Read "a, b=absent, hazard:fire, test/yes" as conditions."""
    return tuple(_condition(item.strip()) for item in text.split(",") if item.strip())


def _condition(item: str) -> Condition:
    if item.startswith("hazard:"):
        return Condition(hazard=item.removeprefix("hazard:"))
    if "/" in item:
        check, _, outcome = item.partition("/")
        return Condition(check=check, outcome=outcome)
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
    for number in range(draw(st.integers(6, 30))):
        level = draw(st.integers(1, LEVELS - 1))
        here, under = ([_atom(at, place) for place in range(WIDTH)] for at in (level, level - 1))
        below = [_atom(lower, place) for lower in range(level) for place in range(WIDTH)]
        needs = [draw(st.sampled_from(under)), *draw(st.lists(st.sampled_from(here + below), max_size=1))]
        bars = draw(st.lists(st.sampled_from(below), max_size=2, unique=True))
        gives = draw(st.sampled_from([*here, *here, "exclude:mains-lead", "support:psu-failed:strong", "lock:lamp"]))
        rules.append(rule(f"r{number}", ", ".join(needs), gives, ", ".join(bar for bar in bars if bar not in needs)))
    return base(*draw(st.permutations(rules)))


class Cases:
    """Random cases for some productions: facts that let a few of them fire, mostly by way of others, and some noise."""

    def __init__(self, productions: Sequence[Production]) -> None:
        self._productions = productions
        self._givers: dict[Claim, list[Production]] = {}
        for production in productions:
            for claim in production.adds:
                self._givers.setdefault(claim, []).append(production)

    def draw(self, chance: random.Random) -> frozenset[Claim]:
        """Draw the facts of one case."""
        facts: set[Claim] = set()
        for _ in range(chance.randint(1, 5)):
            production = chance.choice(self._productions)
            facts |= self._behind(production.needs, 0.95, 6, chance) | self._behind(production.unless, 0.25, 6, chance)
        noise = chance.choice(self._productions)
        return frozenset(facts | self._behind((*noise.needs, *noise.unless), 0.4, 1, chance))

    def _behind(self, claims: Sequence[Claim], share: float, depth: int, chance: random.Random) -> set[Claim]:
        """Give facts from which a share of the claims follow: one that others can give is stated only now and then."""
        facts: set[Claim] = set()
        for claim in claims:
            givers = self._givers.get(claim)
            if chance.random() > share:
                continue
            if givers and depth and chance.random() < 0.85:
                facts |= self._behind(chance.choice(givers).needs, 1.0, depth - 1, chance)
            else:
                facts.add(claim)
        return facts
