"""What of the parts may be carried over into a rebuild, what that asks of the new ones, and what goes together.

Which facts must agree, and how, stands in `fit.toml`; a fact that is not known is asked for.
"""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from expert.build import Ask, Part
from knowledge.fit_models import Coupling, Fit, Refusal
from knowledge.models import KnowledgeBase


@dataclass(frozen=True)
class Match:
    """Whether two parts of one build agree: `fits` is None where a fact is not known; `text` says it in words."""

    fit: Fit
    fits: bool | None
    text: str


@dataclass(frozen=True)
class Requirement:
    """What a part to be bought must be, since another one is kept."""

    fit: str
    part: str
    kept: str
    text: str
    because: str
    source: str


@dataclass(frozen=True)
class Carried:
    """What follows from keeping some parts and replacing others; `stuck` are kept parts that nothing on sale fits."""

    requirements: tuple[Requirement, ...]
    asks: tuple[Ask, ...]
    stuck: tuple[str, ...]


def matches(base: KnowledgeBase, parts: Sequence[Part]) -> tuple[Match, ...]:
    """Hold every pair of parts of a build against each other."""
    pairs = [
        (fit, one, other)
        for fit in base.fits
        for one in parts
        for other in parts
        if one.part == fit.part and other.part == fit.against and _arises(fit, one)
    ]
    return tuple(_match(fit, one, other) for fit, one, other in pairs)


def carry_over(base: KnowledgeBase, kept: Sequence[Part], replaced: Collection[str]) -> Carried:
    """Give what the parts to be bought must be, so that the kept ones can be used with them."""
    found: list[Requirement] = []
    asks: list[Ask] = []
    stuck: list[str] = []
    for fit, part in [(fit, part) for fit in base.fits for part in kept if part.part not in replaced]:
        if part.part == fit.part and fit.against in replaced and _arises(fit, part):
            values, ask, wants, other = _asked_of_against(fit, part), fit.ask_part, fit.wants_against, fit.against
        elif part.part == fit.against and fit.part in replaced:
            values, ask, wants, other = _asked_of_part(fit, part), fit.ask_against, fit.wants_part, fit.part
        else:
            continue
        if values is None:
            asks.append(Ask(part.part, ask))
        elif not values:
            stuck.append(f"{part.part}: no standard part for {other} goes with it. {fit.because}")
        else:
            text = wants.replace("{values}", " or ".join(values))
            found.append(Requirement(fit.id, other, part.part, text, fit.because, fit.source))
    return Carried(tuple(dict.fromkeys(found)), tuple(dict.fromkeys(asks)), tuple(dict.fromkeys(stuck)))


def together(
    base: KnowledgeBase, replaced: Collection[str], findings: Collection[str], have: Collection[str] = ()
) -> tuple[Coupling, ...]:
    """Give the couplings that hold once these parts are replaced; one may bring the next with it.

    `findings` are those present, `have` the spares at hand: with the right one a part can be replaced alone.
    """
    gone = set(replaced)
    held: dict[Coupling, None] = {}
    while news := [c for c in base.couplings if c not in held and _holds(c, gone, findings, have)]:
        held |= dict.fromkeys(news)
        gone |= {part for coupling in news for part in coupling.parts}
    return tuple(coupling for coupling in base.couplings if coupling in held)


def refused(base: KnowledgeBase, findings: Collection[str], parts: Collection[str]) -> tuple[Refusal, ...]:
    """Give the trials with these parts that are not made where these findings are present."""
    return tuple(r for r in base.refusals if set(r.findings) & set(findings) and set(r.parts) & set(parts))


def _holds(coupling: Coupling, gone: Collection[str], findings: Collection[str], have: Collection[str]) -> bool:
    told = not coupling.findings or bool(set(coupling.findings) & set(findings))
    return told and bool(set(coupling.replacing) & set(gone)) and coupling.unless_spare not in have


def _arises(fit: Fit, part: Part) -> bool:
    return not any(part.word(fact) in values for fact, values in fit.unless.items())


def _match(fit: Fit, part: Part, against: Part) -> Match:
    values = _asked_of_part(fit, against)
    given = part.words(fit.fact)
    if values is None or given is None:
        text = fit.ask_against if values is None else fit.ask_part
        return Match(fit, None, text)
    if fit.how in ("at-most", "at-least"):
        size, limit = part.number(fit.fact), float(values[0])
        if size is None:
            return Match(fit, None, fit.ask_part)
        agrees = size <= limit if fit.how == "at-most" else size >= limit
    else:
        agrees = bool({_plain(value) for value in given} & {_plain(value) for value in values})
    wanted = fit.wants_part.replace("{values}", " or ".join(values)) if values else fit.because
    return Match(fit, agrees, "" if agrees else f"{' and '.join(given)}: what is needed is {wanted}")


def _asked_of_against(fit: Fit, part: Part) -> tuple[str, ...] | None:
    """Give the values of the limit that go with a kept part; None if its fact is not known."""
    given = part.words(fit.fact)
    if given is None:
        return None
    if fit.how in ("at-most", "at-least"):
        return _figure(part, fit.fact)
    if fit.how != "table":
        return given
    known = {_plain(value) for values in fit.takes.values() for value in values} | {_plain(key) for key in fit.takes}
    if not {_plain(value) for value in given} & known:
        return None
    return tuple(key for key, takes in fit.takes.items() if {_plain(v) for v in given} & {_plain(v) for v in takes})


def _asked_of_part(fit: Fit, against: Part) -> tuple[str, ...] | None:
    """Give the values of the fact that go with a kept counterpart; None if its limit is not known."""
    given = against.words(fit.limit)
    if given is None:
        return None
    if fit.how in ("at-most", "at-least"):
        return _figure(against, fit.limit)
    if fit.how != "table":
        return given
    rows = [takes for key, takes in fit.takes.items() if _plain(key) in {_plain(value) for value in given}]
    return tuple(dict.fromkeys(value for takes in rows for value in takes)) if rows else None


def _figure(part: Part, fact: str) -> tuple[str, ...] | None:
    number = part.number(fact)
    return None if number is None else (f"{number:g}",)


def _plain(value: str) -> str:
    """Spell a value for comparing: "LGA 1700", "lga-1700" and "lga1700" are one; a plus sign counts."""
    return re.sub(r"[^a-z0-9+]", "", value.lower())
