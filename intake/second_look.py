"""A second look, by a model: it proposes what the wordings miss, and takes back what they find out of place.

A proposal is a guess, to be asked about. The context drops it as it drops a mention ("my neighbour's", "could it be");
what denies is in the clause, so the model has seen it already. Taken back is a mention in a clause that says such a
thing less than six times in a thousand; never a danger, which is rather raised too often.
Needs the scope. Changes `doc._.mentions`, adds an edge for each that is gone, and sets `doc._.proposals`.
"""

from collections.abc import Sequence
from math import log
from typing import TYPE_CHECKING

from spacy.language import Language
from spacy.tokens import Doc

from intake.likelihood import Likelihoods, likelihoods_of
from intake.mentions import Mention
from intake.reading import Edge
from intake.scope import Scope

if TYPE_CHECKING:
    from intake.lexicon import Lexicon

_PROPOSED = 0.0  # natural logarithm of the odds: even
_DANGER_PROPOSED = log(1 / 2)  # one in three: asked once too often rather than once too rarely
_OUT_OF_PLACE = log(0.006 / 0.994)


class SecondLook:
    """Adds to what the wordings found, and takes from it."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self._findings = lexicon.findings
        self._scope = Scope(lexicon)

    def __call__(self, doc: Doc) -> Doc:
        """Take back what is out of place; propose one mention for a finding at most, the likeliest first."""
        likelihoods = likelihoods_of(doc)
        out = [mention for mention in doc._.mentions if self._is_out_of_place(doc, mention, likelihoods)]
        gone = set(out)
        doc._.mentions = [mention for mention in doc._.mentions if mention not in gone]
        doc._.proposals = self._proposals(doc, likelihoods, {mention.finding for mention in (*doc._.mentions, *out)})
        doc._.edges = [*(doc._.edges or ()), *(_edge(doc, mention) for mention in out)]
        return doc

    def _is_out_of_place(self, doc: Doc, mention: Mention, likelihoods: Likelihoods) -> bool:
        odds = likelihoods.of(doc, mention)
        return odds is not None and odds < _OUT_OF_PLACE and not self._is_danger(mention)

    def _is_danger(self, mention: Mention) -> bool:
        return self._findings[mention.finding].kind == "danger"

    def _proposals(self, doc: Doc, likelihoods: Likelihoods, looked_at: set[str]) -> list[Mention]:
        open_ = self._findings.keys() - looked_at
        likely = [each for each in likelihoods.above(_DANGER_PROPOSED) if each[0].finding in open_]
        odds = {mention: odds for mention, odds in likely if odds > _PROPOSED or self._is_danger(mention)}
        ranked = sorted(odds, key=lambda mention: (-odds[mention], mention.start, mention.end, mention.finding))
        best: dict[str, Mention] = {}
        for mention in self._standing(doc, ranked):
            best.setdefault(mention.finding, mention)
        return list(best.values())

    def _standing(self, doc: Doc, mentions: Sequence[Mention]) -> list[Mention]:
        """Give those whose first and last words the context leaves standing, whatever state it makes of them."""
        if not mentions:
            return []
        ends = {each: {_word(each, each.start), _word(each, each.end - 1)} for each in mentions}
        told, edges = doc._.mentions, doc._.edges
        doc._.mentions = sorted({word for words in ends.values() for word in words}, key=_place)
        standing = {_place(word) for word in self._scope(doc)._.mentions}
        doc._.mentions, doc._.edges = told, edges
        return [each for each in mentions if all(_place(word) in standing for word in ends[each])]


def _word(mention: Mention, at: int) -> Mention:
    return Mention(mention.finding, "present", at, at + 1, frozenset([at]))


def _place(mention: Mention) -> tuple[int, str]:
    return mention.start, mention.finding


def _edge(doc: Doc, mention: Mention) -> Edge:
    """The clause takes the mention back."""
    first, last = (doc._.clauses[doc._.clause_of[at]] for at in (mention.start, mention.end - 1))
    start, end = doc._.offsets[first[0]][0], doc._.offsets[last[1] - 1][1]
    place = doc._.offsets[mention.start][0], doc._.offsets[mention.end - 1][1]
    return Edge("unlikely", doc._.text[start:end], start, end, mention.finding, *place)


@Language.factory("second_look", default_config={"lexicon": ""})
def make_second_look(nlp: Language, name: str, lexicon: str) -> SecondLook:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return SecondLook(LEXICONS[lexicon])
