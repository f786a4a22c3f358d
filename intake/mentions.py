"""What the wordings find: candidate findings with their tokens, before context is looked at.

A wording that speaks of a thing by pronoun ("put it back in") counts where the thing named last is what it is about.
Needs the clauses, since patterns are run sentence by sentence. Sets `doc._.mentions`.
"""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, replace
from operator import itemgetter
from typing import TYPE_CHECKING, Literal

from spacy.language import Language
from spacy.tokens import Doc

if TYPE_CHECKING:
    from intake.lexicon import Lexicon, Said
    from intake.patterns import Match, Pattern

Polarity = Literal["present", "absent", "denied"]
_FARTHEST = 30  # words between a thing and the pronoun that stands for it


@dataclass(frozen=True, slots=True)
class Mention:
    """A finding named by tokens start..end (half-open) of a doc.

    `literal` are the tokens that the pattern names itself; others in between are fillers or gaps.
    A `denied` mention is a bare name that counts only under a negation, as absent.
    `hedged` is filled in by the scope; `doubt`, of what a model proposes, is how likely it is not so.
    """

    finding: str
    polarity: Polarity
    start: int
    end: int
    literal: frozenset[int] = field(default_factory=frozenset)
    detail: str | None = None
    detail_kind: str | None = None
    hedged: bool = False
    doubt: float | None = None

    @classmethod
    def at(cls, doc: Doc, start: int, end: int, finding: str, detail: str | None = None) -> "Mention | None":
        """Make a present mention of the characters start..end of the message; None where no word is there."""
        first = bisect_right(doc._.offsets, start, key=itemgetter(1))
        after = bisect_left(doc._.offsets, end, key=itemgetter(0))
        if first >= after:
            return None
        return cls(finding, "present", first, after, frozenset(range(first, after)), detail)

    def overlaps(self, other: "Mention") -> bool:
        """Tell whether the two share a token."""
        return self.start < other.end and other.start < self.end

    def with_state(self, polarity: Polarity, hedged: bool) -> "Mention":
        """The same mention as the context has it."""
        return replace(self, polarity=polarity, hedged=hedged)


class Mentions:
    """Runs the wordings over each sentence, and adds what the reader of codes finds."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self.lexicon = lexicon

    def __call__(self, doc: Doc) -> Doc:
        """Set `doc._.mentions`, in the order of the message."""
        from intake.codes import read_codes  # it makes mentions, so it comes after them

        named = [token.i for token in doc if token.lemma_ in self.lexicon.referents]
        found = [
            self._mention(doc, pattern, match, named)
            for sentence in doc.sents
            for pattern, match in self.lexicon.wordings.find(sentence)
            if not pattern.owner.about or self._referent(doc, match, named) in pattern.owner.about
        ]
        doc._.mentions = sorted({*found, *read_codes(doc)}, key=_place)
        return doc

    def _mention(self, doc: Doc, pattern: "Pattern[Said]", match: "Match", named: list[int]) -> Mention:
        said = pattern.owner
        detail = said.detail if said.detail not in ("part", "outcome") else None
        if said.detail == "part":
            detail = self.lexicon.parts.get(self._referent(doc, match, named)) if said.about else self._part(doc, match)
        return Mention(said.finding, said.polarity, match.start, match.end, match.literal, detail, said.detail)

    def _referent(self, doc: Doc, match: "Match", named: list[int]) -> str:
        """The stem of the thing named last before the match; nothing where it is far off or the match names one."""
        number = bisect_left(named, match.start)
        here = (*match.literal, *range(match.end, min(match.end + 1, len(doc))))
        if number == 0 or any(doc[i].lemma_ in self.lexicon.referents for i in here):
            return ""
        return doc[named[number - 1]].lemma_ if match.start - named[number - 1] <= _FARTHEST else ""

    def _part(self, doc: Doc, match: "Match") -> str | None:
        """The part named inside the match, else the nearest in the clause."""
        clause_start, clause_end = doc._.clauses[doc._.clause_of[match.end - 1]]
        named = [
            (max(match.start - i, i - match.end + 1, 0), i)
            for i in range(min(clause_start, match.start), clause_end)
            if doc[i].lemma_ in self.lexicon.parts
        ]
        return self.lexicon.parts[doc[min(named)[1]].lemma_] if named else None


def _place(mention: Mention) -> tuple[int, int, str, str, list[int], str]:
    # They stand in a set, whose order hangs on the hash seed, so mentions alike in all but their literal words are put
    # in order too, those nearest the end first: reads "not present" denies by a word of its own, "1 reads" does not.
    literal = [-token for token in sorted(mention.literal)]
    return mention.start, mention.end, mention.finding, mention.polarity, literal, mention.detail or ""


@Language.factory("mentions", default_config={"lexicon": ""})
def make_mentions(nlp: Language, name: str, lexicon: str) -> Mentions:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return Mentions(LEXICONS[lexicon])
