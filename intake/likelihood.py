"""How likely the clauses of a message say what, by the model: each clause, and each with the next of its sentence."""

from collections.abc import Iterator, Mapping
from itertools import chain
from typing import Any, NamedTuple, cast

import numpy
from spacy.tokens import Doc

from intake.mentions import Mention, Polarity
from intake.model import BLANK, SIDE, UNKNOWN, Label, Model, View, pieces_of, shipped_model


class Likelihoods(NamedTuple):
    """`odds` are natural logarithms, a row for each span of tokens, a column for each label (finding, state).

    `rows` are those of the spans that each clause is in, by its number.
    """

    spans: list[tuple[int, int]]
    odds: Any
    columns: Mapping[Label, int]
    rows: Mapping[int, list[int]]

    def above(self, least: float) -> Iterator[tuple[Mention, float]]:
        """Yield what the spans are likely to say: a mention over the whole span, and its odds."""
        labels = list(self.columns)
        for row, column in numpy.argwhere(self.odds > least).tolist():
            finding, state = labels[column]
            start, end = self.spans[row]
            mention = Mention(finding, cast(Polarity, state), start, end, frozenset(range(start, end)))
            yield mention, float(self.odds[row, column])

    def of(self, doc: Doc, mention: Mention) -> float | None:
        """Give the greatest odds for a mention among the spans it lies in; None where the model knows no such."""
        column = self.columns.get((mention.finding, mention.polarity))
        clauses = range(doc._.clause_of[mention.start], doc._.clause_of[mention.end - 1] + 1)
        rows = [row for clause in clauses for row in self.rows.get(clause, ())]
        return float(self.odds[rows, column].max()) if rows and column is not None else None


class _Clause(NamedTuple):
    number: int
    start: int  # its first and last word among the tokens
    end: int
    stems: list[str]
    opens: bool  # a sentence


def likelihoods_of(doc: Doc) -> Likelihoods:
    """Give what the clauses of `doc` are likely to say."""
    model = shipped_model()
    columns = {label: column for column, label in enumerate(model.labels)}
    clauses = list(_clauses(doc))
    if not clauses:
        return Likelihoods([], numpy.empty((0, len(columns))), columns, {})
    spans = [(clause.start, clause.end) for clause in clauses]
    rows = {clause.number: [row] for row, clause in enumerate(clauses)}
    pairs = [row for row, clause in enumerate(clauses) if row and not clause.opens]
    for span, row in enumerate(pairs, start=len(clauses)):
        spans.append((clauses[row - 1].start, clauses[row].end))
        rows[clauses[row - 1].number].append(span)
        rows[clauses[row].number].append(span)
    single = _view(model, clauses, _told(doc, clauses, columns))
    both = single.joined([row - 1 for row in pairs], pairs)
    return Likelihoods(spans, model.odds(single.and_(both)), columns, rows)


def stems_of(doc: Doc) -> list[list[str]]:
    """Give for each token the stems of its words, of a mark the mark, and nothing of one that ends a phrase."""
    return [[] if token.tag_ == "END" else token.lemma_.split(" ") for token in doc]


def _clauses(doc: Doc) -> Iterator[_Clause]:
    openings = {sentence.start for sentence in doc.sents}
    stems = stems_of(doc)
    in_words = [token.tag_ in ("WORD", "NUM") for token in doc]
    opens = True
    for number, (start, end) in enumerate(doc._.clauses):
        opens = opens or start in openings
        words = [at for at in range(start, end) if in_words[at]]
        if words:
            yield _Clause(number, words[0], words[-1] + 1, list(chain.from_iterable(stems[start:end])), opens)
            opens = False


def _told(doc: Doc, clauses: list[_Clause], columns: Mapping[Label, int]) -> Any:
    """Mark which labels the wordings found in which clause."""
    told = numpy.zeros((len(clauses), len(columns)), numpy.float32)
    rows = {clause.number: row for row, clause in enumerate(clauses)}
    for mention in doc._.mentions:
        column = columns.get((mention.finding, mention.polarity))
        for number in range(doc._.clause_of[mention.start], doc._.clause_of[mention.end - 1] + 1):
            if column is not None and number in rows:
                told[rows[number], column] = 1
    return told


def _view(model: Model, clauses: list[_Clause], told: Any) -> View:
    """Look at the clauses; a sentence does not see into the next."""
    words: list[int] = []
    starts: list[int] = []
    for clause in clauses:
        words += [BLANK] * SIDE * clause.opens
        starts.append(len(words))
        words += [model.words.get(stem, UNKNOWN) for stem in clause.stems]
    sizes = numpy.array([len(clause.stems) for clause in clauses])
    answers = model.answers([*words, BLANK])
    bounds = numpy.column_stack([starts, starts + sizes]).ravel()  # every second stretch lies between clauses
    pieces = [pieces_of(clause.stems) for clause in clauses]
    counts = numpy.array([len(places) for places in pieces])
    firsts = numpy.cumsum([0, *counts[:-1]])
    return View(
        numpy.maximum.reduceat(answers, bounds)[::2],
        numpy.add.reduceat(answers, bounds)[::2],
        sizes,
        told,
        numpy.add.reduceat(model.pieces[list(chain.from_iterable(pieces))], firsts, dtype=numpy.int32),
        counts,
    )
