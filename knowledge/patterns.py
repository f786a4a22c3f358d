"""The patterns of wordings, cues and shapes, looked over without compiling them: what the reading would refuse.

The language is described in DEVELOPERS.md; what it matches is the business of the reading alone.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path

from knowledge.expressions import expression_fault
from knowledge.models import KnowledgeBase
from knowledge.references import label_of
from knowledge.shapes import CodeShape, Piece, Shape
from knowledge.wordings import Cue, Wording

GAPS = ("..", "...", "~")
_SIGNS = frozenset("{}|?#=")

# A file as faults name it, where it is, the section, and one of its records.
Patterned = Wording | Cue | Piece | Shape | CodeShape
Placed = tuple[str, Path, str, Patterned]


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


def pattern_faults(placed: Iterable[Placed], base: KnowledgeBase) -> Iterator[str]:
    """Yield a line for each pattern that the reading would refuse: file and line, record, key, what is wrong."""
    concepts = {concept.id for concept in base.concepts}
    pieces = {piece.id: piece.pattern for piece in base.pieces}
    for name, path, section, record in placed:
        found = _faults_of(record, concepts) if isinstance(record, Wording | Cue) else _faults_of_shape(record, pieces)
        for key, text, fault in found:
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


def _faults_of_shape(record: Piece | Shape | CodeShape, pieces: Mapping[str, str]) -> Iterator[tuple[str, str, str]]:
    for key in ("pattern", "near", "unless", "unless_before"):
        if (text := getattr(record, key, "")) and (fault := expression_fault(text, pieces)):
            yield key, text, fault


def _line_of(text: str, path: Path) -> int:
    """Give the first line of the file on which a text stands in quotes; 0 where it is spelt otherwise.

    Patterns that are written alike are wrong alike: it does not matter which of them is found.
    """
    lines = path.read_text(encoding="utf-8").splitlines()
    quoted = (json.dumps(text, ensure_ascii=False), f"'{text}'")
    return next((number for number, line in enumerate(lines, 1) if any(words in line for words in quoted)), 0)
