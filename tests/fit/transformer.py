"""The encoder of `intake.encoder` and what answers from it, in torch, so that they can be fitted."""

from collections.abc import Mapping, Sequence
from typing import Any

import torch
from torch import nn
from torch.nn import functional

from intake.encoder import FAR, HEADS

LAYERS = 6  # of the published six
BEYOND = 2  # of them, the last ones, see other sentences too
PLACES = 128
MATRICES = ("inputs", "outputs", "wider", "narrower")  # of a layer
LEFT_OUT = {"numbers": 0.12, "answers": 0.3, "told": 0.3}  # shares, while it is fitted
_UNSEEN = -1e4


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
        self.near = nn.Parameter(torch.zeros(BEYOND, HEADS, 2 * FAR + 1))

    def forward(self, rows: Any, sentences: Any) -> Any:
        """Give what each piece is in the message: windows, pieces, D; `sentences` is -1 where a row is at its end."""
        starts = functional.pad(sentences[:, 1:] != sentences[:, :-1], (1, 0), value=True)
        at = torch.arange(rows.shape[1]).expand_as(rows)
        places = (at - torch.where(starts, at, 0).cummax(1).values).clamp(max=PLACES - 1)
        seen = _some_numbers(self.norm(self.vectors[rows] + self.places[places]), self.training)
        ahead = sentences[:, None, :] - sentences[:, :, None]
        is_seen = (abs(ahead) <= FAR) & ((sentences[:, None, :] >= 0) | (ahead == 0))
        distances = ahead.clamp(-FAR, FAR) + FAR
        own = torch.where(ahead == 0, 0.0, _UNSEEN)[:, None]
        for layer in self.layers[:-BEYOND]:
            seen = layer(seen, own)
        for layer, near in zip(self.layers[-BEYOND:], self.near, strict=True):
            seen = layer(seen, torch.where(is_seen[:, None], _by_distance(near, distances), _UNSEEN))
        return seen

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
        queries = queries / (size / HEADS) ** 0.5  # of these there are fewer than of the weights
        weights = torch.softmax(queries @ keys.transpose(-1, -2) + bias.to(queries.dtype), -1)
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


def _by_distance(near: Any, distances: Any) -> Any:
    """Give what is added to attention: windows, HEADS, pieces, pieces; `distances` are rows of `near`, transposed."""
    return near.T.index_select(0, distances.flatten()).view(*distances.shape, HEADS).permute(0, 3, 1, 2)


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
