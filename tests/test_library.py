"""The packages as a library: the example of DEVELOPERS.md runs, is typed, and names what it says."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from expert import __version__

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def example() -> str:
    """The one block of Python that is marked as the example."""
    found = re.search(r"<!-- the example -->\n```python\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.S)
    assert found
    return found[1]


def test_the_example_runs(example):
    """It says what the message says: a burning smell is a danger of fire, common practice."""
    done = subprocess.run([sys.executable, "-c", example], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert {"fans-spin absent", "burning-smell present", "stop fire"} <= set(lines)
    assert lines[-1].endswith(__version__)


def test_the_example_is_typed(example, tmp_path):
    """As the type checker of somebody else's program sees it."""
    (tmp_path / "example.py").write_text(example)
    checks = "reveal_type(triage)\nreveal_type(read_complaint)\n"
    (tmp_path / "example.py").write_text(example + checks)
    command = [sys.executable, "-m", "mypy", "--config-file", "", "--follow-imports=silent", "--ignore-missing-imports"]
    done = subprocess.run(
        [*command, "--cache-dir", str(tmp_path), str(tmp_path / "example.py")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "-> expert.document.TriageDocument" in done.stdout
    assert "-> intake.reading.Reading" in done.stdout
    assert "error:" not in done.stdout


def test_every_package_of_the_top_says_that_it_is_typed():
    """PEP 561: a file py.typed, which is put into the wheel."""
    data = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
    for package in ("expert", "intake", "knowledge"):
        assert (ROOT / package / "py.typed").is_file()
        assert "py.typed" in data[package]
