"""How likely the clauses of a message say what, by the model: each clause, and each with the next of its sentence."""

from collections.abc import Iterator, Mapping
from itertools import chain, groupby
from typing import Any, NamedTuple, cast

import numpy
from spacy.tokens import Doc

from intake.mentions import Mention, Polarity
from intake.model import BLANK, SIDE, UNKNOWN, Label, Model, View, pieces_of, shipped_model

_WORDS = ("WORD", "NUM")
_LONGEST = 14  # words; a longer clause is looked at in parts
_FEWEST = 3  # different words that the model knows: fewer of them are no ground for a guess


class Likelihoods(NamedTuple):
    """`odds` are natural logarithms, a row for each span of tokens, a column for each label (finding, state).

    `known` counts the different words of each span that the model has learned; `rows` are those of the spans that each
    clause is in, by its number.
    """

    spans: list[tuple[int, int]]
    odds: Any
    known: list[int]
    columns: Mapping[Label, int]
    rows: Mapping[int, list[int]]

    def above(self, least: float) -> Iterator[tuple[Mention, float]]:
        """Yield what the spans are likely to say: a mention over the whole span, and its odds."""
        labels = list(self.columns)
        for row, column in numpy.argwhere(self.odds > least).tolist():
            if self.known[row] < _FEWEST:
                continue
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


class _Stretch(NamedTuple):
    """A clause, or a part of a long one."""

    clause: int
    start: int  # its first and last word among the tokens
    end: int
    stems: list[str]
    opens: bool  # a sentence


def likelihoods_of(doc: Doc) -> Likelihoods:
    """Give what the clauses of `doc` are likely to say."""
    model = shipped_model()
    columns = {label: column for column, label in enumerate(model.labels)}
    stretches = list(_stretches(doc))
    if not stretches:
        return Likelihoods([], numpy.empty((0, len(columns))), [], columns, {})
    spans = [(stretch.start, stretch.end) for stretch in stretches]
    known = [model.words.keys() & set(stretch.stems) for stretch in stretches]
    rows: dict[int, list[int]] = {}
    for row, stretch in enumerate(stretches):
        rows.setdefault(stretch.clause, []).append(row)
    seconds = [row for row, stretch in enumerate(stretches) if row and not stretch.opens]
    for span, row in enumerate(seconds, start=len(stretches)):
        first, second = stretches[row - 1], stretches[row]
        spans.append((first.start, second.end))
        known.append(known[row - 1] | known[row])
        for clause in {first.clause, second.clause}:
            rows[clause].append(span)
    single = _view(model, stretches, _told(doc, stretches, columns))
    both = single.joined([row - 1 for row in seconds], seconds)
    return Likelihoods(spans, model.odds(single.followed_by(both)), [len(words) for words in known], columns, rows)


def stems_of(doc: Doc) -> list[list[str]]:
    """Give for each token the stems of its words, and none of a mark: how a message is punctuated tells nothing."""
    return [token.lemma_.split(" ") if token.tag_ in _WORDS else [] for token in doc]


def _stretches(doc: Doc) -> Iterator[_Stretch]:
    openings = {sentence.start for sentence in doc.sents}
    stems = stems_of(doc)
    opens = True
    for number, (start, end) in enumerate(doc._.clauses):
        opens = opens or start in openings
        for words in _runs(doc, start, end):
            yield _Stretch(number, words[0], words[-1] + 1, list(chain.from_iterable(stems[at] for at in words)), opens)
            opens = False


def _runs(doc: Doc, start: int, end: int) -> Iterator[list[int]]:
    """Yield the words of a clause between marks that end a phrase, long runs in equal parts."""
    for in_words, tokens in groupby(range(start, end), lambda at: doc[at].tag_ != "END"):
        words = [at for at in tokens if in_words and doc[at].tag_ in _WORDS]
        parts = -(-len(words) // _LONGEST)
        yield from (words[at * len(words) // parts : (at + 1) * len(words) // parts] for at in range(parts))


def _told(doc: Doc, stretches: list[_Stretch], columns: Mapping[Label, int]) -> Any:
    """Mark which labels the wordings found in which stretch."""
    told = numpy.zeros((len(stretches), len(columns)), numpy.float32)
    rows = {at: row for row, stretch in enumerate(stretches) for at in range(stretch.start, stretch.end)}
    for mention in doc._.mentions:
        column = columns.get((mention.finding, mention.polarity))
        if column is not None:
            told[[rows[at] for at in range(mention.start, mention.end) if at in rows], column] = 1
    return told


def _view(model: Model, stretches: list[_Stretch], told: Any) -> View:
    """Look at the stretches; a sentence does not see into the next."""
    words: list[int] = []
    starts: list[int] = []
    for stretch in stretches:
        words += [BLANK] * SIDE * stretch.opens
        starts.append(len(words))
        words += [model.words.get(stem, UNKNOWN) for stem in stretch.stems]
    answers = model.answers(words)
    sizes = [len(stretch.stems) for stretch in stretches]
    parts = [answers[start : start + size] for start, size in zip(starts, sizes, strict=True)]
    pieces = [pieces_of(stretch.stems) for stretch in stretches]
    counts = [len(places) for places in pieces]
    numbers = model.pieces[list(chain.from_iterable(pieces))].astype(numpy.float32)
    return View(
        numpy.stack([part.max(axis=0) for part in parts]),
        numpy.stack([part.sum(axis=0) for part in parts]),
        numpy.array(sizes, numpy.float32),
        told,
        numpy.add.reduceat(numbers, numpy.cumsum([0, *counts[:-1]])),
        numpy.array(counts, numpy.float32),
    )
