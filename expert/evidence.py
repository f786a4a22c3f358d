"""Evidence from what fired, and from what would fire: rules name a grade, checks give likelihoods, both become weights.

firings ──Weigher──▶ evidence          one more fact ──Forecast──▶ the evidence and the facts that it would bring
"""

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import log10
from typing import Literal, NamedTuple

from expert.facts import Claim, concluded
from expert.identity import ByIdentity
from expert.productions import Production, productions_of
from expert.trace import Firing
from knowledge.models import Conclusion, KnowledgeBase, Outcome

LIKELIHOODS = (0.005, 0.995)  # a check can be misread: no outcome proves or rules out a cause for good
EXCLUDED = "decisive"  # the grade of an exclusion that names none
CONFIRMED = "proven"
MOST_WEIGHED = 50_000  # what a rule weighs on the same facts is kept: the planner asks a few hundred times a step

# How often a stated fact is wrong (judgement): an owner's word goes no further than a check does, and a word told with
# doubt much less far. The rate at which the planner takes owners to err did worse: the grades allow for some of it.
TOLD = LIKELIHOODS[0]
HEDGED = 0.15  # three "probably" in twenty are not so (judgement)
PROPOSED = 0.3  # what a model takes the words for, where a log of old does not tell how sure it was (judgement)
Doubts = Mapping[Claim, float]
AS_TOLD: Doubts = {}

# The facts that hold, each with the stated facts at its root that count as evidence.
Known = Mapping[Claim, frozenset[Claim]]


class Evidence(NamedTuple):
    """A weight (log10 of a likelihood ratio, signed) that a rule gives a cause, and the evidence groups it rests on."""

    cause: str
    weight: float
    groups: frozenset[str]
    rule: str
    kind: Literal["weigh", "exclude", "confirm"] = "weigh"


def clip(probability: float, limits: tuple[float, float] = LIKELIHOODS) -> float:
    """Keep a probability off 0 and 1."""
    return min(max(probability, limits[0]), limits[1])


def doubt_of(roots: Iterable[Claim], doubts: Doubts) -> float:
    """Give how doubtful the least sure of these stated facts is; how sure a check is stands in its own table.

    `doubts` holds the facts of a case that are surer, or less sure, than what an owner tells.
    """
    return max((doubts.get(claim, TOLD) for claim in roots if claim.kind in ("finding", "detail")), default=0.0)


def doubted(weight: float, doubt: float) -> float:
    """Give what a weight comes to if the fact behind it is wrong with the probability `doubt`, below a half.

    Soft evidence (Pearl 1988, section 2.2.2; Jeffrey 1965): the probability P that the weight gives to an even question
    becomes (1 - doubt) P + doubt (1 - P). Nothing stays nothing, and no ratio comes above (1 - doubt) / doubt.
    Example: weight 2 (100 to 1) at a doubt of .02 is log10(98.02 / 2.98) = 1.517; the most there is log10(49) = 1.690.
    """
    with_it = 10.0 ** abs(weight)
    ratio = ((1.0 - doubt) * with_it + doubt) / (doubt * with_it + 1.0 - doubt)
    return log10(ratio) if weight > 0 else -log10(ratio)


class Weigher:
    """The numbers of a base behind the conclusions: grades, likelihoods of outcomes, and evidence groups."""

    def __init__(self, base: KnowledgeBase) -> None:
        self._grades = {strength.id: strength.log10_ratio for strength in base.strengths}
        self._findings = {finding.id: finding.evidence_group for finding in base.findings}
        self._checks = {
            check.id: frozenset(self._findings.get(finding, finding) for finding in check.settled_by) or {check.id}
            for check in base.checks
        }
        self._outcomes = {f"{check.id}/{outcome.id}": outcome for check in base.checks for outcome in check.outcomes}
        self._weighed: dict[tuple[str, frozenset[Claim], float], tuple[Evidence, ...]] = {}
        self._named = {check.id: frozenset(c for o in check.outcomes for c in o.likely) for check in base.checks}

    def weigh(
        self, rule: str, gives: Sequence[Conclusion], roots: Iterable[Claim], doubts: Doubts
    ) -> tuple[Evidence, ...]:
        """Give the evidence of a rule, or of an outcome `check/outcome`, that rests on these stated facts.

        A rule that rests on outcomes alone tells of a cause nothing that the table of the check does not tell already,
        and in finer numbers: there its support is left to the table. What it excludes or confirms still stands.
        """
        facts = frozenset(roots)
        key = rule, facts, doubt_of(facts, doubts)
        if key not in self._weighed:
            if len(self._weighed) >= MOST_WEIGHED:
                self._weighed.clear()
            self._weighed[key] = self._weigh(rule, gives, *key[1:])
        return self._weighed[key]

    def _weigh(
        self, rule: str, gives: Sequence[Conclusion], roots: frozenset[Claim], doubt: float
    ) -> tuple[Evidence, ...]:
        groups = self.groups(roots) or frozenset({rule})
        said = [piece for conclusion in gives if (piece := self._of_conclusion(rule, conclusion, groups))]
        pieces = [piece._replace(weight=doubted(piece.weight, doubt)) for piece in said]
        if outcome := self._outcomes.get(rule):
            return (*pieces, *_of_outcome(rule, outcome, groups))
        told = self._told_by_tables(roots)
        return tuple(piece for piece in pieces if piece.kind != "weigh" or piece.cause not in told)

    def _told_by_tables(self, roots: frozenset[Claim]) -> frozenset[str]:
        """Give the causes that the tables of the checks name, if all these facts are outcomes; else none."""
        if any(claim.kind != "outcome" for claim in roots):
            return frozenset()
        return frozenset().union(*(self._named.get(claim.id, frozenset()) for claim in roots))

    def groups(self, roots: Iterable[Claim]) -> frozenset[str]:
        """Give the evidence groups of stated facts; a check that settles findings tells what they tell."""
        return frozenset(group for claim in roots for group in self._groups_of(claim))

    def _groups_of(self, claim: Claim) -> Iterable[str]:
        if claim.kind == "outcome":
            return self._checks.get(claim.id, {claim.id})
        return (self._findings.get(claim.id, claim.id) if claim.kind in ("finding", "detail") else claim.text,)

    def _of_conclusion(self, rule: str, gives: Conclusion, groups: frozenset[str]) -> Evidence | None:
        if gives.confirm:
            return Evidence(gives.confirm, self._grades[CONFIRMED], groups, rule, "confirm")
        if gives.exclude:
            return Evidence(gives.exclude, -self._grades[gives.strength or EXCLUDED], groups, rule, "exclude")
        if gives.support:
            return Evidence(gives.support, self._grades[str(gives.strength)], groups, rule)
        if gives.weaken:
            return Evidence(gives.weaken, -self._grades[str(gives.strength)], groups, rule)
        return None


def weigher_of(base: KnowledgeBase) -> Weigher:
    """Give the weigher of a base, made once for each base."""
    return _weigher(ByIdentity(base))


@lru_cache(maxsize=4)
def _weigher(key: ByIdentity) -> Weigher:
    return Weigher(key.base)


def _of_outcome(rule: str, outcome: Outcome, groups: frozenset[str]) -> list[Evidence]:
    """Weigh each named cause against every other cause, whose likelihood is the shared reference."""
    reference = clip(outcome.otherwise)
    weights = {cause: log10(clip(likely) / reference) for cause, likely in outcome.likely.items()}
    return [Evidence(cause, weight, groups, rule) for cause, weight in weights.items() if weight]


def evidence_of(firings: Iterable[Firing], base: KnowledgeBase, doubts: Doubts = AS_TOLD) -> tuple[Evidence, ...]:
    """Give the evidence of everything that fired, in order."""
    weigher = weigher_of(base)
    return tuple(e for f in firings for e in weigher.weigh(f.rule, f.gives_conclusions, f.evidence, doubts))


def roots_of(firings: Iterable[Firing]) -> dict[Claim, frozenset[Claim]]:
    """Give the derived facts, each with the stated facts that count as evidence for it (of its first firing)."""
    roots: dict[Claim, frozenset[Claim]] = {}
    for firing in firings:
        for conclusion in firing.gives_conclusions:
            if claim := concluded(conclusion):
                roots.setdefault(claim, firing.evidence)
    return roots


@dataclass(frozen=True)
class Forecasted:
    """What one more fact would bring: facts (itself first) and evidence."""

    claims: tuple[Claim, ...] = ()
    evidence: tuple[Evidence, ...] = ()

    @cached_property
    def by_cause(self) -> Mapping[str, tuple[Evidence, ...]]:
        """The evidence for and against each cause."""
        return by_cause(self.evidence)


def by_cause(evidence: Iterable[Evidence]) -> dict[str, tuple[Evidence, ...]]:
    """Sort evidence by the cause that it speaks of, each in the order given."""
    pieces: dict[str, list[Evidence]] = {}
    for piece in evidence:
        pieces.setdefault(piece.cause, []).append(piece)
    return {cause: tuple(found) for cause, found in pieces.items()}


class Forecast:
    """The productions of a base by the facts they need, to tell what one more fact would set off.

    It follows chains, but does not withdraw: a rule that has fired and that the new fact would forbid keeps its
    evidence. The engine, run with the answer, has the last word.
    """

    def __init__(self, base: KnowledgeBase) -> None:
        self.productions = productions_of(base)
        self._weigher = weigher_of(base)
        self.needing: dict[Claim, list[Production]] = {}
        for production in self.productions:
            for claim in production.needs:
                self.needing.setdefault(claim, []).append(production)
        self._touched: dict[Claim, frozenset[Claim]] = {}
        self._by_itself: dict[Claim, Forecasted] = {}

    def after(self, known: Known, claim: Claim, doubts: Doubts = AS_TOLD) -> Forecasted:
        """Give what would follow if `claim` held as well, with everything else as it is.

        Five in six facts touch nothing that is known, and bring what they bring by themselves: that is kept.
        """
        if claim in known:
            return Forecasted()
        if claim not in self._touched:
            self._touched[claim] = self._touches(claim)
            self._by_itself[claim] = self._follow({}, claim, AS_TOLD)
        if self._touched[claim].isdisjoint(known):
            return self._by_itself[claim]
        return self._follow(known, claim, doubts)

    def _touches(self, claim: Claim) -> frozenset[Claim]:
        """Give every other fact that could change what follows from this one."""
        reached, touched, waiting = {claim}, set[Claim](), deque([claim])
        while waiting:
            for production in self.needing.get(waiting.popleft(), ()):
                touched.update(production.needs, production.unless, production.adds)
                fresh = [fact for fact in production.adds if fact not in reached]
                reached.update(fresh)
                waiting.extend(fresh)
        return frozenset(touched - {claim})

    def _follow(self, known: Known, claim: Claim, doubts: Doubts) -> Forecasted:
        added = {claim: frozenset({claim})}
        evidence: dict[str, tuple[Evidence, ...]] = {}
        waiting = deque([claim])
        while waiting:
            for production in self.needing.get(waiting.popleft(), ()):
                if production.id in evidence or not _fires(production, known, added):
                    continue
                roots = frozenset().union(*(added[c] if c in added else known[c] for c in production.when))
                evidence[production.id] = self._weigher.weigh(production.id, production.gives, roots, doubts)
                fresh = [c for c in production.adds if c not in known and c not in added]
                added |= dict.fromkeys(fresh, roots)
                waiting.extend(fresh)
        return Forecasted(tuple(added), tuple(piece for pieces in evidence.values() for piece in pieces))


def _fires(production: Production, known: Known, added: Known) -> bool:
    # Written out: it is asked some seven hundred times at each answer.
    for claim in production.needs:
        if claim not in known and claim not in added:
            return False
    for claim in production.unless:  # noqa: SIM110
        if claim in known or claim in added:
            return False
    return True
