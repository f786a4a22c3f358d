"""A simulated bench: machines with faults drawn from the base, owners who answer, checks that come out by its tables.

Faults are drawn from the priors of the base, given the owner's first words; the dice belong to the machine, so that
each way of asking meets the same answers. What this tests is the way of asking, and not the knowledge.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from expert.assess import raised_hazards, restrictions
from expert.belief import Belief, believe
from expert.engine import Engine
from expert.evidence import clip
from expert.facts import Claim, claims_in, outcome_of
from expert.outlook import Outlook
from expert.planner import ANSWERS, locked_by, missing, open_checks, rank_checks, rank_questions
from expert.repair_cost import normalised
from knowledge.models import Check, KnowledgeBase

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
            for check in open_checks(self.base, held)
            if not missing(check, self.have) and not locked_by(check, self.base, risks, locks)
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
