"""How a message is cut for the models: into clauses, or parts of long ones, and those into sentences."""

from collections.abc import Iterator, Sequence
from itertools import chain, groupby, pairwise
from typing import NamedTuple

from spacy.tokens import Doc

_WORDS = ("WORD", "NUM")
_FULL_STOPS = ".!?"
_LONGEST = 14  # words; a longer clause is looked at in parts
_WHOLE = 28  # words of a sentence that are looked at as one


class Stretch(NamedTuple):
    """A clause, or a part of a long one: the number of the clause, tokens from `start` to `end`, words and their stems.

    `opens` tells that a sentence begins with it, or a part of a long one.
    """

    clause: int
    start: int
    end: int
    words: list[str]
    stems: list[str]
    opens: bool


def stretches_of(doc: Doc) -> Iterator[Stretch]:
    """Yield the stretches of `doc` that have words; no mark is one: how a message is punctuated tells nothing."""
    openings = {sentence.start for sentence in doc.sents}
    tags = [token.tag_ for token in doc]
    opens, last, size = True, 0, 0
    for number, (start, end) in enumerate(doc._.clauses):
        opens = opens or start in openings
        for tokens in _runs(tags, start, end):
            first, after = tokens[0], tokens[-1] + 1
            words = list(chain.from_iterable(doc[at].text.split(" ") for at in tokens))
            stems = list(chain.from_iterable(doc[at].lemma_.split(" ") for at in tokens))
            is_parted = any(token.text[0] in _FULL_STOPS for token in doc[last:first])
            opens = opens or is_parted or size + len(words) > _WHOLE
            size = len(words) + (0 if opens else size)
            yield Stretch(number, first, after, words, stems, opens)
            opens, last = False, after


def sentences_of(stretches: Sequence[Stretch]) -> list[tuple[int, int]]:
    """Give the ranges (half-open) of the stretches of each sentence."""
    openings = [row for row, stretch in enumerate(stretches) if stretch.opens]
    return list(pairwise([*openings, len(stretches)]))


def _runs(tags: list[str], start: int, end: int) -> Iterator[list[int]]:
    """Yield the words of a clause between marks that end a phrase, long runs in equal parts."""
    for in_words, tokens in groupby(range(start, end), lambda at: tags[at] != "END"):
        words = [at for at in tokens if in_words and tags[at] in _WORDS]
        parts = -(-len(words) // _LONGEST)
        yield from (words[at * len(words) // parts : (at + 1) * len(words) // parts] for at in range(parts))
