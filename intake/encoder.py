"""The second model: an encoder that has read much English before; pieces of words in, the log odds of each label out.

A transformer encoder (Vaswani et al., Attention is all you need, 2017) of the shape of BERT (Devlin et al., 2019) makes
of each piece in its place a vector that holds what stands around it: in the first layers a piece sees its own sentence,
in the last ones the sentences near it too. Of a span the greatest and the mean of each number are taken, and a logistic
regression on them, and on what the wordings have found there, gives the odds. The numbers come from a published encoder
(Wang et al., MiniLM, 2020) and are fitted further to the corpus (`python -m tests.train`).
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy

from intake.pieces import OPENING

HEADS = 12
FAR = 8  # sentences: what stands farther off is not seen
WINDOW = 224  # pieces that are looked at together, in whole sentences
_ALIKE = 1e-12  # added to a variance, as BERT does
_UNSEEN = numpy.float32(-1e4)


class Layer(NamedTuple):
    """The numbers of one layer: D a piece, F within; matrices have a row for each number that comes in.

    `inputs` (D, 3 D) makes queries, keys and values, `outputs` (D, D) what attention adds, `wider` (D, F) and
    `narrower` (F, D) what is worked out for a piece by itself; each has its offsets. A norm is 2, D: factor and offset.
    """

    inputs: Any
    input_offsets: Any
    outputs: Any
    output_offsets: Any
    norm: Any
    wider: Any
    wider_offsets: Any
    narrower: Any
    narrower_offsets: Any
    last_norm: Any

    def __call__(self, seen: Any, groups: "Groups", bias: Any) -> Any:
        """Give what each piece (rows of `seen`) becomes.

        Those of a group see each other; `bias` (groups, 1 or HEADS, 1 or pieces, pieces) is added to attention.
        """
        count, size = groups.at.shape
        mixed = (seen @ self.inputs + self.input_offsets)[groups.at].reshape(count, size, 3, HEADS, -1)
        queries, keys, values = mixed.transpose(2, 0, 3, 1, 4)
        scale = numpy.sqrt(queries.shape[-1], dtype=numpy.float32)
        weights = _shares(queries @ keys.swapaxes(-1, -2) / scale + bias)
        heads = (weights @ values).transpose(0, 2, 1, 3).reshape(count * size, -1)[groups.back]
        seen = _levelled(seen + heads @ self.outputs + self.output_offsets, self.norm)
        within = _bent(seen @ self.wider + self.wider_offsets)
        return _levelled(seen + within @ self.narrower + self.narrower_offsets, self.last_norm)


class Groups(NamedTuple):
    """Pieces that see each other: the row of each (groups, pieces), a short group filled up, and where each row is."""

    at: Any
    back: Any


class Encoder(NamedTuple):
    """The numbers: V pieces with D each (int8, with a scale for each), P places in a sentence, the layers, L labels.

    `near` is N, HEADS, 2 FAR + 1, for the last N layers: what is added to attention, by how many sentences ahead it is.
    `weights` is 2 D, L: of the greatest of each number of a span, then of the means; `trust` is L, L: what a label
    that the wordings found adds to the odds of each; `offsets` is L.
    """

    vectors: Any
    scales: Any
    places: Any
    first_norm: Any
    layers: tuple[Layer, ...]
    near: Any
    weights: Any
    trust: Any
    offsets: Any

    def odds(self, seen: Any, spans: Sequence[tuple[int, int]], told: Any) -> Any:
        """Give the natural logarithm of the odds: a row for each span (half-open) of pieces, a column for each label.

        `seen` has a row for each piece; `told` is 1 for each label that the wordings found in the span, else 0.
        """
        edges = [edge for span in spans for edge in span]
        sizes = numpy.array([end - start for start, end in spans])[:, None]
        padded = numpy.concatenate([seen, seen[:1]])
        greatest = numpy.maximum.reduceat(padded, edges, axis=0)[::2]
        means = numpy.add.reduceat(padded, edges, axis=0)[::2] / sizes
        return numpy.hstack([greatest, means]) @ self.weights + told @ self.trust + self.offsets

    def seen(self, sentences: Sequence[Sequence[int]]) -> Any:
        """Give what each piece is in the message, a row for each; `sentences` hold their rows in `vectors`."""
        return numpy.concatenate([self._window(window) for window in _windows(sentences)])

    def _window(self, sentences: Sequence[Sequence[int]]) -> Any:
        sizes = numpy.array([len(sentence) + 1 for sentence in sentences])
        rows = [row for sentence in sentences for row in (OPENING, *sentence)]
        within = numpy.arange(sizes.max())
        is_piece = within < sizes[:, None]
        each = Groups(numpy.cumsum(is_piece).reshape(is_piece.shape) - 1, numpy.flatnonzero(is_piece))
        places = numpy.broadcast_to(within, is_piece.shape)[is_piece]
        seen = self.vectors[rows].astype(numpy.float32) * self.scales[rows, None]
        seen = _levelled(seen + self.places[numpy.minimum(places, len(self.places) - 1)], self.first_norm)
        own = numpy.where(is_piece, numpy.float32(0), _UNSEEN)[:, None, None]
        alone = len(self.layers) - len(self.near)
        for layer in self.layers[:alone]:
            seen = layer(seen, each, own)
        all_ = Groups(numpy.arange(len(rows))[None], numpy.arange(len(rows)))
        number = numpy.repeat(numpy.arange(len(sizes)), sizes)
        ahead = number[None, :] - number[:, None]
        clipped = numpy.clip(ahead, -FAR, FAR) + FAR
        for layer, near in zip(self.layers[alone:], self.near, strict=True):
            seen = layer(seen, all_, numpy.where(abs(ahead) <= FAR, near[:, clipped], _UNSEEN)[None])
        return seen[places > 0]


def encoder_of(arrays: Mapping[str, Any]) -> Encoder:
    """Make an encoder of its arrays: bytes with a scale for each column, or halves; of the layers one by one."""
    wide = {name: array if name == "vectors" else array.astype(numpy.float32) for name, array in arrays.items()}
    for name in [name for name in wide if f"{name}_scales" in wide]:
        wide[name] *= wide.pop(f"{name}_scales")
    layers = [Layer(*rows) for rows in zip(*(wide[name] for name in Layer._fields), strict=True)]
    return Encoder(layers=tuple(layers), **{name: wide[name] for name in Encoder._fields if name != "layers"})


def _windows(sentences: Sequence[Sequence[int]]) -> Iterator[Sequence[Sequence[int]]]:
    """Yield whole sentences that are looked at together."""
    first = size = 0
    for at, sentence in enumerate(sentences):
        if at > first and size + len(sentence) + 1 > WINDOW:
            yield sentences[first:at]
            first, size = at, 0
        size += len(sentence) + 1
    yield sentences[first:]


def _shares(odds: Any) -> Any:
    raised = numpy.exp(odds - odds.max(axis=-1, keepdims=True))
    return raised / raised.sum(axis=-1, keepdims=True)


def _levelled(seen: Any, norm: Any) -> Any:
    """Bring each row to mean nought and variance one (Ba et al., Layer normalization, 2016)."""
    off = seen - seen.mean(axis=-1, keepdims=True)
    return off / numpy.sqrt((off * off).mean(axis=-1, keepdims=True) + _ALIKE) * norm[0] + norm[1]


def _bent(seen: Any) -> Any:
    """The Gaussian error linear unit, by the hyperbolic tangent (Hendrycks and Gimpel, 2016)."""
    return seen * 0.5 * (1 + numpy.tanh(0.7978845608 * (seen + 0.044715 * seen * seen * seen)))
