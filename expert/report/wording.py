"""Words that several formats share: chances, weights, times, and where a reason comes from."""

from collections.abc import Iterable

from expert.report.model import CaseReport, GroundLine
from knowledge.models import KnowledgeBase

CAUTION = (
    "A first opinion for the bench, not a substitute for a qualified person. Local codes and licensed practice decide. "
    "Never open a power supply."
)
NOT_ENGLISH = "The message does not seem to be English: only danger signs that are certain were looked for."
NO_DANGER = "No danger sign is told. Look, and sniff, before mains goes on all the same."
LEVELS = {
    "stop": "STOP: do not switch it on; this is for a qualified person",
    "caution": "CAUTION",
    "notice": "NOTE",
}
ACTIONS = {
    "keep": "keep",
    "replace": "replace",
    "replace-together": "replace together with it",
    "retest": "test again",
}
STATES = {"reached": "reached", "fails": "fails here", "beyond": "not reached", "unknown": "not known"}
RESULTS = {"present": "good", "absent": "not good", "unknown": "doubtful: the editions disagree"}
# How sure a finding is that was told; a proposed one is a model's, and to be asked about.
SURENESS = {"stated": "", "hedged": "not sure", "proposed": "a guess at these words: ask"}
MENTIONED = 0.01  # a cause below it is not worth a line where lines are few
SHOWN = 6  # causes that are spelled out


def percent(probability: float) -> str:
    """Write a probability as a whole percentage, never as certainty: "38 %", "under 1 %", "over 99 %"."""
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"


def spoken(items: Iterable[str]) -> str:
    """Write ids of tools and spares as words: "test-stick" is "test stick"."""
    return ", ".join(item.replace("-", " ") for item in items)


def detail_words(base: KnowledgeBase, detail: str) -> str:
    """Give the name of what a detail of a finding speaks of: a part, else a rung of the chain, else its own words."""
    titles = {stage.id: stage.title for stage in base.stages} | {part.id: part.title for part in base.build_parts}
    return titles.get(detail, detail.replace("-", " "))


def weight_words(ground: GroundLine) -> str:
    """Say what a piece of evidence does: "10 times as likely with this fault as with another"."""
    ratio = 10.0 ** abs(ground.weight)
    times = f"{ratio:.2g}" if ratio < 100 else f"{ratio:.0f}"
    if times == "1":
        return "about as likely with this fault as with another"
    side = f"{times} times as likely" if ground.weight > 0 else f"{times} times rarer"
    than = "as" if ground.weight > 0 else "than"
    more = "" if ground.counted else "; not counted, since a stronger piece tells the same"
    return f"{side} with this fault {than} with another{more}"


def gives_words(gives: Iterable[str]) -> str:
    """List what a firing concluded; the outcome of a check may be evidence and no more."""
    return ", ".join(gives) or "only what the outcome itself tells"


def clock(at: str) -> str:
    """Write a time stamp for people: "2026-03-14 09:30 UTC"; empty where none is known."""
    return f"{at[:10]} {at[11:16]} UTC" if len(at) >= 16 else ""


def spent(report: CaseReport) -> str:
    """Say what time the case took."""
    unit = "minute" if report.time.minutes == 1 else "minutes"
    minutes = f"{report.time.minutes} attended {unit} for the checks done"
    if not report.time.first:
        return f"{minutes}."
    return f"{minutes}; first entry {clock(report.time.first)}, last entry {clock(report.time.last)}."
