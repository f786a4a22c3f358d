"""How common the words of English are, from the list that wordfreq brings along; kept in a form read at once."""

import json
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from math import log10
from pathlib import Path

from knowledge.cache import keep, key_of, recall


def zipf(word: str) -> float:
    """Give log10 of how often the word stands in a thousand million words of English; 0 for a word off the list."""
    return frequencies().get(word, 0.0)


@cache
def frequencies(cache_folder: Path | None = None) -> dict[str, float]:
    """Give the Zipf frequency of every word of the list, from the cache where it was made before."""
    key = key_of((Path(__file__).read_bytes(), version("wordfreq").encode()))
    if kept := recall("frequencies", key, cache_folder):
        with suppress(ValueError):
            known: dict[str, float] = json.loads(kept)
            return known
    # Here: the library takes a quarter of a second. Its dictionary is asked itself, since its own look-up splits every
    # word into tokens first.
    from wordfreq import get_frequency_dict

    listed = get_frequency_dict("en", wordlist="small").items()
    made = {word: round(log10(frequency) + 9.0, 2) for word, frequency in listed if frequency}
    keep("frequencies", key, json.dumps(made, ensure_ascii=False).encode(), cache_folder)
    return made
