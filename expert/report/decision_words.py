"""The decision in words: for the bench, and for the owner. Plan, letter and sheet say what comes next from here."""

from expert.build import title_of
from expert.decide import Decision
from expert.repair import Plan
from knowledge.models import KnowledgeBase


def bench_words(base: KnowledgeBase, decision: Decision, plan: Plan) -> str:
    """Say to the technician what comes next."""
    match decision.kind:
        case "make-safe":
            dangers = " ".join(f"{_capital(h.title)}: {small(h.takeover)}" for h in decision.hazards)
            until = "Until then nothing is replaced, and nothing is tried at home."
            return f"First it is made safe, by those who may. {dangers} {until}"
        case "closed":
            return "The case is closed: nothing more is looked for. What is left is the list before it goes home."
        case "mended":
            end = "See that all of it works, and watch it."
            return f"Nothing is left to replace: {decision.mended}, and the trouble is gone. {end}"
        case "first":
            takeover = " ".join(hazard.takeover for hazard in decision.hazards)
            return f"Before any long test, and before anything is replaced: {small(decision.check)}. {takeover}"
        case "settle":
            after = " If it stands after that: the steps below." if plan.decided else ""
            return f"Settle first: {' '.join(c.question for c in decision.settle)}{after}"
        case "replace":
            first, along = _titles(base, plan, "replace"), _titles(base, plan, "replace-together")
            if not first:
                return f"Replace together: {along}."
            return f"Replace: {first}, and together with it: {along}." if along else f"Replace: {first}."
        case "check":
            return f"Nothing is replaced yet: a check can still tell. The next one: {small(decision.check)}."
        case "ask":
            return "Nothing is replaced yet: no check that is open here tells more. Ask the owner."


def owner_words(decision: Decision) -> str:
    """Say to the owner what comes next; empty where the steps of the plan say it."""
    match decision.kind:
        case "make-safe":
            return (
                "First it has to be made safe, by those who are named at the top of this letter. Until then nothing is "
                "repaired: please try nothing at home."
            )
        case "mended":
            return (
                f"Nothing is left to replace: {decision.mended}, and the trouble is gone. We see that all of it works."
            )
        case "closed":
            return f"{_capital(decision.mended)}." if decision.mended else ""
        case "first":
            takeover = " ".join(hazard.takeover for hazard in decision.hazards)
            return f"Your files come first, before any long test and before anything is replaced. {takeover}"
        case "settle":
            return (
                "Some of what we were told or saw does not fit together. We clear that up before we replace anything."
            )
        case "check":
            return f"Nothing needs to be bought yet. One more check comes first: {small(decision.check)}."
        case "ask":
            return "Nothing needs to be bought yet: your answers to the questions come first."
        case "replace":
            return ""


def _titles(base: KnowledgeBase, plan: Plan, action: str) -> str:
    return ", ".join(title_of(base, step.part) for step in plan.steps if step.action == action)


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def small(title: str) -> str:
    """Give a title as it stands inside a sentence: small, unless its first word is an abbreviation."""
    first = title.split(" ", 1)[0]
    return title if first[1:2].isupper() else f"{title[:1].lower()}{title[1:]}"
