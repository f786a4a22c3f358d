"""What is said of one part and said again of another: "reseated the memory, ditto the graphics card".

Where words of likeness or of correction lead to a part, the statement before them is read once more with that part in
the place of the one that it names last; what is read there is a mention at the words that say it again.
Needs the clauses.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

from spacy.tokens import Doc, Token

from intake import grammar

if TYPE_CHECKING:
    from intake.lexicon import Lexicon, Said
    from intake.patterns import Match, Pattern

_LIKE = ("ditto", "likewise", "i mean", "i meant", "or rather", "and equally")
_LIKE_WITH = ("same", "same again", "same thing", "same trick", "same treatment")
_LEADING = frozenset(["the", "my", "our", "a", "an", "another", "other", "its", "his", "her", "with", "for", "to", ","])
_FARTHEST = 30  # words from the words of likeness back to the part
_NEAR = 6  # words before the words of likeness in which a denial counts: "I have not done the same with"


def echoes(doc: Doc, lexicon: "Lexicon") -> Iterator[tuple["Pattern[Said]", "Match"]]:
    """Yield what each statement says that is said again, its match at the words that say so."""
    parts = [token for token in doc if token.lemma_ in lexicon.parts]
    for before, part in pairwise(parts):
        start = _likeness(doc, before, part)
        if start is not None and lexicon.parts[part.lemma_] != lexicon.parts[before.lemma_]:
            place = frozenset(range(start, part.i + 1))
            for pattern, match in _again(doc, lexicon, before, part):
                yield pattern, match._replace(start=start, end=part.i + 1, literal=place)


def _likeness(doc: Doc, before: Token, part: Token) -> int | None:
    """Where the words of likeness begin that lead to `part`; None where none do, or where they are denied."""
    at = part.i - 1
    led = set()
    while at > before.i and doc[at].text in _LEADING:
        led.add(doc[at].text)
        at -= 1
    words = " ".join(token.text for token in doc[max(at - 1, before.i + 1) : at + 1])
    alike = words.endswith(_LIKE) or (words.endswith(_LIKE_WITH) and not led.isdisjoint(["with", "for", "to"]))
    denied = any(token.text in grammar.NEGATIVE for token in doc[max(at - _NEAR, before.i + 1) : at])
    return at if alike and not denied and at - before.i <= _FARTHEST else None


def _again(doc: Doc, lexicon: "Lexicon", before: Token, part: Token) -> Iterator[tuple["Pattern[Said]", "Match"]]:
    """Read the clause of `before` with `part` in its place; nothing where the clause denies."""
    start, end = doc._.clauses[doc._.clause_of[before.i]]
    words = list(doc[start : min(end, part.i)])
    if any(word.text in grammar.NEGATIVE for word in words):
        return
    words[before.i - start] = part
    texts, tags, lemmas = ([getattr(word, name) for word in words] for name in ("text", "tag_", "lemma_"))
    again = Doc(doc.vocab, texts, tags=tags, lemmas=lemmas)
    for pattern, match in lexicon.wordings.find(again[:]):
        if before.i - start in match.literal and pattern.owner.polarity == "present" and not pattern.owner.about:
            yield pattern, match
