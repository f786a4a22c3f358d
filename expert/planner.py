"""The next step: checks by what they tell about the repair per minute, questions by what they save on the way to it.

For each step: what each outcome would make of the evidence ──▶ P(outcome | cause) ──▶ P(outcome), belief after it
──▶ information about the remedy, and minutes saved: the expected cost of repairing now, less the cost of the step and
of the repair after it (one step ahead: Heckerman, Breese & Rommelse, CACM 38(3), 1995); plan again after each outcome.
Checks go by gain over cost, as searches do (Kadane & Simon, Ann. Statist. 5, 1977): ordered by minutes saved, a long
check that tells much would come before the one-minute look that spares it. Causes with one remedy count as one, since
telling them apart changes no repair. Risk is not priced: what a hazard locks is taken out, and shown last.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from expert.belief import Belief
from expert.evidence import LIKELIHOODS, Forecasted
from expert.facts import Claim, claim_of, outcome_of
from expert.identity import ByIdentity
from expert.lookahead import Ahead
from expert.outlook import Outlook
from expert.outlook import Prediction as Prediction
from expert.trace import Firing
from knowledge.models import Check, KnowledgeBase, Question

SETUP_MINUTES = 5.0  # reaching a set-up that several checks share, such as an open case (judgement)
WAITING = 1 / 3  # what a minute of unattended waiting costs: other work gets done meanwhile (judgement)
ANSWERS = (0.02, 0.98)  # owners err more often than instruments
SLACK = 1e-9  # minutes or bits; below it a difference is rounding
TOLD = 3  # the reason names the two likeliest outcomes, and further ones up to this many
RARE = 0.1  # if they are at least as likely as this
TOLD_BITS = 0.005  # what would be printed as 0.00 bits is said in words
CERTAIN = 0.99  # what is likelier is printed as "over 99 %"


@dataclass(frozen=True)
class CheckPlan:
    """A check and what it is worth.

    `minutes` are attended; `cost` counts waiting and set-ups as well. `saves` is the expected saving in minutes
    against repairing now (may be negative), `bits` the expected information about what mends the machine,
    `cause_bits` about the cause itself. `locked_by` is the hazard that forbids it.
    """

    id: str
    title: str
    minutes: int
    needs: tuple[str, ...]
    why: str
    locked_by: str | None
    outcomes: tuple[Prediction, ...]
    cost: float
    saves: float
    bits: float
    cause_bits: float


@dataclass(frozen=True)
class QuestionPlan:
    """A question and what it is worth; `guards` is the hazard that an answer would raise, which puts it first."""

    id: str
    text: str
    guards: str | None
    outcomes: tuple[Prediction, ...]
    saves: float
    bits: float


def rank_checks(
    base: KnowledgeBase,
    belief: Belief,
    held: Collection[Claim],
    have: Collection[str] = (),
    risks: Mapping[str, str] | None = None,
    locks: Mapping[str, str] | None = None,
) -> tuple[CheckPlan, ...]:
    """Give the checks that can be done now, best first; the locked ones come last.

    `held` are all facts that hold. `have` are the tools and spares at hand; if empty, every common tool and no spare.
    `risks` maps what may not be done to the hazard behind it, `locks` a check to the rule that locks it.
    By information about the remedy per minute of cost; what tells nothing about it comes last, by information about
    the cause, since another check may build on that. Ties by place.
    """
    outlook = Outlook(base, belief, held)
    offered = [check for check in open_checks(base, held) if not missing(check, have)]
    ahead = outlook.look_ahead([outcome_rows(check, outlook) for check in offered])
    plans = [
        _plan(check, outlook, step, locked_by(check, base, risks or {}, locks or {}))
        for check, step in zip(offered, ahead, strict=True)
    ]
    return tuple(sorted(plans, key=_merit))


def rank_questions(
    base: KnowledgeBase,
    belief: Belief,
    held: Collection[Claim],
    firings: Sequence[Firing] = (),
    asked: Collection[str] = (),
) -> tuple[QuestionPlan, ...]:
    """Give the questions worth asking, best first: those that guard safety, those a rule wants asked, the rest.

    `asked` are the findings that were asked about already. The rest goes by expected minutes saved per minute of
    asking, then by information; what changes nothing is left out. Ties by place.
    """
    outlook = Outlook(base, belief, held)
    told = {claim.id for claim in held if claim.kind == "finding"}.union(asked)
    wanted = {gives.ask for firing in firings for gives in firing.gives_conclusions if gives.ask}
    offered = [question for question in base.questions if question.asks not in told and _allows(question, held)]
    answers = [_answers(question, outlook) for question in offered]
    ahead = outlook.look_ahead([_answer_rows(*asked, outlook) for asked in zip(offered, answers, strict=True)])
    ranked = [
        (_order(plan, question, wanted, outlook), plan)
        for question, answer, step in zip(offered, answers, ahead, strict=True)
        if (plan := _inquiry(question, outlook, answer, step)).guards or plan.bits > SLACK or plan.id in wanted
    ]
    return tuple(plan for _, plan in sorted(ranked, key=lambda pair: pair[0]))


def plan_check(check: Check, outlook: Outlook, lock: str | None = None) -> CheckPlan:
    """Give what a check is worth, whether or not it can be done; `lock` is the hazard that forbids it."""
    (ahead,) = outlook.look_ahead([outcome_rows(check, outlook)])
    return _plan(check, outlook, ahead, lock)


def outcome_rows(check: Check, outlook: Outlook) -> list[list[float]]:
    """Give P(outcome | cause), a row an outcome, with what is told already taken off; not made to sum to 1."""
    return [
        outlook.likelihoods(outlook.after(outcome_of(check.id, outcome.id)), outcome.otherwise, LIKELIHOODS)
        for outcome in check.outcomes
    ]


def _plan(check: Check, outlook: Outlook, ahead: Ahead, lock: str | None) -> CheckPlan:
    cost = cost_of(check, outlook.setups)
    saves = outlook.cost - cost - ahead.repair
    predictions = outlook.predict([outcome.id for outcome in check.outcomes], ahead)
    prospects = _prospects(check, predictions, outlook.titles)
    return CheckPlan(
        id=check.id,
        title=check.title,
        minutes=check.minutes,
        needs=(*check.tools, *check.spares),
        why=f"For about {_minutes(cost)} it {_worth(saves, ahead.bits)}: {prospects}.",
        locked_by=lock,
        outcomes=predictions,
        cost=cost,
        saves=saves,
        bits=ahead.bits,
        cause_bits=ahead.cause_bits,
    )


def _worth(saves: float, bits: float) -> str:
    if bits <= SLACK:
        return "tells nothing about the repair"
    if bits < TOLD_BITS:
        return "tells next to nothing about the repair"
    saved = f" and saves about {_minutes(saves)} on average" if saves >= 0.5 else ""
    return f"tells {round(bits, 6):.2f} bits about the repair{saved}"


def _prospects(check: Check, predictions: Sequence[Prediction], titles: Mapping[str, str]) -> str:
    names = {outcome.id: outcome.title for outcome in check.outcomes}
    likely = sorted(predictions, key=lambda prediction: -round(prediction.probability, 9))[:TOLD]
    return "; ".join(
        f"{_percent(p.probability)} {names[p.outcome]}, then {titles[p.leader]} leads with"
        f" {_percent(p.leader_probability)}"
        for place, p in enumerate(likely)
        if place < 2 or p.probability >= RARE
    )


# Rounded twice, so that a half does not fall this way on one machine and that way on another.
def _minutes(value: float) -> str:
    whole = round(round(value, 6))
    return "1 minute" if whole == 1 else f"{whole} minutes"


def _percent(probability: float) -> str:
    if probability > CERTAIN:
        return "over 99 %"
    return f"{round(round(100 * probability, 6))} %"


def _merit(plan: CheckPlan) -> tuple[bool, float, float]:
    """Order plans: free before locked, then by bits per minute: about the repair, then about the cause."""
    return plan.locked_by is not None, -round(plan.bits / plan.cost, 9), -round(plan.cause_bits / plan.cost, 9)


def _answers(question: Question, outlook: Outlook) -> tuple[Forecasted, Forecasted]:
    """Give what a yes and what a no would set off."""
    present, absent = (outlook.after(Claim("finding", question.asks, state)) for state in ("present", "absent"))
    return present, absent


def _answer_rows(question: Question, answers: tuple[Forecasted, Forecasted], outlook: Outlook) -> list[list[float]]:
    rate = outlook.findings[question.asks].rate
    return [
        outlook.likelihoods(answer, chance, ANSWERS) for answer, chance in zip(answers, (rate, 1.0 - rate), strict=True)
    ]


def _inquiry(
    question: Question, outlook: Outlook, answers: tuple[Forecasted, Forecasted], ahead: Ahead
) -> QuestionPlan:
    return QuestionPlan(
        id=question.id,
        text=question.text,
        guards=_guards(question.asks, answers, outlook),
        outcomes=outlook.predict(("present", "absent"), ahead),
        saves=outlook.cost - ahead.repair,
        bits=ahead.bits,
    )


def _guards(finding: str, answers: Sequence[Forecasted], outlook: Outlook) -> str | None:
    """Give the worst hazard that an answer on a danger sign would raise; the finding itself, if no rule sees to it.

    A hazard that is raised already, or only worth a notice, does not put a question first; nor does a question about
    anything but a danger sign, or the owner would be asked a dozen of them before the first plain one.
    """
    if outlook.findings[finding].kind != "danger":
        return None
    raised = {claim.id for answer in answers for claim in answer.claims if claim.kind == "hazard"}
    for level in ("stop", "caution"):
        for hazard, its_level in outlook.levels.items():
            if hazard in raised and its_level == level:
                return hazard
    rules = outlook.forecast.needing.get(Claim("finding", finding, "present"), ())
    seen_to = any(gives.hazard for production in rules for gives in production.gives)
    return None if seen_to else finding


def _order(plan: QuestionPlan, question: Question, wanted: Collection[str], outlook: Outlook) -> tuple[float, ...]:
    if plan.guards:
        return (0, ("stop", "caution", None).index(outlook.levels.get(plan.guards)))
    first = 1 if plan.id in wanted else 2
    return (first, -round(plan.saves / question.minutes, 9), -round(plan.bits / question.minutes, 9))


def _allows(question: Question, held: Collection[Claim]) -> bool:
    """Tell whether the conditions of a question hold, and none of its exceptions."""
    return all(claim in held for condition in question.when for claim in claim_of(condition)) and not any(
        claim_of(condition)[-1] in held for condition in question.unless
    )


def cost_of(check: Check, setups: Collection[str]) -> float:
    """Give the cost of a check in minutes: work, waiting, and the set-ups that are not reached yet."""
    return check.minutes + WAITING * check.wait + SETUP_MINUTES * len(set(check.setup).difference(setups))


def open_checks(base: KnowledgeBase, held: Collection[Claim]) -> list[Check]:
    """Give the checks that fit the case and are not done yet; one whose finding is known already is settled."""
    return [
        check
        for check, needs, closing in _openings(ByIdentity(base))
        if closing.isdisjoint(held) and all(claim in held for claim in needs)
    ]


@lru_cache(maxsize=4)
def _openings(key: ByIdentity) -> tuple[tuple[Check, tuple[Claim, ...], frozenset[Claim]], ...]:
    """Give each check with the facts that it needs and those any of which closes it, gathered once for a base."""
    found = []
    for check in key.base.checks:
        done = [outcome_of(check.id, outcome.id) for outcome in check.outcomes]
        settled = [Claim("finding", f, state) for f in check.settled_by for state in ("present", "absent")]
        needs = tuple(claim for condition in check.when for claim in claim_of(condition))
        unless = [claim_of(condition)[-1] for condition in check.unless]
        found.append((check, needs, frozenset((*done, *settled, *unless))))
    return tuple(found)


def missing(check: Check, have: Collection[str]) -> tuple[str, ...]:
    """Give what a check needs and the bench has not; an empty `have` is every common tool and no spare."""
    return tuple(n for n in (*check.tools, *check.spares) if n not in have) if have else check.spares


def locked_by(check: Check, base: KnowledgeBase, risks: Mapping[str, str], locks: Mapping[str, str]) -> str | None:
    """Give the hazard that forbids the check: through what it does to the machine, or through a rule.

    A rule that locks without looking at a hazard is named itself.
    """
    by_risk = next((risks[risk] for risk in check.risks if risk in risks), None)
    if by_risk or check.id not in locks:
        return by_risk
    conditions = (c for rule in base.rules if rule.id == locks[check.id] for c in (*rule.when, *rule.given))
    return next((c.hazard for c in conditions if c.hazard), locks[check.id])
