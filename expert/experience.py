"""What a shop's own closed cases teach: counts of confirmed causes on top of the priors of the base.

The priors of a complaint are a Dirichlet distribution worth `firmness` closed cases; each case closed here with a
confirmed cause adds one to its cause. The new prior is the mean of the new distribution (Gelman et al., Bayesian Data
Analysis, 3rd ed. 2013, section 3.4): (firmness * p + n) / (firmness + N).
A base that gives 3 to 1 for two causes and is worth 4 cases, after 4 cases of the second: 3 to 5.
The counts stand in the log of each case that they influence, so that no old case changes.
"""

from collections.abc import Mapping
from functools import lru_cache
from math import fsum

from expert.belief import FLOOR
from expert.case import ExperienceEntry
from expert.identity import ByIdentity
from knowledge.models import Complaint, KnowledgeBase

Counts = tuple[tuple[str, tuple[tuple[str, int], ...]], ...]


def experience_of(confirmed: Mapping[tuple[str, str], int]) -> ExperienceEntry | None:
    """Give the counts of closed cases, by complaint and cause, as the entry of a new case; None if there are none."""
    counts: dict[str, dict[str, int]] = {}
    for (complaint, cause), count in sorted(confirmed.items()):
        if count > 0:
            counts.setdefault(complaint, {})[cause] = count
    return ExperienceEntry(counts=counts) if counts else None


def cases_behind(experience: ExperienceEntry | None, complaint: str | None = None) -> int:
    """Give the number of closed cases behind the counts, of one complaint or of all."""
    rows = experience.counts.items() if experience else ()
    return sum(sum(causes.values()) for name, causes in rows if complaint in (None, name))


def tell_experience(experience: ExperienceEntry | None) -> str:
    """Say in a few words what the priors rest on; empty if on the base alone."""
    count = cases_behind(experience)
    return f"priors from the base and from {count} closed case{'s' if count > 1 else ''} here" if count else ""


def learned(base: KnowledgeBase, experience: ExperienceEntry | None) -> KnowledgeBase:
    """Give the base with the priors that the counts lead to; the very same object for the same counts.

    Counts of complaints and causes that the base does not have are left out.
    """
    if not experience:
        return base
    causes = {cause.id for cause in base.causes}
    complaints = {complaint.id for complaint in base.complaints}
    counts = tuple(
        (complaint, rows)
        for complaint, found in sorted(experience.counts.items())
        if complaint in complaints
        and (rows := tuple((c, n) for c, n in sorted(found.items()) if c in causes and n > 0))
    )
    return _learned(ByIdentity(base), counts) if counts else base


@lru_cache(maxsize=16)
def _learned(key: ByIdentity, counts: Counts) -> KnowledgeBase:
    seen = {complaint: dict(rows) for complaint, rows in counts}
    causes = [cause.id for cause in key.base.causes]
    complaints = tuple(_taught(complaint, seen.get(complaint.id, {}), causes) for complaint in key.base.complaints)
    return key.base.model_copy(update={"complaints": complaints})


def _taught(complaint: Complaint, seen: Mapping[str, int], causes: list[str]) -> Complaint:
    """Add the counts to the weights of a complaint, on the scale of its weights, whose sum is worth its firmness.

    A cause that is neither listed nor seen stays unlisted: the belief gives it the same floor as before.
    """
    if not seen:
        return complaint
    weights = {cause: complaint.priors.get(cause, (0.0, "C"))[0] or FLOOR for cause in causes}
    case = fsum(weights.values()) / complaint.firmness  # what one closed case weighs
    basis = {cause: complaint.priors.get(cause, (0.0, "C"))[1] for cause in seen}
    taught = {cause: (weights[cause] + count * case, basis[cause]) for cause, count in seen.items()}
    return complaint.model_copy(update={"priors": {**complaint.priors, **taught}})
