"""Folders of TOML files into one validated `KnowledgeBase`; all faults of all files are reported at once."""

import tomllib
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from knowledge.errors import KnowledgeError
from knowledge.models import (
    Cause,
    Check,
    Complaint,
    Concept,
    Cue,
    Finding,
    Hazard,
    KnowledgeBase,
    Limit,
    Question,
    Rule,
    Source,
    Stage,
    Strength,
    Wording,
)
from knowledge.references import reference_faults
from knowledge.shapes import BeepMeaning, Checkpoint, CodeShape, Naming, Piece, Shape, StopCode

BASE = Path(__file__).parent / "base"

# Table name in the files -> (field of the base, record).
SECTIONS: dict[str, tuple[str, type[BaseModel]]] = {
    "source": ("sources", Source),
    "stage": ("stages", Stage),
    "finding": ("findings", Finding),
    "cause": ("causes", Cause),
    "complaint": ("complaints", Complaint),
    "hazard": ("hazards", Hazard),
    "rule": ("rules", Rule),
    "check": ("checks", Check),
    "question": ("questions", Question),
    "limit": ("limits", Limit),
    "strength": ("strengths", Strength),
    "concept": ("concepts", Concept),
    "wording": ("wordings", Wording),
    "cue": ("cues", Cue),
    "piece": ("pieces", Piece),
    "naming": ("namings", Naming),
    "shape": ("shapes", Shape),
    "code-shape": ("code_shapes", CodeShape),
    "stop-code": ("stop_codes", StopCode),
    "beep-meaning": ("beep_meanings", BeepMeaning),
    "checkpoint": ("checkpoints", Checkpoint),
}


@cache
def shipped_base() -> KnowledgeBase:
    """Load the base that comes with the package."""
    return load([BASE])


def load(folders: Sequence[Path]) -> KnowledgeBase:
    """Load and validate every `*.toml` below the folders, in path order, as one base.

    Raises `KnowledgeError` with one line per fault: file, record, key, what is wrong.
    """
    faults: list[str] = []
    fields: dict[str, list[BaseModel]] = {field: [] for field, _ in SECTIONS.values()}
    places: dict[tuple[str, str], str] = {}
    for folder, path in _files(folders, faults):
        name = path.relative_to(folder).as_posix()
        for section, table in _tables(path, name, faults):
            record = _record(section, table, name, faults)
            if record is None:
                continue
            key = (section, getattr(record, "id", ""))
            if key[1] and key in places:
                faults.append(f"{name}: {section} {key[1]!r}: id is taken already, in {places[key]}")
                continue
            places[key] = name
            fields[SECTIONS[section][0]].append(record)
    base = KnowledgeBase.model_construct(**{field: tuple(records) for field, records in fields.items()})
    faults += [f"{places.get(key, '?')}: {key[0]} {key[1]!r}: {fault}" for key, fault in reference_faults(base)]
    if faults:
        raise KnowledgeError(faults)
    return base


def _files(folders: Sequence[Path], faults: list[str]) -> Iterator[tuple[Path, Path]]:
    for folder in folders:
        paths = sorted(folder.rglob("*.toml")) if folder.is_dir() else []
        if not paths:
            faults.append(f"{folder}: no knowledge files (*.toml) here; give a folder that holds some")
        yield from ((folder, path) for path in paths)


def _tables(path: Path, name: str, faults: list[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        faults.append(f"{name}: not readable as TOML: {error}")
        return
    for section, tables in content.items():
        if section not in SECTIONS or not isinstance(tables, list):
            faults.append(f"{name}: no table '[[{section}]]'; known are {', '.join(SECTIONS)}")
            continue
        yield from ((section, table) for table in tables)


def _record(section: str, table: dict[str, Any], name: str, faults: list[str]) -> BaseModel | None:
    try:
        return SECTIONS[section][1].model_validate(table)
    except ValidationError as error:
        label = table.get("id") or table.get("finding") or "?"
        faults += [
            f"{name}: {section} {label!r}: {'.'.join(map(str, fault['loc'])) or 'record'}: {fault['msg']}"
            for fault in error.errors()
        ]
        return None
