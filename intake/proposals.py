"""Findings that no wording finds and the words still suggest: proposed by a model, to be asked about.

The context drops a proposal as it drops a mention ("my neighbour's", "could it be"); what denies is in the clause, so
the model has seen it already. Needs the scope, whose results stay as they are. Sets `doc._.proposals`.
"""

from collections.abc import Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any, cast

import numpy
from spacy.language import Language
from spacy.tokens import Doc

from intake.mentions import Mention, Polarity
from intake.model import Model, pieces_of, shipped_model
from intake.scope import Scope

if TYPE_CHECKING:
    from intake.lexicon import Lexicon

_LEAST_ODDS = 0.8  # the natural logarithm: less than seven in ten is not proposed


class Proposals:
    """Proposes what the clauses of a doc may say."""

    def __init__(self, lexicon: "Lexicon") -> None:
        self._findings = lexicon.findings.keys()
        self._scope = Scope(lexicon)

    def __call__(self, doc: Doc) -> Doc:
        """Set `doc._.proposals`: one mention for a finding at most, the likeliest first."""
        odds = self._odds(doc)
        ranked = sorted(odds, key=lambda mention: (-odds[mention], mention.start, mention.end, mention.finding))
        best: dict[str, Mention] = {}
        for mention in self._standing(doc, ranked):
            best.setdefault(mention.finding, mention)
        doc._.proposals = list(best.values())
        return doc

    def _odds(self, doc: Doc) -> dict[Mention, float]:
        """Give what each clause, and each with the next of its sentence, is likely to say that no wording says."""
        model = shipped_model()
        spans, sums, sizes = _spans(doc, model)
        odds = model.odds(numpy.array(sums), numpy.array(sizes)) if spans else numpy.empty((0, 0))
        asked = self._findings - {mention.finding for mention in doc._.mentions}
        found: dict[Mention, float] = {}
        for row, column in numpy.argwhere(odds > _LEAST_ODDS).tolist():
            finding, state = model.labels[column]
            if finding in asked:
                start, end = spans[row]
                mention = Mention(finding, cast(Polarity, state), start, end, frozenset(range(start, end)))
                found[mention] = float(odds[row, column])
        return found

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


def _spans(doc: Doc, model: Model) -> tuple[list[tuple[int, int]], list[Any], list[int]]:
    """Give each clause, and each with the next of its sentence: from which word to which, the sum over its pieces, and
    how many these are.
    """
    first_of_sentence = {sentence.start for sentence in doc.sents}
    stems = stems_of(doc)
    in_words = [token.tag_ in ("WORD", "NUM") for token in doc]
    spans: list[tuple[int, int]] = []
    sums: list[Any] = []
    sizes: list[int] = []
    before = -1
    for start, end in doc._.clauses:
        words = [at for at in range(start, end) if in_words[at]]
        if not words:
            continue
        pieces = pieces_of(list(chain.from_iterable(stems[start:end])))
        here = len(spans)
        spans.append((words[0], words[-1] + 1))
        sums.append(model.sum_of(pieces))
        sizes.append(len(pieces))
        if before >= 0 and start not in first_of_sentence:
            spans.append((spans[before][0], spans[here][1]))
            sums.append(sums[before] + sums[here])
            sizes.append(sizes[before] + sizes[here])
        before = here
    return spans, sums, sizes


def stems_of(doc: Doc) -> list[list[str]]:
    """Give for each token the stems of its words, of a mark the mark, and nothing of one that ends a phrase."""
    return [[] if token.tag_ == "END" else token.lemma_.split(" ") for token in doc]


def _word(mention: Mention, at: int) -> Mention:
    return Mention(mention.finding, "present", at, at + 1, frozenset([at]))


def _place(mention: Mention) -> tuple[int, str]:
    return mention.start, mention.finding


@Language.factory("proposals", default_config={"lexicon": ""})
def make_proposals(nlp: Language, name: str, lexicon: str) -> Proposals:
    """Make the part of the pipeline; `lexicon` is the key of one in `intake.lexicon.LEXICONS`."""
    from intake.lexicon import LEXICONS

    return Proposals(LEXICONS[lexicon])
