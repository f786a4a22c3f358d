"""How likely a message says what: its clauses and sentences by two models, and the whole of it by the third."""

from itertools import accumulate
from typing import Any, NamedTuple

import numpy
from spacy.tokens import Doc

from intake.gist import pooled_of, share_of
from intake.model import Model, columns_of
from intake.network import UNKNOWN
from intake.pieces import pieces_of
from intake.stretches import Stretch, sentences_of, stretches_of

_SAYS_NOTHING = -3.5  # log odds that nothing which a sentence may say exceeds
NEVER = -8.0  # the log odds of what no model has seen
_FEWEST = 3  # different words that the models know: fewer of them are no ground for a guess


class Likelihoods(NamedTuple):
    """What the models make of a message.

    `odds` are natural logarithms: those of the network, then of the encoder, a row for each span of tokens, a column
    for each label. `is_known` tells of each span whether enough of its words are known. `gist` are the odds of each
    label in the message as a whole, `no_fault` those that it tells of none, and `share` is how much it tells as a
    whole, from 0 to 1.
    """

    spans: list[tuple[int, int]]
    odds: Any
    is_known: Any
    gist: Any
    no_fault: float
    share: float

    def likeliest(self, column: int) -> tuple[int, int]:
        """Give the span that most likely says a label, of those that are known."""
        both = numpy.where(self.is_known, self.odds[..., column].sum(axis=0), -numpy.inf)
        return self.spans[int(both.argmax())]


def likelihoods_of(doc: Doc, model: Model) -> Likelihoods:
    """Give what the clauses of `doc` are likely to say."""
    stretches = list(stretches_of(doc))
    if not stretches:
        nothing = numpy.empty((2, 0, len(model.labels)))
        return Likelihoods([], nothing, numpy.empty(0, bool), *_gist(model, [], None))
    sentences = sentences_of(stretches)
    wholes = [(first, end) for first, end in sentences if end - first > 1]
    ranges = [*((row, row + 1) for row in range(len(stretches))), *wholes]
    known = [model.words.keys() & set(stretch.stems) for stretch in stretches]
    odds, telling, seen = _odds(model, stretches, sentences, wholes, _told(doc, stretches, model))
    return Likelihoods(
        [(stretches[first].start, stretches[end - 1].end) for first, end in ranges],
        odds,
        numpy.array([len(set().union(*known[first:end])) >= _FEWEST for first, end in ranges]),
        *_gist(model, [stretch for first, end in telling for stretch in stretches[first:end]], seen),
    )


def _gist(model: Model, stretches: list[Stretch], seen: Any) -> tuple[Any, float, float]:
    """Give the last fields of `Likelihoods`, by all that may say something; `seen` are its pieces, if any."""
    pooled = numpy.zeros(len(model.gist.weights), numpy.float32) if seen is None else pooled_of(seen)
    stems = {stem for stretch in stretches for stem in stretch.stems}
    rows = {model.words[stem] for stem in stems & model.words.keys()}
    return *model.gist.odds(rows, pooled), share_of(rows)


def _told(doc: Doc, stretches: list[Stretch], model: Model) -> Any:
    """Mark which labels the wordings found in which stretch."""
    columns = columns_of(model.labels)
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
) -> tuple[Any, list[tuple[int, int]], Any]:
    """Give the odds, and the sentences that may say something with what is seen of their pieces, if there are any.

    The others are as if not there.
    """
    ranges = [*((row, row + 1) for row in range(len(stretches))), *wholes]
    told_in = numpy.array([told[first:end].max(axis=0) for first, end in ranges])
    stems = [[model.words.get(stem, UNKNOWN) for stem in stretch.stems] for stretch in stretches]
    view = model.network.view(stretches, stems, wholes, told)
    network = model.network.odds(view)
    encoder, seen = numpy.full_like(network, NEVER), None

    is_said = (network.max(axis=1) > _SAYS_NOTHING) | told_in.any(axis=1)
    row_of = {span: row for row, span in enumerate(ranges)}
    telling = [(first, end) for first, end in sentences if is_said[first:end].any() or is_said[row_of[first, end]]]
    if telling:
        network = network + model.network.shifts(view, *_beside(ranges, telling))
        within = {at for first, end in telling for at in range(first, end)}
        rows = [row for row, (first, _) in enumerate(ranges) if first in within]
        encoder[rows], seen = _by_encoder(model, stretches, telling, [ranges[row] for row in rows], told_in[rows])
    return numpy.stack([network, encoder]), telling, seen


def _by_encoder(
    model: Model,
    stretches: list[Stretch],
    sentences: list[tuple[int, int]],
    ranges: list[tuple[int, int]],
    told: Any,
) -> tuple[Any, Any]:
    """Give what the encoder makes of ranges in these sentences, as if there were no others, and of their pieces."""
    within = [at for first, end in sentences for at in range(first, end)]
    pieces = {at: [row for word in stretches[at].words for row in pieces_of(word, model.pieces)] for at in within}
    seen = model.encoder.seen([[row for at in range(first, end) for row in pieces[at]] for first, end in sentences])
    starts = dict(zip(pieces, accumulate(map(len, pieces.values()), initial=0), strict=False))
    spans = [(starts[first], starts[end - 1] + len(pieces[end - 1])) for first, end in ranges]
    return model.encoder.odds(seen, spans, told), seen


def _beside(ranges: list[tuple[int, int]], sentences: list[tuple[int, int]]) -> tuple[list[int], list[int]]:
    """Give the stretches before and after each range that lies in one of these sentences; one too many is none."""
    rows = [row for first, end in sentences for row in range(first, end)]
    none = len(ranges)
    before = dict(zip(rows, [none, *rows], strict=False))
    after = dict(zip(rows, [*rows[1:], none], strict=True))
    return [before.get(first, none) for first, _ in ranges], [after.get(end - 1, none) for _, end in ranges]
