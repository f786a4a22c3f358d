"""What a message is about from sentence to sentence: the machine to mend, or something else.

Thanks after a repair, an offer of parts, spares wanted, advice on buying, a lesson, an alarm that is over: such a
purpose carries over the sentences that follow, until the writer comes back to the machine to mend. Its words are cues
of the base: the purposes are those of reach `onward`, what comes back is of the category `own`, `return` or `lately`.
Once the machine to mend has been spoken of, a purpose tells of its own sentence only. Needs the sentences.
"""

from collections.abc import Iterator, Sequence, Set
from typing import TYPE_CHECKING, NamedTuple

from spacy.tokens import Doc

from intake.strangers import said_of

if TYPE_CHECKING:
    from knowledge.wordings import Cue

Hit = tuple["Cue", int, int]

_SETTLED = frozenset(["past", "refuted"])  # "you mended my tower": the own machine, and yet not as it is now
_BACK = {True: frozenset(["return", "lately"]), False: frozenset(["return", "own"])}
MARKERS = frozenset(["own", "return", "lately"])


class Aside(NamedTuple):
    """Tokens first..last tell of something else, as the cue at start..end says."""

    start: int
    end: int
    first: int
    last: int


class _Opened(NamedTuple):
    cue: "Cue"
    start: int
    end: int
    first: int

    def until(self, last: int) -> Aside:
        return Aside(self.start, self.end, self.first, last)


def is_discourse(cue: "Cue") -> bool:
    """Tell whether a cue is read here, and by its clause no more."""
    return cue.reach == "onward" or cue.category in MARKERS


def asides(doc: Doc, hits: Sequence[Hit], told: Set[int]) -> Iterator[Aside]:
    """Yield the stretches about something else; `hits` in order, `told` the tokens that begin a sign of a machine."""
    opened: _Opened | None = None
    home = 0  # where the writer came last to the machine to mend
    introduced = False
    pending = list(hits)
    for sentence in doc.sents:
        since = opened
        while pending and pending[0][1] < sentence.end:
            cue, start, end = pending.pop(0)
            start = said_of(doc, start) if cue.category == "own" else start
            if opened and cue.category in _BACK[opened.cue.category in _SETTLED]:
                yield opened.until(start)
                opened = None
            if cue.category in MARKERS:
                home = start
                introduced = introduced or (cue.category == "own" and opened is None)
            elif opened is None:
                opened = _Opened(cue, start, end, _first(cue, start, sentence.start, home, introduced))
        if opened and opened is not since and introduced and opened.cue.category != "refuted":
            yield opened.until(sentence.end)
            opened = None
        introduced = introduced or (opened is None and any(sentence.start <= at < sentence.end for at in told))
    if opened:
        yield opened.until(len(doc))


def _first(cue: "Cue", start: int, sentence: int, home: int, introduced: bool) -> int:
    """Where the stretch begins: with the sentence, or earlier if the cue reaches back."""
    if cue.category in _SETTLED:
        return 0 if cue.direction == "both" else sentence
    if cue.direction == "both":
        return max(home, sentence) if introduced else home
    return start if home > sentence else sentence
