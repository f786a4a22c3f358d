"""What the models learn from: the clauses of the development half, of `corpus/clauses` and of the tests' sentences.

Nothing of the test half or of the held messages. Of a message of the development half only the whole is labelled, and
not with the finer findings: a clause has the labels that the wordings find in it and the gold agrees with, and tells
nothing of a finer finding, nor of a label that the gold has and the wordings do not find. The wordings were written
from that half, so their word is not counted there.
"""

import tomllib
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from itertools import chain, groupby, product
from pathlib import Path
from typing import NamedTuple

from intake.clean import clean
from intake.model import Label
from intake.read import reader
from intake.stretches import stretches_of
from knowledge import shipped_base
from tests.corpus import clauses, letters
from tests.reading import labelled

ROOT = Path(__file__).parent.parent.parent
SENTENCES = sorted((ROOT / "tests" / "intake").rglob("*.toml"))


@dataclass(frozen=True)
class Example:
    """The words of a stretch, what the wordings find in it, what it says, and the labels of which it tells nothing.

    `opens` tells that a sentence begins with it.
    """

    words: Sequence[str]
    stems: Sequence[str]
    told: frozenset[Label]
    says: frozenset[Label]
    unknown: frozenset[Label] = frozenset()
    opens: bool = True


class Part(NamedTuple):
    """A stretch as it was read."""

    words: Sequence[str]
    stems: Sequence[str]
    told: frozenset[Label]
    opens: bool


def messages_of_corpus() -> list[list[Example]]:
    """Give all that is learned from, message by message; a sentence that stands alone is one."""
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
    messages: list[list[Example]] = []
    for letter in halves:
        messages.append(of_letter(next(parts), frozenset((finding.id, finding.state) for finding in letter.findings)))
    for case in sentences:
        says = frozenset((said.split("=")[0], said.split("=")[1]) for said in case.get("expect", ()))
        messages.append([_whole(next(parts), says)])
    for letter, lines in groupby(written, key=lambda clause: clause.letter):
        examples = [_whole(next(parts), clause.says) for clause in lines]
        messages += [[example] for example in examples] if letter is None else [examples]
    spoken = [[example for example in message if example.words] for message in messages]
    return [message for message in spoken if message]


def of_letter(parts: Sequence[Part], gold: frozenset[Label]) -> list[Example]:
    """Give the stretches of a message of which only the whole is labelled."""
    unknown = (gold - _told(parts)) | finer()
    return [Example(part.words, part.stems, frozenset(), part.told & gold, unknown, part.opens) for part in parts]


@cache
def finer() -> frozenset[Label]:
    """Give the labels that the halves of the corpus do not have."""
    findings = (finding.id for finding in shipped_base().findings if finding.id not in labelled())
    return frozenset(product(findings, ("present", "absent")))


def _prepare() -> None:
    reader(shipped_base()).disable_pipe("second_look")  # what an earlier model said is not learned from


def _parts(text: str) -> list[Part]:
    doc = reader(shipped_base())(clean(text))
    parts = []
    for stretch in stretches_of(doc):
        told = [mention for mention in doc._.mentions if mention.start < stretch.end and stretch.start < mention.end]
        labels = frozenset((each.finding, each.polarity) for each in told)
        parts.append(Part(stretch.words, stretch.stems, labels, stretch.opens))
    return parts


def _whole(parts: Sequence[Part], says: frozenset[Label]) -> Example:
    words, stems = (list(chain.from_iterable(part[at] for part in parts)) for at in range(2))
    return Example(words, stems, _told(parts), says)


def _told(parts: Sequence[Part]) -> frozenset[Label]:
    return frozenset().union(*(part.told for part in parts))
