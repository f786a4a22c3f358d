"""The documents, held against the program: what can be called is described, and what is described can be called."""

import argparse
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from expert.command_line import _parser
from knowledge.errors import CallError
from tests import readme

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TABLE = README.partition("## The commands")[2].partition("\n## ")[0]
FENCED = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.M | re.S)
BLOCKS = "".join(text for language, text in FENCED if not language)
CALLS = sorted(set(re.findall(r"(?:^|(?<=/))ohmbudsman [^&\n]*$", BLOCKS, re.M)))
MEASURES = sorted(set(re.findall(r"python -m (tests\.\w+)", README + DEVELOPERS)))
FOLDERS = sorted({path.parent.relative_to(ROOT).as_posix() for path in (ROOT / "expert").rglob("*.py")} - {"expert"})


def _leaves(parser: argparse.ArgumentParser, name: str = "") -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Give each command with its parser, "cases close" for one below another."""
    below = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    for action in below:
        for word, child in action.choices.items():
            yield from _leaves(child, f"{name} {word}".strip())
    if not below:
        yield name, parser


LEAVES = dict(_leaves(_parser()))


def _row(command: str) -> str:
    """Give the rows of the table that tell of a command, joined."""
    return "\n".join(row for row in TABLE.splitlines() if re.search(rf"`(ohmbudsman )?{command}\b", row))


@pytest.mark.parametrize("command", LEAVES)
def test_every_command_and_option_is_in_the_readme(command):
    """Each has a row, and each option and choice of a word stands in a row of its command; --knowledge stands once."""
    row = _row(command)
    assert row
    for action in LEAVES[command]._actions:
        if isinstance(action, argparse._HelpAction) or action.dest == "knowledge":
            continue
        missing = [name for name in action.option_strings if not re.search(rf"`[^`]*{name}\b", row)]
        assert missing == []


def test_the_option_of_many_commands_is_described_below_the_table():
    """`--knowledge` belongs to any of them."""
    assert "`--knowledge DIR`" in TABLE


def test_the_table_names_no_command_that_is_not_there():
    """The first words of each row are commands, and its options are options of that command."""
    named = re.findall(r"^\| `ohmbudsman ([a-z]+(?: [a-z]+)?)", TABLE, re.M)
    assert len(named) > 10
    assert [name for name in named if name not in LEAVES and name.split()[0] not in LEAVES] == []
    for row in TABLE.splitlines():
        commands = [name for name in LEAVES if re.search(rf"`(ohmbudsman )?{name}\b", row)]
        options = {word for name in commands for action in LEAVES[name]._actions for word in action.option_strings}
        if commands:
            assert set(re.findall(r"(?<![\w-])--[a-z-]+", row)) <= options


@pytest.mark.parametrize("call", CALLS)
def test_the_calls_of_the_readme_are_understood(call):
    """Each line that can be copied is taken by the parser; a wrong option is not."""
    words = shlex.split(call.strip())[1:]
    _parser().parse_args(words)
    with pytest.raises(CallError):
        _parser().parse_args([*words, "--no-such-option"])


def test_the_readme_has_calls_to_copy():
    """The test above has something to look at."""
    assert len(CALLS) >= 4


def test_the_files_that_the_readme_shows_are_there():
    """Links and pictures lead to files of this folder."""
    links = re.findall(r"\]\(([^)#:]+)\)", README)
    assert len(links) >= 4
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_the_answer_is_what_the_program_prints():
    """The README shows the demo message as it is, and the real answer to it; the knowledge may change the answer."""
    message = README.partition("The message:\n\n```text\n")[2].partition("```")[0]
    assert message == readme.MESSAGE.read_text("utf-8")
    assert readme.shown(README) == readme.answer(), "the answer has changed: 'python -m tests.story' writes it anew"


def test_the_story_is_cut_from_the_session():
    """Each line of the story stands in the captured session, in that order."""
    story = README.partition("<!-- the story -->\n```text\n")[2].partition("```")[0].splitlines()
    session = iter((ROOT / "corpus" / "demo" / "consultation.txt").read_text("utf-8").splitlines())
    wanted = [line for line in story if line.strip() not in ("", "...")]
    assert len(wanted) > 5
    assert [line for line in wanted if line not in session] == []


@pytest.mark.parametrize("folder", ["knowledge", "intake", "corpus", "tests", *FOLDERS])
def test_every_folder_is_in_developers(folder):
    """The map of the code has no white spot."""
    assert f"`{folder}/`" in DEVELOPERS


@pytest.mark.parametrize("module", MEASURES)
def test_the_measures_can_be_called(module):
    """Each `python -m` of the documents is a module; one that takes arguments explains them."""
    path = ROOT / f"{module.replace('.', '/')}.py"
    assert path.is_file()
    if "argparse" in path.read_text("utf-8"):
        call = [sys.executable, "-m", module, "--help"]
        done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, "")
        assert "usage:" in done.stdout
