"""Denials whose thing stands first: "beeps it never gave", "of smoke there was no trace", "smoke I have not seen".

The thing opens the statement, a subject and a negation follow, and nothing more than words of perceiving, so that the
verb is left without another object: "the smoke I saw was not little" is none. Needs the clauses.
"""

from collections.abc import Iterator

from spacy.tokens import Doc, Span

from intake import grammar

_SUBJECTS = frozenset(["i", "we", "it", "there", "he", "she", "they", "you"])
_LONGEST = 4  # words of the thing, and of what is put in after it: "smoke, thank goodness, there was none"
_BEFORE = grammar.COORDINATORS | grammar.CONTRASTS | frozenset([",", "of"])
_NO_THING = grammar.AUXILIARIES | grammar.PRONOUNS | grammar.SUBORDINATORS | grammar.NEGATIVE | grammar.QUESTION_WORDS
_TAIL = (
    grammar.PERCEIVE
    | grammar.FILLERS
    | frozenset(["say", "there", "come", "came", "trace", "hint", "i", "that", "any more", "longer", "yet", "anywhere"])
)


def fronted(sentence: Span) -> Iterator[tuple[int, int, int]]:
    """Yield (start, end, last): a thing at start..end, and the words end..last that deny it."""
    doc = sentence.doc
    for at in range(sentence.start, sentence.end):
        if at == sentence.start or doc[at - 1].tag_ == "END" or doc[at - 1].text in _BEFORE:
            start = next((i for i in range(at, sentence.end) if doc[i].text not in _BEFORE), at)
            subject = _subject(doc, start, sentence.end)
            last = _denied_until(doc, subject, sentence.end) if subject else 0
            if subject and last:
                yield start, subject, last


def _subject(doc: Doc, start: int, end: int) -> int:
    """Where the subject stands after a thing at `start`; 0 where no thing or no subject is."""
    at = start
    while at < min(start + _LONGEST, end) and doc[at].tag_ == "WORD" and doc[at].text not in _SUBJECTS:
        if doc[at].text in _NO_THING - grammar.DETERMINERS:
            return 0
        at += 1
    if at < end and doc[at].text == ",":
        comma = next((i for i in range(at + 1, min(at + 2 + _LONGEST, end)) if doc[i].text == ","), at)
        at = comma + 1
    return at if start < at < end and doc[at].text in _SUBJECTS else 0


def _denied_until(doc: Doc, subject: int, end: int) -> int:
    """The end of "there was no trace", "I have not seen"; 0 where the words after the subject are no such denial."""
    at = subject + 1
    while at < end and doc[at].text in grammar.AUXILIARIES:
        at += 1
    if at >= end or doc[at].text not in ("not", "never", "no", "none"):
        return 0
    while at < end and (doc[at].text in _TAIL or doc[at].text in grammar.NEGATIVE):
        at += 1
    return at if at >= end or doc[at].tag_ == "END" or doc[at].text in _BEFORE else 0
