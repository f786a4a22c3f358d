"""What to do about it all: the state of the parts, what cannot be told apart, the repair plan, the letter."""

from expert.build import title_of
from expert.pairs import Companion
from expert.repair import Plan
from expert.report.decision_words import bench_words
from expert.report.gather import report_of
from expert.report.letter import Occasion, letter_of, write_letter
from expert.report.wording import percent, spoken
from expert.terminal.consultation import Consultation, Reply, Said, said
from expert.verdict import Verdict, words_of
from knowledge.errors import CallError

ACTIONS = {
    "replace": "replace",
    "replace-together": "replace together",
    "retest": "test again",
    "keep": "keep",
}


def parts(now: Consultation, rest: str) -> Reply:
    """Tell what is known of each part, and on what grounds."""
    lines: list[Said] = []
    for status in now.verdict.elimination.parts:
        if status.status == "untested":
            continue
        lines += said(f"{title_of(now.base, status.part)}: {status.status}, {percent(status.probability)}")
        for ground in status.grounds:
            taken = f" (if {ground.assumes})" if ground.assumes else ""
            lines += said(f"    {ground.verdict}: {ground.because}{taken}", style="quiet")
        lines += said(f"    ask: {status.ask}", style="caution") if status.ask else ()
    return Reply(now, tuple(lines) or said("Nothing is cleared or convicted yet."))


def stuck(now: Consultation, rest: str) -> Reply:
    """Tell what cannot be told apart with what is on hand, what would, and whether to go on testing."""
    verdict = now.verdict
    ambiguity = verdict.ambiguity
    titles = {cause.id: cause.title for cause in now.base.causes}
    lines: list[Said] = []
    for group in ambiguity.groups:
        lines += said(
            f"cannot be told apart ({percent(group.probability)}): {'; '.join(titles[c] for c in group.causes)}"
        )
        for one in group.separators[:3]:
            worth = (
                f"saves about {one.saves:.0f} min"
                if one.saves > 0
                else "by the minutes, deciding without it is quicker"
            )
            lines += said(f"    {one.title} would tell; needs {spoken(one.missing)}; {worth}")
        if not group.separators:
            lines += said("    no check of the base would tell them apart here")
    if not ambiguity.groups and verdict.decision.kind == "check":
        lines += said("What is likely can still be told apart with what is on hand; 'checks' says how.")
    if ambiguity.decide:
        lines += said("No check saves more minutes than it takes: stop testing, and decide.")
    lines += said(bench_words(now.base, verdict.decision, verdict.plan))
    return Reply(now, tuple(lines))


def plan(now: Consultation, rest: str) -> Reply:
    """Give the repair plan: what to replace, keep and test again, what is refused, and what new parts must be."""
    verdict = now.verdict
    lines = list(said(bench_words(now.base, verdict.decision, verdict.plan), style="title"))
    lines += _steps(now, verdict.plan)
    lines += [Said(f"  {words_of(now.base, companion)}", "quiet") for companion in _untold(verdict)]
    lines += [Said(f"not done: {r.title}. {r.because}", "caution") for r in verdict.plan.refused]
    lines += _bought(now, verdict.plan) if verdict.plan.decided else []
    lines += _worth(now, verdict) if verdict.plan.decided else []
    if verdict.plan.decided or verdict.decision.is_over:
        lines += said("Before it goes home:", style="title")
        lines += said(*(f"  - {item.title}" for item in verdict.plan.verification))
    return Reply(now, tuple(lines))


def _steps(now: Consultation, repair: Plan) -> list[Said]:
    lines: list[Said] = []
    again: dict[str, list[str]] = {}  # the same reason for many parts is said once
    for step in repair.steps:
        if step.action == "retest":
            again.setdefault(step.reason, []).append(title_of(now.base, step.part))
        else:
            lines += said(f"  {ACTIONS[step.action]}: {title_of(now.base, step.part)}. {step.reason}")
    return [*lines, *said(*(f"  {ACTIONS['retest']}: {'; '.join(parts)}. {why}" for why, parts in again.items()))]


def _untold(verdict: Verdict) -> list[Companion]:
    """Give the companions that no step of the plan tells of already."""
    reasons = " ".join(step.reason for step in verdict.plan.steps)
    return [companion for companion in verdict.companions if companion.pair.because not in reasons]


def _bought(now: Consultation, repair: Plan) -> list[Said]:
    lines: list[Said] = []
    if repair.requirements:
        lines += said("What the new parts must be:", style="title")
        lines += said(*(f"  - {title_of(now.base, r.part)}: {r.text}" for r in repair.requirements))
    if repair.rating.watts and "psu" in repair.parts("replace", "replace-together"):
        lines += said(f"  - power supply: {repair.rating.watts:g} W, {repair.rating.amps_12v:.0f} A at 12 V, or more")
    lines += said(*(f"  ! {text}" for text in repair.stuck), style="caution")
    lines += said(*(f"  ask before ordering: {ask.text}" for ask in repair.asks))
    return lines


def _worth(now: Consultation, verdict: Verdict) -> list[Said]:
    """Compare the smaller repair with the larger one, by the shop's prices; or say what the price list lacks."""
    comparison = verdict.comparison
    if comparison is None:
        return list(said(*(f"  no estimate: {text}" for text in verdict.lacking), style="quiet"))
    first, rebuild = (", ".join(line.title for line in e.lines) for e in (comparison.first, comparison.rebuild))
    better = first if comparison.try_first else rebuild
    return list(
        said(
            f"  {first} first: {comparison.first.total:.2f}, mends it with {percent(comparison.probability)}, "
            f"{comparison.expected:.2f} on average; {rebuild}: {comparison.rebuild.total:.2f}",
            f"  by the prices: {better}",
        )
    )


OCCASIONS: tuple[Occasion, ...] = ("first", "diagnosis", "handover")


def letter(now: Consultation, rest: str) -> Reply:
    """Give the letter to the owner as it would be now: the first answer, the diagnosis, or the hand-over."""
    fitting: Occasion = "handover" if now.case.closed else "diagnosis" if now.on_bench else "first"
    occasion = next((name for name in OCCASIONS if name == (rest or fitting)), None)
    if occasion is None:
        raise CallError(f"no letter {rest!r}; there are {', '.join(OCCASIONS)}")
    # The letter does not say when anything was entered.
    report = report_of(now.base, [("", entry) for entry in now.log], now.expert)
    return Reply(now, said(*write_letter(letter_of(report, occasion), now.width).splitlines()))
