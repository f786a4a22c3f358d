"""Make the models of the second look from the corpus: `python -m tests.train [network|encoder|gist|weighing]`.

The models learn from what `tests.fit.examples` says, the weights of all from the held messages.
Without an argument all are made, in under two hours on a processor that knows bfloat16, else far longer. Needs what the
extra `train` brings, and the published encoder.
The same corpus gives the same bytes on the same kind of machine.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import chain
from typing import Any

import numpy

from intake.encoder import encoder_of
from intake.model import ENCODER, FOLDER, GIST, NAMES, NETWORK, WEIGHING, Label, arrays_of, shipped_model
from tests.fit.examples import Example, finer, messages_of_corpus

PARTS = ("network", "encoder", "gist", "weighing")
FEWEST = 6  # clauses that a label is learned from


def main() -> int:
    """Make the parts that are asked for, and write them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], help="only these; all without one")
    parts = parser.parse_args().parts or PARTS
    if {"network", "encoder", "gist"} & set(parts):
        messages = messages_of_corpus()
        labels = labels_of(messages)
        if {"network", "encoder"} & set(parts):  # the gist takes over theirs
            name(labels=labels, finer=sorted({finding for finding, _ in finer()}))
        if "network" in parts:
            make_network(messages, labels)
        if "encoder" in parts:
            make_encoder(messages, labels)
        if "gist" in parts:
            make_gist(messages)
        sys.stdout.write(f"{len(messages):,} messages and sentences, {len(labels)} labels\n")
    if "weighing" in parts:
        make_weighing()
    return 0


def labels_of(messages: Sequence[Sequence[Example]]) -> list[Label]:
    """Give what enough clauses say."""
    counts = Counter(said for example in chain.from_iterable(messages) for said in example.says)
    return sorted(said for said, count in counts.items() if count >= FEWEST)


def make_network(messages: Sequence[Sequence[Example]], labels: Sequence[Label]) -> None:
    """Fit the network."""
    from intake.network import UNKNOWN
    from tests.fit import network

    words = network.vocabulary(messages)
    samples = network.samples_of(messages, words, labels)
    name(words=words)
    write(NETWORK, network.stored(network.fit(samples, UNKNOWN + 1 + len(words), len(labels))))


def make_encoder(messages: Sequence[Sequence[Example]], labels: Sequence[Label]) -> None:
    """Fit the encoder."""
    from tests.fit import encoder

    begin = encoder.published()
    chosen = encoder.pieces_in_use(messages, begin.pieces)
    pieces = [begin.pieces[row] for row in chosen]
    samples = encoder.samples_of(messages, pieces, labels)
    name(pieces=pieces)
    write(ENCODER, encoder.stored(encoder.fitted(samples, begin, chosen, len(labels)).arrays()))


def make_gist(messages: Sequence[Sequence[Example]]) -> None:
    """Fit the gist; words and labels are those of the network, pieces those of the encoder, by which it sees."""
    from intake.network import UNKNOWN
    from tests.fit import gist

    names = json.loads((FOLDER / NAMES).read_text("utf-8"))
    words = {word: row for row, word in enumerate(names["words"], start=UNKNOWN + 1)}
    pieces = {piece: row for row, piece in enumerate(names["pieces"])}
    labels = [tuple(label) for label in names["labels"]]
    samples = gist.samples_of(messages, words, pieces, labels, encoder_of(arrays_of(ENCODER)))
    write(GIST, gist.fit(samples, UNKNOWN + 1 + len(words), len(labels)))


def make_weighing() -> None:
    """Fit the weights of what the three models say."""
    from tests.fit import weighing

    labels = [tuple(label) for label in json.loads((FOLDER / NAMES).read_text("utf-8"))["labels"]]
    together = weighing.together(labels, list(weighing.said_in_messages())).astype(numpy.float16)
    write(WEIGHING, {"together": together, "inner": numpy.zeros(0), "outer": numpy.zeros(0)})
    write(WEIGHING, {"together": together, **weighing.fit(shipped_model())})


def name(**names: Any) -> None:
    """Write what rows and columns stand for, beside what is written already."""
    path = FOLDER / NAMES
    known = json.loads(path.read_text("utf-8")) if path.exists() else {}
    path.write_text(json.dumps(known | names, ensure_ascii=False) + "\n", encoding="utf-8")


def write(file: str, arrays: Mapping[str, Any]) -> None:
    """Write arrays."""
    numpy.savez(FOLDER / file, **arrays)


if __name__ == "__main__":
    sys.exit(main())
