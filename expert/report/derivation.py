"""A conclusion taken apart: the rule that gave it, what that rule rested on, and so down to a quote or an answer."""

from dataclasses import dataclass

from expert.document import FiringItem
from expert.facts import slug
from expert.report.model import CaseReport, FindingLine
from expert.report.wording import SURENESS


@dataclass(frozen=True)
class Root:
    """What was stated: in words, and the place of its finding in the report (None for a check that was done)."""

    words: str
    finding: int | None


@dataclass(frozen=True)
class Reason:
    """A firing, and what it rested on, in the order of the rule."""

    firing: FiringItem
    rests_on: tuple["Reason | Root", ...]


def reason_of(report: CaseReport, n: int) -> Reason:
    """Give the derivation of firing n; a firing rests on earlier ones only, so that this ends."""
    firing = report.firing(n)
    below = [reason_of(report, ref) if isinstance(ref, int) else _root(report, ref) for ref in firing.from_]
    # A finding and its detail are two facts told in the same words.
    return Reason(firing, tuple(rested for i, rested in enumerate(below) if rested not in below[:i]))


def _root(report: CaseReport, reference: str) -> Root:
    """Put a stated fact (`dead=present`, `part-replaced:memory`, `outlet/works`) into words."""
    check, slash, outcome = reference.partition("/")
    if slash:
        done = next((d for d in report.done if d.id == check and d.outcome == outcome), None)
        return Root(f"{done.title}: {done.outcome_title}" if done else reference, None)
    place = _place(report, reference)
    return Root(_words(report.findings[place]) if place is not None else reference, place)


def _place(report: CaseReport, reference: str) -> int | None:
    """Give the place of the finding; of several tellings of one finding, the one with that detail."""
    name, colon, detail = reference.replace("=", ":").partition(":")
    told = [i for i, finding in enumerate(report.findings) if finding.id == name]
    if colon and "=" not in reference:
        wanted = detail.rpartition(":")[2]
        told.sort(key=lambda i: slug(report.findings[i].detail or "") != wanted)
    return told[0] if told else None


def _words(finding: FindingLine) -> str:
    detail = f" ({finding.detail_words})" if finding.detail else ""
    sure = SURENESS[finding.certainty]
    hedge = f", {sure}" if sure else ""
    return f"{finding.sentence}{detail}{hedge} - “{finding.quote}”"
