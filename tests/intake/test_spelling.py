"""Typing errors: distances and the accept rule against worked tables, and the guard against a public frequency list."""

import pytest
from rapidfuzz.distance import OSA
from wordfreq import top_n_list

from intake.lexicon import Lexicon
from intake.spelling import Spelling, allowed_edits
from intake.words import Word, normal_forms
from tests.intake.small import BASE

# Words of the trade, and what the rule makes of slips in them: distances by optimal string alignment (Damerau 1964),
# 0, 1, 2 edits for a shorter word of up to 3, 5, more letters, Zipf frequency of at least 3 is a real word.
WORDS = ["monitor", "motherboard", "memory", "board", "power", "supply", "graphics", "fan", "ram", "psu", "gpu", "cpu"]
WORDS += ["cable", "smoke"]
MENDED = {
    "moniter": "monitor",
    "motherbord": "motherboard",
    "memroy": "memory",
    "baord": "board",
    "boarf": "board",
    "pwoer": "power",
    "suply": "supply",
    "grafics": "graphics",
    "smoek": "smoke",
}
LEFT = ["fna", "rma", "psy", "table", "spoke", "bored", "capable", "monitors", "fun", "grafix"]


@pytest.mark.parametrize(("slip", "meant"), MENDED.items())
def test_a_slip_is_mended(slip, meant):
    """One or two edits from exactly one word."""
    assert Spelling(WORDS).mend(slip) == meant


@pytest.mark.parametrize("word", LEFT)
def test_a_real_or_short_or_far_word_is_left(word):
    """The near misses of the rule."""
    assert Spelling(WORDS).mend(word) is None


def test_a_tie_is_left():
    """Two words equally near: "boart" could be either."""
    assert Spelling(["board", "boars"]).mend("boarx") is None
    assert Spelling(["board"]).mend("boarx") == "board"


def test_the_first_letter_must_fit():
    """The first letter is the same, or swapped with the second."""
    assert Spelling(["power"]).mend("opwer") == "power"
    assert Spelling(["power"]).mend("qower") is None


@pytest.mark.parametrize(
    ("first", "second", "edits"),
    [
        ("ca", "abc", 3),
        ("baord", "board", 1),
        ("memroy", "memory", 1),
        ("moniter", "monitor", 1),
        ("motherbord", "motherboard", 1),
        ("psu", "cpu", 2),
        ("gpu", "cpu", 1),
        ("grafix", "graphics", 4),
    ],
)
def test_distance_is_optimal_string_alignment(first, second, edits):
    """A swap is one edit, and no substring is edited twice (the textbook pair "ca", "abc")."""
    assert OSA.distance(first, second) == edits


def test_short_words_are_exact():
    """Most abbreviations of the trade have three letters, and nearly all of them are one edit apart."""
    assert [allowed_edits("psu", word) for word in ("cpu", "gpu", "usbs")] == [0, 0, 0]


def test_no_common_english_word_is_changed():
    """The 20,000 commonest words of wordfreq, against our own vocabulary."""
    lexicon = Lexicon(BASE)
    words = [word for word in top_n_list("en", 20_000) if word.isalpha()]
    assert len(words) > 15_000
    assert [word for word in words if lexicon.mended(word) != (word,)] == []


@pytest.mark.parametrize(
    ("word", "mended"),
    [
        *[("nothin", "nothing"), ("comin", "coming"), ("spinin", "spinning"), ("spinnin", "spinning")],
        *[("thin", "thin"), ("login", "login"), ("plugin", "plugin"), ("aspirin", "aspirin"), ("again", "again")],
    ],
)
def test_a_dropped_g_comes_back(word, mended):
    """The common ones by the grammar, the others by the spelling, and no word that ends so by itself."""
    (form,) = normal_forms(word)
    assert Lexicon(BASE).mended(form) == (mended,)


def test_words_run_together_or_split():
    """Run together, a term is two words again; written apart, a word is one."""
    lexicon = Lexicon(BASE)
    assert lexicon.mended("powersupply") == ("power", "supply")
    assert lexicon.joined(Word("mother", 0, 6), Word("board", 7, 12)) == Word("motherboard", 0, 12)
    assert lexicon.joined(Word("mother", 0, 6), Word("board", 9, 14)) is None
    assert lexicon.joined(Word("turn", 0, 4), Word("on", 5, 7)) is None
