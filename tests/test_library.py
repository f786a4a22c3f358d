"""The packages as a library: the example of the README runs, is typed, and names what it says."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import expert
import intake
import knowledge
from expert import __version__, triage

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def example() -> str:
    """The one block of Python that is marked as the example."""
    found = re.search(r"<!-- the example -->\n```python\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.S)
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


def test_the_function_stays_the_function():
    """A module of the name would take its place in the package as soon as anything imports it."""
    import expert.first_pass

    assert expert.triage is triage
    assert not (ROOT / "expert" / "triage.py").exists()
    assert triage("The fans do not spin.") == expert.first_pass.triage("The fans do not spin.")


@pytest.mark.parametrize("package", [expert, intake, knowledge])
def test_what_is_public_is_there_and_described(package):
    """Each name of `__all__` can be had, in order, and says what it is for."""
    assert list(package.__all__) == sorted(package.__all__)
    public = {name: getattr(package, name) for name in package.__all__}
    assert [name for name, thing in public.items() if callable(thing) and not thing.__doc__] == []


def test_public_functions_load_little():
    """The names alone bring neither the reader of language nor the rule engine."""
    code = "import sys; from expert import triage; from intake import read_complaint; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert {"spacy", "experta", "numpy"}.isdisjoint(done.stdout.split())


def test_the_version_is_the_first_of_the_changes():
    """The version stands in one place, and its changes are written down."""
    changes = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("## Changes")[2]
    assert re.search(r"^- (\d+\.\d+\.\d+)\b", changes, re.M)[1] == __version__
    assert "version" in tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dynamic"]


def test_every_package_of_the_top_says_that_it_is_typed():
    """PEP 561: a file py.typed, which is put into the wheel."""
    data = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
    for package in ("expert", "intake", "knowledge"):
        assert (ROOT / package / "py.typed").is_file()
        assert "py.typed" in data[package]
