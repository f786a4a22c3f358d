"""The first model: a small network that is taught by the corpus alone; stems in, the log odds of each label out.

Every stem is a vector; there are filters over three in a row, and of each filter the greatest answer in the span and
the sum of all (Kim, Convolutional neural networks for sentence classification, 2014); two chains of gated units along
the stems, one from either end, and of each unit the greatest state (Cho et al., Learning phrase representations using
RNN encoder-decoder, 2014); and what the filters see in the spans before and after. Beside it a logistic regression on
hashed features of the text (Weinberger et al., Feature hashing for large scale multitask learning, 2009) and on what
the wordings have found.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import chain, pairwise
from typing import Any, NamedTuple
from zlib import crc32

import numpy

from intake.stretches import Stretch

PLACES = 2**14  # where the hashed features fall
SIDE = 1  # words on either side of one that a filter sees
BLANK, UNKNOWN = 0, 1  # rows of `vectors`: no word (zeros), and a word that was not learned
_LETTERS = 4  # of a feature within a word
_BLOCK = 256  # spans that are looked at at once: a long message takes no more room than that
_EDGE = "|"


class View(NamedTuple):
    """What is seen of some spans of words, a row for each."""

    peaks: Any  # the greatest answer of each filter
    sums: Any  # of its answers
    sizes: Any  # words
    states: Any  # the greatest state of each unit
    told: Any  # 1 for each label that the wordings found in the span, else 0
    features: Any  # the numbers of its features, added up for each label
    counts: Any  # of its features

    def joined(self, ranges: Sequence[tuple[int, int]], states: Any) -> "View":
        """Give what is seen of ranges (half-open) of rows, each taken as one; `states` are no sum of their parts."""
        edges = [edge for each in ranges for edge in each]

        def over(way: Any, rows: Any) -> Any:
            return way.reduceat(numpy.concatenate([rows, rows[:1]]), edges, axis=0)[::2]

        told, peaks = (over(numpy.maximum, rows) for rows in (self.told, self.peaks))
        sums, sizes, features, counts = (
            over(numpy.add, rows) for rows in (self.sums, self.sizes, self.features, self.counts)
        )
        return View(peaks, sums, sizes, states, told, features, counts)

    def followed_by(self, other: "View") -> "View":
        """Give the rows of both."""
        return View(*(numpy.concatenate(both) for both in zip(self, other, strict=True)))


class Network(NamedTuple):
    """The numbers: V stems with D numbers each, F filters, U units a chain, N of what is near, L labels.

    `vectors` is V, D; `filters` is (2 SIDE + 1) D, F and `thresholds` F; `weights` is 2 F, L. For the two chains
    `inputs` is 2, D, 3 U, `loops` 2, U, 3 U and `gates` 2, 3 U: what keeps, resets and renews a state; `state_weights`
    is 2 U, L. `sides` is 6 F, N, `side_thresholds` N and `side_weights` N, L: a span with the ones before and after it.
    `trust` is L, L: what a label that the wordings found adds to the odds of each; `features` are int8, PLACES rows
    with L columns, and `scales` (L) what makes odds of them; `offsets` is L.
    """

    vectors: Any
    filters: Any
    thresholds: Any
    weights: Any
    inputs: Any
    loops: Any
    gates: Any
    state_weights: Any
    sides: Any
    side_thresholds: Any
    side_weights: Any
    trust: Any
    features: Any
    scales: Any
    offsets: Any

    def view(
        self,
        stretches: Sequence[Stretch],
        rows: Sequence[Sequence[int]],
        wholes: Sequence[tuple[int, int]],
        told: Any,
    ) -> View:
        """Look at stretches, and then at `wholes`, which are ranges (half-open) of stretches.

        `rows` are those of the stems of each stretch in `vectors`; `told` has a row for each stretch, 1 for each label
        that the wordings found in it.
        """
        states = self.states([*rows, *(list(chain.from_iterable(rows[first:end])) for first, end in wholes)])
        view = self._view(stretches, rows, states[: len(rows)], told)
        return view.followed_by(view.joined(wholes, states[len(rows) :])) if wholes else view

    def _view(self, stretches: Sequence[Stretch], rows: Sequence[Sequence[int]], states: Any, told: Any) -> View:
        """Look at the stretches; a filter does not see from one sentence into the next."""
        line: list[int] = []
        starts: list[int] = []
        for stretch, some in zip(stretches, rows, strict=True):
            line += [BLANK] * SIDE * stretch.opens
            starts.append(len(line))
            line += some
        answers = self.answers(line)
        sizes = [len(some) for some in rows]
        parts = [answers[start : start + size] for start, size in zip(starts, sizes, strict=True)]
        features = [features_of(stretch.stems) for stretch in stretches]
        return View(
            numpy.stack([part.max(axis=0) for part in parts]),
            numpy.stack([part.sum(axis=0) for part in parts]),
            numpy.array(sizes, numpy.float32),
            states,
            told,
            self.sums(features),
            numpy.array([len(places) for places in features], numpy.float32),
        )

    def answers(self, rows: Sequence[int]) -> Any:
        """Give the answer of each filter at each word; `rows` are those of the words, BLANK between sentences."""
        vectors = numpy.pad(self.vectors[rows].astype(numpy.float32), ((SIDE, SIDE), (0, 0)))
        seen = numpy.hstack([vectors[at : at + len(rows)] for at in range(2 * SIDE + 1)])
        return numpy.maximum(seen @ self.filters + self.thresholds, 0)

    def sums(self, spans: Sequence[Sequence[int]]) -> Any:
        """Give the numbers of the features of each span, which holds their places, added up for each label."""
        added = numpy.empty((len(spans), self.features.shape[1]), numpy.float32)
        for at in range(0, len(spans), _BLOCK):
            block = spans[at : at + _BLOCK]
            starts = numpy.cumsum([0, *(len(places) for places in block[:-1])])
            numbers = self.features[[place for places in block for place in places]].astype(numpy.float32)
            added[at : at + len(block)] = numpy.add.reduceat(numbers, starts)
        return added

    def states(self, runs: Sequence[Sequence[int]]) -> Any:
        """Give the greatest state of each unit along each run of words, which holds their rows."""
        order = sorted(range(len(runs)), key=lambda run: -len(runs[run]))
        greatest = numpy.empty((len(runs), 2 * self.loops.shape[1]), numpy.float32)
        for at in range(0, len(order), _BLOCK):
            block = order[at : at + _BLOCK]
            greatest[block] = self._along([runs[run] for run in block])
        return greatest

    def _along(self, runs: Sequence[Sequence[int]]) -> Any:
        """Go along the words of some runs, the longest first, both ways at once."""
        lengths, units, ways = numpy.array([len(run) for run in runs]), self.loops.shape[1], numpy.arange(2)
        words = numpy.full((lengths[0], 2, len(runs)), BLANK)
        for place, run in enumerate(runs):
            words[: len(run), 0, place] = run
            words[: len(run), 1, place] = run[::-1]
        known, which = numpy.unique(words, return_inverse=True)
        inputs = self.vectors[known].astype(numpy.float32) @ self.inputs + self.gates[:, None]
        seen = inputs[ways[:, None], which.reshape(words.shape)]
        state = numpy.zeros((2, len(runs), units), numpy.float32)
        greatest = numpy.full_like(state, -1)
        for at, running in enumerate((lengths > numpy.arange(lengths[0])[:, None]).sum(axis=1).tolist()):
            now, before = seen[at, :, :running], state[:, :running] @ self.loops
            gates = 1 / (1 + numpy.exp(-(now[..., : 2 * units] + before[..., : 2 * units])))
            kept, reset = gates[..., :units], gates[..., units:]
            new = numpy.tanh(now[..., 2 * units :] + reset * before[..., 2 * units :])
            state = new + kept * (state[:, :running] - new)
            numpy.maximum(greatest[:, :running], state, out=greatest[:, :running])
        return numpy.hstack(tuple(greatest))

    def odds(self, view: View) -> Any:
        """Give the natural logarithm of the odds: a row for each span, a column for each label."""
        network = _seen(view) @ self.weights + view.states @ self.state_weights + view.told @ self.trust
        return network + view.features * self.scales / numpy.sqrt(view.counts)[:, None] + self.offsets

    def shifts(self, view: View, before: Sequence[int], after: Sequence[int]) -> Any:
        """Give what the spans on either side add to the odds, which is nothing where there are none.

        `before` and `after` name their rows; the row after the last stands for none.
        """
        seen = _seen(view)
        onward, back, own = (seen @ part for part in numpy.split(self.sides, 3))
        none = numpy.zeros_like(own[:1])
        near = numpy.vstack([onward, none])[before] + numpy.vstack([back, none])[after] + own
        some = numpy.minimum(before, after) < len(seen)
        return numpy.maximum(near + self.side_thresholds, 0) * some[:, None] @ self.side_weights


def network_of(arrays: Mapping[str, Any]) -> Network:
    """Make a network of its arrays, of half floats but for the features and their scales."""
    return Network(
        **{
            name: array if name in ("features", "vectors") else array.astype(numpy.float32)
            for name, array in arrays.items()
        }
    )


def _seen(view: View) -> Any:
    return numpy.hstack([view.peaks, view.sums / numpy.sqrt(view.sizes + 1)[:, None]])


def features_of(stems: Sequence[str]) -> list[int]:
    """Give the places of the features of a span: its stems, pairs and triples of them, four letters of each in turn."""
    edged = [_EDGE, *stems, _EDGE]
    pairs = (" ".join(pair) for pair in pairwise(edged))
    triples = (" ".join(edged[at : at + 3]) for at in range(len(edged) - 2))
    found = {place for word in stems for place in _of_word(word)}
    return sorted(found.union(map(_place, pairs), map(_place, triples)))


@lru_cache(maxsize=20_000)
def _of_word(word: str) -> tuple[int, ...]:
    whole = f"^{word}$"
    letters = (whole[at : at + _LETTERS] for at in range(len(whole) - _LETTERS + 1))
    return tuple(map(_place, (word, *letters)))


def _place(feature: str) -> int:
    return crc32(feature.encode()) % PLACES
