"""The commands about cases as a user calls them: what they print, what they refuse, and what stays untouched."""

import json
import stat
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from expert import case as entry
from expert.case import fold
from expert.cases_commands import resolve_case
from expert.cli import main
from expert.store import Store, Summary
from knowledge.errors import CaseError
from tests.fresh import check_spared

DEAD = entry.MessageEntry(
    text="My tower is completely dead, nothing happens.",
    sentences=1,
    redactions=0,
    findings=(entry.Told(id="dead", state="present", quote="completely dead", start=12, end=27),),
)
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the cases of the test to themselves."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def run(folder: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Call `ohmbudsman cases ...`; give exit code, output and errors."""

    def call(*arguments: object) -> tuple[int, str, str]:
        code = main(["cases", *map(str, arguments)])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def _begin(title: str = "", *entries: object) -> int:
    with Store.open() as store:
        return store.begin([DEAD, *entries], title, Summary("dead", "psu-failed", None, ("surge",)))


def test_a_list_of_none_says_how_to_begin(run: Run):
    """No empty screen."""
    assert run("list") == (0, "no case yet; 'ohmbudsman consult' begins one\n", "")


def test_list_and_search(run: Run):
    """Number, day, state, cause, title; what leads is marked as not confirmed; no control character gets through."""
    _begin("green \x1b[31mtower")
    _begin("old box")
    assert run("close", 2, "--cause", "coin-cell")[0] == 0
    lines = run("list")[1].splitlines()
    assert [line.split()[0] for line in lines] == ["2", "1"]
    assert lines[0].split()[2:] == ["closed", "coin-cell", "old", "box"]
    assert lines[1].split()[2:] == ["open", "psu-failed?", "green", "[31mtower"]
    assert run("list", "--open")[1].split()[0] == "1"
    assert run("search", "OLD")[1].split()[0] == "2"
    assert run("search", "--hazard", "surge", "--closed")[1] == "no case holds all of that\n"
    assert run("search", "--until", "1999-12-31")[1] == "no case holds all of that\n"


def test_closing_takes_the_complaint_into_account(run: Run):
    """It is concluded when the case is closed, whoever wrote the case; an open case does not count."""
    with Store.open() as store:
        number = store.begin([DEAD])
    code, out, _ = run("close", number, "--cause", "psu-failed", "--replaced", "psu", "--note", "new one, runs")
    assert (code, out) == (0, f"case {number} closed: psu-failed\n")
    with Store.open() as store:
        assert store.confirmed() == {("dead", "psu-failed"): 1}
        closed = fold(store.log(number)).closed
    assert closed == entry.CloseEntry(cause="psu-failed", replaced=("psu",), words="new one, runs")
    assert run("reopen", number)[0] == 0
    with Store.open() as store:
        assert store.confirmed() == {}


def test_learning_can_be_switched_off(run: Run):
    """And says what it counts either way."""
    number = _begin()
    run("close", number, "--cause", "psu-failed")
    assert "learning is on: new cases start from the base and from 1 closed case here" in run("learn")[1]
    assert "    1  dead: psu-failed" in run("learn", "off")[1]
    with Store.open() as store:
        assert not store.learning
    assert "learning is on" in run("learn", "on")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["close", 1, "--cause", "psu-fail"], "did you mean psu-failed"),
        (["close", 1, "--cause", "psu-failed", "--replaced", "flux"], "no part 'flux'"),
        (["close", 1], "--cause --not-found is required"),
        (["close", 9, "--not-found"], "no case 9"),
        (["reopen", 1], "case 1 is open"),
        (["show", 9], "no case 9"),
        (["show", "99999999999999999999"], "give the number of a case"),
        (["show", "nowhere.case.json"], "nowhere.case.json"),
        (["search"], "say what to search for"),
        (["search", "--since", "yesterday"], "no day"),
        (["delete", 1], "say --yes"),
        (["export", 1, "/nowhere/a.case.json"], "No such file"),
        (["backup", "/nowhere/b.db"], "No such file"),
        (["recover", "/nowhere/b.db", "/tmp"], "No such file"),
        (["import", "/nowhere/a.case.json"], "No such file"),
        (["list", "--open", "--closed"], "not allowed with"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_changes_nothing(run: Run, folder: Path, arguments: list, words: str):
    """Exit 2, and the file as it was."""
    _begin()
    before = (folder / "cases.db").read_bytes()
    code, out, err = run(*arguments)
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert words in err
    assert (folder / "cases.db").read_bytes() == before


def test_a_case_is_not_closed_twice(run: Run):
    """The second time says how to open it."""
    run("close", _begin(), "--not-found")
    assert "reopen" in run("close", 1, "--not-found")[2]


def test_a_case_goes_out_and_comes_in(run: Run, tmp_path: Path):
    """The same log under a new number, private to its owner; what is here already is not taken in again."""
    path = tmp_path / "a.case.json"
    number = _begin("green tower", entry.NoteEntry(words="calls back"))
    assert run("export", number, path)[0] == 0
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert "is there already" in run("export", number, path)[2]
    assert run("import", path)[1] == f"{path}: is here already, as case {number}\n"
    log = resolve_case(str(number))
    assert resolve_case(str(path)) == log
    assert run("delete", number, "--yes")[0] == 0
    with pytest.raises(CaseError):
        resolve_case(str(number))
    assert run("import", path)[1] == f"{path}: case {number + 1}\n"
    with Store.open() as store:
        row = store.row(number + 1)
        assert resolve_case(str(number + 1), store) == log
    assert (row.title, row.complaint) == ("green tower", "dead")


def test_show_says_every_kind_of_entry_in_words(run: Run):
    """Titles of the base for ids; an id that the base does not have as it is."""
    number = _begin(
        "",
        entry.AnswerEntry(finding="fans-spin", state="absent", words="not at all"),
        entry.WithdrawEntry(finding="fans-spin"),
        entry.SkipEntry(finding="gone-finding"),
        entry.OutcomeEntry(check="gone-check", outcome="good"),
        entry.MeasureEntry(
            limit="rail-12v", value=11.9, finding="rails-in-range", state="present", verdict="11.9 V is in"
        ),
        entry.PartEntry(named=entry.Named(part="gpu", text="a long card", facts={})),
        entry.HandEntry(have=("multimeter",)),
        entry.NoteEntry(words="pulled the plug", hazard="surge"),
        entry.ExperienceEntry(counts={"dead": {"psu-failed": 37}}),
        entry.StepEntry(kind="undo"),
        entry.StepEntry(kind="redo"),
    )
    run("close", number, "--cause", "psu-failed", "--replaced", "psu", "--note", "runs")
    run("reopen", number)
    text = " ".join(run("show", number)[1].split())
    for words in (
        "message: My tower is completely dead",
        "told: ",
        "“not at all”",
        "not told after all: ",
        "not asked: gone-finding",
        "checked: gone-check: good",
        "11.9 V is in",
        "“a long card”",
        "on hand: multimeter",
        "about surge: pulled the plug",
        "from 37 closed cases here",
        "one step back",
        "one step forward again",
        "closed: power supply failed; replaced: ",
        "opened again",
    ):
        assert words in text
    assert json.loads(run("show", number, "--json")[1])["schema"] == "ohmbudsman.case/1"


def test_backup_and_recover(run: Run, folder: Path, tmp_path: Path):
    """A backup holds all; from a store with its beginning destroyed every case comes back as a file."""
    for title in ("one", "two", "three"):
        _begin(title)
    assert run("backup", tmp_path / "b.db")[1].startswith(f"{tmp_path / 'b.db'}: 3 cases")
    damaged = folder / "cases.db"
    damaged.write_bytes(bytes(200) + damaged.read_bytes()[200:])
    before = damaged.read_bytes()
    code, _, err = run("list")
    assert (code, "cases recover" in err) == (2, True)
    code, out, _ = run("recover", damaged, tmp_path / "saved")
    assert (code, out.startswith(f"3 cases saved in {tmp_path / 'saved'}")) == (0, True)
    assert damaged.read_bytes() == before
    assert "new or empty folder" in run("recover", damaged, tmp_path / "saved")[2]
    damaged.unlink()
    assert run("import", *sorted((tmp_path / "saved").iterdir()))[0] == 0
    assert {line.split()[-1] for line in run("list")[1].splitlines()} == {"one", "two", "three"}


def test_a_list_loads_neither_knowledge_nor_what_is_slow(folder: Path):
    """Nothing of the engine or the reading; the base is not loaded."""
    _begin()
    slow = {"spacy", "experta", "prompt_toolkit", "expert.engine", "expert.case"}
    no_base = "from knowledge.load import shipped_base\nassert shipped_base.cache_info().currsize == 0"
    check_spared(["cases", "list"], slow, no_base)


def test_a_thousand_cases_are_listed_and_searched_at_once(folder: Path):
    """In the process itself under 0.1 s for the list, so that the whole command can stay under 0.3 s."""
    with Store.open() as store:
        logs = [[entry.MessageEntry(text=f"machine {n} is dead " * 20, sentences=1, redactions=0)] for n in range(1000)]
        with store._writing():  # one sync for all of them
            for log in logs:
                store._connection.execute(
                    "INSERT INTO cases (opened, changed, title, entries, closed, parts, hazards) VALUES ('2026-03-01', "
                    "'2026-03-01', 't', 1, 0, '', '')"
                )
                number = store._connection.execute("SELECT max(number) FROM cases").fetchone()[0]
                store._connection.execute(
                    "INSERT INTO entries VALUES (?, 0, '2026-03-01', ?, ?)",
                    (number, log[0].model_dump_json(), log[0].text),
                )
    times = []
    for _ in range(3):
        start = time.perf_counter()
        with Store.open() as store:
            assert len(store.rows()) == 1000
        times.append(time.perf_counter() - start)
    assert min(times) < 0.1
