"""What points to each label in a message: the models' answers, the wordings, the context."""

from collections.abc import Iterable
from functools import lru_cache
from typing import Any, NamedTuple

import numpy
from spacy.tokens import Doc

from intake.likelihood import NEVER, Likelihoods
from intake.model import Label, Model, columns_of
from intake.scope import DROPPING
from intake.weighing import Evidence


class _Fixed(NamedTuple):
    """What is so of each label in any message, an entry for each.

    `others` is the column of its opposite, or where there is none the one after the last.
    """

    columns: dict[Label, int]
    others: Any
    is_present: Any
    is_danger: Any
    is_finer: Any

    def marked(self, labels: Iterable[Label]) -> Any:
        """Mark some labels; the column after the last stands for none, and never is."""
        marked = numpy.zeros(len(self.columns) + 1, bool)
        marked[[self.columns[label] for label in labels if label in self.columns]] = True
        return marked


def evidence_of(doc: Doc, model: Model, likelihoods: Likelihoods, dangers: frozenset[str]) -> Evidence:
    """Give what points to each label; `dangers` are the findings that are some when they are present."""
    fixed = _fixed(model.labels, model.finer, dangers)
    told = fixed.marked((mention.finding, mention.polarity) for mention in doc._.mentions)
    hedged = fixed.marked((mention.finding, mention.polarity) for mention in doc._.mentions if mention.hedged)
    gone = {edge.finding for edge in doc._.edges or () if edge.category in DROPPING}
    dropped = fixed.marked((finding, state) for finding in gone for state in ("present", "absent"))
    network, encoder = _greatest(likelihoods, told[:-1])
    company = numpy.append(model.weighing.company((network + encoder)[:-1]), 0)
    return Evidence(
        is_told=told[:-1],
        network=network[:-1],
        encoder=encoder[:-1],
        gist=as_a_whole(likelihoods.gist, network[:-1], encoder[:-1], likelihoods.share),
        company=company[:-1],
        network_opposite=network[fixed.others],
        encoder_opposite=encoder[fixed.others],
        company_opposite=company[fixed.others],
        is_opposite_told=told[fixed.others],
        is_weakened=numpy.where(told, hedged, dropped)[:-1],
        is_present=fixed.is_present,
        is_danger=fixed.is_danger,
        is_finer=fixed.is_finer,
        no_fault=numpy.full(len(model.labels), likelihoods.no_fault),
        no_fault_of_danger=likelihoods.no_fault * fixed.is_danger,
    )


@lru_cache(maxsize=4)
def _fixed(labels: tuple[Label, ...], finer: frozenset[str], dangers: frozenset[str]) -> _Fixed:
    columns = columns_of(labels)
    return _Fixed(
        columns,
        others=numpy.array([columns.get(opposite(label), len(columns)) for label in labels]),
        is_present=numpy.array([state == "present" for _, state in labels]),
        is_danger=numpy.array([state == "present" and finding in dangers for finding, state in labels]),
        is_finer=numpy.array([finding in finer for finding, _ in labels]),
    )


def as_a_whole(gist: Any, network: Any, encoder: Any, share: float) -> Any:
    """Give the odds of the message as a whole: those of the gist for a share, for the rest what the others say."""
    return share * gist + (1 - share) * (network + encoder) / 2


def opposite(label: Label) -> Label:
    """Give the same finding in the other state."""
    return label[0], "absent" if label[1] == "present" else "present"


def _greatest(likelihoods: Likelihoods, is_told: Any) -> Any:
    """Give the greatest odds of each label by each model, and those of none; of a guess only where enough is known."""
    odds = numpy.where(is_told | likelihoods.is_known[:, None], likelihoods.odds, NEVER)
    odds = numpy.pad(odds, ((0, 0), (1, 0), (0, 1)), constant_values=NEVER)
    return odds.max(axis=1)
