"""Stretches of a message that tell of somebody else's machine, where the writer names an own one as well.

"My neighbour's computer caught fire, real flames; mine is the same age": the flames are the neighbour's. Where no own
machine is named, the machine spoken of is the one to mend, whosever it is. Needs the sentences; `people` are those of
other households, `kin` those who may well write for each other.
"""

from collections.abc import Iterator, Set

from spacy.tokens import Doc, Token

from intake.words import stem

_MINE = frozenset(["mine", "mines", "ours", "own"])
_MY = frozenset(["my", "our", "this"])
_THEIRS = frozenset(["his", "her", "their"])
_OWNING = frozenset(["has", "had", "have", "owns", "owned"])
_POSSESSIVES = frozenset(["'s", "'", "’"])
_GOES_ON = frozenset(["it", "they", "he", "she", "his", "her", "its", "their", "there", "then"])
_OF = frozenset(["from", "of", "on", "in", "at", "out", "inside"])
_NEAR = 3  # words from an owner to the machine, at most: "my friend's | old gaming | computer"


def strangers(doc: Doc, machines: Set[str], people: Set[str], kin: Set[str]) -> Iterator[tuple[int, int, int]]:
    """Yield (start, end, last): the words that name another's machine, and the token up to which it is told of.

    It goes on to the end of the sentence, and over sentences that go on by pronoun, until an own machine is named.
    """
    own = [
        said_of(doc, token.i)
        for token in doc
        if token.text in _MINE or (token.lemma_ in machines and _is_my(doc, token.i))
    ]
    if not own:
        return
    for token in doc:
        start = _owner(doc, token, people, kin) if token.lemma_ in machines else None
        if start is not None:
            yield start, token.i + 1, min([place for place in own if place > token.i] + [_end(doc, token)])


def said_of(doc: Doc, machine: int) -> int:
    """Where the words begin that tell of the machine named at `machine`: with it, or "a smell from mine" before it."""
    before = machine - 2 if machine > 1 and doc[machine - 1].text in _MY else machine - 1
    if before >= 0 and doc[before].text in _OF:
        return int(doc._.clauses[doc._.clause_of[machine]][0])
    return machine


def _is_my(doc: Doc, at: int) -> bool:
    return at > 0 and doc[at - 1].text in _MY


def _owner(doc: Doc, machine: Token, people: Set[str], kin: Set[str]) -> int | None:
    """Where the words begin that give `machine` to somebody of another household; None where none do."""
    sentence = machine.sent.start
    for place in range(machine.i - 1, max(machine.i - 1 - _NEAR, sentence - 1), -1):
        text = doc[place].text
        before = _who(doc[place - 1]) if place > sentence else ""
        if text in _MY:
            return None
        if _who(doc[place]) in people:
            return place
        if text in _OWNING and before in people:
            return place - 1
        if text in _POSSESSIVES and before not in kin:
            return place - 1
        if text in _THEIRS and any(_who(token) in people for token in doc[sentence:place]):
            return place
    return None


def _who(token: Token) -> str:
    return stem(token.text.partition(" ")[0])  # "friend 's" may be one term


def _end(doc: Doc, machine: Token) -> int:
    """The end of the sentence of `machine`, or of those after it that go on by pronoun."""
    end: int = machine.sent.end
    while end < len(doc):
        words = [token.text for token in doc[end].sent if token.tag_ == "WORD"]
        if not words or words[0] not in _GOES_ON:
            break
        end = doc[end].sent.end
    return end
