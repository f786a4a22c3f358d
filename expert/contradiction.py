"""Contradictions: what cannot all be right, and the question that settles it; nothing here changes the belief.

Whether the evidence hangs together is measured as in Jensen, Chamberlain, Nordahl & Jensen, Analysis in HUGIN of data
conflict (UAI 1990): conf = log2 of the product of P(e_i) over P(e), positive where the pieces speak against each other.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import fsum, log2

from expert.assess import Assessment
from expert.belief import RankedCause
from expert.build import title_of
from expert.case import Case
from expert.elimination import PartStatus
from expert.evidence import Evidence
from expert.trace import Firing
from knowledge.models import Finding, KnowledgeBase

STRONG = 1.0  # the grade "strong" of Jeffreys: a piece of that weight does not go away unasked
LIKELY = 0.05  # a cause below it is not worth a question (judgement)
CONFLICT = 1.0  # bits: what was seen is half as likely as if its pieces had nothing to do with each other (judgement)


@dataclass(frozen=True)
class Contradiction:
    """What cannot all be right: the id that it is about, what is said, and the question that settles it, in words."""

    about: str
    text: str
    question: str


def contradictions(
    base: KnowledgeBase, case: Case, assessment: Assessment, parts: Iterable[PartStatus]
) -> tuple[Contradiction, ...]:
    """Give the contradictions of a case: of the words, of the findings, about a cause, about a part, of the whole."""
    found = [
        *_of_findings(base, case, assessment),
        *_of_causes(base, assessment),
        *(
            Contradiction(p.part, f"The grounds about the {title_of(base, p.part)} contradict each other.", p.ask)
            for p in parts
            if p.ask
        ),
        *_of_the_whole(base, assessment),
    ]
    first: dict[str, Contradiction] = {}
    for contradiction in found:
        first.setdefault(contradiction.about, contradiction)
    return tuple(first.values())


def conflict(priors: Mapping[str, float], evidence: Iterable[Evidence]) -> float:
    """Give the conflict of the evidence in bits: log2 of the product of P(e_i) over P(e); above 0, it does not agree.

    The pieces of one rule are one e_i, and the reference rates cancel.
    Example: two causes, even; one piece tenfold for each: log2(5.5 * 5.5 / 10) = 1.597.
    """
    ratios: dict[str, dict[str, float]] = {}
    for piece in evidence:
        ratios.setdefault(piece.rule, {})[piece.cause] = 10.0**piece.weight
    together = dict(priors)
    apart = 0.0
    for row in ratios.values():
        apart += log2(fsum(prior * row.get(cause, 1.0) for cause, prior in priors.items()))
        together = {cause: share * row.get(cause, 1.0) for cause, share in together.items()}
    return apart - log2(fsum(together.values()))


def _of_findings(base: KnowledgeBase, case: Case, assessment: Assessment) -> Iterator[Contradiction]:
    """Give the findings that hold both ways, and those that the message tells both ways and no answer settled."""
    held = {(claim.id, claim.value) for claim in assessment.claims | assessment.belief.roots.keys()}
    answered = set(case.asked)
    overruled = set(case.message.contradictions) - answered if case.message else set()
    for finding in base.findings:
        # Of several modules, lights or codes one can be so and another not.
        both = {(finding.id, "present"), (finding.id, "absent")} <= held and finding.detail not in (
            "part",
            "light",
            "code",
        )
        if both or finding.id in overruled:
            where = "It follows both ways" if both else "The message says both"
            yield Contradiction(
                finding.id, f"{where}: “{finding.present}” and “{finding.absent}”.", _question(base, finding)
            )


def _question(base: KnowledgeBase, finding: Finding) -> str:
    asked = next((question.text for question in base.questions if question.asks == finding.id), None)
    return asked or f"Which of the two is it now: “{finding.present}” or “{finding.absent}”?"


def _of_causes(base: KnowledgeBase, assessment: Assessment) -> Iterator[Contradiction]:
    """Give the causes that are both excluded and confirmed, and the likely ones with strong evidence both ways."""
    for cause in assessment.belief.causes:
        said = {kind: next((e for e in cause.counted if e.kind == kind), None) for kind in ("confirm", "exclude")}
        best, worst = said["confirm"], said["exclude"]
        if not (best and worst):
            if cause.probability < LIKELY or cause.status != "open":
                continue
            best = next((e for e in cause.counted if e.weight >= STRONG), None)
            worst = next((e for e in cause.counted if e.weight <= -STRONG), None)
        if best and worst:
            pro, con = (_reason(base, assessment, piece) for piece in (best, worst))
            seen = [_seen(base, assessment, piece) for piece in (best, worst)]
            yield Contradiction(
                cause.id,
                f"Strong evidence both ways about “{cause.title}”: {pro} Against it: {con}",
                f"Which of the two was seen for certain: {seen[0]}, or {seen[1]}?",
            )


def _of_the_whole(base: KnowledgeBase, assessment: Assessment) -> Iterator[Contradiction]:
    """Give what the leading cause predicts worst, where the evidence as a whole does not hang together."""
    leading = next((cause for cause in assessment.belief.causes if cause.status != "excluded"), None)
    pieces = [piece for cause in assessment.belief.causes for piece in cause.counted]
    if leading is None or conflict(assessment.belief.priors, pieces) < CONFLICT:
        return
    worst = _worst(leading)
    if worst is not None:
        yield Contradiction(
            leading.id,
            f"No listed cause explains everything: even the leading one, “{leading.title}”, does not go with this:"
            f" {_reason(base, assessment, worst)}",
            f"Was it seen for certain: {_seen(base, assessment, worst)}?",
        )


def _worst(cause: RankedCause) -> Evidence | None:
    against: Sequence[Evidence] = [piece for piece in cause.counted if piece.weight <= -STRONG / 2]
    return min(against, key=lambda piece: piece.weight, default=None)


def _reason(base: KnowledgeBase, assessment: Assessment, piece: Evidence) -> str:
    """Say why a piece of evidence speaks: the reason of its rule, or the check with its outcome."""
    firing = _firing(assessment, piece)
    check = piece.rule.partition("/")[0] if "/" in piece.rule else ""
    title = next((c.title for c in base.checks if c.id == check), "")
    return f"{title}: {firing.because}." if title else firing.because


def _firing(assessment: Assessment, piece: Evidence) -> Firing:
    return next(firing for firing in assessment.firings if firing.rule == piece.rule)


def _seen(base: KnowledgeBase, assessment: Assessment, piece: Evidence) -> str:
    """Name what a piece of evidence rests on: the check with its outcome, or what was told, by the titles."""
    check, _, outcome = piece.rule.partition("/")
    for known in base.checks if outcome else ():
        if known.id == check:
            came = next(o.title for o in known.outcomes if o.id == outcome)
            return f"“{known.title}: {came}”"
    titles = {finding.id: finding.title for finding in base.findings} | {c.id: c.title for c in base.checks}
    stated = sorted({claim.id for claim in _firing(assessment, piece).evidence})
    return " with ".join(f"“{titles.get(name, name)}”" for name in stated)
