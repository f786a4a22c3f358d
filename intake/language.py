"""Is the message in English? A cheap count of very common words; it need not know which language it is instead."""

from typing import Literal

from spacy.tokens import Doc

from intake.grammar import ENGLISH, FOREIGN

_LATIN_SHARE = 0.5


def language_of(doc: Doc) -> Literal["en", "other"]:
    """Give "other" where foreign common words outnumber the English ones, or where most letters are not Latin."""
    words = [token.text for token in doc if token.tag_ == "WORD"]
    letters = [letter for word in words for letter in word if letter.isalpha()]
    latin = sum(letter < "\u0250" for letter in letters)
    if len(letters) >= 10 and latin < _LATIN_SHARE * len(letters):
        return "other"
    foreign = sum(word in FOREIGN for word in words)
    english = sum(word in ENGLISH for word in words)
    return "other" if foreign >= 2 and foreign > english else "en"
