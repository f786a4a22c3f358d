"""A shop's own folder: merged into the base, replacing only where it says so, with every fault told with its file."""

from pathlib import Path

import pytest

from expert.cli import main
from knowledge import load
from knowledge.errors import KnowledgeError
from tests.knowledge.small import SOUND

OURS = "[[strength]]\n" + SOUND.split("[[strength]]\n")[1]  # one record, id "strong"
FINDING = '[[finding]]\nid = "{id}"\ntitle = "{title}"\nkind = "sign"\npresent = "yes"\nabsent = "no"\n'


@pytest.fixture
def write(tmp_path: Path):
    """Write a file below a new folder and give the folder."""

    def write(name: str, text: str) -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return tmp_path / name.split("/")[0]

    return write


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch) -> Path:
    """Keep the user's own configuration out of the tests, and give the folder that stands for it."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    return tmp_path / "settings" / "ohmbudsman" / "knowledge"


def faults(*folders: Path) -> list[str]:
    """Give the faults of the merged folders."""
    with pytest.raises(KnowledgeError) as caught:
        load(folders)
    return list(caught.value.faults)


def test_a_record_of_the_shop_is_added(write):
    """Behind ours."""
    ours = write("ours/a.toml", FINDING.format(id="dead", title="ours"))
    shop = write("shop/a.toml", FINDING.format(id="loud", title="theirs"))
    assert [(f.id, f.title) for f in load([ours, shop]).findings] == [("dead", "ours"), ("loud", "theirs")]


def test_nothing_is_replaced_silently(write):
    """The line names the shop's file, the record, where the id is taken, and the two ways out."""
    ours = write("ours/a.toml", FINDING.format(id="dead", title="ours"))
    shop = write("shop/b.toml", FINDING.format(id="dead", title="theirs"))
    assert faults(ours, shop) == [
        f"{shop}/b.toml: finding 'dead': id is taken already, in a.toml; "
        "take another id, or say 'replaces = true' to put this in its place"
    ]


def test_a_record_that_says_so_replaces_ours_in_its_place(write):
    """Whole, and where ours stood, since the order of the base breaks ties."""
    ours = write("ours/a.toml", FINDING.format(id="dead", title="ours") + FINDING.format(id="loud", title="ours"))
    shop = write("shop/a.toml", FINDING.format(id="dead", title="theirs") + "replaces = true\n")
    assert [(f.id, f.title) for f in load([ours, shop]).findings] == [("dead", "theirs"), ("loud", "ours")]


@pytest.mark.parametrize(
    ("record", "told"),
    [
        (FINDING.format(id="new", title="x") + "replaces = true\n", "replaces: no folder before this one has"),
        (FINDING.format(id="dead", title="x") + 'replaces = "yes"\n', "replaces: 'yes' is neither true nor false"),
        (
            '[[wording]]\nfinding = "dead"\npresent = ["dead"]\nreplaces = true\n',
            "replaces: records of this kind have no id",
        ),
        (FINDING.format(id="new", title="x") + "colour = 1\n", "colour: Extra inputs are not permitted"),
        ('finding = ["dead"]\n', "'dead' is no record; write each one under [[finding]]"),
        ('[[wording]]\nfinding = "daed"\npresent = ["dead"]\n', "no such id 'daed'; did you mean 'dead'?"),
    ],
)
def test_a_fault_of_the_shop_names_its_file(write, record, told):
    """In full, since a shop can have several folders."""
    ours = write("ours/a.toml", FINDING.format(id="dead", title="ours"))
    shop = write("shop/rules/own.toml", record)
    [fault] = faults(ours, shop)
    assert fault.startswith(f"{shop}/rules/own.toml: ")
    assert told in fault


def test_a_record_may_not_replace_another_of_its_own_folder(write):
    """Which of two in one folder counts would hang on the names of the files."""
    ours = write("ours/a.toml", FINDING.format(id="dead", title="ours"))
    write("shop/a.toml", FINDING.format(id="loud", title="one"))
    shop = write("shop/b.toml", FINDING.format(id="loud", title="two") + "replaces = true\n")
    assert faults(ours, shop)[0].startswith(f"{shop}/b.toml: finding 'loud': replaces: no folder before this one")


CAUSE = """
[[cause]]
id = "worn-adapter"
title = "worn adapter of the café's own bench"
part = "leads"
plain = "The bench's own adapter is worn."
mechanism = "It works at home and not here."
remedy = "Use another adapter."
minutes = 2
source = "common practice"
"""


def test_the_command_takes_a_folder(write, capsys):
    """The shop's cause is listed and shown beside ours."""
    shop = write("shop/causes.toml", CAUSE)
    assert main(["knowledge", "list", "causes", "--knowledge", str(shop)]) == 0
    assert "causes\tworn-adapter\tworn adapter of the café's own bench\n" in capsys.readouterr().out
    assert main(["knowledge", "show", "worn-adapter", "--knowledge", str(shop)]) == 0
    assert "The bench's own adapter is worn." in capsys.readouterr().out


def test_the_folder_of_the_user_is_taken_without_being_named(own_folder, capsys):
    """It stands in the configuration folder."""
    assert main(["knowledge", "show", "worn-adapter"]) == 2
    own_folder.mkdir(parents=True)
    assert main(["knowledge", "show", "worn-adapter"]) == 2  # an empty one is no fault
    (own_folder / "causes.toml").write_text(CAUSE, encoding="utf-8")
    capsys.readouterr()
    assert main(["knowledge", "show", "worn-adapter"]) == 0
    assert "Use another adapter." in capsys.readouterr().out


@pytest.mark.parametrize("command", [["triage"], ["knowledge", "list"], ["knowledge", "show", "dead"]])
def test_a_folder_that_cannot_be_used_is_refused_in_one_line(command, tmp_path, write, capsys):
    """Exit 2, for each command that takes one; a message is not even read."""
    message = [str(write("message.txt", "It is dead."))] if command == ["triage"] else []
    assert main([*command, *message, "--knowledge", str(tmp_path / "nowhere")]) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    assert "nowhere: no knowledge files (*.toml) here" in err


def test_a_rule_of_the_shop_fires_in_triage(write, capsys):
    """It is in the trace like any other."""
    rule = (
        '[[rule]]\nid = "café-bench-lead"\nwhen = [{ finding = "dead" }]\n'
        'gives = [{ support = "mains-lead", strength = "slight" }]\nbecause = "Ours are old."\n'
        'source = "common practice"\nfires = ["dead"]\nstays_quiet = ["dead=absent"]\n'
    ).replace("café", "cafe")
    shop = write("shop/rules.toml", rule)
    message = write("message.txt", "The computer is completely dead. No lights, no fans, nothing happens.")
    assert main(["triage", "--json", str(message), "--knowledge", str(shop)]) == 0
    assert '"cafe-bench-lead"' in capsys.readouterr().out
