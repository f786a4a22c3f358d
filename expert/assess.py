"""From the state of a case to everything that follows from it: one pure function, `Expert.assess`.

case ──claims──▶ engine ──firings──▶ stage, hazards, evidence ──▶ belief ──▶ plan of checks and questions
"""

from collections.abc import Sequence
from dataclasses import dataclass

from expert.belief import Belief, beliefs, priors_of
from expert.case import Case
from expert.engine import Engine
from expert.evidence import situation_of
from expert.facts import Claim, claims_of, outcome_of
from expert.planner import Inquiry, Plan, Planner
from expert.trace import Firing
from knowledge.models import Hazard, KnowledgeBase

LEVELS = ("stop", "caution", "notice")


@dataclass(frozen=True)
class RaisedHazard:
    """A hazard that is raised and not lifted, and the rules that raised it."""

    hazard: Hazard
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Assessment:
    """What follows from a case: how far it gets, what is dangerous, what is likely, what to do next."""

    claims: frozenset[Claim]
    firings: tuple[Firing, ...]
    reached: str | None
    fails_at: str | None
    hazards: tuple[RaisedHazard, ...]
    causes: tuple[Belief, ...]
    checks: tuple[Plan, ...]
    questions: tuple[Inquiry, ...]


class Expert:
    """A base made ready: rules compiled, planner prepared; a pure function of each case."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        self._engine = Engine(base)
        self._planner = Planner(base)

    def assess(self, case: Case) -> Assessment:
        """Draw every conclusion from the state of a case; equal cases give equal assessments."""
        claims = claims_of_case(case)
        firings = self._engine.run(claims)
        situation = situation_of(self.base, claims, firings, case.have or None)
        reached, fails_at = stage(firings, self.base)
        return Assessment(
            claims=claims,
            firings=firings,
            reached=reached,
            fails_at=fails_at,
            hazards=raised_hazards(firings, self.base),
            causes=beliefs(priors_of(self.base, situation.ids("complaint")), situation.evidence),
            checks=self._planner.rank_checks(situation),
            questions=self._planner.rank_questions(situation),
        )


def claims_of_case(case: Case) -> frozenset[Claim]:
    """Give the stated facts of a case: what was told, measured and checked."""
    told = [claim for finding in case.findings for claim in claims_of(finding.id, finding.state, finding.detail)]
    return frozenset(told) | {outcome_of(entry.check, entry.outcome) for entry in case.outcomes}


def raised_hazards(firings: Sequence[Firing], base: KnowledgeBase) -> tuple[RaisedHazard, ...]:
    """Give the hazards that are raised and not lifted, worst first, then in the order of the base."""
    lifted = {g.about for f in firings for g in f.gives_conclusions if g.kind == "lift"}
    rules: dict[str, list[str]] = {}
    for firing in firings:
        for gives in firing.gives_conclusions:
            if gives.kind == "hazard":
                rules.setdefault(gives.about, []).append(firing.rule)
    raised = [RaisedHazard(h, tuple(rules[h.id])) for h in base.hazards if h.id in rules and h.id not in lifted]
    return tuple(sorted(raised, key=lambda r: LEVELS.index(r.hazard.level)))


def stage(firings: Sequence[Firing], base: KnowledgeBase) -> tuple[str | None, str | None]:
    """Give the last rung known to be reached and the rung at which it fails.

    It fails at the lowest rung that is said to fail; only rungs below that one count as reached.
    """
    order = [rung.id for rung in base.stages]
    said = [gives for firing in firings for gives in firing.gives_conclusions]
    failing = min((order.index(g.about) for g in said if g.kind == "fails_at"), default=None)
    below = len(order) if failing is None else failing
    reached = max((i for g in said if g.kind == "reached" and (i := order.index(g.about)) < below), default=None)
    return (None if reached is None else order[reached]), (None if failing is None else order[failing])
