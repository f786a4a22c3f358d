"""Words cut into the pieces that the encoder knows: the longest one that fits, again and again.

The pieces are those of WordPiece as BERT has them (Wu et al., 2016; Devlin et al., 2019): a piece that does not open a
word begins with two hashes.
"""

import re
import unicodedata
from collections.abc import Mapping

OPENING, UNKNOWN = 0, 1  # the rows of what opens a sentence, and of a word of which a part is not known
_GOES_ON = "##"
_LONGEST = 40  # letters; a longer word is unknown,
_MOST = 6  # and so is one of more pieces, which is no word
_PART = re.compile(r"[^\W_]+|[^\w\s]|_")


def pieces_of(word: str, rows: Mapping[str, int]) -> list[int]:
    """Give the rows of the pieces of a word, one at least."""
    plain = unicodedata.normalize("NFD", word.lower())
    bare = "".join(letter for letter in plain if unicodedata.category(letter) != "Mn")
    found = [row for part in _PART.findall(bare) for row in _cut(part, rows)]
    return found if 0 < len(found) <= _MOST else [UNKNOWN]


def _cut(part: str, rows: Mapping[str, int]) -> list[int]:
    found: list[int] = []
    start = 0
    while start < len(part) <= _LONGEST:
        opening = _GOES_ON if start else ""
        end = next((end for end in range(len(part), start, -1) if opening + part[start:end] in rows), None)
        if end is None:
            break
        found.append(rows[opening + part[start:end]])
        start = end
    return found if start == len(part) else [UNKNOWN]
