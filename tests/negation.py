"""Measure the denials: `python -m tests.negation` sets our scope beside negspacy, on the same spans, in one run.

Both are given the same spans of the development half and asked one thing: does the message deny what the span names?
A span is what a wording of ours names before any context is looked at. It counts where the gold states the finding
once, the message names it once, and the words themselves neither state nor deny ("stays dark" is no test of scope).
negspacy (MIT) is the algorithm of Chapman et al. 2001, J Biomed Inform 34:301, with its own list for plain English.
The development half has shaped our cues and not those of negspacy, so a part of the distance is that.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import spacy
from negspacy.negation import Negex  # registers the component as well
from negspacy.termsets import termset
from spacy.language import Language
from spacy.tokens import Doc

from intake import grammar
from intake.clean import clean
from intake.mentions import Mention
from intake.read import reader
from intake.redact import mask, private_spans
from intake.thread import own_words
from knowledge import shipped_base
from tests.corpus import Letter, letters


class Span(NamedTuple):
    """A mention, the doc it stands in, the gold ("is it denied?"), and whether a negation stands within it."""

    doc: Doc
    mention: Mention
    denied: bool
    holds_negation: bool


class Result(NamedTuple):
    """How often the answer agreed with the gold: tp and fn are denials, fp and tn are none."""

    tp: int
    fp: int
    fn: int
    tn: int

    @property
    def accuracy(self) -> float:
        """Share of all spans."""
        return (self.tp + self.tn) / max(sum(self), 1)

    @property
    def f1(self) -> float:
        """F1 of the denials."""
        return 2 * self.tp / max(2 * self.tp + self.fp + self.fn, 1)


def spans(half: str = "development") -> Iterator[Span]:
    """Give the spans of a half that count, message by message."""
    nlp = reader(shipped_base())
    with nlp.select_pipes(disable=["scope", "second_look", "outcomes"]):
        for letter in letters(half):
            text = clean(letter.text)
            yield from _of_letter(nlp(mask(own_words(text), private_spans(text))), letter)


def _of_letter(doc: Doc, letter: Letter) -> Iterator[Span]:
    states: dict[str, set[str]] = {}
    for gold in letter.findings:
        states.setdefault(gold.id, set()).add(gold.state)
    for finding, told in states.items():
        named = _apart([mention for mention in doc._.mentions if mention.finding == finding])
        if len(told) == len(named) == 1 and named[0].polarity != "absent":
            (mention,) = named
            if not any(doc[i].text in grammar.NEGATIVE for i in mention.literal):
                within = any(doc[i].text in grammar.NEGATIVE for i in range(mention.start, mention.end))
                yield Span(doc, mention, told == {"absent"}, within)


def _apart(named: list[Mention]) -> list[Mention]:
    """Of mentions that overlap keep the one that names the most words."""
    kept: list[Mention] = []
    for mention in sorted(named, key=lambda mention: (-len(mention.literal), mention.polarity == "denied")):
        if not any(mention.overlaps(other) for other in kept):
            kept.append(mention)
    return kept


def denied_in_the_reading(span: Span) -> bool:
    """Ours, as it reads: the scope with all the mentions of the message."""
    return _after_scope(span, span.doc._.mentions, span.mention)


def denied_by_scope_alone(span: Span) -> bool:
    """Ours, with this one mention and nothing else, as though its words had no polarity."""
    bare = replace(span.mention, polarity="present")
    return _after_scope(span, [bare], bare)


def _after_scope(span: Span, mentions: list[Mention], asked: Mention) -> bool:
    doc, before = span.doc, span.doc._.mentions
    doc._.mentions = mentions
    reader(shipped_base()).get_pipe("scope")(doc)
    settled, doc._.mentions = doc._.mentions, before
    return any(
        (other.finding, other.literal, other.polarity) == (asked.finding, asked.literal, "absent") for other in settled
    )


def reference(terms: str = "en") -> tuple[Language, Negex]:
    """Make negspacy with one of its own lists of triggers; sentences end at marks."""
    nlp = spacy.blank("en")
    nlp.add_pipe("sentencizer")
    return nlp, Negex(nlp, "negex", termset(terms).get_patterns())


def denied_by_negspacy(span: Span, nlp: Language, negex: Negex, mended: bool = False) -> bool:
    """The reference on the same characters; `mended` gives it the words as we read them ("dont" as "do not")."""
    offsets = span.doc._.offsets
    text, first, last = span.doc._.text, offsets[span.mention.start][0], offsets[span.mention.end - 1][1]
    if mended:
        words = [token.text for token in span.doc]
        text = " ".join(words)
        first = sum(len(word) + 1 for word in words[: span.mention.start])
        last = first + len(" ".join(words[span.mention.start : span.mention.end]))
    doc = nlp(text)
    doc.set_ents([doc.char_span(first, last, label="FINDING", alignment_mode="expand")])
    return bool(negex(doc).ents[0]._.negex)


def result(asked: list[Span], answers: list[bool]) -> Result:
    """Count the answers against the gold."""
    pairs = [(span.denied, answer) for span, answer in zip(asked, answers, strict=True)]
    return Result(*(pairs.count(pair) for pair in ((True, True), (False, True), (True, False), (False, False))))


def results(asked: list[Span], *ways: str) -> dict[str, Result]:
    """Give the result of these ways, or of every one, on identical spans."""
    plain, clinical = reference("en"), reference("en_clinical")
    denied: dict[str, Callable[[Span], bool]] = {
        "ours, the whole reading": denied_in_the_reading,
        "ours, scope on a bare span": denied_by_scope_alone,
        "negspacy, plain English": lambda span: denied_by_negspacy(span, *plain),
        "negspacy, on mended words": lambda span: denied_by_negspacy(span, *plain, mended=True),
        "negspacy, clinical": lambda span: denied_by_negspacy(span, *clinical),
        "nothing is ever denied": lambda span: False,
    }
    return {way: result(asked, list(map(denied[way], asked))) for way in ways or denied}


def main() -> None:
    """Print the figures for all spans, and for those without a negation inside, which negspacy never looks at."""
    everything = list(spans())
    for title, asked in (
        ("all spans", everything),
        ("spans with no negation inside", [span for span in everything if not span.holds_negation]),
    ):
        print(f"{title}: {len(asked)}, of which {sum(span.denied for span in asked)} are denied")
        for way, counts in results(asked).items():
            figures = f"accuracy {counts.accuracy:.3f}  F1 of the denials {counts.f1:.3f}"
            print(f"  {way:28} {figures}  (tp {counts.tp}, fp {counts.fp}, fn {counts.fn}, tn {counts.tn})")


if __name__ == "__main__":
    main()
