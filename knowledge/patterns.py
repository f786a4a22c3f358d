"""The pattern language of wordings and cues, looked over without compiling it: what the reading would refuse.

The language is described in DEVELOPERS.md; what it matches is the business of the reading alone.
"""

from collections.abc import Collection, Iterable, Iterator
from difflib import get_close_matches
from pathlib import Path

from knowledge.references import label_of
from knowledge.wordings import Cue, Wording

GAPS = ("..", "...", "~")
_SIGNS = frozenset("{}|?#=")

# A file as faults name it, where it is, the section, and one of its records.
Placed = tuple[str, Path, str, Wording | Cue]


def pattern_fault(text: str, concepts: Collection[str]) -> str:
    """Say what is wrong with a pattern; nothing if the reading takes it.

    Example: with the concept `fan`, "{fam} spin" gives "no concept 'fam'; did you mean 'fan'?".
    """
    must_be_there = False
    for piece in text.split():
        if piece in GAPS:
            continue
        is_plain = piece in ("?", "=") or not _SIGNS & set(piece)
        for choice in () if is_plain else piece.removesuffix("?").split("|"):
            if fault := _choice_fault(choice, piece, concepts):
                return fault
        must_be_there |= is_plain or not piece.endswith("?")
    return "" if must_be_there else "it names no word that must be there"


def _choice_fault(choice: str, piece: str, concepts: Collection[str]) -> str:
    if choice.startswith("{") and choice.endswith("}"):
        return _concept_fault(choice[1:-1], concepts)
    if choice == "#" or (choice.startswith("=") and len(choice) > 1) or (choice and not set("{}=#") & set(choice)):
        return ""
    return f"{choice or piece!r} is not a word, a {{concept}}, '#' or a gap"


def _concept_fault(name: str, concepts: Collection[str]) -> str:
    if name in concepts:
        return ""
    close = get_close_matches(name, sorted(concepts), n=1)
    return f"no concept {name!r}" + (f"; did you mean {close[0]!r}?" if close else "")


def pattern_faults(placed: Iterable[Placed], concepts: Collection[str]) -> Iterator[str]:
    """Yield a line for each pattern that the reading would refuse: file and line, record, key, what is wrong."""
    for name, path, section, record in placed:
        for key, text, fault in _faults_of(record, concepts):
            place = f"{name}:{line}" if (line := _line_of(text, path)) else name
            yield f"{place}: {section} {label_of(record)!r}: {key}: {fault}"


def _faults_of(record: Wording | Cue, concepts: Collection[str]) -> Iterator[tuple[str, str, str]]:
    keys = ("say",) if isinstance(record, Cue) else ("present", "absent", "denied")
    for key in keys:
        for text in getattr(record, key):
            if fault := pattern_fault(text, concepts):
                yield key, text, f"pattern {text!r}: {fault}"
    for concept in record.about if isinstance(record, Wording) else ():
        if fault := _concept_fault(concept, concepts):
            yield "about", concept, fault


def _line_of(text: str, path: Path) -> int:
    """Give the first line of the file on which a text stands in quotes; 0 where it is spelt otherwise.

    Patterns that are written alike are wrong alike: it does not matter which of them is found.
    """
    lines = path.read_text(encoding="utf-8").splitlines()
    quoted = (f'"{text}"', f"'{text}'")
    return next((number for number, line in enumerate(lines, 1) if any(words in line for words in quoted)), 0)
