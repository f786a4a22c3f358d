"""A second look, by a model: it proposes what the wordings miss, and takes back what they find out of place.

A proposal is a guess, to be asked about. The model has learned from denials, other people's machines and old stories;
where the context, which knows them too, has dropped the same finding, a proposal must be twice as likely as not, and
three times where the message says nothing else.
Taken back is a mention in a sentence that by itself most likely says no such thing, or more likely the opposite;
seen with the rest of the message, it may come again as a proposal. Never taken back is what the writer hedges,
which counts for less already; a danger, which is rather raised too often, only against long odds.
Needs the scope. Changes `doc._.mentions`, adds an edge for each that is gone, and sets `doc._.proposals`.
"""

from dataclasses import replace
from math import exp, log
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
_PROPOSED = 0.2  # eleven to nine
_DANGER_PROPOSED = log(0.15 / 0.85)  # asked once too often rather than once too rarely
_AGAINST_CONTEXT = log(2)  # where the context has dropped the same finding
_LONE = log(3)  # where the message says nothing else: it may be about no fault of this machine
_TOLD = log(1 / 2)
# How likely a proposal is not so, in steps, since odds are not the same to the last digit on another machine. On the
# held messages measured findings doubted by .05, .1 and .2 were not so in .04, .11 and .19; finer ones, whose odds are
# raised (`tests/train.py`), are less sure than that. A doubt of a half would say nothing.
_STEP = 0.05
_LEAST_DOUBT, _MOST_DOUBT = 0.05, 0.4
_DANGER_TOLD = log(0.05 / 0.95)


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
        odds, opposite = likelihoods.of(doc, mention)
        if odds is None or mention.hedged:
            return False
        if self._is_danger(mention):
            return odds < _DANGER_TOLD
        return odds < _TOLD or (opposite is not None and opposite > max(odds, _PROPOSED))

    def _is_danger(self, mention: Mention) -> bool:
        return self._findings[mention.finding].kind == "danger" and mention.polarity == "present"

    def _proposals(self, doc: Doc, likelihoods: Likelihoods) -> list[Mention]:
        open_ = self._findings.keys() - {mention.finding for mention in doc._.mentions}
        likely = [each for each in likelihoods.above(_DANGER_PROPOSED) if each[0].finding in open_]
        odds = {each: odds for each, odds in likely if odds > _PROPOSED or self._is_danger(each)}
        dropped = _dropped(doc)
        odds = {
            each: odds
            for each, odds in odds.items()
            if odds > _AGAINST_CONTEXT or not any(_lies_in(doc, edge, each) for edge in dropped.get(each.finding, ()))
        }
        best: dict[str, Mention] = {}
        for mention in sorted(odds, key=lambda mention: (-odds[mention], mention.start, mention.end, mention.finding)):
            best.setdefault(mention.finding, mention)
        guesses = list(best.values())
        if not doc._.mentions and len(guesses) == 1:
            guesses = [guess for guess in guesses if odds[guess] > _LONE or self._is_danger(guess)]
        return [replace(guess, doubt=_doubt(odds[guess])) for guess in guesses]


def _doubt(odds: float) -> float:
    """Give how likely what is proposed at these odds (natural logarithm) is not so: 0.1 at nine to one."""
    doubt = round(1 / (1 + exp(odds)) / _STEP) * _STEP
    return round(min(max(doubt, _LEAST_DOUBT), _MOST_DOUBT), 2)


def _dropped(doc: Doc) -> dict[str, list[Edge]]:
    """Give the edges of what the context has dropped, by finding: "my dad's old one smoked"."""
    dropped: dict[str, list[Edge]] = {}
    for edge in doc._.edges or ():
        if edge.category in DROPPING:
            dropped.setdefault(edge.finding, []).append(edge)
    return dropped


def _lies_in(doc: Doc, edge: Edge, proposal: Mention) -> bool:
    """Tell whether the mention of an edge stands where something is proposed."""
    start, end = doc._.offsets[proposal.start][0], doc._.offsets[proposal.end - 1][1]
    return bool(edge.start < end and start < edge.end)


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
