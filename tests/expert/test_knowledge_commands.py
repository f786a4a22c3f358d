"""The commands about the base: all faults in one run, exit codes, and records that can be read."""

import io
import json
from pathlib import Path

import pytest

from expert.cli import main
from tests.fresh import check_spared
from tests.knowledge.small import finding, rule


@pytest.fixture(autouse=True)
def _no_own_folder(tmp_path: Path, monkeypatch):
    """Keep the user's own configuration out of the tests."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))


def test_the_shipped_base_has_no_fault(capsys):
    """Every fault the linter knows of is mended, or accepted with a reason."""
    code = main(["knowledge", "check"])
    assert capsys.readouterr().out.count(": ") == 0
    assert code == 0


OWN = finding("bench-cold") + rule(
    "cold-bench", '[{ finding = "bench-clod" }]', '[{ hazard = "fire" }]', fires="bench-cold", quiet="dead"
)


def test_every_fault_of_a_folder_is_listed_and_counted(tmp_path, capsys):
    """An unknown id, an unused finding and an example, in one run, each with file and record; exit 2."""
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    assert main(["knowledge", "check", "--knowledge", str(tmp_path)]) == 2
    out, err = capsys.readouterr()
    own = tmp_path / "own.toml"
    assert out.splitlines() == [
        f"{own}: rule 'cold-bench': finding: no such id 'bench-clod'; did you mean 'bench-cold'?",
        f"{own}: rule 'cold-bench': unreachable: nothing can state or conclude finding 'bench-clod' present",
        f"{own}: finding 'bench-cold': finding-unused: no rule, check or question looks at it",
        f"{own}: rule 'cold-bench': example: fires: 'bench-cold': the rule does not fire on it",
    ]
    assert err == "ohmbudsman: 4 faults in the knowledge base, listed on standard output\n"


def test_a_record_that_cannot_be_read_comes_first(tmp_path, capsys):
    """What refers to it would only repeat the fault."""
    (tmp_path / "own.toml").write_text("[[cause]]\nid = 'x'\n", encoding="utf-8")
    assert main(["knowledge", "check", "--knowledge", str(tmp_path)]) == 2
    out, err = capsys.readouterr()
    assert "cause 'x': title: Field required" in out
    assert "mend these first" in err


def test_check_refuses_a_pattern_that_triage_would_refuse(tmp_path, capsys, monkeypatch):
    """With the same line: file, line, record, key."""
    own = tmp_path / "own.toml"
    own.write_text('[[wording]]\nfinding = "smoke"\npresent = ["{widget} reeks"]\n', encoding="utf-8")
    told = f"{own}:3: wording 'smoke': present: pattern '{{widget}} reeks': no concept 'widget'"
    assert main(["knowledge", "check", "--knowledge", str(tmp_path)]) == 2
    assert capsys.readouterr().out.startswith(told)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"It is dead.")))
    assert main(["triage", "--knowledge", str(tmp_path)]) == 2
    assert told in capsys.readouterr().err


def test_shares_of_sources_add_up(capsys):
    """For each kind published, common practice, memory and what was not found make all of it."""
    assert main(["knowledge", "check", "--sources"]) == 0
    rows = [line.split() for line in capsys.readouterr().out.split("\n\n")[0].splitlines()[1:]]
    assert [row[0] for row in rows] == ["rules", "checks", "causes", "hazards", "limits", "together"]
    assert [row[0] for row in rows if int(row[1]) != sum(map(int, row[2::2]))] == []
    assert sum(int(row[1]) for row in rows[:-1]) == int(rows[-1][1])
    limits = rows[4]
    assert int(limits[6]) == 0  # each limit that is from memory was searched for


def test_a_rule_is_shown_with_conditions_conclusions_reason_source_and_examples(capsys):
    """In words, and with the names of the records."""
    assert main(["knowledge", "show", "start-pin-not-with-liquid"]) == 0
    out = capsys.readouterr().out
    for words in (
        "hazard liquid",
        "locks the check supply-alone",
        "A wetted supply is not started.",
        "common practice",
    ):
        assert words in " ".join(out.split())
    for heading in ("When", "Gives", "Because", "Source", "Fires on", "Stays quiet on"):
        assert heading in out.splitlines()


def test_a_record_is_printed_as_json(capsys):
    """The record itself, by its kind."""
    assert main(["knowledge", "show", "--json", "psu-failed"]) == 0
    assert json.loads(capsys.readouterr().out)["causes"]["part"] == "psu"


def test_the_list_has_a_line_for_each_record(capsys):
    """Kind, id and words, separated by tabs."""
    assert main(["knowledge", "list", "stages"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "stages\tmains\tmains at the inlet"
    assert len(lines) == 8  # the rungs of the power-up chain


def test_an_unknown_kind_is_refused(capsys):
    """With those that are known."""
    assert main(["knowledge", "list", "spells"]) == 2
    assert "no kind 'spells'; known are rules, checks" in capsys.readouterr().err


def test_pages_are_written_into_a_new_folder_only(tmp_path, capsys):
    """A folder that holds something is somebody's."""
    folder = tmp_path / "new" / "pages"
    assert main(["knowledge", "render", str(folder)]) == 0
    assert (folder / "index.html").is_file()
    assert (folder / "causes" / "psu-failed.html").is_file()
    capsys.readouterr()
    assert main(["knowledge", "render", str(folder)]) == 2
    assert "holds something already; give a new or empty folder" in capsys.readouterr().err


def test_pages_cannot_be_written_where_a_file_stands(tmp_path, capsys):
    """One line, no traceback."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    assert main(["knowledge", "render", str(tmp_path / "file")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize("arguments", [["check"], ["list"], ["show", "psu-failed"], ["check", "--sources"]])
def test_knowledge_commands_never_load_what_reads_messages(arguments):
    """They answer at once."""
    check_spared(["knowledge", *arguments], {"spacy", "rapidfuzz", "wordfreq", "prompt_toolkit"})
