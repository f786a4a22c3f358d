"""The two models that come with this package, the words and labels they know, and how their answers are weighed.

`python -m tests.train` makes their numbers from the corpus; nothing is learned while reading.
"""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy

from intake.encoder import Encoder, encoder_of
from intake.network import UNKNOWN, Network, network_of
from intake.topic import Topic
from intake.weighing import Weighing

FOLDER = Path(__file__).parent
NAMES, NETWORK, ENCODER = "model.json", "network.npz", "encoder.npz"
TOPIC, WEIGHING = "topic.npz", "weighing.npz"

Label = tuple[str, str]  # a finding with its state: ("fans-spin", "absent")


class Model(NamedTuple):
    """Both models of the same labels: `words` are the rows of the stems in the one and in the topic, `pieces` those in
    the other.

    `finer` are the findings that few of the readers of the corpus have marked.
    """

    labels: tuple[Label, ...]
    finer: frozenset[str]
    words: Mapping[str, int]
    pieces: Mapping[str, int]
    network: Network
    encoder: Encoder
    topic: Topic
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
        network_of(_arrays(NETWORK)),
        encoder_of(_arrays(ENCODER)),
        Topic(**_wide(TOPIC)),
        Weighing(**_wide(WEIGHING)),
    )


def _wide(file: str) -> dict[str, Any]:
    return {name: array.astype(numpy.float32) for name, array in _arrays(file).items()}


def _arrays(file: str) -> dict[str, Any]:
    with numpy.load(FOLDER / file, allow_pickle=False) as numbers:
        return {name: numbers[name] for name in numbers.files}
