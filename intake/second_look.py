"""A second look, by a model: it proposes what the wordings miss, and takes back what they find out of place.

A proposal is a guess, to be asked about. The model has learned from denials, other people's machines and old stories;
where the context, which knows them too, has dropped the same finding, a proposal must be twice as likely as not. Taken
back is a mention in a clause that says such a thing in less than one of four cases; never a danger, which is rather
raised too often.
Needs the scope. Changes `doc._.mentions`, adds an edge for each that is gone, and sets `doc._.proposals`.
"""

from math import log
from typing import TYPE_CHECKING

from spacy.language import Language
from spacy.tokens import Doc

from intake.likelihood import Likelihoods, likelihoods_of
from intake.mentions import Mention
from intake.reading import Edge
from intake.scope import DROPPING

if TYPE_CHECKING:
    from intake.lexicon import Lexicon

# Natural logarithms of the odds, chosen on the held messages of the corpus.
_PROPOSED = 0.0  # even
_DANGER_PROPOSED = log(0.2 / 0.8)  # asked once too often rather than once too rarely
_AGAINST_CONTEXT = log(2)  # where the context has dropped the same finding
_OUT_OF_PLACE = log(0.25 / 0.75)


class SecondLook:
    """Adds to what the wordings found, and takes from it."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self._findings = lexicon.findings

    def __call__(self, doc: Doc) -> Doc:
        """Take back what is out of place; propose one mention for a finding at most, the likeliest first."""
        likelihoods = likelihoods_of(doc)
        out = [mention for mention in doc._.mentions if self._is_out_of_place(doc, mention, likelihoods)]
        gone = set(out)
        doc._.mentions = [mention for mention in doc._.mentions if mention not in gone]
        doc._.proposals = self._proposals(doc, likelihoods)
        doc._.edges = [*(doc._.edges or ()), *(_edge(doc, mention) for mention in out)]
        return doc

    def _is_out_of_place(self, doc: Doc, mention: Mention, likelihoods: Likelihoods) -> bool:
        odds = likelihoods.of(doc, mention)
        return odds is not None and odds < _OUT_OF_PLACE and self._findings[mention.finding].kind != "danger"

    def _is_danger(self, mention: Mention) -> bool:
        return self._findings[mention.finding].kind == "danger" and mention.polarity == "present"

    def _proposals(self, doc: Doc, likelihoods: Likelihoods) -> list[Mention]:
        open_ = self._findings.keys() - {mention.finding for mention in doc._.mentions}
        likely = [each for each in likelihoods.above(_DANGER_PROPOSED) if each[0].finding in open_]
        odds = {each: odds for each, odds in likely if odds > _PROPOSED or self._is_danger(each)}
        odds = {each: odds for each, odds in odds.items() if odds > _AGAINST_CONTEXT or not _was_dropped(doc, each)}
        best: dict[str, Mention] = {}
        for mention in sorted(odds, key=lambda mention: (-odds[mention], mention.start, mention.end, mention.finding)):
            best.setdefault(mention.finding, mention)
        return list(best.values())


def _was_dropped(doc: Doc, proposal: Mention) -> bool:
    """Tell whether the context has dropped the same finding there: "my dad's old one smoked"."""
    start, end = doc._.offsets[proposal.start][0], doc._.offsets[proposal.end - 1][1]
    return any(
        edge.category in DROPPING and edge.finding == proposal.finding and edge.start < end and start < edge.end
        for edge in doc._.edges or ()
    )


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
