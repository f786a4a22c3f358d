"""The three models that come with this package, the words and labels they know, and how their answers are weighed.

`python -m tests.train` makes their numbers from the corpus; nothing is learned while reading.
"""

import json
from collections.abc import Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy

from intake.encoder import Encoder, encoder_of
from intake.gist import Gist, gist_of
from intake.network import UNKNOWN, Network, network_of
from intake.weighing import Weighing

FOLDER = Path(__file__).parent
NAMES, NETWORK, ENCODER = "model.json", "network.npz", "encoder.npz"
GIST, WEIGHING = "gist.npz", "weighing.npz"

Label = tuple[str, str]  # a finding with its state: ("fans-spin", "absent")


class Model(NamedTuple):
    """The models of the same labels: `words` are the rows of the stems in the network and in the gist, `pieces` those
    in the encoder.

    `finer` are the findings that few of the readers of the corpus have marked.
    """

    labels: tuple[Label, ...]
    finer: frozenset[str]
    words: Mapping[str, int]
    pieces: Mapping[str, int]
    network: Network
    encoder: Encoder
    gist: Gist
    weighing: Weighing


@cache
def shipped_model() -> Model:
    """Give the model that comes with this package."""
    names = json.loads((FOLDER / NAMES).read_text("utf-8"))
    return Model(
        tuple((finding, state) for finding, state in names["labels"]),
        frozenset(names["finer"]),
        {word: row for row, word in enumerate(names["words"], start=UNKNOWN + 1)},
        {piece: row for row, piece in enumerate(names["pieces"])},
        network_of(arrays_of(NETWORK)),
        encoder_of(arrays_of(ENCODER)),
        gist_of(arrays_of(GIST)),
        Weighing(**{name: array.astype(numpy.float32) for name, array in arrays_of(WEIGHING).items()}),
    )


@lru_cache(maxsize=4)
def columns_of(labels: tuple[Label, ...]) -> dict[Label, int]:
    """Give the column of each label; not to be changed."""
    return {label: column for column, label in enumerate(labels)}


def arrays_of(file: str) -> dict[str, Any]:
    """Give the arrays of a file that comes with this package, by name."""
    with numpy.load(FOLDER / file, allow_pickle=False) as numbers:
        return {name: numbers[name] for name in numbers.files}
