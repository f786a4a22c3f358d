"""Cross-references of the records on power, fit and repair: every part, plug, finding, limit and source must exist."""

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING, Any

from knowledge.fit_models import FIT_SECTIONS

if TYPE_CHECKING:
    from knowledge.models import KnowledgeBase

PLAIN = ("common practice", "from memory")
LABOUR = "labour"

# A fault: (section, id of the record), and what is wrong with it.
Fault = tuple[tuple[str, str], str]


def fit_faults(base: "KnowledgeBase") -> Iterator[Fault]:
    """Yield every reference of these records that leads nowhere."""
    parts = {part.id for part in base.build_parts}
    findings = {finding.id for finding in base.findings}
    plugs = {plug.id for plug in base.connectors}
    limits = {limit.id for limit in base.limits}
    for section, record in _records(base):
        yield from _unknown(section, record, ("part", "against"), parts | ({LABOUR} if section == "price" else set()))
        yield from _unknown(section, record, ("parts", "replacing"), parts)
        yield from _unknown(section, record, ("findings",), findings)
        yield from _unknown(section, record, ("serves", "plug"), plugs)
        yield from _unknown(section, record, ("limits",), limits)
        yield from _bad_sources(section, record, {source.id for source in base.sources})


def _records(base: "KnowledgeBase") -> Iterator[tuple[str, Any]]:
    for section, (field, _) in FIT_SECTIONS.items():
        yield from ((section, record) for record in getattr(base, field))


def _unknown(section: str, record: Any, fields: Collection[str], known: Collection[str]) -> Iterator[Fault]:
    for field in fields:
        value = getattr(record, field, None) or ()
        for used in (value,) if isinstance(value, str) else value:
            if used not in known:
                yield (section, record.id), f"{field}: no such id {used!r}"


def _bad_sources(section: str, record: Any, sources: Collection[str]) -> Iterator[Fault]:
    for field in ("source", "dimm_source", "sodimm_source"):
        text = getattr(record, field, None)
        if text and text not in PLAIN and text.split()[0] not in sources:
            yield (section, record.id), f"{field}: {text!r} begins with no source id, and is neither of {PLAIN}"
