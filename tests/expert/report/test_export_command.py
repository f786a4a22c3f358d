"""The command `export`: from a case file to every format, and one clear line where it cannot be done."""

import json

import pytest

from expert.case import AnswerEntry
from expert.cli import main
from expert.portable import write_case
from expert.report.model import CaseReport
from expert.store import Stamped, Store
from tests.expert.report.cases import BENCH, CLOSED, MAIL, PHONE, stamped


def _log(entries) -> list[Stamped]:
    return [Stamped(*each) for each in stamped(*entries)]


@pytest.fixture
def case_file(tmp_path):
    """A case on the bench, as a file."""
    path = tmp_path / "bench.case.json"
    path.write_bytes(write_case(_log(BENCH)))
    return str(path)


@pytest.mark.parametrize(
    ("options", "first"),
    [
        ([], "# A case: findings"),
        (["--format", "html"], "<!doctype html>"),
        (["--format", "json"], '{"schema":"ohmbudsman.report/1"'),
        (["--letter", "first"], "About your machine"),
        (["--letter", "diagnosis", "--format", "html"], "<!doctype html>"),
        (["--sheet"], "Bench sheet"),
        (["--sheet", "--format", "html"], "<!doctype html>"),
    ],
)
def test_every_format_is_written(case_file, capsys, options, first):
    """To standard output, without anything private."""
    assert main(["export", case_file, *options]) == 0
    out, err = capsys.readouterr()
    assert out.startswith(first)
    assert PHONE not in out
    assert MAIL not in out
    assert err == ""


def test_a_case_of_the_store_goes_by_its_number(tmp_path, monkeypatch, capsys):
    """The number stands in the report."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path))
    with Store.open() as store:
        number = store.take_in(_log(CLOSED))
    assert main(["export", str(number), "--format", "json"]) == 0
    report = CaseReport.from_json(capsys.readouterr().out)
    assert (report.number, report.closed.cause) == (number, "psu-lead-loose")


def test_a_file_is_written_once_and_never_over_another(case_file, tmp_path, capsys):
    """The second call leaves the file as it is."""
    path = tmp_path / "report.json"
    assert main(["export", case_file, "--format", "json", "-o", str(path)]) == 0
    written = path.read_bytes()
    assert json.loads(written)["schema"] == "ohmbudsman.report/1"
    assert main(["export", case_file, "-o", str(path)]) == 2
    assert path.read_bytes() == written
    assert "exists already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--letter", "handover"], "not closed"),
        (["--sheet", "--format", "json"], "--format md or html"),
        (["--sheet", "--letter", "first"], "not allowed with"),
        (["--format", "pdf"], "invalid choice"),
        (["-o", "/nowhere/report.md"], "No such file"),
    ],
)
def test_what_cannot_be_done_is_one_line(case_file, capsys, options, words):
    """Exit 2, nothing on standard output."""
    assert main(["export", case_file, *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert len(err.splitlines()) == 1


def test_a_case_that_is_not_there_is_one_line(tmp_path, capsys):
    """Neither a number of the store nor a file."""
    assert main(["export", str(tmp_path / "none.case.json")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize("command", ["export", "consult"])
def test_a_case_of_another_base_is_refused(tmp_path, monkeypatch, capsys, command):
    """A finding of a shop's own folder, without the folder: what it raised would be gone without a word."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path))
    path = tmp_path / "other.case.json"
    path.write_bytes(write_case(_log([*BENCH, AnswerEntry(finding="rice-told", state="present", words="rice")])))
    assert main([command, str(path)]) == 2
    assert capsys.readouterr().err.strip().splitlines()[-1] == (
        "ohmbudsman: the case holds 'rice-told', which this knowledge base does not know; "
        "give the folder it was made with: --knowledge DIR"
    )
    with Store.open() as store:
        assert store.last_open() is None
