"""The corpus is what corpus/README.md says it is."""

from knowledge import shipped_base
from tests.corpus import HALVES, faults, letters


def test_the_corpus_is_valid():
    """Every id exists, no id is taken twice, and the words of every part stand in the text."""
    assert list(faults(shipped_base())) == []


def test_the_halves_are_apart():
    """No message stands in both halves, not even reworded in blanks and capitals."""
    plain = [{" ".join(letter.text.lower().split()) for letter in letters(half)} for half in HALVES]
    assert plain[0].isdisjoint(plain[1])


def test_the_corpus_is_large_enough():
    """At least 300 messages, 40 over 120 words, 40 that describe no fault of this machine."""
    every = [letter for half in HALVES for letter in letters(half)]
    assert len(every) >= 300
    assert sum(len(letter.text.split()) > 120 for letter in every) >= 40
    assert sum(letter.complaint is None and letter.cause in (None, "no-fault-found") for letter in every) >= 40
