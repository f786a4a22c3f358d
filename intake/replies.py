"""Questions that the message answers itself: "Smoke: no", "any smell? None that I saw", "he asked about beeps, none".

What is asked is then no guess, but denied or said. Needs the sentences.
"""

from collections.abc import Iterator
from typing import NamedTuple

from spacy.tokens import Doc, Span

from intake import grammar

_MARKS = frozenset(["?", ":", "="]) | grammar.DASHES
_NO_TOPIC = grammar.PRONOUNS | grammar.AUXILIARIES | grammar.NEGATIVE | grammar.SAYING | grammar.SUBORDINATORS
_LONGEST = 4  # words of what is denied in a word after it
_NEAR = 3  # words from "asked" to "if", at most: "asked me straight out | if"


class Reply(NamedTuple):
    """What is asked at tokens start..end, and the words at..last that answer it."""

    start: int
    end: int
    last: int
    denied: bool


def is_reply(doc: Doc, at: int) -> bool:
    """Tell whether an answer stands at `at`: "no", "none that I saw", "not that I know"."""
    if at >= len(doc):
        return False
    text, follows = doc[at].text, doc[at + 1].text if at + 1 < len(doc) else ""
    if text == "not":
        return follows == "that"
    if text in grammar.DENIALS and follows in grammar.REPLY_GOES_ON:
        return True
    return _is_bare(doc, at)


def is_asked(doc: Doc, at: int) -> bool:
    """Tell whether token `at` is the question mark, or the line break after it, that a reply may follow."""
    return doc[at].text == "?" or (doc[at].text == "\n" and at > 0 and doc[at - 1].text == "?")


def asks_on(doc: Doc, start: int, at: int) -> bool:
    """Tell whether the words start..at report a question that the sentence after `at` answers in a word."""
    words = [token.text for token in doc[start:at]]
    return (
        at + 1 < len(doc)
        and doc[at + 1].text in grammar.ANSWERS
        and (at + 2 >= len(doc) or doc[at + 2].tag_ == "END")
        and any(_is_report(words, place) for place in range(len(words)))
    )


def replies(sentence: Span) -> Iterator[Reply]:
    """Yield the answered questions of a sentence, in its order."""
    doc = sentence.doc
    since = sentence.start
    for token in sentence[1:]:
        at = token.i
        before = doc[at - 1].text if doc[at - 1].text != "\n" else doc[at - 2].text
        if before in _MARKS and (is_reply(doc, at) if before == "?" else _is_bare(doc, at)):
            yield Reply(since, at, at + 1, token.text not in grammar.YES)
            since = at + 1
        elif token.text in grammar.DENYING and doc[at - 1].tag_ == "WORD" and _is_bare(doc, at):
            start = max(since, at - _LONGEST)
            start = max([i + 1 for i in range(start, at) if doc[i].tag_ in ("END", "JOIN")], default=start)
            if not any(doc[i].text in _NO_TOPIC for i in range(start, at)):
                yield Reply(start, at, at + 1, denied=True)  # "sparks none, smell none"
    yield from _reported(sentence)


def _reported(sentence: Span) -> Iterator[Reply]:
    """Yield "asked if it smoked, I said no", "wanted to know about beeps; there aren't any"."""
    doc = sentence.doc
    words = [token.text for token in sentence]
    for place in range(len(words)):
        if not _is_report(words, place):
            continue
        start = sentence.start + place
        for at in range(start + 3, sentence.end):
            before = doc[at - 1]
            opens = before.tag_ in ("END", "JOIN") or before.text in grammar.SAYING
            if opens and _is_bare(doc, at):
                yield Reply(start, at, at + 1, doc[at].text not in grammar.YES)
                break
            last = _echo_end(doc, at) if before.tag_ in ("END", "JOIN") or before.text in grammar.COORDINATORS else at
            if last > at:
                yield Reply(start, at, last, doc[last - 1].text in ("not", "any", "none"))
                break


def _is_report(words: list[str], place: int) -> bool:
    asks = words[place] in grammar.ASKING and (words[place] != "know" or words[place - 1 : place] == ["to"])
    return asks and bool(grammar.ASKED_ABOUT.intersection(words[place + 1 : place + 1 + _NEAR]))


def _is_bare(doc: Doc, at: int) -> bool:
    return doc[at].text in grammar.ANSWERS and _closes(doc, at + 1)


def _echo_end(doc: Doc, at: int) -> int:
    """The end of "it does not", "there were none" at `at`; `at` itself where there is none."""
    if doc[at].text not in grammar.ECHOES or at + 1 >= len(doc) or doc[at + 1].text not in grammar.AUXILIARIES:
        return at
    last = at + 2
    while last < len(doc) and doc[last].text in ("not", "any", "none"):
        last += 1
    return last if _closes(doc, last) else at


def _closes(doc: Doc, at: int) -> bool:
    return at >= len(doc) or doc[at].tag_ == "END" or doc[at].text == ","
