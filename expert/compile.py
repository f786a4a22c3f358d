"""Productions into experta rules on one class of facts; the right side notes the firing and declares what follows."""

from collections.abc import Sequence
from typing import Any

from expert.experta_ready import NOT, Fact, Rule
from expert.productions import Production
from expert.strata import strata


class Known(Fact):  # type: ignore[misc]  # experta carries no types
    """A claim that holds, as experta's fact: `Known(claim)`; as a pattern it is ground and matches that claim alone."""


def compile_rules(productions: Sequence[Production]) -> list[Rule]:
    """Give an experta rule for each production, in their order; its salience is its stratum, turned.

    Each rule carries `production` and `place` (its index). Raises `KnowledgeError` if there is no stratification.
    """
    return [
        _compile(production, place, stratum)
        for place, (production, stratum) in enumerate(zip(productions, strata(productions), strict=True))
    ]


def _compile(production: Production, place: int, stratum: int) -> Rule:
    def fire(engine: Any) -> None:
        engine.fired.append(production)
        for claim in production.adds:
            engine.declare(Known(claim))

    # On the function, not on the rule: experta copies a function's attributes to each rule that it makes from it.
    fire.__name__ = production.id
    fire.production = production  # type: ignore[attr-defined]
    fire.place = place  # type: ignore[attr-defined]
    patterns = [Known(claim) for claim in production.needs]
    exceptions = [NOT(Known(claim)) for claim in production.unless]
    return Rule(*patterns, *exceptions, salience=-stratum)(fire)
