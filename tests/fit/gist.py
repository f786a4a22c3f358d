"""Fit `intake.gist` to messages, by the encoder as it is; needs jax, optax and sklearn.

It learns from whole messages, and from every few of the sentences that stand alone in the corpus: those are no
messages, and tell nothing of what a message of no fault looks like. The fit of the labels is Adam (Kingma and Ba, 2015)
on the logarithmic loss and on a penalty on great weights; what tells no fault is fitted by itself.
"""

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import chain
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy
import optax
from scipy.sparse import csr_matrix, hstack
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import normalize

from intake.encoder import Encoder
from intake.gist import pooled_of
from intake.model import Label
from intake.pieces import pieces_of
from tests.fit.examples import Example, finer
from tests.fit.numbers import in_bytes

# All by judgement, tried on the held messages.
ROUNDS = 16
BATCH = 128  # messages
RATE = 2e-3  # of learning, at first
DECAY = 3e-3
WORDS = 20.0  # the length of the words of a message, beside numbers of the encoder whose variance is one
EASE = 10.0  # the inverse of the penalty on great weights for no fault,
SPREAD = 0.02  # and for that the spread of the numbers of the encoder, beside words of length one
FEW = 20  # of so many single sentences one is learned from


class Sample(NamedTuple):
    """A message in numbers: rows of its words, what the encoder makes of it, columns of what it says and of what is
    not known of it; the last column is no fault."""

    rows: list[int]
    pooled: Any
    says: list[int]
    unknown: list[int]


def said_in(message: Sequence[Example]) -> frozenset[Label]:
    """Give what a message says as a whole, the finer findings of the development half left aside."""
    told = dict(said for example in message for said in sorted(example.says))  # the last state holds
    return frozenset(told.items()).union(*(example.unknown - finer() for example in message))


def samples_of(
    messages: Sequence[Sequence[Example]],
    words: Mapping[str, int],
    pieces: Mapping[str, int],
    labels: Sequence[Label],
    encoder: Encoder,
) -> list[Sample]:
    """Give the messages in numbers, and some of the sentences; `words` and `pieces` give the rows of each."""
    single = [message for message in messages if len(message) == 1]
    chosen = [*(message for message in messages if len(message) > 1), *single[::FEW]]
    columns = {label: column for column, label in enumerate(labels)}
    with ProcessPoolExecutor() as pool:
        pooled = list(pool.map(partial(_pooled, pieces=pieces, encoder=encoder), chosen, chunksize=2_000))
    return [_sample(message, words, some, columns) for message, some in zip(chosen, pooled, strict=True)]


def fit(samples: Sequence[Sample], words: int, labels: int) -> dict[str, Any]:
    """Give the numbers by the names of `Gist`, for `words` rows and `labels` labels."""
    pooled = numpy.array([sample.pooled for sample in samples])
    mean, spread = pooled.mean(axis=0), pooled.std(axis=0)
    level = (pooled - mean) / spread
    generator = numpy.random.default_rng(0)
    numbers = {
        "words": jnp.zeros((words, labels)),
        "weights": jnp.zeros((pooled.shape[1], labels)),
        "offsets": jnp.full(labels, -4.0),
    }
    full = len(samples) // BATCH
    optimiser = optax.adam(optax.cosine_decay_schedule(RATE, ROUNDS * full))
    state = optimiser.init(numbers)

    @jax.jit
    def step(numbers: Any, state: Any, batch: Any) -> Any:
        change, state = optimiser.update(jax.grad(_loss)(numbers, *batch), state, numbers)
        return optax.apply_updates(numbers, change), state

    for _ in range(ROUNDS):
        for part in generator.permutation(len(samples))[: full * BATCH].reshape(full, BATCH):
            batch = _table([samples[at] for at in part], words, labels)
            numbers, state = step(numbers, state, (level[part], *batch))
    last, prior = _no_fault(samples, level, words, labels)
    both = {name: numpy.hstack([array, last[name]]) for name, array in numbers.items()}
    weights = (both["weights"] / spread[:, None]).astype(numpy.float16)
    of_words, scales = in_bytes(WORDS * both["words"], axis=0)
    return {
        "words": of_words,
        "scales": scales[0],
        "weights": weights,
        "offsets": (both["offsets"] - mean @ weights.astype(float)).astype(numpy.float32),
        "prior": numpy.float32(prior),
    }


def _no_fault(samples: Sequence[Sample], level: Any, words: int, labels: int) -> tuple[dict[str, Any], float]:
    """Give the last column of the numbers, and the log odds of messages at large."""
    of = [at for at, sample in enumerate(samples) if labels not in sample.unknown]
    truth = numpy.array([labels in samples[at].says for at in of])
    table = normalize(csr_matrix(_table([samples[at] for at in of], words, labels)[0]))
    fitted = LogisticRegression(C=EASE, max_iter=10_000)
    fitted.fit(hstack([table, csr_matrix(SPREAD * level[of])]).tocsr(), truth)
    column = fitted.coef_.T
    last = {"words": column[:words] / WORDS, "weights": SPREAD * column[words:], "offsets": fitted.intercept_}
    return last, numpy.log(truth.mean() / (1 - truth.mean()))


def _pooled(message: Sequence[Example], pieces: Mapping[str, int], encoder: Encoder) -> Any:
    return pooled_of(encoder.seen(list(_sentences(message, pieces))))


def _sentences(message: Sequence[Example], pieces: Mapping[str, int]) -> Iterator[list[int]]:
    """Yield the pieces of each sentence."""
    sentence: list[int] = []
    for example in message:
        if example.opens and sentence:
            yield sentence
            sentence = []
        sentence += [row for word in example.words for row in pieces_of(word, pieces)]
    yield sentence


def _sample(message: Sequence[Example], words: Mapping[str, int], pooled: Any, columns: Mapping[Label, int]) -> Sample:
    stems = set(chain.from_iterable(example.stems for example in message))
    said = said_in(message)
    unknown = frozenset().union(*(example.unknown for example in message)) - said
    says, unclear = ([columns[label] for label in some if label in columns] for some in (said, unknown))
    if len(message) == 1:
        unclear.append(len(columns))
    elif not said:
        says.append(len(columns))
    return Sample(sorted(words[stem] for stem in stems & words.keys()), pooled, sorted(says), sorted(unclear))


def _table(samples: Sequence[Sample], words: int, labels: int) -> tuple[Any, Any, Any]:
    """Give the words of each sample, what it says and what is known of it, a row for each."""
    there = numpy.zeros((len(samples), words), numpy.float32)
    says = numpy.zeros((len(samples), labels + 1), numpy.float32)
    known = numpy.ones_like(says)
    for row, sample in enumerate(samples):
        there[row, sample.rows] = WORDS / max(len(sample.rows), 1) ** 0.5
        says[row, sample.says] = 1
        known[row, sample.unknown] = 0
    return there, says[:, :labels], known[:, :labels]


def _loss(numbers: Any, level: Any, words: Any, says: Any, known: Any) -> Any:
    odds = words @ numbers["words"] + level @ numbers["weights"] + numbers["offsets"]
    losses = (known * optax.sigmoid_binary_cross_entropy(odds, says)).sum() / len(words)
    return losses + DECAY * ((numbers["words"] ** 2).sum() + (numbers["weights"] ** 2).sum())
