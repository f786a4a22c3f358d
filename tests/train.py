"""Make the numbers of the model that proposes findings (`intake.model`) from the corpus: `python -m tests.train`.

What is learned from: the clauses of the development half, of `corpus/clauses` and of the sentences of the tests, and
nothing of the test half. Of a message only the whole is labelled: a clause has the labels that the wordings find in it
and the gold agrees with, and tells nothing of a label that the gold has and the wordings do not find.
Needs scikit-learn, which is no dependency. The same corpus gives the same bytes.
"""

import json
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import Any

import numpy

from intake.clean import clean
from intake.likelihood import stems_of
from intake.model import LABELS, NUMBERS, PLACES, pieces_of
from intake.read import read, reader
from knowledge import shipped_base
from tests.corpus import clauses, letters
from tests.reading import labelled

ROOT = Path(__file__).parent.parent
SENTENCES = sorted((ROOT / "tests" / "intake").rglob("*.toml"))
FEWEST = 6  # clauses that a label is learned from
STRENGTH = 20.0  # of the fit against the size of the numbers (judgement)
_LARGEST = 127  # of a number in eight bits

Said = tuple[str, str]


@dataclass(frozen=True)
class Example:
    """A clause as pieces, what it says, and the labels of which it tells nothing."""

    pieces: list[int]
    says: frozenset[Said]
    unknown: frozenset[Said] = field(default_factory=frozenset)


def main() -> int:
    """Train a regression for each label, and write labels and numbers."""
    reader(shipped_base()).disable_pipe("second_look")  # what an earlier model said is not learned from
    examples = [*of_letters(), *of_sentences(), *of_clauses()]
    counts = Counter(said for example in examples for said in example.says)
    labels = sorted(said for said, count in counts.items() if count >= FEWEST and said[0] in labelled())
    with ProcessPoolExecutor(initializer=_prepare, initargs=(examples,)) as pool:
        fitted = list(pool.map(_fit, labels, chunksize=8))
    write(labels, fitted)
    sys.stdout.write(f"{len(examples):,} clauses, {len(labels)} labels\n")
    return 0


def of_letters() -> Iterator[Example]:
    """Give the clauses of the development half."""
    base = shipped_base()
    for letter in letters("development"):
        gold = {(finding.id, finding.state) for finding in letter.findings}
        found = [finding for finding in read(letter.text, base).findings if (finding.id, finding.state) in gold]
        unknown = frozenset(gold - {(finding.id, finding.state) for finding in found})
        for start, end, pieces in _clauses(letter.text):
            says = {(finding.id, finding.state) for finding in found if finding.start < end and start < finding.end}
            yield Example(pieces, frozenset(says), unknown)


def of_sentences() -> Iterator[Example]:
    """Give the sentences that the tests of the reading hold."""
    for path in SENTENCES:
        for case in tomllib.loads(path.read_text("utf-8"))["case"]:
            says = {tuple(said.split("=")[:2]) for said in case.get("expect", ())}
            yield Example(_whole(case["say"]), frozenset(says))


def of_clauses() -> Iterator[Example]:
    """Give the clauses that were written to learn from."""
    for clause in clauses():
        yield Example(_whole(clause.text), clause.says)


def _clauses(text: str) -> Iterator[tuple[int, int, list[int]]]:
    doc = reader(shipped_base())(clean(text))
    stems = stems_of(doc)
    for start, end in doc._.clauses:
        if any(stems[start:end]):
            pieces = pieces_of(list(chain.from_iterable(stems[start:end])))
            yield doc._.offsets[start][0], doc._.offsets[end - 1][1], pieces


def _whole(text: str) -> list[int]:
    return pieces_of(list(chain.from_iterable(stems_of(reader(shipped_base())(clean(text))))))


def _prepare(examples: list[Example]) -> None:
    from scipy.sparse import csr_matrix

    ends = numpy.cumsum([0, *(len(example.pieces) for example in examples)])
    places = numpy.concatenate([example.pieces for example in examples])
    values = numpy.concatenate([numpy.full(len(e.pieces), max(len(e.pieces), 1) ** -0.5) for e in examples])
    _WORK.update(examples=examples, matrix=csr_matrix((values, places, ends), shape=(len(examples), PLACES)))


_WORK: dict[str, Any] = {}  # of a process of the pool


def _fit(label: Said) -> tuple[Any, float]:
    """Give the weight of each place, and the offset, of one label."""
    from sklearn.linear_model import LogisticRegression

    known = [number for number, example in enumerate(_WORK["examples"]) if label not in example.unknown]
    says = [label in _WORK["examples"][number].says for number in known]
    fit = LogisticRegression(C=STRENGTH, solver="liblinear", random_state=0).fit(_WORK["matrix"][known], says)
    return fit.coef_[0], float(fit.intercept_[0])


def write(labels: list[Said], fitted: list[tuple[Any, float]]) -> None:
    """Write the numbers in eight bits, and the labels with what makes log odds of them."""
    weights = numpy.stack([weight for weight, _ in fitted], axis=1)
    scales = numpy.abs(weights).max(axis=0) / _LARGEST
    numpy.save(NUMBERS, numpy.rint(weights / scales).astype(numpy.int8), allow_pickle=False)
    plain = {
        "labels": labels,
        "scales": [float(f"{scale:.6g}") for scale in scales],
        "offsets": [round(offset, 4) for _, offset in fitted],
    }
    LABELS.write_text(json.dumps(plain) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
