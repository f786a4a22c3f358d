"""The command as a user calls it: exit codes, one clear line for what cannot be used, the same bytes every time."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from expert.cli import main
from expert.command_line import LARGEST_MESSAGE
from expert.document import TriageDocument
from tests.fresh import ROOT, check_spared

DEMO = ROOT / "corpus" / "demo" / "dusted-out.txt"
KEYS = ["schema", "message", "findings", "build", "stage", "hazards", "causes", "checks", "questions", "trace"]


@pytest.fixture
def message(tmp_path: Path):
    """Write bytes into a file and give its path."""

    def write(content: bytes) -> str:
        path = tmp_path / "message.txt"
        path.write_bytes(content)
        return str(path)

    return write


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b" \n\t \n", "empty"),
        (b"\x7fELF\x02\x01\x01\x00" + bytes(range(256)), "not UTF-8 text"),
        (b"no fans no lights\x00\x00\x00\x00 at all", "not text"),
        (b"the fans do not spin. " * 250_000, "cut it down"),
        (b"the fans do not spin. " * 12_000, "more than 200,000"),
    ],
    ids=["empty", "blank", "binary", "nul", "5 MB", "over the reader's limit"],
)
def test_what_cannot_be_read_is_refused_in_one_line(content, words, message, capsys):
    """Exit 2, nothing on standard output, one line on standard error that says what to do."""
    assert main(["triage", message(content)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["triage", "/nowhere/message.txt"],
        ["triage", "/"],
        ["triage", "--colour"],
        ["mend"],
        [],
        ["knowledge", "show", "x"],
    ],
)
def test_a_wrong_call_is_refused_in_one_line(arguments, capsys):
    """Exit 2 and one line, whatever is wrong with the call."""
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)


def test_the_largest_message_is_still_below_the_limit_of_bytes():
    """The 5 MB of the case above are over it."""
    assert len(b"the fans do not spin. " * 250_000) > LARGEST_MESSAGE


def test_escape_sequences_never_reach_the_output(message, capsys):
    """A message of terminal escapes gives a sound result without a control character in it."""
    evil = "\x1b]0;owned\x07\x1b[2J\x1b[31mno fans\x1b[0m and no lights,\u202e it is \x9b5mdead\x1b[6n"
    assert main(["triage", message(evil.encode())]) == 0
    out, _ = capsys.readouterr()
    assert not {c for c in out if ord(c) < 32 and c != "\n"} | {
        c for c in out if 0x7F <= ord(c) < 0xA0 or c == "\u202e"
    }


def test_another_language_is_said_and_read_with_caution(message, capsys):
    """A German message is not read as English, and does not crash."""
    text = "Hallo, mein Rechner geht nicht mehr an, seit gestern ist alles dunkel und ich weiß nicht weiter."
    assert main(["triage", message(text.encode())]) == 0
    assert "does not seem to be English" in capsys.readouterr().out


def test_json_has_the_published_keys_in_order(capsys):
    """The document of the demo message validates, and every probability of an open cause adds up to one."""
    assert main(["triage", "--json", str(DEMO)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert list(document) == KEYS
    open_causes = [cause["probability"] for cause in document["causes"] if cause["status"] != "excluded"]
    assert sum(open_causes) == pytest.approx(1.0, abs=1e-4)
    TriageDocument.model_validate(document)


def test_quotes_are_slices_of_the_message(capsys):
    """Offsets are code points into the message as given."""
    assert main(["triage", "--json", str(DEMO)]) == 0
    document = json.loads(capsys.readouterr().out)
    text = DEMO.read_text("utf-8")
    quoted = [(item["quote"], text[item["start"] : item["end"]]) for item in document["findings"]]
    assert quoted
    assert [pair for pair in quoted if pair[0] != pair[1]] == []


def test_every_conclusion_can_be_followed_back(capsys):
    """`from` names findings of the message or earlier firings; each rule named by a hazard or a cause has fired."""
    assert main(["triage", "--json", str(DEMO)]) == 0
    document = json.loads(capsys.readouterr().out)
    told = {f"{item['id']}={item['state']}" for item in document["findings"]}
    fired = {firing["rule"] for firing in document["trace"]}
    for place, firing in enumerate(document["trace"], start=1):
        assert firing["n"] == place
        assert [ref for ref in firing["from"] if isinstance(ref, int) and ref >= place] == []
        words = [ref.split(":")[0] for ref in firing["from"] if isinstance(ref, str)]
        assert [word for word in words if word not in told | {name.split("=")[0] for name in told}] == []
    named = {rule for hazard in document["hazards"] for rule in hazard["rules"]}
    named |= {rule for cause in document["causes"] for rule in (*cause["rules_for"], *cause["rules_against"])}
    assert named <= fired


def test_a_stop_hazard_is_an_exit_code_on_demand(message, capsys):
    """Smoke is exit 1 with --fail-on-stop, and 0 without."""
    path = message(b"There was smoke coming out of the back and it smells of burning.")
    assert main(["triage", "--fail-on-stop", path]) == 1
    assert main(["triage", path]) == 0
    assert "STOP" in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [["--help"], ["knowledge", "list"]])
def test_help_and_knowledge_do_not_load_spacy(arguments):
    """What answers at once must not import what is slow."""
    check_spared(arguments, {"spacy", "experta", "prompt_toolkit"})


def test_consult_takes_its_input_from_a_pipe():
    """A whole consultation without a terminal: why, an answer, free text, undo, summary."""
    lines = ["why", "yes", "no burning smell, no smoke", "undo", "checks", "causes", "seen loose-metal yes", "parts"]
    script = "\n".join([*lines, "seen nothing yes", "nonsense xyzzy", "summary", "quit", ""])
    done = subprocess.run(
        [sys.executable, "-m", "expert.cli", "consult", "--no-save", str(DEMO)],
        cwd=ROOT,
        input=script,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Taken back." in done.stdout
    assert "understood:" in done.stdout
    assert "CAUTION" in done.stdout.split("entered:")[1]
    assert "no finding 'nothing'" in done.stdout
    assert "could not read" in done.stdout
    assert done.stderr == ""
