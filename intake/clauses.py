"""Sentences and clauses, with punctuation or without.

"No fans, lights on but it beeps" -> "No fans" | ", lights on" | "but it beeps". Commas, `and` and `or` that join the
items of a list do not split; those that begin a new statement do. Needs the words.
Sets `is_sent_start`, `doc._.clauses` (half-open token spans), `doc._.clause_of` (clause number of each token),
`doc._.questions` (clause numbers that ask) and the tag END on tokens that no gap of a pattern may cross.
"""

from itertools import pairwise
from typing import Any

import numpy
from spacy.language import Language
from spacy.tokens import Doc, Token

from intake import grammar
from intake.replies import asks_on, is_asked, is_reply
from intake.words import stem

_SENTENCE_END = frozenset(".!?\n")
_CLAUSE_MARKS = frozenset(";()[]{}|–—-…<>=•→") | {"..."}
_LONGEST_SENTENCE = 40  # words; beyond this a sentence ends at the next clause, so that the work stays linear
_RESTRICTING = frozenset(["just", "only", "instead"])
_INDEFINITE = frozenset(["a", "an", "any"])
_ADVERBIAL = frozenset(["by", "on", "of", "alone", "over"])  # after "all"
_DENY_ITEMS = frozenset(["no", "neither", "without"])
_ITEM = 3  # words: the item before "or", with the word that denies it
_CHUNK = 5  # words: the longest item of a list that is looked at for being a statement of its own
_SUBJECTS = grammar.PRONOUNS | grammar.DETERMINERS | {"mine", "ours"}
_PREDICATES = frozenset(map(stem, grammar.PREDICATES))


@Language.component("clauses", assigns=["token.is_sent_start", "token.tag"])
def clauses(doc: Doc) -> Doc:
    """Split `doc` into sentences and clauses."""
    starts, begins = [0], [True] * len(doc)
    since_sentence = 0
    for token in doc[1:]:
        at = token.i
        sentence = _ends_sentence(doc, since_sentence, at - 1) or at - since_sentence > 2 * _LONGEST_SENTENCE
        clause = sentence or _begins_clause(doc, at)
        if clause and at - since_sentence > _LONGEST_SENTENCE:
            sentence = True
        if clause:
            starts.append(at)
        if sentence:
            since_sentence = at
        begins[at] = sentence
    # In one go: spaCy's setter looks at the whole doc each time, which is quadratic.
    marks: Any = numpy.array([[1 if first else -1] for first in begins], dtype="int64").astype("uint64")
    doc.from_array(["SENT_START"], marks)
    doc._.clauses = list(pairwise([*starts, len(doc)])) if len(doc) else []
    doc._.clause_of = [number for number, (start, end) in enumerate(doc._.clauses) for _ in range(start, end)]
    doc._.questions = {number for number, (start, end) in enumerate(doc._.clauses) if _asks(doc, start, end)}
    return doc


def _ends_sentence(doc: Doc, start: int, at: int) -> bool:
    """Tell whether a sentence from `start` ends with token `at`; not where the answer follows ("Smoke? None")."""
    text = doc[at].text
    if text not in _SENTENCE_END:
        return False
    if at + 1 < len(doc) and doc[at + 1].text in _SENTENCE_END:
        return False
    return not (is_reply(doc, at + 1) if is_asked(doc, at) else asks_on(doc, start, at))


def _begins_clause(doc: Doc, at: int) -> bool:
    """Tell whether a clause begins at token `at`, and mark tokens that end a phrase."""
    token, before = doc[at], doc[at - 1]
    text = token.text
    if token.tag_ == "END" or before.tag_ == "END":
        return text in _CLAUSE_MARKS or before.text in _CLAUSE_MARKS
    if text in grammar.CONTRASTS or text in grammar.SEQUENCE or text in grammar.SUBORDINATORS:
        if before.text in grammar.COORDINATORS and before.i in _starts_near(doc, at):
            return False
        _close(doc, at, if_subject_at=at + 1, unless=text in grammar.SUBORDINATORS)
        return True
    if text in grammar.MAYBE_SUBORDINATORS:
        return _next_text(doc, at) in grammar.PRONOUNS | grammar.SUBORDINATORS or (
            text == "so" and _is_subject(doc, at + 1)
        )
    if text == ":" and (_is_subject(doc, at + 1) or is_deed(doc, at + 1)):
        token.tag_ = "END"  # "it would not: the fans turn", "not my trade, so: swapped the lead"
        return True
    if text in (",", "and", "or", "nor", "&") and before.text not in grammar.CONTRASTS:
        return _joins_statement(doc, at)
    return _runs_on(doc, at)


def _starts_near(doc: Doc, at: int) -> tuple[int, ...]:
    """The token before, where it opened the clause already ("and then")."""
    return (at - 1,) if doc[at - 1].tag_ == "END" else ()


def _joins_statement(doc: Doc, at: int) -> bool:
    """Tell whether the comma or conjunction at `at` begins a new statement, not one more item."""
    after = at + 1
    if doc[at].text == "," and _next_text(doc, at) in grammar.COORDINATORS | grammar.CONTRASTS | grammar.SEQUENCE:
        return False  # the conjunction decides
    if doc[at].text in ("or", "nor") and _next_text(doc, at) in _INDEFINITE:
        return False  # "no smoke or a flame", "if it smokes or a light goes out": one more item of what was begun
    if _is_subject(doc, after):
        _close(doc, at, if_subject_at=after)
        return True
    if doc[at].text in ("or", "nor") and any(token.text in _DENY_ITEMS for token in doc[max(at - _ITEM, 0) : at]):
        return False  # "no steam or smoke came out"
    if doc[at].text == "," and _next_text(doc, at) in _RESTRICTING:
        return True  # "no lights, just a beep", "never loads, just restarts"
    inverted = _next_text(doc, at) in grammar.AUXILIARIES and _next_text(doc, after) in grammar.ECHOES
    if inverted and doc[at].text != "and":
        return True  # "i have two sticks, can i mix them or will it not boot then?"
    chunk = _chunk(doc, after)
    if not chunk:
        return False
    if doc[at].text == "and" and chunk[0].lemma_ in _PREDICATES and chunk[0].text not in ("on", "off"):
        return True
    if (
        len(chunk) > 1
        and chunk[-1].lemma_ in _PREDICATES
        and doc[chunk[-1].i + 1 : chunk[-1].i + 2].text not in ("or", "nor")
    ):
        doc[at].tag_ = "END"
        return True
    return False


def _chunk(doc: Doc, at: int) -> list[Token]:
    """The words from `at` to the next mark or conjunction; none where that is more than a short item."""
    chunk: list[Token] = []
    for token in doc[at : at + _CHUNK + 1]:
        if token.tag_ in ("END", "JOIN") or token.text in grammar.COORDINATORS | grammar.SUBORDINATORS:
            break
        chunk.append(token)
    return chunk if len(chunk) <= _CHUNK else []


def _runs_on(doc: Doc, at: int) -> bool:
    """Tell whether a statement begins at `at` without any mark: "i press the button | it just beeps"."""
    text, before = doc[at].text, doc[at - 1].text
    if text == "mine" and before == "that" and doc[at - 2].lemma_ == "do":
        return True  # "his does not do that | mine just freezes"
    if any(token.text in ("if", "unless", "whether") for token in doc[max(at - 3, 0) : at]):
        return False  # "if one day it should spark"
    if before in grammar.OPENERS or before in grammar.AUXILIARIES or doc[at - 1].tag_ in ("END", "JOIN"):
        return False
    starts = text == "i" or (
        text in ("it", "they", "there", "we", "he", "she", "nothing", "mine")
        and _next_text(doc, at) in grammar.AUXILIARIES | {"just", "still", "then", "now"}
    )
    if starts:
        doc[at].tag_ = "END"
    return starts


def _close(doc: Doc, at: int, if_subject_at: int, unless: bool = False) -> None:
    """Tag the token at `at` END where a new subject follows: no gap of a pattern reaches over it."""
    if not unless and _is_subject(doc, if_subject_at):
        doc[at].tag_ = "END"


def _is_subject(doc: Doc, at: int) -> bool:
    if at >= len(doc) or (doc[at].text == "nothing" and (at + 1 == len(doc) or doc[at + 1].tag_ == "END")):
        return False  # "pushed the button, nothing": the outcome, not a subject
    first, _, rest = doc[at].text.partition(" ")
    if first == "all" and (rest or _next_text(doc, at)).partition(" ")[0] in _ADVERBIAL:
        return False  # "it starts over, all by itself"
    return first in _SUBJECTS


def _next_text(doc: Doc, at: int) -> str:
    return doc[at + 1].text if at + 1 < len(doc) else ""


def _asks(doc: Doc, start: int, end: int) -> bool:
    """Tell whether a clause asks for a yes or no: "could it be the supply?", "is it the fans".

    "Why does it beep?" takes the beeping for granted, and "it just beeps, right?" states it.
    """
    words = [
        token
        for token in doc[start:end]
        if (token.tag_ != "END" or token.text in grammar.PRONOUNS) and token.text not in (",", "and", "or", "so", "but")
    ]
    if len(words) < 2:
        return False
    mark = _question_mark(doc, start, end)
    if mark and is_reply(doc, _after(doc, mark.i)):
        return False
    first, second = words[0].text, words[1].text
    if first in grammar.AUXILIARIES:
        if not mark and first in ("had", "have", "did"):  # "had the side off": the writer is left out
            return second in ("i", "you", "we", "they")
        mark = mark or _question_mark(doc, start, _condition_end(doc, end))
        return bool(mark) or second in ("it", "there", "they", "this", "that", "i", "you", "we", "the")
    return bool(mark) and doc[start].is_sent_start is True and _is_fragment(words)


def _condition_end(doc: Doc, end: int) -> int:
    """Where the condition after a clause ends: "would it beep | if the memory was bad?" is one question."""
    if end == len(doc) or doc[end].is_sent_start or doc[end].text not in ("if", "when"):
        return end
    return int(doc._.clauses[doc._.clause_of[end]][1])


def _is_fragment(words: list[Token]) -> bool:
    """Tell whether a few words with a question mark only ask ("faulty memory?"), and neither state nor deny."""
    stating = grammar.NEGATIVE | grammar.PRONOUNS | grammar.QUESTION_WORDS
    return len(words) <= _CHUNK - 1 and not any(word.text in stating for word in words)


def _question_mark(doc: Doc, start: int, end: int) -> Token | None:
    return next((token for token in doc[start : end + 1] if token.text == "?"), None)


def _after(doc: Doc, mark: int) -> int:
    return mark + 2 if doc[mark + 1 : mark + 2].text == "\n" else mark + 1


def is_deed(doc: Doc, at: int) -> bool:
    """Tell whether the words from `at` say what was done, as no item of a list does: "no errors, cleaned the dust"."""
    if at + 1 >= len(doc) or doc[at].tag_ in ("END", "JOIN"):
        return False
    return doc[at].text.endswith("ed") and doc[at + 1].text in grammar.DETERMINERS | {"it", "them"}
