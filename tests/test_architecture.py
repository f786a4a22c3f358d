"""The layers of DEVELOPERS.md, held against every import of the code."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(path for name in ("knowledge", "intake", "expert") for path in (ROOT / name).rglob("*.py"))
EDGE = {"expert/first_pass.py", "expert/cli.py"}
OURS = {"knowledge", "intake", "expert"}
ALLOWED = {"knowledge": set(), "intake": {"knowledge"}, "expert": {"knowledge", "expert"}}
# A library stays in its room, so that it can be replaced there and costs nothing elsewhere.
ROOMS: dict[str, str | tuple[str, ...]] = {
    "spacy": "intake/",
    "rapidfuzz": ("intake/", "expert/queue/duplicates.py"),
    "wordfreq": "intake/",
    "snowballstemmer": "intake/",
    "experta": "expert/experta_ready.py",
    "distributed": "expert/queue/cluster.py",
    "prompt_toolkit": ("expert/terminal/session.py", "expert/queue/progress.py"),
}


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def _imports(path: Path) -> set[str]:
    """Give the modules that a file imports, inside functions as well."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found.add(node.module or "")
    return found


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_imports_go_in_one_direction(path: Path):
    """knowledge <- intake <- the edge of expert; nothing imports the command."""
    package = _name(path).split("/")[0]
    allowed = ALLOWED[package] | {package} | ({"intake"} if _name(path) in EDGE else set())
    imports = _imports(path)
    assert {name.split(".")[0] for name in imports} & OURS <= allowed
    assert "expert.cli" not in imports


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_libraries_stay_in_their_rooms(path: Path):
    """Each of the larger libraries is imported in one place only."""
    used = {name.split(".")[0] for name in _imports(path)} & set(ROOMS)
    assert [library for library in sorted(used) if not _name(path).startswith(ROOMS[library])] == []


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_every_module_says_what_it_is_for(path: Path):
    """A module opens with its purpose, and stays short enough to be read in one sitting."""
    text = path.read_text("utf-8")
    assert ast.get_docstring(ast.parse(text))
    assert len(text.splitlines()) <= 400
