"""The trace: firings, numbered from 1, each traced back to what was stated.

It records firings, not facts: a second rule with the same conclusion leaves no fact behind, but it is a second reason.
HOW a conclusion was reached is read downwards from its firing (`explain`), after Davis, TEIRESIAS.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from expert.facts import Claim
from expert.productions import Production
from knowledge.models import Conclusion


@dataclass(frozen=True)
class Firing:
    """One rule that fired.

    `from_` holds, in the order of the rule, what it rested on: a stated fact as text, a derived one as the number of
    the firing that gave it first. A fact both stated and derived counts as stated.
    `stated` are the stated facts at the root of it all; `evidence` those among them that count as evidence, which
    leaves out what only the setting of a rule (`given`) rests on.
    """

    n: int
    rule: str
    because: str
    from_: tuple[str | int, ...]
    gives: tuple[str, ...]
    source: str
    gives_conclusions: tuple[Conclusion, ...]
    stated: frozenset[Claim]
    evidence: frozenset[Claim]

    def as_json(self) -> dict[str, Any]:
        """Give the firing as the documents print it: n, rule, because, from, gives, source."""
        return {
            "n": self.n,
            "rule": self.rule,
            "because": self.because,
            "from": list(self.from_),
            "gives": list(self.gives),
            "source": self.source,
        }


def trace(stated: Collection[Claim], fired: Sequence[Production]) -> tuple[Firing, ...]:
    """Number the productions that fired, in order, and tie each to the facts and the firings it rested on."""
    firings: list[Firing] = []
    giver: dict[Claim, Firing] = {}
    for n, production in enumerate(fired, start=1):
        earlier = {claim: giver[claim] for claim in production.needs if claim not in stated}
        firing = Firing(
            n=n,
            rule=production.id,
            because=production.because,
            from_=tuple(dict.fromkeys(earlier[c].n if c in earlier else c.text for c in production.needs)),
            gives=tuple(conclusion_text(conclusion) for conclusion in production.gives),
            source=production.source,
            gives_conclusions=production.gives,
            stated=frozenset().union(*(earlier[c].stated if c in earlier else {c} for c in production.needs)),
            evidence=frozenset().union(*(earlier[c].evidence if c in earlier else {c} for c in production.when)),
        )
        firings.append(firing)
        for claim in production.adds:
            giver.setdefault(claim, firing)
    return tuple(firings)


def conclusion_text(conclusion: Conclusion) -> str:
    """Write a conclusion as the trace does: `finding:dead=present`, `hazard:fire`, `support:psu-failed:strong`."""
    text = f"{conclusion.kind.replace('_', '-')}:{conclusion.about}"
    if conclusion.finding:
        return f"{text}={conclusion.state}"
    return f"{text}:{conclusion.strength}" if conclusion.strength else text


def roots(firings: Sequence[Firing], n: int) -> frozenset[Claim]:
    """Give the stated facts that firing n rests on in the end."""
    return firings[n - 1].stated


def explain(firings: Sequence[Firing], n: int) -> tuple[Firing, ...]:
    """Give firing n and every earlier firing that it rests on, in order."""
    wanted = {n}
    for firing in reversed(firings[:n]):
        if firing.n in wanted:
            wanted |= {earlier for earlier in firing.from_ if isinstance(earlier, int)}
    return tuple(firing for firing in firings[:n] if firing.n in wanted)
