"""Folders of TOML files into one validated `KnowledgeBase`; all faults of all files are reported at once.

Folders are merged in the order given: ours, then a shop's own. A record whose id is taken is a fault, unless it says
`replaces = true`: then it stands in the place of the one from an earlier folder, whole. Nothing is replaced silently.
"""

import gc
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from knowledge.cache import keep, key_of, recall, source_of
from knowledge.errors import KnowledgeError
from knowledge.fit_models import FIT_SECTIONS
from knowledge.fit_references import fit_faults
from knowledge.models import (
    Cause,
    Check,
    Complaint,
    Finding,
    Hazard,
    KnowledgeBase,
    Limit,
    Pair,
    Question,
    Rule,
    Source,
    Stage,
    Strength,
)
from knowledge.patterns import Patterned, Placed, pattern_faults
from knowledge.record import KEPT, Accepted
from knowledge.references import label_of, reference_faults
from knowledge.shapes import BeepMeaning, Checkpoint, CodeShape, Naming, Piece, Shape, StopCode
from knowledge.wordings import Concept, Cue, Wording

BASE = Path(__file__).parent / "base"

# Table name in the files -> (field of the base, record).
SECTIONS: dict[str, tuple[str, type[BaseModel]]] = {
    "source": ("sources", Source),
    "stage": ("stages", Stage),
    "finding": ("findings", Finding),
    "cause": ("causes", Cause),
    "complaint": ("complaints", Complaint),
    "pair": ("pairs", Pair),
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
    **FIT_SECTIONS,
    "accepted": ("accepted", Accepted),
}

Key = tuple[str, str]  # section, label of the record


@dataclass(frozen=True)
class Loaded:
    """What was read: the base, the file of each record, every fault as a line; `whole` if no record was left out."""

    base: KnowledgeBase
    places: Mapping[Key, str]
    faults: tuple[str, ...]
    whole: bool


@cache
def shipped_base() -> KnowledgeBase:
    """Load the base that comes with the package."""
    return prepared([BASE])


def prepared(folders: Sequence[Path], cache_folder: Path | None = None) -> KnowledgeBase:
    """Give what `load` gives, from the cache where the very same files were loaded before: in a sixth of the time.

    Raises `KnowledgeError` as `load` does; a base with faults is never kept.
    """
    key = key_of((*source_of(BASE.parent), *_contents(folders)))
    if kept := recall("base", key, cache_folder):
        with suppress(ValidationError), _not_collecting():
            return KnowledgeBase.model_validate_json(kept, context=KEPT)
    base = load(folders)
    keep("base", key, base.model_dump_json(exclude_defaults=True).encode(), cache_folder)
    return base


def _contents(folders: Sequence[Path]) -> Iterator[bytes]:
    """Give every folder, then the place and the content of each of its files, in the order in which they are read."""
    for number, folder in enumerate(folders):
        yield f"{number} {folder}".encode(errors="surrogateescape")  # one without files is refused: a key of its own
        for path in sorted(folder.rglob("*.toml")) if folder.is_dir() else ():
            yield f"{number} {path}".encode(errors="surrogateescape")
            with suppress(OSError):
                yield path.read_bytes()


def load(folders: Sequence[Path]) -> KnowledgeBase:
    """Load and validate every `*.toml` below the folders, in path order, as one base.

    Raises `KnowledgeError` with one line per fault: file, record, key, what is wrong.
    """
    loaded = read(folders)
    if loaded.faults:
        raise KnowledgeError(loaded.faults)
    return loaded.base


def read(folders: Sequence[Path]) -> Loaded:
    """Read the folders as `load` does, and tell of the faults instead of raising them."""
    gathered = _Gathered()
    with _not_collecting():
        for number, folder in enumerate(folders):
            _read_folder(folder, number, gathered)
    fields: dict[str, Any] = {name: tuple(found.values()) for name, found in gathered.records.items()}
    base = KnowledgeBase.model_construct(**fields)
    broken = tuple(gathered.faults)
    dangling = tuple(
        place_fault(gathered.places, key, fault) for key, fault in (*reference_faults(base), *fit_faults(base))
    )
    # Where a record could not be read, concepts and pieces may be missing that are there.
    unread = () if broken else tuple(pattern_faults(gathered.patterned, base))
    return Loaded(base, gathered.places, broken + dangling + unread, whole=not broken)


@contextmanager
def _not_collecting() -> Iterator[None]:
    """Hold the garbage collector: among tens of thousands of objects that all stay it takes a quarter of the time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def place_fault(places: Mapping[Key, str], key: Key, fault: str) -> str:
    """Write a fault as its line: file, record, what is wrong."""
    return f"{places.get(key, '?')}: {key[0]} {key[1]!r}: {fault}"


@dataclass
class _Gathered:
    """What has been read so far: by field and id (or place, where a record has none), and where from."""

    records: dict[str, dict[str | int, BaseModel]] = field(
        default_factory=lambda: {n: {} for n, _ in SECTIONS.values()}
    )
    places: dict[Key, str] = field(default_factory=dict)
    folders: dict[Key, int] = field(default_factory=dict)
    patterned: list[Placed] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def _read_folder(folder: Path, number: int, gathered: _Gathered) -> None:
    paths = sorted(folder.rglob("*.toml")) if folder.is_dir() else []
    if not paths:
        gathered.faults.append(f"{folder}: no knowledge files (*.toml) here; give a folder that holds some")
    for path in paths:
        # Ours by their short names; a shop has several folders, and its own names in them.
        name = path.relative_to(folder).as_posix() if number == 0 else str(path)
        for section, table in _tables(path, name, gathered.faults):
            replaces = table.pop("replaces", False)
            if record := _record(section, table, name, gathered.faults):
                if isinstance(record, Patterned):
                    gathered.patterned.append((name, path, section, record))
                _add(section, record, replaces, name, number, gathered)


def _add(section: str, record: BaseModel, replaces: object, name: str, number: int, gathered: _Gathered) -> None:
    found = gathered.records[SECTIONS[section][0]]
    key = (section, label_of(record))
    known = getattr(record, "id", None)
    if fault := _taken(key, known, replaces, number, gathered):
        gathered.faults.append(f"{name}: {section} {key[1]!r}: {fault}")
        return
    if replaces:
        gathered.places[key] = name
    gathered.places.setdefault(key, name)
    gathered.folders[key] = number
    found[len(found) if known is None else known] = record


def _taken(key: Key, known: str | None, replaces: object, number: int, gathered: _Gathered) -> str:
    earlier = gathered.folders.get(key)
    if not isinstance(replaces, bool):
        return f"replaces: {replaces!r} is neither true nor false"
    if known is None:
        return "replaces: records of this kind have no id, they only add" if replaces else ""
    if replaces and (earlier is None or earlier == number):
        return "replaces: no folder before this one has a record of this id"
    if earlier is None or replaces:
        return ""
    remedy = "" if earlier == number else "; take another id, or say 'replaces = true' to put this in its place"
    return f"id is taken already, in {gathered.places[key]}{remedy}"


def _tables(path: Path, name: str, faults: list[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (
        ValueError,
        OSError,
    ) as error:  # a ValueError: what is no TOML, no UTF-8, or a number of thousands of digits
        faults.append(f"{name}: not readable as TOML: {error}")
        return
    except RecursionError:
        faults.append(f"{name}: not readable as TOML: nested far too deep; write it flat")
        return
    for section, tables in content.items():
        if section not in SECTIONS or not isinstance(tables, list):
            faults.append(f"{name}: no table '[[{section}]]'; known are {', '.join(SECTIONS)}")
            continue
        for table in tables:
            if isinstance(table, dict):
                yield section, table
            else:
                faults.append(f"{name}: {section}: {table!r} is no record; write each one under [[{section}]]")


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
