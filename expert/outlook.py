"""What one more fact would make of a belief: its likelihood for each cause, and which cause leads after it.

The likelihoods are those that the evidence would bring once the fact is there, so that what was told already counts
once, and so that a rule and a check that say the same do not count twice.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log10

from expert.belief import Belief, combine, priors_of, weight_of
from expert.evidence import Forecast, Forecasted, by_cause, clip
from expert.facts import Claim
from expert.identity import ByIdentity
from expert.lookahead import Ahead, look_ahead
from expert.repair_cost import Remedies
from knowledge.models import KnowledgeBase

SERVICE_MINUTES = 240.0  # handing the machine on: half a day of the owner's and the bench's time (judgement)


@dataclass(frozen=True)
class Prediction:
    """An outcome (or an answer): how likely it is, and the cause that leads after it."""

    outcome: str
    probability: float
    leader: str
    leader_probability: float


class Outlook:
    """The belief at one moment, and what one more fact would make of it."""

    def __init__(self, base: KnowledgeBase, belief: Belief, held: Collection[Claim]) -> None:
        self.base = base
        self.titles = {cause.id: cause.title for cause in base.causes}
        self._places = {cause: place for place, cause in enumerate(self.titles)}
        self.findings = {finding.id: finding for finding in base.findings}
        self.levels = {hazard.id: hazard.level for hazard in base.hazards}
        self.now = tuple(belief.posterior[cause] for cause in self.titles)
        self.remedies = Remedies.of([(c.remedy, c.minutes) for c in base.causes], SERVICE_MINUTES)
        self.cost = self.remedies.cost(self.now)
        done = {claim.id for claim in held if claim.kind == "outcome"}
        self.setups = {setup for check in base.checks if check.id in done for setup in check.setup}
        self.forecast = _forecast(ByIdentity(base))
        self._known = {claim: belief.roots.get(claim, frozenset({claim})) for claim in held}
        self._complaints = {claim.id for claim in held if claim.kind == "complaint"}
        self._priors = belief.priors
        self._doubts = belief.doubts
        self._told = by_cause(belief.evidence)
        self._weights = combine(belief.evidence)

    def after(self, claim: Claim) -> Forecasted:
        """Give what one more fact would set off."""
        return self.forecast.after(self._known, claim, self._doubts)

    def likelihoods(self, after: Forecasted, reference: float, limits: tuple[float, float]) -> list[float]:
        """Give P(fact | cause) for each cause: the reference rate times the ratio that the fact would bring."""
        reference = clip(reference, limits)
        row = [reference] * len(self._places)
        least, most = limits
        for cause, shift in self._shifts(after).items():
            likely = reference * 10.0**shift
            row[self._places[cause]] = least if likely < least else min(likely, most)
        return row

    def _shifts(self, after: Forecasted) -> dict[str, float]:
        """Give how much each cause's score would change (log10), without what is told already."""
        shifts = {
            cause: weight_of(self._told.get(cause, ()) + pieces) - self._weights.get(cause, 0.0)
            for cause, pieces in after.by_cause.items()
        }
        if complaints := {claim.id for claim in after.claims if claim.kind == "complaint"}:
            priors = priors_of(self.base, self._complaints | complaints)
            for cause, prior in priors.items():
                shifts[cause] = shifts.get(cause, 0.0) + log10(prior / self._priors[cause])
        return shifts

    def look_ahead(self, steps: Sequence[Sequence[Sequence[float]]]) -> tuple[Ahead, ...]:
        """Give what each step would bring, from the likelihoods of its outcomes."""
        return look_ahead(self.now, self.remedies, steps)

    def predict(self, ids: Sequence[str], ahead: Ahead) -> tuple[Prediction, ...]:
        """Name the outcomes of a step and the leading cause after each."""
        causes = tuple(self.titles)
        found = zip(ids, ahead.chances, ahead.leaders, ahead.shares, strict=True)
        return tuple(Prediction(outcome, chance, causes[leader], share) for outcome, chance, leader, share in found)


@lru_cache(maxsize=4)
def _forecast(key: ByIdentity) -> Forecast:
    """Prepare the forecast of a base once: it takes as long as ranking all the checks."""
    return Forecast(key.base)
