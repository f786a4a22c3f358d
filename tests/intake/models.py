"""Models that are made for the tests."""

import numpy

from intake.model import PLACES, SIDE, UNKNOWN, Model, shipped_model

SHIPPED = shipped_model()


def stubborn(offsets):
    """A model that holds the same odds of each label whatever the clause says."""
    size = len(offsets)
    return Model(
        labels=tuple(offsets),
        words=SHIPPED.words,
        vectors=numpy.zeros((UNKNOWN + 1 + len(SHIPPED.words), 1), numpy.float16),
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
        pieces=numpy.zeros((PLACES, size), numpy.int8),
        scales=numpy.ones(size),
        offsets=numpy.array(list(offsets.values())),
        together=numpy.zeros((size, size)),
    )
