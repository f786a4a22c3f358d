"""From the state of a case to everything that follows from it: one pure function, `Expert.assess`.

case ──claims──▶ engine ──firings──▶ stage, hazards, evidence ──▶ belief ──▶ plan of checks and questions
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from expert.belief import Belief, believe
from expert.case import Case
from expert.engine import Engine
from expert.evidence import HEDGED, PROPOSED, TOLD, Doubts
from expert.experience import learned
from expert.facts import Claim, claims_of, outcome_of
from expert.planner import CheckPlan, QuestionPlan, rank_checks, rank_questions
from expert.trace import Firing
from knowledge.models import Hazard, KnowledgeBase

LEVELS = ("stop", "caution", "notice")
DOUBT = {"stated": TOLD, "hedged": HEDGED, "proposed": PROPOSED}


@dataclass(frozen=True)
class RaisedHazard:
    """A hazard that is raised and not lifted, and the rules that raised it."""

    hazard: Hazard
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Confirmation:
    """A question to the owner whether what was only proposed is so."""

    finding: str
    state: str
    question: str
    doubt: float


@dataclass(frozen=True)
class Assessment:
    """What follows from a case: how far it gets, what is dangerous, what is likely, what to do next."""

    claims: frozenset[Claim]
    firings: tuple[Firing, ...]
    reached: str | None
    fails_at: str | None
    hazards: tuple[RaisedHazard, ...]
    belief: Belief
    checks: tuple[CheckPlan, ...]
    questions: tuple[QuestionPlan, ...]
    confirmations: tuple[Confirmation, ...]


class Expert:
    """A base made ready: its rules compiled once; a pure function of each case."""

    def __init__(self, base: KnowledgeBase) -> None:
        self.base = base
        self._engine = Engine(base)

    def assess(self, case: Case) -> Assessment:
        """Draw every conclusion from the state of a case; equal cases give equal assessments."""
        claims = claims_of_case(case)
        firings = self._engine.run(claims)
        hazards = raised_hazards(firings, self.base)
        base = learned(self.base, case.experience)
        belief = believe(firings, base, doubts_of_case(case))
        held = claims | belief.roots.keys()
        risks, locks = restrictions(hazards, firings)
        tempting = _tempting(base, risks)
        reached, fails_at = stage(firings, self.base)
        return Assessment(
            claims=claims,
            firings=firings,
            reached=reached,
            fails_at=fails_at,
            hazards=hazards,
            belief=belief,
            checks=rank_checks(base, belief, held, case.have, risks, locks),
            questions=tuple(
                plan for plan in rank_questions(base, belief, held, firings, case.asked) if plan.id not in tempting
            ),
            confirmations=tuple(_confirmations(base, case)),
        )


def _confirmations(base: KnowledgeBase, case: Case) -> Iterator[Confirmation]:
    said = {finding.id: {"present": finding.present, "absent": finding.absent} for finding in base.findings}
    for told in case.findings:
        if told.certainty == "proposed":
            question = f"“{told.quote}”: does that mean that {said[told.id][told.state]}?"
            yield Confirmation(told.id, told.state, question, told.doubt or PROPOSED)


def _tempting(base: KnowledgeBase, risks: Mapping[str, str]) -> frozenset[str]:
    """Give the questions that would have somebody try what a hazard forbids, such as a look with the plug in."""
    return frozenset(question.id for question in base.questions if set(question.risks) & risks.keys())


def claims_of_case(case: Case) -> frozenset[Claim]:
    """Give the stated facts of a case: what was told, measured and checked."""
    told = [claim for finding in case.findings for claim in claims_of(finding.id, finding.state, finding.detail)]
    return frozenset(told) | {outcome_of(entry.check, entry.outcome) for entry in case.outcomes}


def doubts_of_case(case: Case) -> Doubts:
    """Give the findings of a case that are surer than an owner's word, measured or seen at the bench, or less sure.

    A finding told several times, of several parts, is as sure as the surest telling.
    """
    doubts: dict[Claim, float] = {}
    for told in case.findings:
        doubt = 0.0 if told.id in case.seen else told.doubt or DOUBT[told.certainty]
        for claim in claims_of(told.id, told.state, told.detail):
            doubts[claim] = min(doubt, doubts.get(claim, doubt))
    return doubts


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


def restrictions(hazards: Sequence[RaisedHazard], firings: Sequence[Firing]) -> tuple[dict[str, str], dict[str, str]]:
    """Give what may not be done, with the worst hazard behind it, and the checks that a rule locks, with the rule."""
    # What comes first is named, so it is written last.
    risks: dict[str, str] = {risk: raised.hazard.id for raised in reversed(hazards) for risk in raised.hazard.locks}
    locks = {gives.about: f.rule for f in reversed(firings) for gives in f.gives_conclusions if gives.lock}
    return risks, locks


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
