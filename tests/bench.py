"""Simulate the bench: `python -m tests.bench [--cases N] [--seed S] [--only SCENARIO] [--complaint ID]`,
or rank the causes of annotated messages: `python -m tests.bench --corpus development`.

Faults are drawn from the priors of the base, given the owner's first words; a simulated owner answers by its rules and
a simulated bench by its tables, so that this tests the way of asking and not the knowledge. Every strategy meets the
same faults, and a check comes out the same for each of them. Dangers are not simulated, and no strategy asks about
them. A case ends when one cause is as good as sure, or when nothing is left that tells anything. The verdict is the
leading cause with all that the bench cannot tell from it ("right"), or alone ("cause"). "mended" adds the minutes of
the remedies tried after the verdict, the best probability per minute first, up to the right one.

| strategy     | next step |
| planner      | questions to the owner that save more than they take, then the planner's checks |
| no questions | the planner's checks alone |
| decides      | as the planner, but stops as soon as no check saves what it costs |
| checklist    | a printed list: outside before inside, without parts before with parts, short before long |
| p/cost       | the check that tests the cause with the best probability per minute (Kadane & Simon 1977) |
| random       | any check that is allowed |
"""

import argparse
import random
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from math import log
from statistics import mean, median
from time import perf_counter

from expert.ambiguity import inseparable, stop_testing
from expert.assess import Expert
from expert.case import Case, Told
from expert.evidence import clip
from expert.facts import claims_of
from expert.planner import cost_of
from expert.verdict import conclude
from knowledge import shipped_base
from knowledge.models import Check, KnowledgeBase
from tests.corpus import HALVES, letters
from tests.scores import Ranked, brier, calibration, log_loss, share, spread
from tests.simulated import Bench, Facts, Fault, View, faults

SURE = 0.98  # one cause has that much of the belief: the verdict stands, whatever the strategy
TELLS = 0.01  # bits: less is not worth a step
TESTS = 3.0  # an outcome that is that many times likelier under a cause than else tests that cause
SCENARIOS = {  # name: (spare parts, share of checks that are answered wrongly)
    "truthful, all spares": (True, 0.0),
    "truthful, no spares": (False, 0.0),
    "one in twenty wrong": (True, 0.05),
    "wrong and no spares": (False, 0.05),
}


@dataclass
class Session:
    """How one machine went: the minutes to the verdict and to the repair, and the belief on the way."""

    minutes: float = 0.0
    steps: int = 0
    right: bool = False
    alone: bool = False
    mended: float = 0.0
    loss: float = 0.0
    stated: list[tuple[float, bool]] = field(default_factory=list)


Step = Callable[[Bench, Facts, random.Random], Check | None]


def by_planner(bench: Bench, facts: Facts, dice: random.Random) -> Check | None:
    """Take the planner's first check."""
    best = next((plan.id for plan in bench.checks(facts) if plan.bits > TELLS), None)
    return next((check for check in bench.base.checks if check.id == best), None)


def until_it_costs_more(bench: Bench, facts: Facts, dice: random.Random) -> Check | None:
    """Take the planner's first check, while any check saves what it costs."""
    return None if stop_testing(bench.checks(facts)) else by_planner(bench, facts, dice)


def by_checklist(bench: Bench, facts: Facts, dice: random.Random) -> Check | None:
    """Take the next check of a printed list."""
    return min(
        bench.view(facts).allowed,
        key=lambda c: (c.who != "owner", len(c.setup), len(c.spares), c.minutes + c.wait),
        default=None,
    )


def by_probability_and_cost(bench: Bench, facts: Facts, dice: random.Random) -> Check | None:
    """Take the cheapest check of the cause with the best probability per minute."""
    view = bench.view(facts)
    ratios = [
        (view.belief.posterior[cause] / cost_of(check, view.setups), -place, check)
        for place, check in enumerate(view.allowed)
        for cause in bench.causes
        if tests(check, cause)
    ]
    return max(ratios, key=lambda ratio: ratio[:2])[2] if ratios else None


def by_chance(bench: Bench, facts: Facts, dice: random.Random) -> Check | None:
    """Take any check that is allowed."""
    allowed = bench.view(facts).allowed
    return dice.choice(allowed) if allowed else None


@cache
def _tested(check_id: str) -> frozenset[str]:
    check = next(check for check in shipped_base().checks if check.id == check_id)
    return frozenset(
        cause
        for outcome in check.outcomes
        for cause, chance in outcome.likely.items()
        if chance >= TESTS * clip(outcome.otherwise)
    )


def tests(check: Check, cause: str) -> bool:
    """Tell whether some outcome of the check points to the cause."""
    return cause in _tested(check.id)


STRATEGIES: dict[str, tuple[Step, bool]] = {  # name: (next check, whether the owner is asked first)
    "planner": (by_planner, True),
    "no questions": (by_planner, False),
    "decides": (until_it_costs_more, True),
    "checklist": (by_checklist, False),
    "p/cost": (by_probability_and_cost, False),
    "random": (by_chance, False),
}


def leader(view: View) -> tuple[str, float]:
    """Give the leading cause that is not excluded, and its probability."""
    best = next(cause for cause in view.belief.causes if cause.status != "excluded")
    return best.id, best.probability


def run(bench: Bench, fault: Fault, step: Step, asks: bool) -> Session:
    """Take one machine to its verdict."""
    session, facts = Session(), fault.opening
    dice = random.Random(f"{fault.seed} strategy")
    while True:
        view = bench.view(facts)
        best, share = leader(view)
        session.stated.append((share, best == fault.cause))
        if share >= SURE:
            break
        if asks and (asked := bench.questions(facts)):
            session.minutes += asked[0].minutes
            facts |= {bench.draw_answer(fault, facts, asked[0].asks)}
        else:
            asks = False  # the machine is on the bench now, and the owner has gone home
            if (check := step(bench, facts, dice)) is None:
                break
            session.minutes += cost_of(check, view.setups)
            facts |= {bench.draw_outcome(fault, check)}
        session.steps += 1
    return _close(session, bench, fault, view)


def _close(session: Session, bench: Bench, fault: Fault, view: View) -> Session:
    best, _ = leader(view)
    likely = [c.id for c in view.belief.causes if c.status != "excluded" and c.probability >= 0.02]
    (group,) = [group for group in inseparable(likely, view.allowed) if best in group]
    session.right, session.alone = fault.cause in group, best == fault.cause
    posterior = view.belief.posterior
    session.loss = -log(posterior[fault.cause])
    minutes = {cause.id: cause.minutes for cause in bench.causes.values()}
    session.mended = session.minutes + minutes_to_mend(posterior, minutes, fault.cause)
    return session


def minutes_to_mend(posterior: Mapping[str, float], minutes: Mapping[str, float], fault: str) -> float:
    """Give the minutes of the remedies tried, the best probability per minute first, up to the right one."""
    order = sorted(minutes, key=lambda cause: -posterior[cause] / minutes[cause])
    return sum(minutes[cause] for cause in order[: order.index(fault) + 1])


def table(sessions: dict[str, list[Session]]) -> Iterator[str]:
    """Write the figures of every strategy, minutes also as a share of the checklist's and of p/cost's."""
    heads = ("minutes", "median", "p90", "steps", "right", "cause", "mended", "/list", "/p:c")
    yield " " * 13 + "".join(f"{head:>8}" for head in heads)
    means = {name: mean(s.minutes for s in runs) for name, runs in sessions.items()}
    for name, runs in sessions.items():
        middle, most = spread([s.minutes for s in runs])[1:]
        figures = (means[name], middle, most, mean(s.steps for s in runs))
        shares = (mean(s.right for s in runs), mean(s.alone for s in runs))
        ratios = (means[name] / means["checklist"], means[name] / means["p/cost"])
        yield (
            f"{name:13}{''.join(f'{value:8.1f}' for value in figures)}{''.join(f'{share:8.1%}' for share in shares)}"
            f"{mean(s.mended for s in runs):8.1f}{''.join(f'{ratio:8.0%}' for ratio in ratios)}"
        )


def of_the_corpus(base: KnowledgeBase, half: str) -> Iterator[str]:
    """Write how well the causes of the annotated messages are ranked, from the findings as annotated."""
    bench = Bench(base, False, 0.0)
    ranked, stated = [], []
    for letter in letters(half):
        if letter.cause is not None:
            told = [claim for f in letter.findings for claim in claims_of(f.id, f.state, f.detail)]
            belief = bench.view(frozenset(told)).belief
            order = [cause.id for cause in belief.causes if cause.status != "excluded"]
            ranked.append(Ranked(order, belief.posterior, letter.cause))
            stated.append((belief.causes[0].probability, ranked[-1].rank == 1))
    first, three = (sum(case.rank <= most for case in ranked) for most in (1, 3))
    yield f"corpus, {half}: {len(ranked)} messages with a cause; first {share(first, len(ranked))},"
    yield f"  among three {share(three, len(ranked))}, mean reciprocal rank {mean(1 / c.rank for c in ranked):.3f},"
    yield f"  log loss {log_loss(ranked):.3f}, Brier score {brier(ranked):.3f}"
    yield from calibration(stated)


def speed(base: KnowledgeBase, machines: Sequence[Fault]) -> str:
    """Say how long one assessment and one verdict take, warm, over the first words of the machines."""
    expert = Expert(base)
    cases = [_case_of(fault.opening) for fault in machines[:20]]
    times: list[tuple[float, float]] = []
    for case in [*cases[:1], *cases]:
        start = perf_counter()
        assessment = expert.assess(case)
        middle = perf_counter()
        conclude(base, case, assessment)
        times.append((middle - start, perf_counter() - middle))
    plan, verdict = (1000 * median(column) for column in zip(*times[1:], strict=True))
    return f"an answer (assessment with every check and question) in {plan:.0f} ms, a verdict in {verdict:.0f} ms"


def _case_of(facts: Facts) -> Case:
    told = [Told(id=claim.id, state=claim.value, quote="") for claim in sorted(facts) if claim.kind == "finding"]
    return Case(findings=tuple(told))


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the figures of every scenario."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description="Simulate the bench.")
    parser.add_argument("--cases", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=list(SCENARIOS))
    parser.add_argument("--complaint", choices=[complaint.id for complaint in shipped_base().complaints])
    parser.add_argument("--corpus", choices=HALVES, help="instead: rank the causes of this half of the corpus")
    options = parser.parse_args(arguments)
    base = shipped_base()
    if options.corpus:
        sys.stdout.write("\n".join(of_the_corpus(base, options.corpus)) + "\n")
        return
    machines = list(faults(Bench(base, True, 0.0), options.cases, options.seed, options.complaint))
    sys.stdout.write(f"{speed(base, machines)}\n\n")
    for name, (spares, wrong) in SCENARIOS.items():
        if options.only in (None, name):
            bench = Bench(base, spares, wrong)
            sessions = {s: [run(bench, f, step, asks) for f in machines] for s, (step, asks) in STRATEGIES.items()}
            runs, lines = sessions["planner"], [f"{name}: {len(machines)} machines", *table(sessions)]
            right = share(sum(s.right for s in runs), len(runs))
            lines.append(f"the planner at its verdict: right {right}, log loss {mean(s.loss for s in runs):.3f}")
            lines += calibration([pair for session in runs for pair in session.stated])
            sys.stdout.write("\n".join(lines) + "\n\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
