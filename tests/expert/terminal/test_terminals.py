"""Terminals of all kinds: dumb, without colour, narrow, made another size at any moment, interrupted, closed."""

import re
import signal
import subprocess
import sys
from io import BytesIO, TextIOWrapper

import pytest

from expert.case import CloseEntry
from expert.cli import main
from expert.store import Store
from tests.expert.terminal.pseudo import CODE, Terminal

MESSAGE = "My tower is ded since sunday, no fans no lihgts, nothing at all when i pres the button. Runa\n"
SMOKED = "There was smoke from the back when I swiched it on. Now nothing happens. Tor\n"
# Select graphic rendition with a colour in it, of text or ground (ECMA-48, 8.3.117: 30 to 49; 90 and up as xterm does).
COLOUR = re.compile(r"\x1b\[(?:[0-9;]*;)?(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])(?:;[0-9;]*)?m")


@pytest.fixture
def folder(tmp_path):
    """Give the folder of one test, with two messages in it."""
    (tmp_path / "dead.txt").write_text(MESSAGE, "utf-8")
    (tmp_path / "smoked.txt").write_text(SMOKED, "utf-8")
    return tmp_path


def width_of(lines: list[str]) -> int:
    """Give the length of the longest line."""
    assert len(lines) > 3
    return max(map(len, lines))


def test_a_dumb_terminal_gets_plain_lines(folder):
    """Without a sequence of any kind, from the list to the end."""
    terminal = Terminal(folder, "dead.txt", TERM="dumb", columns=60)
    terminal.see("Right?", ">")
    terminal.say("", "Likely so far")
    terminal.say("smoke came out just now", "! STOP", "done about it>")
    terminal.say("ok", "in a few words")
    assert 45 < width_of(terminal.printed()) <= 60
    terminal.resize(40, 24)
    narrow = len(terminal.output)
    terminal.say("unplugged at the wall", "Noted (smoke, flames")
    terminal.say("hazards", "to say so: seen")
    assert width_of(terminal.printed(narrow)) <= 40
    terminal.say("leave", "Case 1 is kept")
    assert terminal.ends() == 0
    assert "\x1b" not in terminal.output


def test_no_colour_means_none(folder):
    """NO_COLOR set: the editor and the bar are there, and no colour; without it there is some."""
    coloured = {}
    for name, env in (("plain", {"NO_COLOR": "1"}), ("coloured", {})):
        terminal = Terminal(folder, "smoked.txt", "--no-save", **env)
        terminal.see("done about it>", "! fire")
        terminal.say("unplugged at the wall")
        terminal.say("leave")
        assert terminal.ends() == 0
        coloured[name] = bool(COLOUR.search(terminal.output))
    assert coloured == {"plain": False, "coloured": True}


@pytest.mark.parametrize(("columns", "lines"), [(40, 20), (60, 24), (80, 24), (120, 40)])
def test_every_size_shows_the_list_the_question_and_the_bar(folder, columns, lines):
    """Nothing is wider than the window; what is asked stands above the line that is typed."""
    terminal = Terminal(folder, "dead.txt", columns=columns, lines=lines)
    terminal.see("Right?")
    terminal.say("")
    terminal.say("why", "likely): then")
    terminal.say("bench")
    terminal.say("checks", "min")
    terminal.say("summary", "What this is not")
    assert columns * 0.7 < width_of(terminal.printed()) <= columns
    assert "fails at" in terminal.shows().splitlines()[-1]
    terminal.say("leave")
    assert terminal.ends() == 0


def test_the_window_is_made_narrow_and_wide_while_a_question_stands(folder):
    """The half of an answer that is typed stays; what follows is wrapped to the new width."""
    terminal = Terminal(folder, "dead.txt")
    terminal.see("Right?")
    terminal.say("", "(about danger, so it comes first)")
    terminal.key("wh")
    terminal.see("> wh")
    terminal.resize(40, 30)
    terminal.see("> wh")
    narrow = len(terminal.output)
    terminal.say("y", "likely): then")
    assert width_of(terminal.printed(narrow)) <= 40
    terminal.resize(120, 40)
    wide = len(terminal.output)
    terminal.say("help", "the numbered findings")
    assert 60 < width_of(terminal.printed(wide)) <= 120
    terminal.say("leave")
    assert terminal.ends() == 0


def test_the_window_is_made_another_size_while_a_danger_stands(folder):
    """The danger still waits for its account, the bar names it, and an empty line shows it whole."""
    terminal = Terminal(folder, "smoked.txt")
    terminal.see("! STOP", "done about it>")
    for columns, lines in ((40, 30), (120, 40), (60, 24)):
        terminal.resize(columns, lines)
        since = len(terminal.output)
        terminal.say("", "! STOP", "Type what was done about it")
        terminal.see("! STOP", "done about it>")
        assert columns * 0.7 < width_of(terminal.printed(since)) <= columns
        assert terminal.shows().splitlines()[-1].startswith("! fire")
    terminal.say("unplugged at the wall", "Noted (smoke, flames")
    terminal.say("leave")
    assert terminal.ends() == 0


def test_ctrl_c_drops_a_line_and_ctrl_d_leaves(folder):
    """In the list, at a danger, at a question; no step is lost."""
    terminal = Terminal(folder, "smoked.txt")
    terminal.see("done about it>")
    terminal.say("understood", "1 there was smoke", "Still to be answered")
    terminal.key("I did noth\x03")
    terminal.see("'leave' or Ctrl-D ends the session.")
    terminal.say("unplugged at the wall", "Noted (smoke, flames")
    terminal.key("2\x03")
    terminal.say("", "Likely so far")
    terminal.key("\x04")
    terminal.see("Case 1 is kept, 2 entries")
    assert terminal.ends() == 0


def test_ctrl_c_on_a_plain_terminal_ends_the_session(folder):
    """There is no editor that could drop a line; what was kept is said."""
    terminal = Terminal(folder, "dead.txt", "--plain")
    terminal.see("Right?", ">")
    terminal.say("")
    terminal.key("\x03")
    terminal.see("Case 1 is kept, 1 entry")
    assert terminal.ends() == 0
    assert "Traceback" not in terminal.output


# What is loaded one after another: by ourselves, by what we build on, and only once a consultation begins.
LOADED = ["expert.command_line", "pydantic_core", "knowledge.models", "argparse", "expert.store", "expert.assess"]


@pytest.mark.parametrize("module", LOADED)
def test_ctrl_c_while_loading_ends_without_a_word(folder, module):
    """The interrupt comes as soon as a module has been loaded; no trace, and the code that a shell gives for it."""
    # As the installed command starts. `python -m` may end by the signal itself, since CPython takes an interrupt within
    # `exec`, by which dataclasses are made, for one that nobody caught; a shell gives 130 for that as well.
    start = "import sys; from expert.cli import main; sys.exit(main())"
    command = [sys.executable, "-X", "importtime", "-c", start, "consult", "dead.txt"]
    env = {"PYTHONPATH": str(CODE), "OHMBUDSMAN_DATA": str(folder / "data"), "HOME": str(folder)}
    with subprocess.Popen(
        command, cwd=folder, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stderr
        said = []
        for line in process.stderr:
            said.append(line)
            if line.rpartition("|")[2].strip() == module:
                process.send_signal(signal.SIGINT)
                break
        else:
            raise AssertionError(f"{module} was not loaded")
        out, rest = process.communicate(timeout=30)
    assert process.returncode == 130, rest
    assert [line for line in (*said, *rest.splitlines()) if not line.startswith("import time:")] == []
    assert "Traceback" not in out


def test_an_interrupt_that_became_another_error_ends_without_a_word(monkeypatch, capsys):
    """Libraries in C may turn it into an error of their own; one that came without an interrupt is not hidden."""

    class Turning(BytesIO):
        interrupts = True

        def read(self, size: int | None = -1) -> bytes:
            try:
                if self.interrupts:
                    signal.raise_signal(signal.SIGINT)
            except KeyboardInterrupt:
                raise LookupError("of another kind") from None
            raise LookupError("of its own")

    stream = Turning()
    monkeypatch.setattr(sys, "stdin", TextIOWrapper(stream))
    before = signal.getsignal(signal.SIGINT)
    assert main(["triage"]) == 130
    assert capsys.readouterr() == ("", "")
    stream.interrupts = False
    with pytest.raises(LookupError, match="of its own"):
        main(["triage"])
    assert signal.getsignal(signal.SIGINT) is before


def test_a_closed_case_is_opened_again_in_the_terminal(folder):
    """It says so, proposes nothing, takes no finding, and goes on after one word."""
    first = Terminal(folder, "dead.txt")
    first.see("Right?")
    first.say("")
    first.say("leave")
    assert first.ends() == 0
    with Store.open(folder / "data") as store:
        store.append(1, [CloseEntry(cause="psu-switch", words="it was off")], after=1)
    terminal = Terminal(folder, "1")
    terminal.see("It is closed: supply's rear switch", "it was off", "reopen to go on")
    came = terminal.say("the fans spin", "type 'reopen'")
    assert "Do this" not in came
    terminal.say("reopen", "The case is open again.", "(yes, no, ?")
    terminal.say("undo", "It is closed")
    terminal.say("redo", "(yes, no, ?")
    terminal.say("leave", "Case 1 is kept, 5 entries")
    assert terminal.ends() == 0


def test_undo_across_a_danger_in_the_terminal(folder):
    """A second danger sign after the first was settled is asked about; taken back, the first account holds again."""
    terminal = Terminal(folder, "smoked.txt")
    terminal.see("done about it>")
    terminal.say("unplugged at the wall, owner told", "Noted (smoke, flames")
    terminal.say("")
    terminal.say("a flame came out of it as well", "! STOP", "done about it>")
    terminal.say("yes", "in a few words")
    terminal.say("pulled the plug again", "Noted (smoke, flames")
    terminal.say("undo", "! STOP", "done about it>")
    assert "STOP" not in terminal.say("undo", "Taken back", "(about danger, so it comes first)")
    terminal.say("redo 2", "Done again")
    terminal.say("hazards", "done about it: unplugged at the wall, owner told", "done about it: pulled the plug again")
    terminal.say("leave", "Case 1 is kept")
    assert terminal.ends() == 0
