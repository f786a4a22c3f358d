"""The engine: stated facts in, numbered firings out; a pure function of the set of facts.

claims ──declare──▶ matcher ──▶ agenda (total order) ──▶ fire ──┐
                       ▲                                        │ derived facts
                       └────────────────────────────────────────┘     firings ──trace──▶ result

An experta engine with a matcher and a strategy of our own: experta's strategy loses withdrawals when four or more
activations rest on the same facts, and orders equals by object address.
"""

from bisect import bisect_left, insort
from collections.abc import Iterable, Sequence

from expert.compile import Known, compile_rules
from expert.experta_ready import Activation, Agenda, FactList, InitialFact, KnowledgeEngine, Rule, Strategy
from expert.facts import Claim
from expert.matcher import CountingMatcher
from expert.productions import Production, productions_of
from expert.trace import Firing, trace
from knowledge.models import KnowledgeBase


class PlaceStrategy(Strategy):  # type: ignore[misc]  # experta carries no types
    """A total order, so that a trace repeats byte for byte: salience, then the rule's place in the base.

    No two activations of ground rules share both, so that an activation is found, and withdrawn, exactly.
    """

    def _update_agenda(self, agenda: Agenda, added: Iterable[Activation], removed: Iterable[Activation]) -> None:
        waiting = agenda.activations  # ascending: the last one fires next
        for activation in removed:
            activation.key = self._key(activation)
            found = bisect_left(waiting, activation)
            if found < len(waiting) and waiting[found].key == activation.key:
                del waiting[found]
        for activation in added:
            activation.key = self._key(activation)
            insort(waiting, activation)

    @staticmethod
    def _key(activation: Activation) -> tuple[int, int]:
        return activation.rule.salience, -activation.rule.place


class Inference(KnowledgeEngine):  # type: ignore[misc]  # experta carries no types
    """The experta engine over a list of rules; `fired` holds the productions of this run, in order."""

    __matcher__ = CountingMatcher
    __strategy__ = PlaceStrategy

    def __init__(self, rules: Sequence[Rule]) -> None:
        self._rules = list(rules)
        self.fired: list[Production] = []
        super().__init__()

    def get_rules(self) -> list[Rule]:
        """Give the rules in the order of the base; experta would look through the members of the class."""
        return self._rules

    def reset(self) -> None:
        """Start a case without facts; experta's own reset walks over every member of the engine, each time."""
        self.agenda = Agenda()
        self.facts = FactList()
        self.facts.declare(InitialFact())
        self.matcher.reset()
        self.fired = []
        self.running = False

    def fire(self, claims: Iterable[Claim]) -> list[Production]:
        """Start anew from these facts and give the productions that fire, in order."""
        self.reset()
        # In one go: experta brings the whole agenda up to date after each declaration.
        self.declare(*(Known(claim) for claim in sorted(claims)))
        self.run()
        return self.fired


class Engine:
    """The rules of a base, compiled once and run as often as needed.

    Raises `KnowledgeError` if a rule rests on the absence of what follows from itself.
    """

    def __init__(self, base: KnowledgeBase) -> None:
        self.productions = productions_of(base)
        self._inference = Inference(compile_rules(self.productions))

    def run(self, claims: Iterable[Claim]) -> tuple[Firing, ...]:
        """Fire what follows from the claims; equal sets of claims give equal firings, whatever their order."""
        stated = frozenset(claims)
        return trace(stated, self._inference.fire(stated))
