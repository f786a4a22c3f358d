"""Fit the weights of `intake.weighing` to the held messages, from which the models have not learned; needs sklearn.

What is known of a label counts twice, in its message and as if its clause were all of it: few held messages are short.
The mean of several networks, which differ only in how they began, errs less than one (Hansen and Salamon, Neural
network ensembles, 1990).
Of the held messages up to `held-4` only the measured findings are labelled; of the finer ones they tell nothing.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

import numpy
from sklearn.neural_network import MLPClassifier
from sklearn.pipeline import Pipeline, make_pipeline
from sklearn.preprocessing import StandardScaler

from intake.clean import clean
from intake.evidence import as_a_whole, evidence_of
from intake.likelihood import likelihoods_of
from intake.model import Label, Model
from intake.read import reader
from intake.weighing import Evidence
from knowledge import shipped_base
from tests.corpus import HELD, clauses, letters
from tests.fit.examples import finer

FOR, AGAINST = 0.15, 0.3  # shares of what two labels tell of each other; more would count things twice
ONLY_MEASURED = {"held-1", "held-2", "held-3", "held-4"}  # voices
HIDDEN, DECAY = 20, 10.0  # by judgement, on the held messages
BEGINNINGS = 5  # networks, each begun by chance
LEAST = -3.5  # log odds: what both models hold for less likely is left out, as nearly all that might be said is
_AFTER = ("second_look", "outcomes")  # parts of the reading that come later


def fit(model: Model) -> dict[str, Any]:
    """Give the weights by the names of `Weighing`."""
    tables, said = zip(*_rows(model), strict=True)
    table = numpy.array(tables)[:, 1:]
    return numbers_of([_network(at).fit(table, said) for at in range(BEGINNINGS)])


def _network(beginning: int) -> Pipeline:
    network = MLPClassifier(
        HIDDEN, activation="tanh", solver="lbfgs", alpha=DECAY, max_iter=1_000, max_fun=10_000, random_state=beginning
    )
    return make_pipeline(StandardScaler(), network)


def numbers_of(fitted: Sequence[Pipeline]) -> dict[str, Any]:
    """Give the weights of the mean of networks, which is one network of all their hidden units.

    Each takes evidence brought to mean nought and variance one, the whole takes it as it is.
    """
    inner, outer, offset = zip(*map(_as_it_is, fitted), strict=True)
    weights = numpy.append(numpy.mean(offset), numpy.concatenate(outer) / len(fitted))
    return {"inner": numpy.hstack(inner).astype(numpy.float32), "outer": weights.astype(numpy.float32)}


def _as_it_is(fitted: Pipeline) -> tuple[Any, Any, float]:
    """Give the rows of `inner`, the weights of the units and the offset."""
    scaler, network = fitted[0], fitted[1]
    (inner, outer), (offsets, offset) = network.coefs_, network.intercepts_
    inner = inner / scaler.scale_[:, None]
    return numpy.vstack([offsets - scaler.mean_ @ inner, inner]), outer[:, 0], offset[0]


def _rows(model: Model) -> Iterator[tuple[Any, bool]]:
    """Yield for each label that a held message may say the evidence and the truth."""
    nlp = reader(shipped_base())
    dangers = frozenset(finding.id for finding in shipped_base().findings if finding.kind == "danger")
    with nlp.select_pipes(disable=[name for name in _AFTER if name in nlp.pipe_names]):
        for letter in letters(HELD):
            gold = {(finding.id, finding.state) for finding in letter.findings}
            doc = nlp(clean(letter.text))
            evidence = evidence_of(doc, model, likelihoods_of(doc, model), dangers)
            is_told, tables = evidence.is_told, (evidence.table(), alone(evidence, model.gist.prior).table())
            likely = numpy.maximum(evidence.network, evidence.encoder) > LEAST
            for column, label in enumerate(model.labels):
                is_labelled = letter.voice not in ONLY_MEASURED or label not in finer()
                if is_labelled and (is_told[column] or likely[column]):
                    yield from ((table[column], label in gold) for table in tables)


def alone(evidence: Evidence, prior: float) -> Evidence:
    """Give what would be known if nothing else stood in the message; `prior` is the log odds that it tells no fault."""
    nothing = numpy.zeros(len(evidence.is_told))
    return evidence._replace(
        gist=as_a_whole(nothing, evidence.network, evidence.encoder, share=0),
        company=nothing,
        company_opposite=nothing,
        no_fault=nothing + prior,
        no_fault_of_danger=prior * evidence.is_danger,
    )


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
