"""What the program never does: open a network connection, or run anything that stands in data."""

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "corpus" / "demo"
MODULES = sorted(path for name in ("knowledge", "intake", "expert") for path in (ROOT / name).rglob("*.py"))

# Runs before anything of ours is imported. An audit hook cannot be taken off again, and sees the C libraries as well.
GUARD = """
import sys

def forbid(event, arguments):
    if event.startswith("socket.") and event != "socket.gethostname":
        raise PermissionError(f"the network was asked for: {event} {arguments}")

sys.addaudithook(forbid)
"""
# Worker processes get their work, pickled, from the process that started them, and from nobody else.
PICKLES = {"expert/queue/run.py", "expert/queue/cluster.py"}
FORBIDDEN_MODULES = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib", "yaml", "runpy", "code", "ctypes"}
FORBIDDEN_MODULES |= {"subprocess", "requests", "urllib", "http", "ftplib", "smtplib", "socket", "xmlrpc"}
FORBIDDEN_CALLS = {"eval", "exec", "compile", "__import__"}
FORBIDDEN_METHODS = {("os", "system"), ("os", "popen"), ("importlib", "import_module")}


def _guarded(arguments: list[str], data: Path, said: str = "") -> subprocess.CompletedProcess:
    code = f"{GUARD}\nfrom expert.cli import main\nsys.exit(main({arguments!r}))"
    environment = {"OHMBUDSMAN_DATA": str(data), "HOME": str(data), "PATH": "/usr/bin:/bin"}
    return subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, input=said, capture_output=True, text=True, check=False
    )


def test_the_guard_bites(tmp_path):
    """A test of absence must be able to fail."""
    code = f"{GUARD}\nimport socket\nsocket.create_connection(('127.0.0.1', 9))"
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert "the network was asked for" in done.stderr


def test_nothing_leaves_the_machine(tmp_path):
    """A whole case, from the message to the letter, and a queue, with every socket forbidden."""
    message = str(DEMO / "dusted-out.txt")
    triage = _guarded(["triage", "--json", message], tmp_path)
    assert (triage.returncode, triage.stderr) == (0, "")
    assert json.loads(triage.stdout)["causes"]
    consult = _guarded(["consult", message], tmp_path, "\nwhy\nyes\nno burning smell\nchecks\nplan\nleave\n")
    assert (consult.returncode, consult.stderr) == (0, "")
    for call in (["export", "1"], ["export", "1", "--format", "html"], ["export", "1", "--letter", "first"]):
        export = _guarded(call, tmp_path)
        assert (export.returncode, export.stderr) == (0, "")
        assert "power supply" in export.stdout
    queue = _guarded(["queue", str(DEMO)], tmp_path)
    assert (queue.returncode, queue.stderr) == (0, "")
    assert _guarded(["cases", "list"], tmp_path).stdout.lstrip().startswith("1 ")
    assert _guarded(["knowledge", "check"], tmp_path).returncode == 0


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_nothing_in_data_is_ever_run(path):
    """No way from data to code: no pickle, eval or YAML, no shell, no client of the network."""
    tree = ast.parse(path.read_text("utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names} & FORBIDDEN_MODULES
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found |= {(node.module or "").split(".")[0]} & FORBIDDEN_MODULES
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            found |= {node.func.id} & FORBIDDEN_CALLS
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found |= {"shell"} if (node.value.id, node.attr) in FORBIDDEN_METHODS else set()
    allowed = {"pickle"} if path.relative_to(ROOT).as_posix() in PICKLES else set()
    assert found <= allowed
