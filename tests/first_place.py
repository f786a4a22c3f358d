"""Which findings bring each cause to first place: `python -m tests.first_place` prints the smallest set found.

A search in steps, not exhaustive: it begins with each way to tell a complaint that lists the cause, adds what rules for
the cause look at or an outcome of a check that is likelier with it, and keeps the few best sets at each step.
"""

import argparse
import sys
from collections.abc import Iterator

from expert.belief import Belief, believe
from expert.engine import Engine
from expert.facts import Claim, claims_in
from knowledge import shipped_base
from knowledge.models import KnowledgeBase, Rule

MOST = 6  # findings and outcomes in a set
KEPT = 4  # sets carried from step to step
LIKELIER = 3.0  # an outcome is worth trying from this ratio on

Tellings = frozenset[str]


class Search:
    """Sets of findings and outcomes against the ranking of a base."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        self._engine = Engine(base)

    def smallest(self, cause: str) -> Tellings | None:
        """Give the smallest set found that puts a cause first; None where there is none of at most six."""
        steps = list(dict.fromkeys((*_tellings_for(self.base, cause), *_outcomes_for(self.base, cause))))
        best = sorted(dict.fromkeys(_openings(self.base, cause)), key=sorted)
        tried: set[Tellings] = set()
        for _ in range(MOST):
            ranked = sorted((self.standing(told, cause), len(told), sorted(told)) for told in best)
            if first := [told for (place, _), _, told in ranked if place == 0 and told]:
                return frozenset(min(first, key=lambda told: (len(told), "/" in " ".join(told), told)))
            best = [frozenset(told) for _, _, told in ranked[:KEPT]]
            best = list(dict.fromkeys(told | step for told in best for step in steps if not step <= told))
            best = [told for told in best if len(told) <= MOST and told not in tried and _agrees(told)]
            tried |= set(best)
        return None

    def standing(self, told: Tellings, cause: str) -> tuple[int, float]:
        """Give the place of a cause from 0, and less for a larger lead: what sorts sets by how well they do."""
        belief = self.believe(told)
        places = [ranked.id for ranked in belief.causes if ranked.status != "excluded"]
        place = places.index(cause) if cause in places else len(self.base.causes)
        return place, -belief.posterior[cause]

    def believe(self, told: Tellings) -> Belief:
        """Weigh a set."""
        return believe(self._engine.run(claims_of_set(told)), self.base)


def claims_of_set(told: Tellings) -> frozenset[Claim]:
    """Read a set as the examples of rules are read."""
    return frozenset(claims_in(", ".join(sorted(told))))


def _split(example: str) -> Tellings:
    return frozenset(item.strip() for item in example.split(","))


def _agrees(told: Tellings) -> bool:
    """Whether no finding is told in two states and no check has two outcomes."""
    known: dict[tuple[str, str], str] = {}
    claims = [claim for claim in claims_of_set(told) if claim.kind in ("finding", "outcome")]
    return all(known.setdefault((claim.kind, claim.id), claim.value) == claim.value for claim in claims)


def _gives(rule: Rule, kinds: tuple[str, ...], about: str) -> bool:
    return rule.status == "active" and any(g.kind in kinds and g.about == about for g in rule.gives)


def _openings(base: KnowledgeBase, cause: str) -> Iterator[Tellings]:
    for complaint in base.complaints:
        if cause in complaint.priors:
            rules = [rule for rule in base.rules if _gives(rule, ("complaint",), complaint.id)]
            ways = [_split(example) for rule in rules for example in rule.fires]
            yield from sorted(ways, key=lambda way: (len(way), sorted(way)))[:2]
    yield frozenset()


def _tellings_for(base: KnowledgeBase, cause: str) -> Iterator[Tellings]:
    for rule in base.rules:
        if _gives(rule, ("support", "confirm"), cause):
            yield from map(_split, rule.fires)


def _outcomes_for(base: KnowledgeBase, cause: str) -> Iterator[Tellings]:
    for check in base.checks:
        for outcome in check.outcomes:
            if outcome.likely.get(cause, 0.0) >= LIKELIER * outcome.otherwise:
                yield frozenset([f"{check.id}/{outcome.id}"])


def main() -> None:
    """Print for each cause the smallest set found."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cause", nargs="*", help="only these causes")
    chosen = parser.parse_args().cause
    search = Search(shipped_base())
    for cause in (cause.id for cause in search.base.causes if not chosen or cause.id in chosen):
        found = search.smallest(cause)
        sys.stdout.write(f"{cause}: {', '.join(sorted(found)) if found is not None else 'never first'}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
