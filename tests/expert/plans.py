"""Small invented bases for the tests of the next step: causes, checks and questions written short, and ranked."""

from expert.belief import Belief, believe
from expert.engine import Engine
from expert.facts import Claim
from expert.planner import CheckPlan, QuestionPlan, rank_checks, rank_questions
from knowledge import models
from tests.expert.samples import claims

GRADES = {"substantial": 0.5, "strong": 1.0, "decisive": 2.0, "proven": 3.0}  # decades, after Jeffreys 1961


def cause(name: str, minutes: int = 10, remedy: str = "") -> models.Cause:
    """Make a cause; causes with one remedy are mended by the same work."""
    return models.Cause(
        id=name,
        title=name,
        part=name,
        plain="p",
        mechanism="m",
        remedy=remedy or f"mend {name}",
        minutes=minutes,
        source="common practice",
    )


def check(name: str, positive: dict[str, float], otherwise: float = 0.1, **more: object) -> models.Check:
    """Make a check of one minute with the outcomes yes and no, from P(yes | cause)."""
    negative = {c: 1 - p for c, p in positive.items()}
    outcomes = (
        models.Outcome(id="yes", title="it does", likely=positive, otherwise=otherwise),
        models.Outcome(id="no", title="it does not", likely=negative, otherwise=1 - otherwise),
    )
    record = {"id": name, "title": name, "how": "h", "minutes": 1, "who": "bench", "source": "common practice"}
    return models.Check.model_validate({**record, "outcomes": outcomes, **more})


def finding(name: str, kind: str = "sign", rate: float = 0.2) -> models.Finding:
    """Make a finding."""
    return models.Finding.model_validate(
        {"id": name, "title": name, "kind": kind, "present": "p", "absent": "a", "rate": rate}
    )


def question(name: str, asks: str, **more: object) -> models.Question:
    """Make a question of one minute."""
    return models.Question.model_validate({"id": name, "text": f"{asks}?", "asks": asks, "why": "w", **more})


def hazard(name: str, level: str = "stop") -> models.Hazard:
    """Make a hazard that forbids switching on."""
    return models.Hazard.model_validate(
        {
            "id": name,
            "title": name,
            "level": level,
            "advice": "a",
            "takeover": "t",
            "locks": ("energise",),
            "lifted_when": "l",
            "source": "common practice",
        }
    )


PRIORS = {"a": 0.5, "b": 0.3, "c": 0.2}


def base(
    *rules: models.Rule,
    checks: tuple[models.Check, ...] = (),
    questions: tuple[models.Question, ...] = (),
    priors: dict[str, float] = PRIORS,
    causes: tuple[models.Cause, ...] = (cause("a"), cause("b"), cause("c")),
    complaints: tuple[models.Complaint, ...] = (),
) -> models.KnowledgeBase:
    """Make a base with three causes of ten minutes each, some findings and three hazards."""
    rows = {name: (p, "C") for name, p in priors.items()}
    dangers = (finding("smell", "danger", 0.02), finding("spill", "danger", 0.03), finding("spark", "danger", 0.01))
    return models.KnowledgeBase(
        findings=(*map(finding, ("lit", "beeps", "hums", "hot")), *dangers),
        causes=causes,
        complaints=complaints or (models.Complaint(id="k", title="k", share=1.0, firmness=1, priors=rows),),
        hazards=(hazard("data", "notice"), hazard("wet", "caution"), hazard("fire")),
        rules=rules,
        checks=checks,
        questions=questions,
        strengths=tuple(models.Strength(id=i, log10_ratio=value, title=i) for i, value in GRADES.items()),
    )


def look(known: models.KnowledgeBase, told: str = "") -> tuple[Belief, frozenset[Claim], tuple]:
    """Run the engine on what is told: belief, every fact that holds, firings."""
    firings = Engine(known).run(claims(told))
    belief = believe(firings, known)
    return belief, claims(told) | set(belief.roots), firings


def checks_for(known: models.KnowledgeBase, told: str = "", **more: object) -> tuple[CheckPlan, ...]:
    """Rank the checks for what is told."""
    belief, held, _ = look(known, told)
    return rank_checks(known, belief, held, **more)


def questions_for(known: models.KnowledgeBase, told: str = "", **more: object) -> tuple[QuestionPlan, ...]:
    """Rank the questions for what is told."""
    belief, held, firings = look(known, told)
    return rank_questions(known, belief, held, firings, **more)
