"""What points to each label in a message: the models' answers, the wordings, the context."""

from collections.abc import Collection
from typing import Any

import numpy
from spacy.tokens import Doc

from intake.likelihood import NEVER, Likelihoods
from intake.model import Label, Model
from intake.scope import DROPPING
from intake.weighing import Evidence


def evidence_of(doc: Doc, model: Model, likelihoods: Likelihoods, dangers: Collection[str]) -> Evidence:
    """Give what points to each label; `dangers` are the findings that are some when they are present."""
    told = {(mention.finding, mention.polarity) for mention in doc._.mentions}
    hedged = {(mention.finding, mention.polarity) for mention in doc._.mentions if mention.hedged}
    dropped = {edge.finding for edge in doc._.edges or () if edge.category in DROPPING}
    columns = {label: column for column, label in enumerate(model.labels)}
    others = [columns.get(opposite(label), len(columns)) for label in model.labels]
    is_told = numpy.array([label in told for label in model.labels])
    network, encoder = _greatest(likelihoods, is_told)
    company = numpy.append(model.weighing.company((network + encoder)[:-1]), 0)
    is_danger = numpy.array([state == "present" and finding in dangers for finding, state in model.labels])
    return Evidence(
        is_told=is_told,
        network=network[:-1],
        encoder=encoder[:-1],
        gist=as_a_whole(likelihoods.gist, network[:-1], encoder[:-1], likelihoods.share),
        company=company[:-1],
        network_opposite=network[others],
        encoder_opposite=encoder[others],
        company_opposite=company[others],
        is_opposite_told=numpy.array([opposite(label) in told for label in model.labels]),
        is_weakened=numpy.array([label in hedged if label in told else label[0] in dropped for label in model.labels]),
        is_present=numpy.array([state == "present" for _, state in model.labels]),
        is_danger=is_danger,
        is_finer=numpy.array([finding in model.finer for finding, _ in model.labels]),
        no_fault=numpy.full(len(model.labels), likelihoods.no_fault),
        no_fault_of_danger=likelihoods.no_fault * is_danger,
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
