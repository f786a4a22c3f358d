"""Reference engines for the same productions: CLIPS (6.4, by clipspy), and clingo, which needs no strata at all.

CLIPS is driven with the saliences of our strata; clingo computes the stable models of the rules as a logic program, of
which a stratified one has exactly one (Gelfond & Lifschitz, The Stable Model Semantics for Logic Programming, 1988).
"""

from collections.abc import Iterable, Sequence

import clingo
import clips

from expert.facts import Claim, concluded
from expert.productions import Production
from expert.strata import strata
from expert.trace import Firing

# The ids of the rules that fired, and all facts that hold in the end.
Result = tuple[frozenset[str], frozenset[Claim]]


def result_of(firings: Sequence[Firing], stated: Iterable[Claim]) -> Result:
    """Give what our engine concluded, read from its trace alone."""
    given = {concluded(conclusion) for firing in firings for conclusion in firing.gives_conclusions}
    return frozenset(firing.rule for firing in firings), frozenset({*stated, *given} - {None})


class Clips:
    """The productions as CLIPS rules on one template."""

    def __init__(self, productions: Sequence[Production]) -> None:
        self._ids = [production.id for production in productions]
        self._environment = clips.Environment()
        self._environment.build("(deftemplate known (slot kind) (slot id) (slot value))")
        for place, (production, stratum) in enumerate(zip(productions, strata(productions), strict=True)):
            self._environment.build(self._rule(place, production, stratum))
        self._template = self._environment.find_template("known")

    @classmethod
    def _rule(cls, place: int, production: Production, stratum: int) -> str:
        needs = [cls._pattern(claim) for claim in production.needs]
        bars = [f"(not {cls._pattern(claim)})" for claim in production.unless]
        adds = [f"(assert {cls._pattern(claim)})" for claim in production.adds]
        salience = f"(declare (salience {-stratum}))"
        right = [f"(assert (fired {place}))", *adds]
        return f"(defrule r{place} {salience} {' '.join(needs + bars)} => {' '.join(right)})"

    @staticmethod
    def _pattern(claim: Claim) -> str:
        return f'(known (kind "{claim.kind}") (id "{claim.id}") (value "{claim.value}"))'

    def run(self, stated: Iterable[Claim]) -> None:
        """Reset, assert the facts and run; the result stays in the environment."""
        self._environment.reset()
        for claim in stated:
            self._template.assert_fact(kind=claim.kind, id=claim.id, value=claim.value)
        self._environment.run()

    def result(self, stated: Iterable[Claim]) -> Result:
        """Run, and read what fired and what holds."""
        self.run(stated)
        fired, known = set(), set()
        for fact in self._environment.facts():
            if fact.template.name == "fired":
                fired.add(self._ids[fact[0]])
            else:
                known.add(Claim(fact["kind"], fact["id"], fact["value"]))
        return frozenset(fired), frozenset(known)


class Clingo:
    """The productions as one logic program, without strata."""

    def __init__(self, productions: Sequence[Production]) -> None:
        self._ids = [production.id for production in productions]
        every = [claim for p in productions for claim in (*p.needs, *p.unless, *p.adds)]
        self._number = {claim: number for number, claim in enumerate(dict.fromkeys(every))}
        self._claims = list(self._number)
        lines = [f"#external stated({n}). known({n}) :- stated({n})." for n in self._number.values()]
        for place, production in enumerate(productions):
            body = [f"known({self._number[claim]})" for claim in production.needs]
            body += [f"not known({self._number[claim]})" for claim in production.unless]
            lines.append(f"fired({place}) :- {', '.join(body)}.")
            lines += [f"known({self._number[claim]}) :- fired({place})." for claim in production.adds]
        self._control = clingo.Control(["0", "--warn=none"])
        self._control.add("base", [], "\n".join(lines))
        self._control.ground([("base", [])])

    def results(self, stated: frozenset[Claim]) -> list[Result]:
        """Give what fired and what holds in each stable model."""
        for claim, number in self._number.items():
            atom = clingo.Function("stated", [clingo.Number(number)])
            self._control.assign_external(atom, claim in stated)
        results: list[Result] = []
        with self._control.solve(yield_=True) as models:
            results += [self._read(model, stated) for model in models]
        return results

    def _read(self, model: clingo.Model, stated: frozenset[Claim]) -> Result:
        numbers: dict[str, set[int]] = {"fired": set(), "known": set(), "stated": set()}
        for atom in model.symbols(atoms=True):
            numbers[atom.name].add(atom.arguments[0].number)
        known = {self._claims[number] for number in numbers["known"]}
        return frozenset(self._ids[place] for place in numbers["fired"]), frozenset(known | stated)
