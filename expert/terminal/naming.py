"""Names as people type them, such as "spare psu" for `spare-supply`."""

from collections.abc import Iterable, Mapping
from difflib import SequenceMatcher, get_close_matches

from expert.terminal.consultation import UnreadError
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase

LISTED, NEAR = 50, 3  # the most names that are all listed, and how many of the likeliest where there are more
CLOSE = 0.8  # from this likeness on a word is taken for a mistyped one


def things_of(base: KnowledgeBase) -> dict[str, str]:
    """Give the tools and spares that checks and couplings speak of, each with its name in words."""
    named = [item for check in base.checks for item in (*check.tools, *check.spares)]
    named += [coupling.unless_spare for coupling in base.couplings if coupling.unless_spare]
    return {item: item.replace("-", " ") for item in sorted(set(named))}


def parts_named(base: KnowledgeBase) -> dict[str, str]:
    """Give the parts, each with its id and its plain name in words."""
    return {part.id: f"{part.id} {part.title}" for part in base.build_parts}


def find(typed: str, names: Mapping[str, str], base: KnowledgeBase, what: str) -> str:
    """Give the id that was meant; raise `CallError` with the likeliest ones where that is not clear.

    An id as it stands is always meant; otherwise every word typed must be in the name, or be nearly one of its words.
    """
    if typed in names:
        return typed
    words = _words(typed, base)
    exact = [name for name in names if _words(name.replace("-", " "), base) == words]
    phrase = [name for name, title in names.items() if typed and typed.lower() in title.lower()]
    meant = (
        exact
        or phrase
        or [name for name, title in names.items() if words and _holds(words, _words(f"{name} {title}", base))]
    )
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise CallError(f"{typed!r} may be {' or '.join(meant[:4])}; type one of these")
    if len(names) <= LISTED:
        raise UnreadError(f"no {what} {typed!r}; known are {', '.join(names)}")
    likely = " or ".join(get_close_matches(typed, names, NEAR, cutoff=0.5))
    hint = f"did you mean {likely}?" if likely else "Tab and 'ohmbudsman knowledge list' tell them all"
    raise UnreadError(f"no {what} {typed!r}; {hint}")


def _words(text: str, base: KnowledgeBase) -> set[str]:
    """Give the words of a name; the short name of a part counts as the last word of the long one: psu, supply."""
    short = {part.id: part.title.split()[-1] for part in base.build_parts if len(part.title.split()) <= 2}
    return {short.get(word, word) for word in text.lower().replace("-", " ").replace("'s", "").split()}


def _holds(words: Iterable[str], name: set[str]) -> bool:
    return all(any(_alike(word, other) for other in name) for word in words)


def _alike(one: str, other: str) -> bool:
    return one == other or (len(one) > 3 and SequenceMatcher(None, one, other).ratio() >= CLOSE)
