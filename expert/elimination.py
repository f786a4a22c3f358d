"""Elimination: what is known of each part by now, on what grounds, and which sets of bad parts explain it all.

firings ──▶ grounds that clear or convict a part, each with its weight and with what it takes for granted ──▶ status
A good part that changes nothing in the machine clears its counterpart only if there is one fault: the grounds say so,
and `explanations` does without that assumption (Reiter, AIJ 32, 1987). Nothing here changes the belief.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum, log10, prod
from typing import Literal, NamedTuple

from expert.belief import Belief
from expert.build import title_of
from expert.diagnosis import Parts, conflict_of_swap, fewest, minimal_hitting_sets
from expert.trace import Firing
from knowledge.models import Conclusion, KnowledgeBase, Outcome

Status = Literal["convicted", "cleared", "suspect", "untested"]
Verdict = Literal["clears", "convicts"]

OTHER_MACHINE = "known-good-bench"  # the one spare that is not put into the machine: the part goes to it
NO_PART = frozenset({"any", "none", "unknown"})  # where the causes sit that are in no single part
SUSPECT = 0.05  # from this share of the belief on a part is a suspect, whether or not anything points to it

ONE_FAULT = "there is one fault"
SAME_LOAD = "the other machine loads it the same way"
MOVED = "its seat and its leads, which were moved with it, are good"


class Ground(NamedTuple):
    """Why a part is cleared or convicted: the firing, its reason, and what it takes for granted ("" for nothing).

    `weight` is log10 of P(this | a fault in the part) over its reference rate; 0 where the belief was not moved.
    """

    verdict: Verdict
    firing: int
    because: str
    assumes: str
    weight: float


@dataclass(frozen=True)
class PartStatus:
    """What is known of a part; `ask` is the question to settle where the grounds contradict each other, else empty.

    cleared, convicted: by the grounds, unless they contradict each other; suspect: such a contradiction, something
    that points to it, or a fair share of the belief; untested: nothing of all that.
    """

    part: str
    status: Status
    probability: float
    grounds: tuple[Ground, ...]
    ask: str = ""


@dataclass(frozen=True)
class Elimination:
    """The parts in the order of the base, and the smallest sets of bad parts that explain what was seen.

    `explanations` are likeliest first; if they hold more than one part each, the single-fault assumption has failed.
    They are empty where everything was shown to be good: an observation must be wrong, or the fault is in no part.
    """

    parts: tuple[PartStatus, ...]
    explanations: tuple[Parts, ...]

    @property
    def one_fault_will_do(self) -> bool:
        """Whether one bad part can explain everything."""
        return any(len(parts) == 1 for parts in self.explanations)


def eliminate(base: KnowledgeBase, belief: Belief, firings: Sequence[Firing]) -> Elimination:
    """Give the status of every part of the base, and what explains the whole."""
    causes = _causes_by_part(base)
    grounds = _grounds(base, belief, firings, causes)
    parts = tuple(_status(part, title_of(base, part), causes[part], grounds[part], belief) for part in causes)
    return Elimination(parts, _explanations(parts, belief, causes))


def _causes_by_part(base: KnowledgeBase) -> dict[str, list[str]]:
    parts: dict[str, list[str]] = {}
    for cause in base.causes:
        if cause.part not in NO_PART:
            parts.setdefault(cause.part, []).append(cause.id)
    return parts


def _status(part: str, title: str, causes: Collection[str], grounds: Sequence[Ground], belief: Belief) -> PartStatus:
    share = fsum(cause.probability for cause in belief.causes if cause.id in causes and cause.status != "excluded")
    weight = max((cause.weight for cause in belief.causes if cause.id in causes), default=0.0)
    verdicts = {ground.verdict for ground in grounds}
    if len(verdicts) == 2:
        return PartStatus(part, "suspect", share, tuple(grounds), _ask(title, grounds))
    if verdicts:
        return PartStatus(part, "cleared" if "clears" in verdicts else "convicted", share, tuple(grounds))
    return PartStatus(part, "suspect" if weight > 0.0 or share >= SUSPECT else "untested", share, ())


def _ask(title: str, grounds: Sequence[Ground]) -> str:
    said = {verdict: next(g.because for g in grounds if g.verdict == verdict) for verdict in ("clears", "convicts")}
    return (
        f"{title[:1].upper()}{title[1:]}: one thing says that it is good ({said['clears']}),"
        f" another that it is bad ({said['convicts']})."
        " Which of the two was seen for certain?"
    )


def _grounds(
    base: KnowledgeBase, belief: Belief, firings: Sequence[Firing], causes: Mapping[str, Sequence[str]]
) -> dict[str, list[Ground]]:
    """Give the grounds of each part in the order of the trace; each firing counts once for a part."""
    part_of = {cause: part for part, members in causes.items() for cause in members}
    said = {(g.kind, g.about) for firing in firings for g in firing.gives_conclusions}
    shut = {part for part, members in causes.items() if all(("exclude", cause) in said for cause in members)}
    trials = _Trials(base)
    came = {f"{check.id}/{o.id}": f"{check.title}: {o.title}." for check in base.checks for o in check.outcomes}
    grounds: dict[str, list[Ground]] = {part: [] for part in causes}
    for firing in firings:
        verdicts: dict[str, Verdict] = {}
        for gives in firing.gives_conclusions:
            if verdict := _verdict(gives, said, shut, part_of):
                verdicts.setdefault(part_of.get(gives.about, gives.about), verdict)
        for part, verdict in verdicts.items():
            if part in grounds:
                weight = _weight(firing, causes[part], belief)
                assumes = trials.assumption(firing, verdict)
                grounds[part].append(Ground(verdict, firing.n, came.get(firing.rule, firing.because), assumes, weight))
    return grounds


def _verdict(
    gives: Conclusion, said: Collection[tuple[str, str]], shut: Collection[str], part_of: Mapping[str, str]
) -> Verdict | None:
    """Tell what a conclusion says of a part; an exclusion says something once nothing is left that could be bad there.

    Or once the same cause is confirmed elsewhere, which is a contradiction.
    """
    if gives.convict or gives.confirm:
        return "convicts"
    if gives.clear:
        return "clears"
    if gives.exclude and (part_of.get(gives.exclude) in shut or ("confirm", gives.exclude) in said):
        return "clears"
    return None


def _weight(firing: Firing, causes: Sequence[str], belief: Belief) -> float:
    """Give log10 of the ratio that a firing brought for the part: the mean over its causes by their priors."""
    weights = {e.cause: e.weight for e in belief.evidence if e.rule == firing.rule}
    total = fsum(belief.priors[cause] for cause in causes)
    share = fsum(belief.priors[cause] * 10.0 ** weights.get(cause, 0.0) for cause in causes)
    return log10(share / total) if share > 0.0 and total > 0.0 else 0.0


def trials_in_place(base: KnowledgeBase, firings: Sequence[Firing]) -> frozenset[str]:
    """Give the rules and outcomes that tell what became of the machine with a good part, or a part seated anew."""
    trials = _Trials(base)
    return frozenset(firing.rule for firing in firings if trials.assumption(firing, "clears") == ONE_FAULT)


class _Trials:
    """Which checks and findings are trials with a part, and what a verdict by trial takes for granted."""

    def __init__(self, base: KnowledgeBase) -> None:
        self._findings = {finding.id for finding in base.findings if finding.kind == "trial"}
        self._elsewhere = {check.id for check in base.checks if OTHER_MACHINE in check.spares}
        self._in_place = {
            check.id
            for check in base.checks
            if check.spares or self._findings.intersection((*check.settled_by, *_given(check.outcomes)))
        }

    def assumption(self, firing: Firing, verdict: Verdict) -> str:
        """Name what the verdict of a firing takes for granted; nothing where the part itself was looked at."""
        checks = {claim.id for claim in firing.evidence if claim.kind == "outcome"}
        told = {claim.id for claim in firing.evidence if claim.kind in ("finding", "detail")}
        if checks & self._elsewhere:
            return SAME_LOAD if verdict == "clears" else ""
        if checks & self._in_place or told & self._findings:
            return ONE_FAULT if verdict == "clears" else MOVED
        return ""


def _given(outcomes: Iterable[Outcome]) -> list[str]:
    return [gives.finding for outcome in outcomes for gives in outcome.gives if gives.finding]


def _explanations(
    parts: Sequence[PartStatus], belief: Belief, causes: Mapping[str, Sequence[str]]
) -> tuple[Parts, ...]:
    """Give the smallest sets of bad parts that explain every trial, without taking it that there is one fault.

    Some part is bad; a part convicted is; a trial in the machine that changed nothing leaves someone else in it.
    A part whose grounds contradict each other is left open.
    """
    settled = [status for status in parts if not status.ask]
    proven = {p.part for p in settled if p.status == "cleared" and any(g.assumes != ONE_FAULT for g in p.grounds)}
    in_use = [status.part for status in parts if status.part not in proven]
    tried: dict[int, set[str]] = {}
    for status in settled:
        for ground in status.grounds:
            if ground.verdict == "clears" and ground.assumes == ONE_FAULT:
                tried.setdefault(ground.firing, set()).add(status.part)
    conflicts = [frozenset(in_use), *(conflict_of_swap(in_use, good) for good in tried.values())]
    conflicts += [frozenset({status.part}) for status in settled if status.status == "convicted"]
    chance = {part: fsum(belief.priors[cause] for cause in members) for part, members in causes.items()}
    smallest = fewest(minimal_hitting_sets(conflicts))
    return tuple(sorted(smallest, key=lambda d: (-round(prod(chance[part] for part in d), 12), sorted(d))))
