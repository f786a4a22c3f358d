"""The network against published libraries, an open standard and its own fit; the numbers are by chance."""

from itertools import chain

import jax
import numpy
import onnx.helper
import pytest
from onnx.reference import ReferenceEvaluator
from thinc.api import Ragged, expand_window, reduce_max, reduce_sum

from intake.network import BLANK, PLACES, SIDE, UNKNOWN, View, features_of, network_of
from intake.stretches import Stretch
from tests.fit import network
from tests.fit.network import Sample
from tests.intake.models import empty_network


def test_the_features_are_places_of_the_table():
    """Sorted, each once; letters of a word make some features common to its forms."""
    fans, fan = (set(features_of([word])) for word in ("blower", "blowers"))
    assert fans & fan
    assert all(0 <= place < PLACES for place in fans | fan)
    assert features_of(["a", "a"]) == sorted(set(features_of(["a", "a"])))


def test_the_filters_are_those_of_a_published_library():
    """Windows, greatest answers and sums against the layers of thinc 8, on sentences by chance."""
    generator = numpy.random.default_rng(1)
    known, size, filters, labels = 20, 6, 8, 3
    ours = empty_network(0, range(labels))._replace(
        vectors=generator.normal(size=(known, size)),
        filters=generator.normal(size=((2 * SIDE + 1) * size, filters)),
        thresholds=generator.normal(size=filters),
        weights=generator.normal(size=(2 * filters, labels)),
        sides=numpy.zeros((6 * filters, 1)),
    )
    ours.vectors[BLANK] = 0
    sentences = [generator.integers(UNKNOWN, known, length).tolist() for length in (1, 9, 4)]
    vectors = Ragged(ours.vectors[list(chain(*sentences))].astype("f"), numpy.array([1, 9, 4], "i"))
    windows = expand_window(SIDE).predict(vectors)
    answers = Ragged(numpy.maximum(windows.data @ ours.filters + ours.thresholds, 0).astype("f"), windows.lengths)
    peaks, sums = reduce_max().predict(answers), reduce_sum().predict(answers)
    sizes = numpy.array([1, 9, 4])
    expected = numpy.hstack([peaks, sums / numpy.sqrt(sizes + 1)[:, None]]) @ ours.weights + ours.offsets

    rows = list(chain.from_iterable([*sentence, *[BLANK] * SIDE] for sentence in sentences))
    found = ours.answers(rows)
    starts = [0, 1 + SIDE, 10 + 2 * SIDE]
    parts = [found[start : start + size] for start, size in zip(starts, sizes, strict=True)]
    nothing = numpy.zeros((3, labels))
    view = View(
        numpy.stack([part.max(axis=0) for part in parts]),
        numpy.stack([part.sum(axis=0) for part in parts]),
        sizes,
        numpy.zeros((3, 2)),
        nothing,
        nothing,
        numpy.ones(3),
    )
    assert ours.odds(view) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("lengths", [[1], [5, 5], [2, 9, 1, 4]])
def test_the_chains_are_those_of_an_open_standard(lengths):
    """States along words by chance, against the reference of the operator GRU of ONNX, both ways, run by run."""
    generator = numpy.random.default_rng(2)
    known, size, units = 20, 6, 4
    ours = empty_network(0, [0.0])._replace(
        vectors=generator.normal(size=(known, size)),
        inputs=generator.normal(size=(2, size, 3 * units)),
        loops=generator.normal(size=(2, units, 3 * units)),
        gates=generator.normal(size=(2, 3 * units)),
    )
    runs = [generator.integers(UNKNOWN, known, length).tolist() for length in lengths]
    node = onnx.helper.make_node(
        "GRU", list("XWRB"), ["Y"], hidden_size=units, direction="bidirectional", linear_before_reset=1
    )
    weights = {"W": ours.inputs, "R": ours.loops}
    numbers = {name: array.swapaxes(1, 2) for name, array in weights.items()}
    numbers["B"] = numpy.hstack([ours.gates, numpy.zeros_like(ours.gates)])
    for run, found in zip(runs, ours.states(runs), strict=True):
        (states,) = ReferenceEvaluator(node).run(None, {"X": ours.vectors[run][:, None], **numbers})
        assert found == pytest.approx(states.max(axis=0)[:, 0].ravel(), abs=1e-5)


def test_ranges_of_rows_are_seen_as_one():
    """Greatest answers, sums, sizes, what was found, features and their counts, as numpy has them row by row."""
    generator = numpy.random.default_rng(3)
    view = View(*(generator.normal(size=(5, 2)) for _ in range(2)), numpy.arange(5.0), numpy.zeros((5, 2)),
                *(generator.normal(size=(5, 3)) for _ in range(2)), numpy.arange(5.0))  # fmt: skip
    joined = view.joined([(0, 2), (2, 5)], numpy.ones((2, 2)))
    for row, part in enumerate((slice(0, 2), slice(2, 5))):
        for name in ("peaks", "told"):
            assert getattr(joined, name)[row] == pytest.approx(getattr(view, name)[part].max(axis=0))
        for name in ("sums", "sizes", "features", "counts"):
            assert getattr(joined, name)[row] == pytest.approx(getattr(view, name)[part].sum(axis=0))
    assert joined.states.all()


WORDS = ["fan", "go", "no", "round"]
ROWS = {word: row for row, word in enumerate(WORDS, start=UNKNOWN + 1)}


def _fitted():
    """The numbers of three clauses."""
    clauses = [("fan go round", [], [0]), ("no fan go", [1], [1]), ("go no", [], [])]
    samples = [
        Sample([ROWS[word] for word in text.split()], features_of(text.split()), told, says, [], [ROWS["go"]], [])
        for text, told, says in clauses
    ]
    return network.fit(samples, UNKNOWN + 1 + len(WORDS), 2)


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A network that is soon fitted, and compiled only once."""
    jax.config.update("jax_compilation_cache_dir", str(tmp_path_factory.mktemp("compiled")))
    jax.config.update("jax_disable_most_optimizations", True)  # so small a network is fitted sooner than optimized
    with pytest.MonkeyPatch.context() as patch:
        for name, size in {"BATCH": 3, "FILTERS": 8, "UNITS": 4, "NEAR": 4}.items():
            patch.setattr(network, name, size)
        yield


@pytest.fixture(scope="module")
def fitted(small):
    """One fit for all tests: most of its time is compiling."""
    return _fitted()


def test_the_same_examples_give_the_same_numbers(fitted):
    """Two fits, to the last bit."""
    one, two = (network.stored(numbers) for numbers in (fitted, _fitted()))
    assert all((one[name] == two[name]).all() for name in one)


def test_what_is_stored_answers_as_what_was_fitted(fitted):
    """The odds of two clauses in a message are those of the fit, but for the rounding to sixteen and eight bits."""
    ours = network_of(network.stored(fitted))
    stems = ["no", "fan", "go", "round"], ["go"]
    rows = [[ROWS[stem] for stem in some] for some in stems]
    samples = [
        Sample(rows[0], features_of(stems[0]), [1], [], [], [], rows[1]),
        Sample(rows[1], features_of(stems[1]), [], [], [], rows[0], []),
    ]
    expected = network.odds_of(fitted, network.batch_of(samples, 2))
    stretches = [Stretch(at, 0, 0, [], list(some), opens=True) for at, some in enumerate(stems)]
    view = ours.view(stretches, rows, [], numpy.array([[0, 1], [0, 0]], numpy.float32))
    found = ours.odds(view) + ours.shifts(view, [2, 0], [1, 2])
    assert found == pytest.approx(numpy.asarray(expected), abs=0.05)
