"""Fit the network of `intake.network` to examples; needs jax and optax, which the program does not.

The fit is Adam with decoupled weight decay (Loshchilov and Hutter, 2019) on the logarithmic loss of each label, with
words, numbers of words, features and what the wordings found left out at random (dropout: Srivastava et al., 2014); the
result is a running mean of the numbers (Polyak and Juditsky, Acceleration of stochastic approximation, 1992).
The same examples in the same order give the same numbers on the same kind of machine.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy
import optax

from intake.model import Label
from intake.network import BLANK, PLACES, SIDE, UNKNOWN, features_of
from tests.fit.examples import Example
from tests.fit.numbers import columns_of, in_bytes, in_halves

RARE = 2  # examples: a word in fewer is read as any unknown one

# All by judgement, tried on the held messages.
SIZE = 64  # numbers a word
FILTERS = 512
UNITS = 96  # of each of the two chains
NEAR = 48  # numbers for what stands near
ROUNDS = 8  # over all examples
LAST_ROUNDS = 3  # over those that stand in messages, as what is read does
BATCH = 256
RATE = 4e-3  # of learning, at its greatest
LAST_RATE = 4e-4
KEPT = 0.998  # of the mean of the numbers, at each step
DECAY = 1e-3
LEFT_OUT = {"numbers": 0.3, "words": 0.1, "features": 0.3, "told": 0.3, "answers": 0.3, "states": 0.3, "sides": 0.3}
LENGTHS = (8, 14, 22, 40)  # words; examples of like length are fitted together, and longer ones cut
NEIGHBOUR = 14  # words that are looked at of the clause before or after
FEATURES_A_WORD = 6
_NOT_DECAYED = ("vectors", "thresholds", "gates", "side_thresholds", "offsets")


class Sample(NamedTuple):
    """An example in numbers: rows of its words, places of its features, columns of labels, rows of words near it."""

    words: list[int]
    features: list[int]
    told: list[int]
    says: list[int]
    unknown: list[int]
    before: list[int]
    after: list[int]


class Batch(NamedTuple):
    """Samples of like length as tables, a row each; `there` tells which of `places` are some.

    `sides` are the words before and after, in a table each, or None where none of the samples stands in a message.
    """

    words: Any
    places: Any
    there: Any
    told: Any
    says: Any
    known: Any
    sides: Any


def vocabulary(messages: Sequence[Sequence[Example]]) -> list[str]:
    """Give the stems that have a vector of their own."""
    counts = Counter(stem for example in chain.from_iterable(messages) for stem in set(example.stems))
    return sorted(stem for stem, count in counts.items() if count >= RARE)


def samples_of(messages: Sequence[Sequence[Example]], words: Sequence[str], labels: Sequence[Label]) -> list[Sample]:
    """Give the examples in numbers, each with the ones before and after it in its message."""
    rows = {word: row for row, word in enumerate(words, start=UNKNOWN + 1)}
    samples = []
    for message in messages:
        stems = [[rows.get(stem, UNKNOWN) for stem in example.stems] for example in message]
        for at, example in enumerate(message):
            before = stems[at - 1][-NEIGHBOUR:] if at else []
            after = stems[at + 1][:NEIGHBOUR] if at + 1 < len(message) else []
            columns = columns_of(example, labels)
            samples.append(Sample(stems[at], features_of(example.stems), *columns, before, after))
    return samples


def stored(numbers: Mapping[str, Any]) -> dict[str, Any]:
    """Give the arrays as they are kept, the features in eight bits and the rest in sixteen."""
    features, scales = in_bytes(numbers["features"], axis=0)
    numbers = {name: array for name, array in numbers.items() if name != "features"}
    numbers["vectors"][BLANK] = 0
    return in_halves(numbers) | {"features": features, "scales": scales[0]}


def fit(samples: Sequence[Sample], words: int, labels: int) -> dict[str, Any]:
    """Fit the numbers to samples that have so many words, BLANK and UNKNOWN among them, and labels.

    Returns the arrays of `intake.network.Network` by name, float32 all of them, `features` too.
    """
    generator = numpy.random.default_rng(0)
    groups = _groups(samples)
    numbers = _at_first(generator, words, labels)
    messages = [group for group in groups if group[0].before or group[0].after]
    rounds = [*[groups] * ROUNDS, *[messages] * LAST_ROUNDS]
    steps = sum(len(group) // BATCH for turn in rounds for group in turn)
    optimiser = optax.adamw(
        optax.warmup_cosine_decay_schedule(0, RATE, max(steps // 20, 1), max(steps, 2), LAST_RATE),
        weight_decay=DECAY,
        mask={name: name not in _NOT_DECAYED for name in numbers},
    )
    state = optimiser.init(numbers)

    @jax.jit
    def step(numbers: Any, mean: Any, state: Any, batch: Batch, key: Any) -> Any:
        slope = jax.grad(_loss)(numbers, batch, key)
        change, state = optimiser.update(slope, state, numbers)
        numbers = optax.apply_updates(numbers, change)
        return numbers, optax.incremental_update(numbers, mean, 1 - KEPT), state

    key, mean = jax.random.PRNGKey(0), numbers
    for turn in rounds:
        for chosen in _in_turn(turn, generator):
            key, now = jax.random.split(key)
            numbers, mean, state = step(numbers, mean, state, batch_of(chosen, labels), now)
    return {name: numpy.array(array) for name, array in mean.items()}


def odds_of(numbers: Any, batch: Batch, key: Any = None) -> Any:
    """Give the log odds of each label for each sample; with a key something is left out at random."""
    keys = dict(zip(LEFT_OUT, jax.random.split(key, len(LEFT_OUT)), strict=True)) if key is not None else {}

    def kept(name: str, array: Any, shape: Any, scaled: bool = True) -> Any:
        if not keys:
            return array
        share = 1 - LEFT_OUT[name]
        return array * jax.random.bernoulli(keys[name], share, shape) / (share if scaled else 1)

    rows = len(batch.words)
    scales = kept("numbers", jnp.ones((rows, 1, SIZE)), (rows, 1, SIZE))
    vectors = kept("words", numbers["vectors"][batch.words], (*batch.words.shape, 1), scaled=False) * scales
    seen, states = _seen(numbers, batch.words, vectors), _states(numbers, batch.words, vectors)
    odds = kept("answers", seen, seen.shape) @ numbers["weights"]
    odds += kept("states", states, states.shape) @ numbers["state_weights"]
    odds += kept("told", batch.told, batch.told.shape, scaled=False) @ numbers["trust"]
    if batch.sides is not None:
        sides = [_seen(numbers, words, numbers["vectors"][words] * scales) for words in batch.sides]
        sides = kept("sides", jnp.stack(sides, axis=1), (rows, 2, 1), scaled=False).reshape(rows, -1)
        sides = jnp.concatenate([kept("answers", sides, sides.shape), seen], axis=-1)
        near = jax.nn.relu(sides @ numbers["sides"] + numbers["side_thresholds"])
        odds += near @ numbers["side_weights"]
    share = batch.there / jnp.sqrt(jnp.maximum(batch.there.sum(axis=1, keepdims=True), 1))
    share = kept("features", share, share.shape)
    return odds + jnp.einsum("bp,bpl->bl", share, numbers["features"][batch.places]) + numbers["offsets"]


def _seen(numbers: Any, words: Any, vectors: Any) -> Any:
    """Give the greatest answer of each filter, and the sum of all by the root of the words."""
    there = (words != BLANK)[..., None]
    length = words.shape[1]
    wide = jnp.pad(vectors * there, ((0, 0), (SIDE, SIDE), (0, 0)))
    seen = jnp.concatenate([wide[:, at : at + length] for at in range(2 * SIDE + 1)], axis=-1)
    answers = jnp.where(there, jax.nn.relu(seen @ numbers["filters"] + numbers["thresholds"]), 0)
    return jnp.concatenate([answers.max(axis=1), answers.sum(axis=1) / jnp.sqrt(there.sum(axis=1) + 1)], axis=-1)


def _states(numbers: Any, words: Any, vectors: Any) -> Any:
    """Go along the words in both chains, and give the greatest state of each unit."""
    there = (words != BLANK)[..., None]

    def along(way: int) -> Any:
        def step(state: Any, word: Any) -> Any:
            seen, here = word
            before = state @ numbers["loops"][way]
            kept, reset = jnp.split(jax.nn.sigmoid((seen + before)[:, : 2 * UNITS]), 2, axis=-1)
            new = jnp.tanh(seen[:, 2 * UNITS :] + reset * before[:, 2 * UNITS :])
            state = jnp.where(here, new + kept * (state - new), state)
            return state, state

        inputs = vectors @ numbers["inputs"][way] + numbers["gates"][way]
        first, by_word = jnp.zeros((len(words), UNITS)), (inputs.swapaxes(0, 1), there.swapaxes(0, 1))
        _, states = jax.lax.scan(step, first, by_word, reverse=bool(way), unroll=2)
        return jnp.where(there, states.swapaxes(0, 1), -1).max(axis=1)

    return jnp.concatenate([along(0), along(1)], axis=-1)


def _loss(numbers: Any, batch: Batch, key: Any) -> Any:
    losses = optax.sigmoid_binary_cross_entropy(odds_of(numbers, batch, key), batch.says)
    return (batch.known * losses).sum() / batch.words.shape[0]


def _at_first(generator: Any, words: int, labels: int) -> dict[str, Any]:
    def chance(*shape: int, spread: float) -> Any:
        return jnp.asarray(generator.normal(0, spread, shape).astype(numpy.float32))

    span = (2 * SIDE + 1) * SIZE
    return {
        "vectors": chance(words, SIZE, spread=0.1),
        "filters": chance(span, FILTERS, spread=(2 / span) ** 0.5),
        "thresholds": jnp.zeros(FILTERS),
        "weights": chance(2 * FILTERS, labels, spread=0.05),
        "inputs": chance(2, SIZE, 3 * UNITS, spread=SIZE**-0.5),
        "loops": chance(2, UNITS, 3 * UNITS, spread=UNITS**-0.5),
        "gates": jnp.zeros((2, 3 * UNITS)),
        "state_weights": chance(2 * UNITS, labels, spread=0.05),
        "sides": chance(6 * FILTERS, NEAR, spread=(3 * FILTERS) ** -0.5),
        "side_thresholds": jnp.zeros(NEAR),
        "side_weights": chance(NEAR, labels, spread=0.01),
        "trust": jnp.eye(labels),
        "features": jnp.zeros((PLACES, labels)),
        "offsets": jnp.full(labels, -5.0),  # a label is rare
    }


def _groups(samples: Sequence[Sample]) -> list[list[Sample]]:
    """Give samples of like length together, those in a message apart from those alone."""
    groups: dict[tuple[int, bool], list[Sample]] = {}
    for sample in samples:
        most = next((most for most in LENGTHS if len(sample.words) <= most), LENGTHS[-1])
        groups.setdefault((most, bool(sample.before or sample.after)), []).append(sample)
    return [group for _, group in sorted(groups.items())]


def _in_turn(groups: list[list[Sample]], generator: Any) -> Iterator[list[Sample]]:
    """Yield full batches of the groups in an order by chance; the few left over have another turn next round."""
    batches = []
    for group in groups:
        order = generator.permutation(len(group))
        full = len(group) // BATCH * BATCH
        batches += [[group[at] for at in part] for part in order[:full].reshape(-1, BATCH)]
    yield from (batches[at] for at in generator.permutation(len(batches)))


def batch_of(samples: Sequence[Sample], labels: int) -> Batch:
    """Give the tables of samples; words beyond the greatest of LENGTHS are cut."""
    most = next((most for most in LENGTHS if max(len(sample.words) for sample in samples) <= most), LENGTHS[-1])
    places, there = _table([sample.features for sample in samples], FEATURES_A_WORD * most + 2)
    words, _ = _table([sample.words for sample in samples], most)
    told, says, unknown = (
        _marked([getattr(sample, name) for sample in samples], labels) for name in ("told", "says", "unknown")
    )
    near = [[sample.before for sample in samples], [sample.after for sample in samples]]
    sides = [_table(side, NEIGHBOUR)[0] for side in near] if any(map(any, near)) else None
    return Batch(words, places, there, told, says, 1 - unknown, sides)


def _table(rows: Sequence[Sequence[int]], width: int) -> tuple[Any, Any]:
    table = numpy.full((len(rows), width), BLANK, numpy.int32)
    there = numpy.zeros((len(rows), width), numpy.float32)
    for at, row in enumerate(rows):
        some = row[:width]
        table[at, : len(some)] = some
        there[at, : len(some)] = 1
    return table, there


def _marked(columns: Sequence[Sequence[int]], labels: int) -> Any:
    marked = numpy.zeros((len(columns), labels), numpy.float32)
    for row, some in enumerate(columns):
        marked[row, some] = 1
    return marked
