"""How likely the clauses of a message say what, by the model: each clause, and each with the next of its sentence."""

from collections.abc import Iterator, Mapping
from itertools import chain
from typing import Any, NamedTuple, cast

import numpy
from spacy.tokens import Doc

from intake.mentions import Mention, Polarity
from intake.model import pieces_of, shipped_model

Label = tuple[str, str]


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


def likelihoods_of(doc: Doc) -> Likelihoods:
    """Give what the clauses of `doc` are likely to say."""
    model = shipped_model()
    first_of_sentence = {sentence.start for sentence in doc.sents}
    stems = stems_of(doc)
    in_words = [token.tag_ in ("WORD", "NUM") for token in doc]
    spans: list[tuple[int, int]] = []
    sums: list[Any] = []
    sizes: list[int] = []
    rows: dict[int, list[int]] = {}
    before: int | None = None  # the number of the clause before
    for number, (start, end) in enumerate(doc._.clauses):
        words = [at for at in range(start, end) if in_words[at]]
        if not words:
            continue
        pieces = pieces_of(list(chain.from_iterable(stems[start:end])))
        here = len(spans)
        rows[number] = [here]
        spans.append((words[0], words[-1] + 1))
        sums.append(model.sum_of(pieces))
        sizes.append(len(pieces))
        if before is not None and start not in first_of_sentence:
            first = rows[before][0]
            rows[number].append(len(spans))
            rows[before].append(len(spans))
            spans.append((spans[first][0], spans[here][1]))
            sums.append(sums[first] + sums[here])
            sizes.append(sizes[first] + sizes[here])
        before = number
    odds = model.odds(numpy.array(sums), numpy.array(sizes)) if spans else numpy.empty((0, len(model.labels)))
    return Likelihoods(spans, odds, {label: column for column, label in enumerate(model.labels)}, rows)


def stems_of(doc: Doc) -> list[list[str]]:
    """Give for each token the stems of its words, of a mark the mark, and nothing of one that ends a phrase."""
    return [[] if token.tag_ == "END" else token.lemma_.split(" ") for token in doc]
