"""How likely the clauses of a message say what, by the model: each clause, and each sentence as a whole."""

from collections.abc import Iterator, Mapping
from itertools import chain, groupby
from typing import Any, NamedTuple, cast

import numpy
from spacy.tokens import Doc

from intake.mentions import Mention, Polarity
from intake.model import BLANK, SIDE, UNKNOWN, Label, Model, View, pieces_of, shipped_model

_WORDS = ("WORD", "NUM")
_LONGEST = 14  # words; a longer clause is looked at in parts
_WHOLE = 28  # words of a sentence that are looked at as one
_FEWEST = 3  # different words that the model knows: fewer of them are no ground for a guess


class Likelihoods(NamedTuple):
    """`odds` are natural logarithms, a row for each span of tokens, a column for each label (finding, state).

    `alone` are those of the stretches without what stands beyond a full stop; `known` counts the different words of
    each span that the model has learned; `rows` are those of the stretches of each clause, by its number.
    """

    spans: list[tuple[int, int]]
    odds: Any
    alone: Any
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

    def of(self, doc: Doc, mention: Mention) -> tuple[float | None, float | None]:
        """Give the greatest odds for a mention, and for its opposite, among the stretches of its clauses.

        None stands for what the model does not know. An unrelated sentence beside theirs changes nothing.
        """
        clauses = range(doc._.clause_of[mention.start], doc._.clause_of[mention.end - 1] + 1)
        rows = [row for clause in clauses for row in self.rows.get(clause, ())]
        opposite: Polarity = "absent" if mention.polarity == "present" else "present"
        columns = (self.columns.get((mention.finding, polarity)) for polarity in (mention.polarity, opposite))
        own, other = (float(self.alone[rows, at].max()) if rows and at is not None else None for at in columns)
        return own, other


class _Stretch(NamedTuple):
    """A clause, or a part of a long one."""

    clause: int
    start: int  # its first and last word among the tokens
    end: int
    stems: list[str]
    opens: bool  # a sentence
    parted: bool  # from the stretch before, by a full stop or the like


def likelihoods_of(doc: Doc) -> Likelihoods:
    """Give what the clauses of `doc` are likely to say."""
    model = shipped_model()
    columns = {label: column for column, label in enumerate(model.labels)}
    stretches = list(_stretches(doc))
    if not stretches:
        nothing = numpy.empty((0, len(columns)))
        return Likelihoods([], nothing, nothing, [], columns, {})
    sentences = [each for each in _sentences(stretches) if each[1] - each[0] > 1]
    ranges = [*((row, row + 1) for row in range(len(stretches))), *sentences]
    known = [model.words.keys() & set(stretch.stems) for stretch in stretches]
    rows: dict[int, list[int]] = {}
    for row, stretch in enumerate(stretches):
        rows.setdefault(stretch.clause, []).append(row)
    return Likelihoods(
        [(stretches[first].start, stretches[end - 1].end) for first, end in ranges],
        *_odds(model, stretches, sentences, _told(doc, stretches, columns)),
        [len(set().union(*known[first:end])) for first, end in ranges],
        columns,
        rows,
    )


def stems_of(doc: Doc) -> list[list[str]]:
    """Give for each token the stems of its words, and none of a mark: how a message is punctuated tells nothing."""
    return [token.lemma_.split(" ") if token.tag_ in _WORDS else [] for token in doc]


def _sentences(stretches: list[_Stretch]) -> Iterator[tuple[int, int]]:
    """Yield the ranges of the stretches of each sentence, of a long one in parts."""
    first = words = 0
    for row, stretch in enumerate(stretches):
        if row > first and (stretch.opens or words + len(stretch.stems) > _WHOLE):
            yield first, row
            first, words = row, 0
        words += len(stretch.stems)
    yield first, len(stretches)


def _stretches(doc: Doc) -> Iterator[_Stretch]:
    openings = {sentence.start for sentence in doc.sents}
    stems = stems_of(doc)
    tags = [token.tag_ for token in doc]
    opens, last = True, 0
    for number, (start, end) in enumerate(doc._.clauses):
        opens = opens or start in openings
        for words in _runs(tags, start, end):
            first, after = words[0], words[-1] + 1
            parted = opens or any(token.text[0] in ".!?" for token in doc[last:first])
            yield _Stretch(number, first, after, list(chain.from_iterable(stems[at] for at in words)), opens, parted)
            opens, last = False, after


def _runs(tags: list[str], start: int, end: int) -> Iterator[list[int]]:
    """Yield the words of a clause between marks that end a phrase, long runs in equal parts."""
    for in_words, tokens in groupby(range(start, end), lambda at: tags[at] != "END"):
        words = [at for at in tokens if in_words and tags[at] in _WORDS]
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


def _odds(model: Model, stretches: list[_Stretch], sentences: list[tuple[int, int]], told: Any) -> tuple[Any, Any]:
    """Give the odds of the stretches and sentences in the message, and of the stretches up to full stops."""
    words = [[model.words.get(stem, UNKNOWN) for stem in stretch.stems] for stretch in stretches]
    wholes = [list(chain.from_iterable(words[first:end])) for first, end in sentences]
    states = model.states([*words, *wholes])
    single = _view(model, stretches, words, states[: len(words)], told)
    none = len(stretches) + len(sentences)
    ranges = [*((row, row + 1) for row in range(len(stretches))), *sentences]
    before = [first - 1 if first else none for first, _ in ranges]
    after = [end if end < len(stretches) else none for _, end in ranges]
    view = single.followed_by(single.joined(sentences, states[len(words) :])) if sentences else single
    alone = model.odds(view)
    placed = alone + model.shifts(view, before, after)
    within = alone[: len(stretches)] + model.shifts(single, *_beside(stretches))
    return placed + model.company(placed), within + model.company(within)


def _beside(stretches: list[_Stretch]) -> tuple[list[int], list[int]]:
    """Give the rows before and after each stretch up to a full stop; the one after the last stands for none."""
    none = len(stretches)
    parted = [*(stretch.parted for stretch in stretches), True]
    return (
        [none if parted[row] else row - 1 for row in range(none)],
        [none if parted[row + 1] else row + 1 for row in range(none)],
    )


def _view(model: Model, stretches: list[_Stretch], words: list[list[int]], states: Any, told: Any) -> View:
    """Look at the stretches; a filter does not see from one sentence into the next."""
    line: list[int] = []
    starts: list[int] = []
    for stretch, rows in zip(stretches, words, strict=True):
        line += [BLANK] * SIDE * stretch.opens
        starts.append(len(line))
        line += rows
    answers = model.answers(line)
    sizes = [len(rows) for rows in words]
    parts = [answers[start : start + size] for start, size in zip(starts, sizes, strict=True)]
    pieces = [pieces_of(stretch.stems) for stretch in stretches]
    return View(
        numpy.stack([part.max(axis=0) for part in parts]),
        numpy.stack([part.sum(axis=0) for part in parts]),
        numpy.array(sizes, numpy.float32),
        states,
        told,
        model.sums(pieces),
        numpy.array([len(places) for places in pieces], numpy.float32),
    )
