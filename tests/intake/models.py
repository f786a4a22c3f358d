"""Models that are made for the tests."""

import numpy

from intake.encoder import FAR, HEADS, Encoder, Layer
from intake.gist import Gist
from intake.model import Model, shipped_model
from intake.network import PLACES, SIDE, UNKNOWN, Network
from intake.weighing import Evidence, Weighing

SHIPPED = shipped_model()
SIZE = 2 * HEADS  # numbers a piece in the small encoders


def small_encoder(generator=None, pieces=20, layers=3, within=8, labels=3):
    """An encoder of numbers by chance, or of none at all; in its first layer a piece sees its own sentence only."""

    def numbers(*shape):
        return numpy.zeros(shape) if generator is None else generator.normal(0, 0.5, shape)

    def layer():
        square, wide = numbers(SIZE, SIZE), numbers(SIZE, within)
        return Layer(
            numbers(SIZE, 3 * SIZE), numbers(3 * SIZE), square, numbers(SIZE), numbers(2, SIZE),
            wide, numbers(within), wide.T, numbers(SIZE), numbers(2, SIZE),
        )  # fmt: skip

    vectors = numpy.rint(50 * numbers(pieces, SIZE)).astype(numpy.int8)
    places = numbers(30, SIZE), numbers(2, SIZE)
    chain = tuple(layer() for _ in range(layers))
    answers = numbers(2 * SIZE, labels), numbers(labels, labels), numbers(labels)
    return Encoder(vectors, numpy.full(pieces, 0.02), *places, chain, numbers(layers - 1, HEADS, 2 * FAR + 1), *answers)


def empty_network(words, offsets):
    """A network that answers with the same odds whatever the clause says."""
    size = len(offsets)
    return Network(
        vectors=numpy.zeros((UNKNOWN + 1 + words, 1), numpy.float16),
        filters=numpy.zeros((2 * SIDE + 1, 1)),
        thresholds=numpy.zeros(1),
        weights=numpy.zeros((2, size)),
        inputs=numpy.zeros((2, 1, 3)),
        loops=numpy.zeros((2, 1, 3)),
        gates=numpy.zeros((2, 3)),
        state_weights=numpy.zeros((2, size)),
        sides=numpy.zeros((6, 1)),
        side_thresholds=numpy.zeros(1),
        side_weights=numpy.zeros((1, size)),
        trust=numpy.zeros((size, size)),
        features=numpy.zeros((PLACES, size), numpy.int8),
        scales=numpy.ones(size),
        offsets=numpy.array(offsets, float),
    )


def empty_gist(words, labels):
    """A gist that tells nothing."""
    words, weights = numpy.zeros((UNKNOWN + 1 + words, labels + 1)), numpy.zeros((2 * SIZE, labels + 1))
    return Gist(words, numpy.ones(labels + 1), weights, numpy.zeros(labels + 1), 0.0)


def linear(labels, offset=0.0, **weights):
    """A weighing whose odds are an offset and weights times evidence: what is small passes the hidden unit as it is."""
    small = 1e-4
    inner = small * numpy.array([offset, *(weights.get(name, 0.0) for name in Evidence._fields)])[:, None]
    return Weighing(inner, numpy.array([0, 1 / small]), numpy.zeros((labels, labels)))


def stubborn(offsets):
    """A model that holds the same odds of each label whatever the clause says, and what goes together for as likely."""
    size = len(offsets)
    return Model(
        labels=tuple(offsets),
        finer=frozenset(),
        words=SHIPPED.words,
        pieces=SHIPPED.pieces,
        network=empty_network(len(SHIPPED.words), list(offsets.values())),
        encoder=small_encoder(pieces=len(SHIPPED.pieces), layers=1, labels=size),
        gist=empty_gist(len(SHIPPED.words), size),
        weighing=linear(size, network=1.0, company=1.0),
    )
