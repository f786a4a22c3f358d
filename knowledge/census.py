"""What the base holds, counted: records by kind, and rules and limits by kind of source."""

from collections import Counter
from typing import Any

from knowledge.models import KnowledgeBase
from knowledge.references import MEMORY, PRACTICE

KINDS = ("rules", "checks", "questions", "findings", "causes", "hazards", "complaints", "stages", "limits", "sources")


def records_by_kind(base: KnowledgeBase) -> dict[str, tuple[Any, ...]]:
    """Give the records that have an id, by kind, in the order of the base."""
    return {kind: getattr(base, kind) for kind in KINDS}


def count_records(base: KnowledgeBase) -> list[tuple[str, int]]:
    """Count the records of each kind, and the patterns of the wordings."""
    patterns = sum(len(w.present) + len(w.absent) + len(w.denied) for w in base.wordings)
    return [(kind, len(records)) for kind, records in records_by_kind(base).items()] + [("wordings", patterns)]


def count_sources(base: KnowledgeBase) -> list[tuple[str, int]]:
    """Count the sources that rules, checks, causes, hazards and limits rest on, by kind."""
    used = [record.source for records in (base.rules, base.checks, base.causes, base.hazards) for record in records]
    used += [band.source for limit in base.limits for band in limit.bands]
    kinds = Counter(source if source in (PRACTICE, MEMORY) else "published" for source in used)
    return [(kind, kinds[kind]) for kind in ("published", PRACTICE, MEMORY)]
