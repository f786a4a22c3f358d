"""The session: what it keeps, resumes and shows; the editor is fed through prompt-toolkit's own pipe for tests."""

import sys
from io import StringIO

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from expert.case import CloseEntry, NoteEntry
from expert.cli import main
from expert.portable import read_case, write_case
from expert.store import Stamped, Store, Summary
from expert.terminal.consultation import said
from expert.terminal.keeping import Keeper
from expert.terminal.session import FullScreen, hold, page_of
from knowledge.errors import CaseError
from tests.expert.terminal.talk import DEAD, begun, opened
from tests.fresh import check_spared


class Script:
    """A screen for tests: the lines that are typed, and everything that was shown."""

    def __init__(self, *lines):
        self.lines = list(lines)
        self.shown = ""
        self.cleared = 0

    def show(self, lines):
        """Remember."""
        self.shown += page_of(lines, 80, colour=False)

    def take_over(self):
        """Count."""
        self.cleared += 1

    def ask(self, now):
        """Give the next line; one that can be called is called first."""
        line = self.lines.pop(0) if self.lines else None
        if callable(line):
            line = line()
        return line

    def message(self):
        """Give none."""
        return None

    def wants(self, question):
        """Want nothing."""
        return False

    def width(self):
        """Give the usual width."""
        return 80


@pytest.fixture
def store(tmp_path):
    """Give an empty store."""
    with Store.open(tmp_path) as opened_store:
        yield opened_store


def test_each_step_is_kept_before_the_next_is_asked_for(store):
    """What is in the store while the next line is waited for is everything so far."""
    kept = []

    def look(line):
        def typed():
            kept.append(len(store.log(1)))
            return line

        return typed

    lines = [look(line) for line in ("", "no", "bench", "undo", "leave")]
    assert hold(opened(DEAD), Script(*lines), Keeper(store)) == 0
    assert kept == [1, 1, 2, 3, 4]


def test_nothing_is_lost_when_another_terminal_was_faster(store):
    """It is said, nothing is written, and the step does not count here either."""

    def interfere():
        store.append(1, [NoteEntry(words="from the other terminal")], after=1)
        return "no"

    screen = Script("", interfere, "leave")
    hold(opened(DEAD), screen, Keeper(store))
    assert "another terminal" in screen.shown
    assert [entry.kind for entry in store.log(1)] == ["message", "note"]


def test_what_tells_nothing_of_the_machine_moves_nothing(store):
    """A note, tools, the bench: no word on the ranking."""
    screen = Script("", "note the owner calls at six", "have spare psu", "bench", "leave")
    hold(opened(DEAD), screen, Keeper(store))
    assert "ranking" not in screen.shown
    assert "now:" not in screen.shown


def test_a_new_case_starts_from_what_the_shop_has_seen(tmp_path, monkeypatch, capsys):
    """A closed case before it: its count stands first in the log, and it is said on what the priors rest."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path))
    message = tmp_path / "message.txt"
    message.write_text(DEAD, "utf-8")
    now = begun()
    with Store.open(tmp_path) as store:
        store.begin([*now.log, CloseEntry(cause="psu-failed")], summary=Summary.of(now.base, now.assessment))
    monkeypatch.setattr(sys, "stdin", StringIO("\nundo\nleave\n"))
    assert main(["consult", str(message)]) == 0
    assert "1 closed case" in capsys.readouterr().out
    with Store.open(tmp_path) as store:
        assert [entry.kind for entry in store.log(2)] == ["experience", "message"]
    monkeypatch.setattr(sys, "stdin", StringIO("leave\n"))
    assert main(["consult", "1"]) == 0
    assert "It is closed" in capsys.readouterr().out


def test_a_case_from_a_file_is_taken_in(tmp_path, monkeypatch, capsys):
    """With its entries and its times; the next number is its own."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path))
    file = tmp_path / "from-afar.case.json"
    file.write_bytes(write_case([Stamped("2026-01-02T03:04:05Z", entry) for entry in begun().log]))
    monkeypatch.setattr(sys, "stdin", StringIO("no\nleave\n"))
    assert main(["consult", str(file)]) == 0
    assert "as case 1: 1 entry" in capsys.readouterr().out
    with Store.open(tmp_path) as store:
        assert store.stamped(1)[0].at == "2026-01-02T03:04:05Z"
        assert [entry.kind for entry in store.log(1)] == ["message", "answer"]


def test_without_a_store_nothing_is_kept():
    """And the end says so."""
    screen = Script("", "no", "leave")
    hold(opened(DEAD), screen, Keeper(None))
    assert "Nothing was kept" in screen.shown


def test_a_wrong_line_does_not_end_the_session(store):
    """One line says what is wrong, and it goes on."""
    screen = Script("", "done tea-break cured", "leave")
    hold(opened(DEAD), screen, Keeper(store))
    assert "no check 'tea-break'" in screen.shown
    assert "Traceback" not in screen.shown


def test_a_stop_hazard_takes_the_screen():
    """Once, when it comes up."""
    screen = Script("", "smoke came out of it", "why", "unplugged at the wall", "leave")
    hold(opened(DEAD), screen, Keeper(None))
    assert screen.cleared == 1
    assert "Still to be answered" in screen.shown or "has to wait" in screen.shown


def test_save_writes_a_file_that_reads_back(tmp_path, store, monkeypatch):
    """The entries are the same; a file that is there is not written over."""
    monkeypatch.chdir(tmp_path)
    keeper, screen = Keeper(store), Script("", "no", "save mine", "save mine", "leave")
    hold(opened(DEAD), screen, keeper)
    assert read_case(tmp_path / "mine.case.json") == keeper.stamped
    assert (tmp_path / "mine.case.json").stat().st_mode & 0o077 == 0
    assert "is there already" in screen.shown


def test_escapes_in_a_message_never_reach_the_screen():
    """Not in a quote, not in an error."""
    screen = Script("", "\x1b]0;owned\x07 no fans", "note \x1b[2J", "done \x1b[31m", "undo", "summary", "leave")
    hold(begun(), screen, Keeper(None))
    assert not {c for c in screen.shown if ord(c) < 32 and c != "\n"}


def test_indentation_is_kept_when_a_line_is_wrapped():
    """The second line hangs below the first."""
    page = page_of(said("  " + "word " * 20), 40, colour=False)
    assert {line[:2] for line in page.splitlines()} == {"  "}
    assert page.splitlines()[1].startswith("    w")


# ---- the editor ----


@pytest.fixture
def keys(monkeypatch):
    """Give a pipe into the editor; what is printed goes to the usual output."""
    monkeypatch.setenv("TERM", "xterm")
    with create_pipe_input() as pipe, create_app_session(input=pipe, output=DummyOutput()):
        yield pipe


def test_a_message_of_several_lines_ends_with_a_dot(keys):
    """Enter only ends a line; so do the ends of lines in a paste."""
    keys.send_text("no fans\rno lights\r\x1b[200~since\n\nSunday\x1b[201~\r.\r")
    assert FullScreen().message() == "no fans\nno lights\nsince\n\nSunday"


def test_a_message_ends_with_ctrl_d_too(keys):
    """With nothing typed there is no message."""
    keys.send_text("no fans\x04")
    assert FullScreen().message() == "no fans"
    keys.send_text("\x04")
    assert FullScreen().message() is None


def test_the_editor_remembers(keys):
    """The arrow brings the last line back; Ctrl-D ends."""
    screen = FullScreen()
    keys.send_text("whatif yes\r")
    assert screen.ask(begun()) == "whatif yes"
    keys.send_text("\x1b[A\r")
    assert screen.ask(begun()) == "whatif yes"
    keys.send_text("\x04")
    assert screen.ask(begun()) is None


def test_ctrl_c_drops_the_line_and_says_how_to_leave(keys, capsys):
    """And the session goes on."""
    keys.send_text("nonsense\x03no\r")
    assert FullScreen().ask(begun()) == "no"
    assert "Ctrl-D" in capsys.readouterr().out


def test_a_whole_session_through_the_editor(keys, store, capsys):
    """Correct, answer, leave; the case is in the store."""
    keys.send_text("\rno\rbench\rleave\r")
    assert hold(opened(DEAD), FullScreen(), Keeper(store)) == 0
    assert [entry.kind for entry in store.log(1)] == ["message", "answer", "note"]
    assert "Case 1 is kept, 3 entries" in capsys.readouterr().out


# ---- the command ----


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["consult", "99"], "no case 99"),
        (["consult", "99", "--no-save"], "--no-save"),
        (["consult", "/nowhere/x.txt"], "give the path"),
        (["consult", "/nowhere/x.case.json"], "x.case.json"),
        (["completion", "fish"], "invalid choice"),
    ],
)
def test_a_call_that_cannot_be_used_is_one_line(arguments, words, tmp_path, monkeypatch, capsys):
    """Exit 2."""
    monkeypatch.setenv("OHMBUDSMAN_DATA", str(tmp_path))
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    assert words in err


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_completion_for_shells_names_the_commands(shell, capsys):
    """As the shells want it."""
    assert main(["completion", shell]) == 0
    out = capsys.readouterr().out
    assert "ohmbudsman" in out
    assert "--no-save" in out


def test_consult_help_teaches(capsys):
    """An example, the dot, the danger, and where the case is kept."""
    with pytest.raises(SystemExit):
        main(["consult", "--help"])
    out = capsys.readouterr().out
    wanted = ("only a dot", "goes on with case 12", "level stop", "exit codes")
    assert [words for words in wanted if words not in out] == []


def test_consult_does_not_import_the_editor_for_help():
    """So that it answers at once."""
    slow = {"spacy", "experta", "prompt_toolkit", "shtab", "expert.assess", "sqlite3"}
    check_spared(["consult", "--help"], slow)


def test_a_kept_case_that_is_not_there_is_an_error_of_the_case(store):
    """Raised before anything is shown."""
    with pytest.raises(CaseError, match="no case 7"):
        Keeper(store).resume(7)
