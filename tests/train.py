"""Make the numbers of the model that takes the second look (`intake.model`) from the corpus: `python -m tests.train`.

What is learned from: the clauses of the development half, of `corpus/clauses` and of the sentences of the tests, and
nothing of the test half or of the held messages. Of a message of the development half only the whole is labelled, and
not with the finer findings: a clause has the labels that the wordings find in it and the gold agrees with, and tells
nothing of a finer finding, nor of a label that the gold has and the wordings do not find. The wordings were written
from that half, so their word is not counted there.
Needs jax and optax, of the extra `test`. The same corpus gives the same bytes on the same kind of machine.
"""

import json
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain, groupby, product
from pathlib import Path
from typing import Any, NamedTuple

import numpy

from intake.clean import clean
from intake.likelihood import stems_of
from intake.model import BLANK, NAMES, NUMBERS, UNKNOWN, Label, pieces_of
from intake.read import reader
from knowledge import shipped_base
from tests.corpus import clauses, letters
from tests.reading import labelled

ROOT = Path(__file__).parent.parent
SENTENCES = sorted((ROOT / "tests" / "intake").rglob("*.toml"))
FEWEST = 6  # clauses that a label is learned from
RARE = 2  # examples: a word in fewer is read as any unknown one
FOR, AGAINST = 0.15, 0.3  # shares of what two labels tell of each other; more would count things twice
# What is added to the log odds of the finer findings: many a clause says one that its reader passed over, so the fit
# holds them for rarer than they are, by a constant factor where they are passed over by chance (Elkan and Noto,
# Learning classifiers from only positive and unlabeled data, 2008). The number is not theirs: chosen on the held ones.
UNSAID = 2.5
_LARGEST = 127  # of a number in eight bits


@dataclass(frozen=True)
class Example:
    """The stems of a clause, what the wordings find in it, what it says, and the labels of which it tells nothing.

    `before` and `after` are the stems of its neighbours in the message.
    """

    stems: list[str]
    told: frozenset[Label]
    says: frozenset[Label]
    unknown: frozenset[Label] = frozenset()
    before: Sequence[str] = ()
    after: Sequence[str] = ()


class Part(NamedTuple):
    """A clause as it was read."""

    stems: list[str]
    told: frozenset[Label]


def main() -> int:
    """Fit the numbers to all examples, and write them."""
    from tests.network import NEIGHBOUR, Sample, fit

    examples = examples_of_corpus()
    counts = Counter(said for example in examples for said in example.says)
    labels = sorted(said for said, count in counts.items() if count >= FEWEST)
    words = vocabulary(examples)
    rows = {word: row for row, word in enumerate(words, start=UNKNOWN + 1)}
    columns = {label: column for column, label in enumerate(labels)}
    samples = [
        Sample(
            [rows.get(word, UNKNOWN) for word in example.stems],
            pieces_of(example.stems),
            *(
                sorted(columns[label] for label in some if label in columns)
                for some in (example.told, example.says, example.unknown)
            ),
            [rows.get(word, UNKNOWN) for word in example.before[-NEIGHBOUR:]],
            [rows.get(word, UNKNOWN) for word in example.after[:NEIGHBOUR]],
        )
        for example in examples
    ]
    numbers = fit(samples, UNKNOWN + 1 + len(words), len(labels))
    write(labels, words, numbers | {"together": together(labels, list(said_in_messages()))})
    sys.stdout.write(f"{len(examples):,} clauses, {len(labels)} labels, {len(words):,} words\n")
    return 0


def examples_of_corpus() -> list[Example]:
    """Give all that is learned from."""
    halves = letters("development")
    sentences = [case for path in SENTENCES for case in tomllib.loads(path.read_text("utf-8"))["case"]]
    written = list(clauses())
    texts = [
        *(letter.text for letter in halves),
        *(case["say"] for case in sentences),
        *(each.text for each in written),
    ]
    with ProcessPoolExecutor(initializer=_prepare) as pool:
        parts = iter(pool.map(_parts, texts, chunksize=100))
    examples: list[Example] = []
    for letter in halves:
        examples += of_letter(next(parts), frozenset((finding.id, finding.state) for finding in letter.findings))
    for case in sentences:
        says = frozenset((said.split("=")[0], said.split("=")[1]) for said in case.get("expect", ()))
        examples.append(Example(*_whole(next(parts)), says))
    for letter, lines in groupby(written, key=lambda clause: clause.letter):
        alone = [Example(*_whole(next(parts)), clause.says) for clause in lines]
        examples += alone if letter is None else in_place(alone)
    return [example for example in examples if example.stems]


def of_letter(parts: Sequence[Part], gold: frozenset[Label]) -> Iterator[Example]:
    """Give the clauses of a message of which only the whole is labelled."""
    unknown = (gold - _whole(parts).told) | finer()
    yield from in_place([Example(part.stems, frozenset(), part.told & gold, unknown) for part in parts])


@cache
def finer() -> frozenset[Label]:
    """Give the labels that the halves of the corpus do not have."""
    findings = (finding.id for finding in shipped_base().findings if finding.id not in labelled())
    return frozenset(product(findings, ("present", "absent")))


def in_place(examples: Sequence[Example]) -> Iterator[Example]:
    """Give the clauses of one message, each with the ones before and after it."""
    for before, example, after in zip([None, *examples], examples, [*examples[1:], None], strict=False):
        yield replace(example, before=before.stems if before else (), after=after.stems if after else ())


def said_in_messages() -> Iterator[frozenset[Label]]:
    """Give what each whole message says: of the development half, and of those labelled line by line."""
    for letter in letters("development"):
        yield frozenset((finding.id, finding.state) for finding in letter.findings)
    lines = (clause for clause in clauses() if clause.letter is not None)
    for _, message in groupby(lines, key=lambda clause: clause.letter):
        yield frozenset(dict(said for clause in message for said in clause.says).items())  # the last state holds


def together(labels: Sequence[Label], messages: Sequence[frozenset[Label]]) -> Any:
    """Give what a label in a message adds to the odds of each: a share of their mutual information.

    It is log((both + 1) / (expected + 1)), by the numbers of messages; nothing between the two states of a finding.
    """
    says = numpy.array([[label in message for label in labels] for message in messages], float).reshape(-1, len(labels))
    counts = says.sum(axis=0)
    told = numpy.log((says.T @ says + 1) / (numpy.outer(counts, counts) / max(len(messages), 1) + 1))
    told *= numpy.where(told > 0, FOR, AGAINST)
    findings = numpy.array([finding for finding, _ in labels])
    return numpy.where(findings[:, None] == findings, 0, told)


def vocabulary(examples: Sequence[Example]) -> list[str]:
    """Give the words that have a vector of their own."""
    counts = Counter(word for example in examples for word in set(example.stems))
    return sorted(word for word, count in counts.items() if count >= RARE)


def write(labels: Sequence[Label], words: Sequence[str], numbers: Mapping[str, Any]) -> None:
    """Write the numbers, the pieces in eight bits and the rest in sixteen, and what rows and columns stand for."""
    scales = numpy.maximum(numpy.abs(numbers["pieces"]).max(axis=0), 1e-9) / _LARGEST
    unsaid = numpy.where([label in finer() for label in labels], UNSAID, 0).astype(numpy.float16)
    numbers["vectors"][BLANK] = 0
    arrays = {name: array.astype(numpy.float16) for name, array in numbers.items() if name != "pieces"}
    pieces = numpy.rint(numbers["pieces"] / scales).astype(numpy.int8)
    numpy.savez(NUMBERS, pieces=pieces, scales=scales.astype(numpy.float32), unsaid=unsaid, **arrays)
    NAMES.write_text(json.dumps({"labels": labels, "words": words}, ensure_ascii=False) + "\n", encoding="utf-8")


def _prepare() -> None:
    reader(shipped_base()).disable_pipe("second_look")  # what an earlier model said is not learned from


def _parts(text: str) -> list[Part]:
    doc = reader(shipped_base())(clean(text))
    stems = stems_of(doc)
    parts = []
    for start, end in doc._.clauses:
        told = [mention for mention in doc._.mentions if mention.start < end and start < mention.end]
        words = list(chain.from_iterable(stems[start:end]))
        if words:
            parts.append(Part(words, frozenset((mention.finding, mention.polarity) for mention in told)))
    return parts


def _whole(parts: Sequence[Part]) -> Part:
    return Part(
        list(chain.from_iterable(part.stems for part in parts)), frozenset().union(*(part.told for part in parts))
    )


if __name__ == "__main__":
    sys.exit(main())
