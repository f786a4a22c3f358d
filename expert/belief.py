"""Belief in the causes: prior by complaint, weights of evidence, posterior; naive Bayes in the odds form.

A weight is the base-ten logarithm of a likelihood ratio, P(finding | cause) over one reference rate that a finding has
for all causes; the reference cancels, so that weights add and the sum is naive Bayes exactly (Good, Probability and the
Weighing of Evidence, 1950). One ledger of odds per cause, each against "not this cause", is not (Johnson 1986).
What tells the same thing counts once: in each evidence group the strongest piece for, and the strongest against.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import fsum, log10
from typing import Literal

from expert.evidence import AS_TOLD, TOLD, Doubts, Evidence, by_cause, doubt_of, evidence_of, roots_of
from expert.facts import Claim
from expert.identity import ByIdentity
from expert.trace import Firing
from knowledge.models import KnowledgeBase

CONTESTED = 0.05  # a cause that is excluded and still this likely has strong evidence on both sides (judgement)
FLOOR = 0.001  # prior of a cause that the complaint does not list: never 0, since that could not be undone
Status = Literal["open", "excluded", "confirmed"]


@dataclass(frozen=True)
class RankedCause:
    """What is believed of one cause: the sum of its weights, the pieces that counted, and every rule that spoke."""

    id: str
    title: str
    part: str
    probability: float
    status: Status
    weight: float
    counted: tuple[Evidence, ...]
    rules_for: tuple[str, ...]
    rules_against: tuple[str, ...]


@dataclass(frozen=True)
class Belief:
    """The causes, most probable first, and what the ranking rests on.

    `priors` and `posterior` hold every cause in the order of the base, each summing to 1, exclusions included; `roots`
    ties each derived fact to the stated facts that count as evidence for it; `doubts`: how sure the stated facts are.
    """

    causes: tuple[RankedCause, ...]
    priors: Mapping[str, float]
    posterior: Mapping[str, float]
    evidence: tuple[Evidence, ...]
    roots: Mapping[Claim, frozenset[Claim]]
    doubts: Doubts = field(default_factory=dict)


def believe(firings: Sequence[Firing], base: KnowledgeBase, doubts: Doubts = AS_TOLD) -> Belief:
    """Weigh everything that fired, and rank the causes of the base; `doubts` as in `evidence.doubt_of`."""
    roots = roots_of(firings)
    evidence = evidence_of(firings, base, doubts)
    complaints = {claim.id: doubt_of(facts, doubts) for claim, facts in roots.items() if claim.kind == "complaint"}
    priors = doubted_priors(base, complaints)
    return Belief(rank(base, priors, evidence), priors, posterior(priors, evidence), evidence, roots, doubts)


def counted(evidence: Iterable[Evidence]) -> dict[str, tuple[Evidence, ...]]:
    """Give for each cause the pieces that count, strongest first.

    A piece counts only if no stronger one of the same sign shares a group with it; ties go by the id of the rule.
    Three tellings of one fact count once: (weight 1, {"smell"}) three times is weight 1.
    """
    pieces = by_cause(evidence)
    return {cause: kept for cause in sorted(pieces) if (kept := _strongest(pieces[cause]))}


# The planner asks for the same few hundred sets again and again: each is weighed once.
@lru_cache(maxsize=50_000)
def _strongest(pieces: tuple[Evidence, ...]) -> tuple[Evidence, ...]:
    """Give the pieces of one cause that count, strongest first."""
    kept: list[Evidence] = []
    used: set[tuple[bool, str]] = set()
    for piece in sorted(pieces, key=lambda e: (-abs(e.weight), e.rule, sorted(e.groups), e.weight, e.kind)):
        places = {(piece.weight > 0, group) for group in piece.groups or {f"rule {piece.rule}"}}
        if piece.weight and used.isdisjoint(places):
            used |= places
            kept.append(piece)
    return tuple(kept)


def combine(evidence: Iterable[Evidence]) -> dict[str, float]:
    """Give the sum of the counted weights for each cause that has any."""
    return {cause: weight_of(pieces) for cause, pieces in counted(evidence).items()}


@lru_cache(maxsize=50_000)
def weight_of(pieces: tuple[Evidence, ...]) -> float:
    """Give the sum of the weights that count among the pieces of one cause."""
    return fsum(piece.weight for piece in _strongest(pieces))


def posterior(priors: Mapping[str, float], evidence: Iterable[Evidence]) -> dict[str, float]:
    """Give p(cause) in proportion to prior times 10 ** weight, summing to 1; no cause falls out by underflow of all.

    A cause with evidence but without a prior has the floor.
    """
    weights = combine(evidence)
    causes = dict.fromkeys((*priors, *weights))
    scores = {cause: log10(priors.get(cause) or FLOOR) + weights.get(cause, 0.0) for cause in causes}
    peak = max(scores.values(), default=0.0)
    shares = {cause: 10.0 ** (score - peak) for cause, score in scores.items()}
    total = fsum(shares.values())
    return {cause: share / total for cause, share in shares.items()}


def priors_of(base: KnowledgeBase, complaints: Collection[str]) -> dict[str, float]:
    """Give the prior of every cause of the base, summing to 1: of the first complaint of the base that applies.

    Where none is known, the mixture of all complaints by their share of the work.
    """
    return dict(_priors(ByIdentity(base), frozenset(complaints)))


def doubted_priors(base: KnowledgeBase, complaints: Mapping[str, float]) -> dict[str, float]:
    """Give the priors where each complaint may not be so: `complaints` gives how likely, by id.

    Those of the first that applies, and in the measure of its doubt those of what is left without it; a guess at what
    is wrong does not choose the causes alone.
    """
    first = next((complaint.id for complaint in base.complaints if complaint.id in complaints), None)
    sure = priors_of(base, complaints)
    doubt = complaints[first] if first else 0.0
    if doubt <= TOLD:
        return sure
    rest = doubted_priors(base, {other: its for other, its in complaints.items() if other != first})
    return {cause: (1.0 - doubt) * share + doubt * rest[cause] for cause, share in sure.items()}


@lru_cache(maxsize=40)
def _priors(key: ByIdentity, complaints: frozenset[str]) -> dict[str, float]:
    base = key.base
    applying = [complaint for complaint in base.complaints if complaint.id in complaints][:1]
    mixture = dict.fromkeys((cause.id for cause in base.causes), 0.0)
    for complaint in applying or base.complaints:
        rows = {cause: complaint.priors.get(cause, (0.0, "C"))[0] or FLOOR for cause in mixture}
        total = fsum(rows.values())
        for cause, row in rows.items():
            mixture[cause] += (1.0 if applying else complaint.share) * row / total
    if not base.complaints:
        mixture = dict.fromkeys(mixture, 1.0)
    total = fsum(mixture.values())
    return {cause: share / total for cause, share in mixture.items()}


def listed_causes(base: KnowledgeBase, complaints: Collection[str]) -> frozenset[str]:
    """Give the causes that can show as the complaint that applies, by its list; every cause where none is known."""
    applying = [complaint for complaint in base.complaints if complaint.id in complaints][:1]
    return frozenset(applying[0].priors if applying else (cause.id for cause in base.causes))


def rank(base: KnowledgeBase, priors: Mapping[str, float], evidence: Sequence[Evidence]) -> tuple[RankedCause, ...]:
    """Rank the causes of the base, most probable first, ties in its order.

    The probabilities of the open and confirmed ones sum to 1; an excluded one shows what is left of it, on that scale.
    """
    shares, pieces = posterior(priors, evidence), counted(evidence)
    statuses = _statuses(evidence, shares)
    scale = fsum(share for cause, share in shares.items() if statuses.get(cause) != "excluded") or 1.0
    ranked = (
        RankedCause(
            id=cause.id,
            title=cause.title,
            part=cause.part,
            probability=shares[cause.id] / scale,
            status=statuses.get(cause.id, "open"),
            weight=fsum(piece.weight for piece in pieces.get(cause.id, ())),
            counted=pieces.get(cause.id, ()),
            rules_for=tuple(dict.fromkeys(e.rule for e in evidence if e.cause == cause.id and e.weight > 0)),
            rules_against=tuple(dict.fromkeys(e.rule for e in evidence if e.cause == cause.id and e.weight < 0)),
        )
        for cause in base.causes
    )
    return tuple(sorted(ranked, key=lambda cause: -cause.probability))


def _statuses(evidence: Iterable[Evidence], shares: Mapping[str, float]) -> dict[str, Status]:
    """Give the causes that are excluded or confirmed; a contradiction stays open.

    That is one that is both, and one that is excluded while the rest of the evidence speaks for it as strongly.
    """
    kinds: dict[str, set[str]] = {}
    for piece in evidence:
        if piece.kind != "weigh":
            kinds.setdefault(piece.cause, set()).add(piece.kind)
    excluded = {cause for cause, found in kinds.items() if found == {"exclude"} and shares[cause] <= CONTESTED}
    confirmed = {cause for cause, found in kinds.items() if found == {"confirm"}}
    return {**dict.fromkeys(excluded, "excluded"), **dict.fromkeys(confirmed, "confirmed")}
