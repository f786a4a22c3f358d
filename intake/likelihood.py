"""How likely the clauses of a message say what, by both models: each clause, and each sentence as a whole."""

from itertools import accumulate
from typing import Any, NamedTuple

import numpy
from spacy.tokens import Doc

from intake.model import Model
from intake.network import UNKNOWN
from intake.pieces import pieces_of
from intake.stretches import Stretch, sentences_of, stretches_of

_SAYS_NOTHING = -3.5  # log odds that nothing which a sentence may say exceeds
NEVER = -8.0  # the log odds of what no model has seen
_FEWEST = 3  # different words that the models know: fewer of them are no ground for a guess


class Likelihoods(NamedTuple):
    """What both models make of spans of tokens.

    `odds` are natural logarithms: those of the network, then of the encoder, a row for each span, a column for each
    label. `is_known` tells of each span whether enough of its words are known; `stems` are those of all sentences that
    may say something.
    """

    spans: list[tuple[int, int]]
    odds: Any
    is_known: Any
    stems: frozenset[str]

    def likeliest(self, column: int) -> tuple[int, int]:
        """Give the span that most likely says a label, of those that are known."""
        both = numpy.where(self.is_known, self.odds[..., column].sum(axis=0), -numpy.inf)
        return self.spans[int(both.argmax())]


def likelihoods_of(doc: Doc, model: Model) -> Likelihoods:
    """Give what the clauses of `doc` are likely to say."""
    stretches = list(stretches_of(doc))
    if not stretches:
        return Likelihoods([], numpy.empty((2, 0, len(model.labels))), numpy.empty(0, bool), frozenset())
    sentences = sentences_of(stretches)
    wholes = [(first, end) for first, end in sentences if end - first > 1]
    ranges = [*((row, row + 1) for row in range(len(stretches))), *wholes]
    known = [model.words.keys() & set(stretch.stems) for stretch in stretches]
    odds, telling = _odds(model, stretches, sentences, wholes, _told(doc, stretches, model))
    return Likelihoods(
        [(stretches[first].start, stretches[end - 1].end) for first, end in ranges],
        odds,
        numpy.array([len(set().union(*known[first:end])) >= _FEWEST for first, end in ranges]),
        frozenset().union(*(stretch.stems for first, end in telling for stretch in stretches[first:end])),
    )


def _told(doc: Doc, stretches: list[Stretch], model: Model) -> Any:
    """Mark which labels the wordings found in which stretch."""
    columns = {label: column for column, label in enumerate(model.labels)}
    told = numpy.zeros((len(stretches), len(columns)), numpy.float32)
    rows = {at: row for row, stretch in enumerate(stretches) for at in range(stretch.start, stretch.end)}
    for mention in doc._.mentions:
        column = columns.get((mention.finding, mention.polarity))
        if column is not None:
            told[[rows[at] for at in range(mention.start, mention.end) if at in rows], column] = 1
    return told


def _odds(
    model: Model,
    stretches: list[Stretch],
    sentences: list[tuple[int, int]],
    wholes: list[tuple[int, int]],
    told: Any,
) -> tuple[Any, list[tuple[int, int]]]:
    """Give the odds in the message and the sentences that may say something; the others are as if not there."""
    ranges = [*((row, row + 1) for row in range(len(stretches))), *wholes]
    told_in = numpy.array([told[first:end].max(axis=0) for first, end in ranges])
    stems = [[model.words.get(stem, UNKNOWN) for stem in stretch.stems] for stretch in stretches]
    view = model.network.view(stretches, stems, wholes, told)
    network = model.network.odds(view)
    encoder = numpy.full_like(network, NEVER)

    is_said = (network.max(axis=1) > _SAYS_NOTHING) | told_in.any(axis=1)
    row_of = {span: row for row, span in enumerate(ranges)}
    telling = [(first, end) for first, end in sentences if is_said[first:end].any() or is_said[row_of[first, end]]]
    if telling:
        network = network + model.network.shifts(view, *_beside(ranges, telling))
        within = {at for first, end in telling for at in range(first, end)}
        rows = [row for row, (first, _) in enumerate(ranges) if first in within]
        encoder[rows] = _by_encoder(model, stretches, telling, [ranges[row] for row in rows], told_in[rows])
    return numpy.stack([network, encoder]), telling


def _by_encoder(
    model: Model,
    stretches: list[Stretch],
    sentences: list[tuple[int, int]],
    ranges: list[tuple[int, int]],
    told: Any,
) -> Any:
    """Give what the encoder makes of ranges in these sentences, of which alone the message consists."""
    within = [at for first, end in sentences for at in range(first, end)]
    pieces = {at: [row for word in stretches[at].words for row in pieces_of(word, model.pieces)] for at in within}
    seen = model.encoder.seen([[row for at in range(first, end) for row in pieces[at]] for first, end in sentences])
    starts = dict(zip(pieces, accumulate(map(len, pieces.values()), initial=0), strict=False))
    spans = [(starts[first], starts[end - 1] + len(pieces[end - 1])) for first, end in ranges]
    return model.encoder.odds(seen, spans, told)


def _beside(ranges: list[tuple[int, int]], sentences: list[tuple[int, int]]) -> tuple[list[int], list[int]]:
    """Give the stretches before and after each range that lies in one of these sentences; one too many is none."""
    rows = [row for first, end in sentences for row in range(first, end)]
    none = len(ranges)
    before = dict(zip(rows, [none, *rows], strict=False))
    after = dict(zip(rows, [*rows[1:], none], strict=True))
    return [before.get(first, none) for first, _ in ranges], [after.get(end - 1, none) for _, end in ranges]
