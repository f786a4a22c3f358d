"""What the base holds, counted: records by kind, and what rules, checks, causes, hazards and limits rest on."""

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from knowledge.models import KnowledgeBase
from knowledge.references import MEMORY, UNPUBLISHED

KINDS = ("rules", "checks", "questions", "findings", "causes", "hazards", "complaints", "stages", "limits", "sources")
# Kinds that a base may do without: what comes together, what a build draws, what fits what, what is tried after repair.
FURTHER = (
    *("strengths", "pairs", "build_parts", "loads", "connectors", "slots", "excursions", "efficiencies", "headrooms"),
    *("module_kinds", "fits", "couplings", "refusals", "prices", "verifications"),
)
SOURCED = ("rules", "checks", "causes", "hazards", "limits")
PUBLISHED = "published"
WORD = re.compile(r"[a-z0-9-]+")


def records_by_kind(base: KnowledgeBase) -> dict[str, tuple[Any, ...]]:
    """Give the records that have an id, by kind, in the order of the base; of the further kinds those it has."""
    return {kind: getattr(base, kind) for kind in (*KINDS, *FURTHER) if kind in KINDS or getattr(base, kind)}


def count_records(base: KnowledgeBase) -> list[tuple[str, int]]:
    """Count the records of each kind, the patterns of the wordings, and the faults that are accepted."""
    patterns = sum(len(w.present) + len(w.absent) + len(w.denied) for w in base.wordings)
    counts = [(kind, len(getattr(base, kind))) for kind in KINDS]
    return [*counts, ("wordings", patterns), ("accepted faults", len(base.accepted))]


def sources_of(record: Any) -> tuple[str, ...]:
    """Give the sources of a record as written: one, or for a limit one for each band."""
    bands = getattr(record, "bands", None)
    return tuple(band.source for band in bands) if bands else (getattr(record, "source", ""),)


def documents(source: str, known: Collection[str]) -> tuple[str, ...]:
    """Give the ids of the documents that a source names, in order: "event-41 meaning; bug-check" names two."""
    return tuple(word for word in WORD.findall(source) if word in known)


def origin(source: str, seen: Mapping[str, str]) -> str:
    """Give what a source comes down to: the id of its first document, common practice, or from memory.

    `seen` tells of each document how far it was read; one that was not looked up counts as memory.
    """
    document = next(iter(documents(source, seen)), source)
    return MEMORY if seen.get(document) == "memory" else document


def count_sources(base: KnowledgeBase) -> dict[str, Counter[str]]:
    """Count, for each kind that has sources, what its records rest on; a limit counts once for each band."""
    seen = {source.id: source.seen for source in base.sources}
    return {
        kind: Counter(origin(text, seen) for record in getattr(base, kind) for text in sources_of(record))
        for kind in SOURCED
    }


def by_standing(counts: Counter[str]) -> Counter[str]:
    """Sum a count of origins up to four: published, common practice, from memory, no published source found."""
    total: Counter[str] = Counter()
    for source, count in counts.items():
        total[source if source in UNPUBLISHED else PUBLISHED] += count
    return total


def cited(base: KnowledgeBase) -> set[str]:
    """Give the ids of the documents that any record names."""
    known = {source.id for source in base.sources}
    return {document for text in _every_source(base) for document in documents(text, known)}


def _every_source(base: KnowledgeBase) -> Iterator[str]:
    for _, records in base:
        for record in records:
            for key, value in record:
                if (key == "source" or key.endswith("_source")) and value:
                    yield value
                elif key == "bands":
                    yield from (band.source for band in value)
