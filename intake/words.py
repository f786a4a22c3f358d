"""The words of a message: split, brought to one form, mended, and multi-word terms merged into one.

The result is a spaCy `Doc` whose tokens are the words as read ("dont" gives `do` and `not`, "power-supply" gives one
token `power supply`) with the stem as `lemma_`, and with the offsets of the message kept aside (`doc._.offsets`).
Tags: WORD, NUM, JOIN (comma, slash, colon: may stand between the words of one phrase), END (ends a phrase).
"""

import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import snowballstemmer
from spacy.tokens import Doc

from intake.grammar import AFTER_IT_IS, CONTRACTIONS, ENDINGS, IS_AFTER, NOUNS_IN_ING, NUMBER_WORDS

if TYPE_CHECKING:
    from spacy.vocab import Vocab

    from intake.lexicon import Lexicon

_APOSTROPHE = "(?:['’‘`´]|â€™)"  # the last one is what a wrong encoding makes of the one before
_LETTERS = r"(?:(?!â€)[^\W\d_])++"
_PIECE = re.compile(
    rf"(?P<word>{_LETTERS}(?:{_APOSTROPHE}{_LETTERS})*+(?![\d_]))"
    r"|(?P<count>\d+(?=[A-Za-z]{3,}+(?![\d_])))"  # "3beeps", "20mins": a number and a word
    r"|(?P<code>\w++(?:[.,:]\d\w*+)*+)"
    r"|(?P<mark>\n\s*|\.{2,}|[^\w\s])"
)
_NUMBER = re.compile(r"\d+(?:[.,:/x×]\d+)*(?:[a-z]{1,2}|°c?|%)?\Z")
_LONG = re.compile(r"(.)\1{2,}")
_JOIN = frozenset(",/:\"'’‘“”`´*_~&+")

_WRAPPED_LINE = 50  # characters: a line this long that goes on in small letters was wrapped by the mail program

_OWN_STEM = frozenset(["quite", "evening", "evenings", "bios", "gaming", "during", "this", "his", "its", "does"])
_VERBS_IN_LY = frozenset(["supply", "reply", "apply", "multiply", "rely", "fly"])
_STEMMER = snowballstemmer.stemmer("english")


class Word(NamedTuple):
    """A word as read, and where its characters stand in the message."""

    norm: str
    start: int
    end: int
    tag: str = "WORD"


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """Stem a lower-case word; a term of several words is stemmed word by word ("power supplies" -> "power suppli").

    Only inflections are meant to go: "hardly" is not "hard", nor "quite" "quit".
    """
    return " ".join(map(_stem, word.split(" ")))


def _stem(word: str) -> str:
    is_adverb = word.endswith("ly") and word not in _VERBS_IN_LY
    return word if is_adverb or word in _OWN_STEM else str(_STEMMER.stemWord(word))


def split(text: str) -> Iterator[Word]:
    """Yield the words and marks of `text`: "It won't." -> it, will, not, "."."""
    for match in _PIECE.finditer(text):
        start, end = match.span()
        if match.lastgroup == "word":
            yield from (Word(norm, start, end, _tag(norm)) for norm in normal_forms(match[0]))
        elif match.lastgroup == "mark":
            if not _is_inside_word(text, start, end) and not _is_wrap(text, start, end):
                yield Word(match[0][:3].strip(" ") if match[0][0] != "\n" else "\n", start, end, _mark_tag(text, match))
        else:
            norm = match[0].lower()
            yield Word(norm, start, end, _tag(norm))


def normal_forms(word: str) -> tuple[str, ...]:
    """Give the words that a written word stands for: "Won't" -> ("will", "not"), "fan's" -> ("fan", "'s")."""
    lower = re.sub(_APOSTROPHE, "'", word.lower())
    plain = lower.replace("'", "")
    if plain in CONTRACTIONS and (plain == lower or plain not in ("well", "its")):
        return CONTRACTIONS[plain]
    head, _, ending = lower.partition("'")
    if ending in ENDINGS:
        return (head, "is" if ending == "s" and head in IS_AFTER else ENDINGS[ending])
    return (plain,)


def _tag(norm: str) -> str:
    return "NUM" if norm in NUMBER_WORDS or _NUMBER.match(norm) else "WORD"


def _is_inside_word(text: str, start: int, end: int) -> bool:
    """Tell whether a hyphen or an apostrophe stands inside a compound, where it says nothing ("re-seated")."""
    return text[start] in "-‑'’" and text[start - 1 : start].isalnum() and text[end : end + 1].isalnum()


def _is_wrap(text: str, start: int, end: int) -> bool:
    """Tell whether a long line goes on in small letters: the mail program broke it, and the break says nothing."""
    line_length = start - (text.rfind("\n", 0, start) + 1)
    follows = text[end : end + 1]
    before = text[start - 1 : start]
    return (
        line_length >= _WRAPPED_LINE
        and text.count("\n", start, end) == 1
        and (follows.islower() or (follows.isdigit() and (before.isalnum() or before == ",")))
        and before not in ".!?"
    )


def _mark_tag(text: str, match: re.Match[str]) -> str:
    return "JOIN" if match[0] in _JOIN else "END"


class Words:
    """Message text -> Doc; takes the place of spaCy's tokenizer. Needs the lexicon only."""

    def __init__(self, vocab: "Vocab", lexicon: "Lexicon") -> None:
        self.vocab = vocab
        self.lexicon = lexicon

    def __call__(self, text: str) -> Doc:
        """Read the words of `text`; offsets refer to it."""
        words = list(self.lexicon.terms.merge(self._mended(split(text))))
        doc = Doc(
            self.vocab,
            words=[word.norm for word in words],
            tags=[word.tag for word in words],
            lemmas=[stem(word.norm) for word in words],
        )
        doc._.lexicon = self.lexicon
        doc._.text = text
        doc._.offsets = [(word.start, word.end) for word in words]
        return doc

    def _mended(self, words: Iterable[Word]) -> Iterator[Word]:
        waiting: Word | None = None
        for first, second in pairwise([*words, Word("\n", 0, 0, "END")]):
            if waiting is not None:  # the second half of a word that was written apart
                waiting = None
                continue
            joined = self.lexicon.joined(first, second)
            if first.norm == "its" and _is_verb_phrase(second.norm):
                yield from (first._replace(norm=norm) for norm in ("it", "is"))
            elif joined:
                waiting = second
                yield joined
            elif first.tag == "WORD":
                yield from (first._replace(norm=norm) for norm in self.lexicon.mended(first.norm))
            else:
                yield first

    def to_bytes(self, **_: object) -> bytes:
        """Nothing to save: the base is the source."""
        return b""

    def from_bytes(self, _data: bytes, **_kwargs: object) -> "Words":
        """Nothing to load."""
        return self


def _is_verb_phrase(word: str) -> bool:
    """Tell whether the word after "its" makes that an "it's": "its dead", "its turning off", "its not"."""
    return word in AFTER_IT_IS or (word.endswith("ing") and word not in NOUNS_IN_ING)


def shortened(word: str) -> tuple[str, ...]:
    """Give the forms of a word that was drawn out for emphasis: "slooow" -> ("sloow", "slow")."""
    if not _LONG.search(word):
        return ()
    return _LONG.sub(r"\1\1", word), _LONG.sub(r"\1", word)


for _name in ("text", "offsets", "clauses", "clause_of", "questions", "mentions", "edges", "proposals", "lexicon"):
    if not Doc.has_extension(_name):
        Doc.set_extension(_name, default=None)
