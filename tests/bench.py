"""Simulate the bench: `python -m tests.bench [--cases N] [--seed S] [--only SCENARIO] [--complaint ID]`,
or rank the causes of annotated messages: `python -m tests.bench --corpus development`.

Faults are drawn from the priors of the base, given the owner's first words; a simulated owner answers by its rules and
a simulated bench by its tables, so that this tests the way of asking and not the knowledge. Every strategy meets the
same faults, and a check comes out the same for each of them. Dangers are not simulated, and no strategy asks about
them. A case ends when one remedy is as good as sure, or when nothing is left that tells anything. The verdict is the
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
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from math import log
from statistics import mean, median
from time import perf_counter

from expert.ambiguity import inseparable, stop_testing
from expert.assess import Expert, raised_hazards, restrictions
from expert.belief import Belief, believe
from expert.case import Case, Told
from expert.engine import Engine
from expert.evidence import clip
from expert.facts import Claim, claims_in, claims_of, outcome_of
from expert.outlook import Outlook
from expert.planner import ANSWERS, cost_of, is_open, locked_by, missing, rank_checks, rank_questions
from expert.repair_cost import normalised
from expert.verdict import conclude
from knowledge import shipped_base
from knowledge.models import Check, KnowledgeBase
from tests.corpus import HALVES, letters

SURE = 0.95  # one remedy has that much of the belief: the verdict stands
TELLS = 0.01  # bits: less is not worth a step
TESTS = 3.0  # an outcome that is that many times likelier under a cause than else tests that cause
SCENARIOS = {  # name: (spare parts, share of checks that are answered wrongly)
    "truthful, all spares": (True, 0.0),
    "truthful, no spares": (False, 0.0),
    "one in twenty wrong": (True, 0.05),
    "wrong and no spares": (False, 0.05),
}
Facts = frozenset[Claim]


@dataclass(frozen=True)
class Fault:
    """One machine: what its owner says at first, its fault, and the seed of everything that it answers."""

    opening: Facts
    cause: str
    seed: str


@dataclass(frozen=True)
class View:
    """What is believed after some facts, and what may be done."""

    facts: Facts
    held: frozenset[Claim]
    belief: Belief
    allowed: tuple[Check, ...]
    setups: frozenset[str]
    risks: dict[str, str]
    locks: dict[str, str]


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


class Bench:
    """A base, a bench with its tools and spares, and the machines that come to it."""

    def __init__(self, base: KnowledgeBase, spares: bool, wrong: float) -> None:
        self.base = base
        self.have = {need for check in base.checks for need in (*check.tools, *(check.spares if spares else ()))}
        self.causes = {cause.id: cause for cause in base.causes}
        self._wrong = wrong
        self._engine = Engine(base)
        self._findings = {finding.id: finding for finding in base.findings}
        self.view = cache(self._view)
        self.checks = cache(self._checks)
        self.questions = cache(self._questions)
        self.answers = cache(self._answers)

    def openings(self, complaint: str) -> list[Facts]:
        """Give the single facts from which the rules read this complaint, and no earlier one."""
        order = [c.id for c in self.base.complaints]
        examples = [e for r in self.base.rules for g in r.gives if g.complaint == complaint for e in r.fires]
        found = []
        for facts in dict.fromkeys(frozenset(claims_in(e)) for e in examples if "," not in e):
            read = {claim.id for claim in self.view(facts).held if claim.kind == "complaint"}
            if next((c for c in order if c in read), None) == complaint:
                found.append(facts)
        return found

    def _view(self, facts: Facts) -> View:
        firings = self._engine.run(facts)
        belief = believe(firings, self.base)
        held = facts | belief.roots.keys()
        hazards = raised_hazards(firings, self.base)
        risks, locks = restrictions(hazards, firings)
        allowed = tuple(
            check
            for check in self.base.checks
            if is_open(check, held) and not missing(check, self.have) and not locked_by(check, self.base, risks, locks)
        )
        done = {claim.id for claim in facts if claim.kind == "outcome"}
        setups = frozenset(s for check in self.base.checks if check.id in done for s in check.setup)
        return View(facts, held, belief, allowed, setups, risks, locks)

    def _checks(self, facts: Facts) -> tuple:
        view = self.view(facts)
        plans = rank_checks(self.base, view.belief, view.held, self.have, view.risks, view.locks)
        return tuple(plan for plan in plans if plan.locked_by is None)

    def _questions(self, facts: Facts) -> tuple:
        view = self.view(facts)
        plans = rank_questions(self.base, view.belief, view.held)
        minutes = {question.id: question for question in self.base.questions}
        worth = [plan for plan in plans if plan.guards is None and plan.saves > minutes[plan.id].minutes]
        return tuple(minutes[plan.id] for plan in worth)

    def _answers(self, facts: Facts, finding: str) -> dict[str, float]:
        """Give P(present | cause) for what an owner would say beside these facts, taking the rules at their word.

        A rule on two findings makes them hang together for its causes; drawn one by one they would seldom meet.
        The reference rate gives way where a ratio would take it past certainty; where only one state speaks, its
        ratio holds exactly, and else both are normalised.
        """
        view, rate = self.view(facts), self._findings[finding].rate
        answers = [Claim("finding", finding, state) for state in ("present", "absent")]
        at_its_word = believe(self._engine.run(facts), self.base, dict.fromkeys([*facts, *answers], 0.0))
        outlook = Outlook(self.base, at_its_word, view.held)
        rows, spoken = [], []
        for answer, chance in zip(answers, (rate, 1.0 - rate), strict=True):
            ratios = outlook.likelihoods(outlook.after(answer), 1.0, (0.0, 1e6))
            reference = min(chance, ANSWERS[1] / max(ratios))
            rows.append([clip(reference * ratio, ANSWERS) for ratio in ratios])
            spoken.append(max(ratios) != min(ratios))
        if spoken == [False, True]:
            rows[0] = [1.0 - absent for absent in rows[1]]
        elif all(spoken):
            rows = normalised(rows)
        return dict(zip(self.causes, rows[0], strict=True))

    def draw_answer(self, fault: Fault, facts: Facts, finding: str) -> Claim:
        """Let the owner answer."""
        chance = self.answers(facts, finding)[fault.cause]
        present = random.Random(f"{fault.seed} {finding}").random() < chance
        return Claim("finding", finding, "present" if present else "absent")

    def draw_outcome(self, fault: Fault, check: Check) -> Claim:
        """Let the check come out, now and then as it should not have."""
        dice = random.Random(f"{fault.seed} {check.id}")
        weights = [outcome.likely.get(fault.cause, outcome.otherwise) for outcome in check.outcomes]
        outcome = dice.choices(check.outcomes, weights)[0]
        if dice.random() < self._wrong:
            outcome = dice.choice([other for other in check.outcomes if other != outcome])
        return outcome_of(check.id, outcome.id)


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
    order = sorted(bench.causes, key=lambda cause: -posterior[cause] / bench.causes[cause].minutes)
    tried = [bench.causes[cause].minutes for cause in order[: order.index(fault.cause) + 1]]
    session.mended = session.minutes + sum(tried)
    return session


def faults(bench: Bench, cases: int, seed: int, only: str | None) -> Iterator[Fault]:
    """Draw machines: a complaint by its share, the words it comes with, and a cause by the prior of both.

    Causes that a complaint does not list keep a floor in the belief, which is doubt and no fault: they are not drawn.
    """
    dice = random.Random(seed)
    complaints = [complaint for complaint in bench.base.complaints if only in (None, complaint.id)]
    for n in range(cases):
        complaint = dice.choices(complaints, [complaint.share for complaint in complaints])[0]
        opening = dice.choice(bench.openings(complaint.id))
        posterior = bench.view(opening).belief.posterior
        weights = [posterior[cause] for cause in complaint.priors]
        yield Fault(opening, dice.choices(list(complaint.priors), weights)[0], f"{seed} {n}")


def table(sessions: dict[str, list[Session]]) -> Iterator[str]:
    """Write the figures of every strategy, minutes also as a share of the checklist's and of p/cost's."""
    heads = ("minutes", "median", "p90", "steps", "right", "cause", "mended", "/list", "/p:c")
    yield " " * 13 + "".join(f"{head:>8}" for head in heads)
    means = {name: mean(s.minutes for s in runs) for name, runs in sessions.items()}
    for name, runs in sessions.items():
        minutes = sorted(s.minutes for s in runs)
        figures = (means[name], median(minutes), minutes[int(0.9 * (len(minutes) - 1))], mean(s.steps for s in runs))
        shares = (mean(s.right for s in runs), mean(s.alone for s in runs))
        ratios = (means[name] / means["checklist"], means[name] / means["p/cost"])
        yield (
            f"{name:13}{''.join(f'{value:8.1f}' for value in figures)}{''.join(f'{share:8.1%}' for share in shares)}"
            f"{mean(s.mended for s in runs):8.1f}{''.join(f'{ratio:8.0%}' for ratio in ratios)}"
        )


def calibration(stated: Sequence[tuple[float, bool]]) -> Iterator[str]:
    """Write how often the leading cause was right by how probable it was said to be: (probability, right)."""
    yield f"calibration of the leading cause, {len(stated)} statements"
    error = 0.0
    for low in range(10):
        cell = [(p, right) for p, right in stated if low <= min(10 * p, 9.999) < low + 1]
        if cell:
            said, was = mean(p for p, _ in cell), mean(right for _, right in cell)
            error += len(cell) / len(stated) * abs(said - was)
            yield f"  {low / 10:.1f} to {low / 10 + 0.1:.1f}: said {said:6.1%}, was {was:6.1%}  ({len(cell)})"
    yield f"  expected calibration error {error:.3f}"


def of_the_corpus(base: KnowledgeBase, half: str) -> Iterator[str]:
    """Write how well the causes of the annotated messages are ranked, from the findings as annotated."""
    bench, ranks, stated, losses = Bench(base, False, 0.0), [], [], []
    for letter in letters(half):
        if letter.cause is not None:
            told = [claim for f in letter.findings for claim in claims_of(f.id, f.state, f.detail)]
            belief = bench.view(frozenset(told)).belief
            order = [cause.id for cause in belief.causes if cause.status != "excluded"]
            ranks.append(order.index(letter.cause) + 1 if letter.cause in order else len(bench.causes))
            losses.append(-log(belief.posterior[letter.cause]))
            stated.append((belief.causes[0].probability, ranks[-1] == 1))
    first, three = (f"{mean(rank <= most for rank in ranks):.1%}" for most in (1, 3))
    yield f"corpus, {half}: {len(ranks)} messages with a cause; first {first}, among three {three}"
    yield f"  mean reciprocal rank {mean(1 / rank for rank in ranks):.3f}, log loss {mean(losses):.3f}"
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
            lines.append(f"the planner at its verdict: log loss {mean(s.loss for s in runs):.3f}")
            lines += calibration([pair for session in runs for pair in session.stated])
            sys.stdout.write("\n".join(lines) + "\n\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
