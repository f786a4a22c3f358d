"""Whole cases as a technician would type them, five in a pseudo-terminal and one in a pipe; all of it is invented.

What is looked for is what the trade would conclude (common practice, no source), not how the program words it.
"""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from expert.store import Store
from tests.expert.terminal.pseudo import Terminal, environment

DOT = "line that holds only a dot"


@pytest.fixture
def folder(tmp_path):
    """Give the folder of the cases of one test."""
    return tmp_path / "bench"


def begin(terminal: Terminal, message: str, *first: str) -> None:
    """Paste the message, end it with a dot, and see what comes first: the list of what was understood, or danger."""
    terminal.see(DOT)
    terminal.paste(message)
    terminal.key("\r.\r")
    terminal.see(*(first or ("What was understood", "Right?")))


def to_the_bench(terminal: Terminal) -> str:
    """Put the machine on the bench and say no to every question about danger; give the first proposal."""
    came = terminal.say("bench")
    for _ in range(12):
        if "Do this:" in came:
            return came
        came = terminal.say("no")
    raise AssertionError(f"no check was proposed:\n{terminal.shows()}")


def log(folder: Path, number: int = 1):
    """Give the kept log of a case."""
    with Store.open(folder / "data") as store:
        return store.log(number)


def kinds(folder: Path) -> list[str]:
    """Give the kinds of the entries of the first case."""
    return [entry.kind for entry in log(folder)]


def test_a_dead_machine_is_cured_by_its_rear_switch(folder):
    """No sign of life after dusting; the switch at the back was off."""
    terminal = Terminal(folder)
    begin(
        terminal,
        "Good morning repair cafe,\n\nafter I dusted my tower it is completely dead: no fans, no lights.\nYours, Runa",
    )
    terminal.say("", "Likely so far")
    to_the_bench(terminal)
    terminal.say("check rear-switch-and-selector", "Do this: Rear switch", "a) the switch was off")
    terminal.say("whatif a", "rear switch or voltage selector")
    terminal.say("a", "entered: Rear switch")
    came = terminal.say("causes")
    leader = max(re.findall(r"(\d+) % ([a-z'][^%]*?)(?= \d+ %| out )", came), key=lambda found: int(found[0]))
    assert "rear switch" in leader[1]
    terminal.say("how rear switch", "the switch was off")
    terminal.say("leave", "Case 1 is kept")
    assert terminal.ends() == 0
    assert kinds(folder)[0] == "message"
    assert kinds(folder)[-1] == "outcome"


def test_a_stop_hazard_takes_the_screen_and_locks(folder):
    """Smoke: answered in words, locked, taken back and asked again; then the program dies, and nothing is lost."""
    terminal = Terminal(folder, columns=60)
    # The danger does not wait for the correction: it is the first thing on the screen.
    begin(terminal, "My tower died.\nThere was smoke from the back, it smelled burnt. Tor", "! STOP", "done about it>")
    terminal.say("yes", "say what was done")
    terminal.say("checks", "has to wait")
    terminal.say("unplugged at the wall, owner told not to try again", "Noted (smoke, flames")
    terminal.say("")
    terminal.say("done supply-alone runs", "locked (smoke, flames", "Switch off at the wall")
    terminal.say("undo", "Taken back", "STOP")
    assert terminal.shows().count("done about it>") == 1
    terminal.say("redo", "Done again")
    terminal.say("hazards", "fire", "done about it: unplugged at the wall", "to say so: seen")
    before = kinds(folder)
    terminal.kill()
    assert kinds(folder) == before == ["message", "note", "undo", "redo"]
    again = Terminal(folder, columns=60)
    again.see("Case 1 is still open", "yes or no>")
    again.say("yes", "Resumed case 1, 4 entries, nothing lost.")
    assert "! fire" in again.shows().splitlines()[-1]
    again.say("leave")
    assert again.ends() == 0


def test_a_machine_without_a_picture_and_swap_tests(folder):
    """Beeps after new memory: the card is cleared, the memory convicted; the window is made narrow in the middle."""
    terminal = Terminal(folder)
    begin(terminal, "Hi, fans spin but the screen stays black, it beeps three times\nsince I put in new memory. Ilse")
    terminal.say("3")
    terminal.say("undo")
    terminal.say("", "memory")
    terminal.say("I swapped the monitor lead and tried another screen, still black", "understood:")
    to_the_bench(terminal)
    terminal.say("have spare memory, known-good bench", "spare memory", "known good bench")
    terminal.say("swap graphics card other-machine works", "entered:")
    terminal.resize(60, 30)
    narrow = len(terminal.output)
    terminal.say("swap memory other-machine fails", "entered:")
    assert 45 < max(map(len, terminal.printed(narrow))) <= 60
    came = terminal.say("parts", "memory: convicted", "graphics card: cleared")
    assert "memory: cleared" not in came
    terminal.say("plan", "replace: memory", "keep: graphics card")
    terminal.key("whati\t")
    terminal.see("whatif")
    terminal.key("\x03")
    terminal.say("save tilda", "Written to tilda.case.json")
    terminal.say("leave")
    assert terminal.ends() == 0
    assert (folder / "tilda.case.json").is_file()


WORKED = """Hello, the slim office tower of our choir is completely dead since this morning:
no fans, no lights, nothing when I press the button.
It is a ready-made machine with its own non-standard power supply and a non-standard board.
It has a 65 W processor LGA 1200 and 2x8 GB DDR4. A lamp works in the same outlet. Marit"""


def test_the_long_case_ends_with_supply_and_board(folder):
    """Outside cleared, coin cell weak and not it, movable parts proven good: supply and board are left together.

    The standard supply on the shelf is refused as a test, with the reason; the plan replaces board, supply and case.
    """
    terminal = Terminal(folder)
    begin(terminal, WORKED)
    terminal.say("", "power supply failed")
    terminal.say("I swapped the lead and tried another outlet, still nothing", "another mains lead", "another outlet")
    to_the_bench(terminal)
    terminal.say("done rear-switch-and-selector right")
    terminal.say("done press-power-leads-home no-change")
    terminal.say("done power-drain no-change")
    terminal.say("done button-bypass no-change")
    terminal.say("measure coin-cell 2.4 V", "not good")
    came = terminal.say("done coin-cell-replaced no-change", "entered: Coin cell replaced: no change")
    assert "coin cell" not in came.partition("now:")[2].partition("Do this")[0]
    terminal.say("swap memory other-machine works", "entered:")
    terminal.say("swap graphics card other-machine works", "entered:")
    terminal.say("have only known-good bench, multimeter, spare supply", "spare supply")
    terminal.say("swap psu known-good cured", "locked (")
    came = terminal.say("parts", "power supply: suspect", "main board: suspect", "memory: cleared")
    assert "supply: convicted" not in came
    terminal.say("stuck", "stop testing, and decide")
    came = terminal.say("plan", "not done: a standard supply as a test", "stays dead")
    together = set(re.findall(r"replace together: ([a-z ]+)\.", came))
    assert together == {"main board", "power supply", "case"}
    assert re.findall(r"replace: ([a-z ]+)\.", came) == []
    terminal.say("letter")
    terminal.say("leave")
    assert terminal.ends() == 0


HOT = """evning, pc goes off in the midle of games allways after 20 min, fan sounds like a hoover, it is never cleaned.
750 watt psu gold. The graphic card was out and put back in spring. no smell, no shock. cheers, Juno"""


def test_a_hot_machine_is_cleaned_closed_and_looked_at_again(folder):
    """A line is struck out, a missed one is added; dust it was; the closed case is opened again by one word."""
    terminal = Terminal(folder, columns=120, lines=40)
    begin(terminal, HOT)
    listed = re.findall(r"^ +(\d+) .*“([^”]*)", terminal.shows(), re.MULTILINE)
    rated = [number for number, words in listed if "watt" in words]
    assert rated
    for number in reversed(rated):
        terminal.say(number, "What was understood")
    terminal.say("it gets too hot to touch at the back", "understood:")
    terminal.say("", "Likely so far")
    to_the_bench(terminal)
    terminal.say("have only brush, torch, thermometer", "brush")
    terminal.say("note a mat of fluff on the fins", "Noted.")
    terminal.say("whatif dust-out-and-fans-spun dust", "nothing is entered")
    terminal.say("done dust-out-and-fans-spun dust", "entered: Dust out")
    came = terminal.say("causes")
    leader = max(re.findall(r"(\d+) % ([a-z'][^%]*?)(?= \d+ %| out )", came), key=lambda found: int(found[0]))
    assert "dust" in leader[1]
    terminal.say("leave", "Case 1 is kept")
    assert terminal.ends() == 0
    close = [sys.executable, "-m", "expert.cli", "cases", "close", "1", "--cause", "dust-airflow"]
    subprocess.run(close, env=environment(folder), check=True, capture_output=True)
    again = Terminal(folder, "1", columns=40)
    again.see("Resumed case 1", "It is closed: dust or blocked airflow", "reopen")
    again.say("it still goes off when it gets hot", "the case is closed")
    again.say("letter", "your machine")
    again.say("reopen", "The case is open again.")
    again.say("measure cpu-temperature 70 °C", "70 °C")
    again.say("leave", "Case 1 is kept")
    assert again.ends() == 0
    assert kinds(folder)[-3:] == ["close", "reopen", "measure"]


SCRIPT = """My pc is slow to start and then just shuts off after some minutes of playing, the fan is very loud.

It is full of dust. Greetings, Enno
.

no
have brush, thermometer
bench
nonsense xyzzy
measure cpu-temperature 104 °C
undo
redo
plan
leave
"""


def call(folder: Path, script: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a consultation from a pipe."""
    command = [sys.executable, "-m", "expert.cli", "consult", *arguments]
    folder.mkdir(exist_ok=True)
    env = environment(folder)
    return subprocess.run(command, cwd=folder, env=env, input=script, capture_output=True, text=True, check=False)


def test_a_script_in_a_pipe(folder):
    """Line by line, nothing drawn, the same lines each time; the case is kept, or not at all."""
    bare = call(folder, SCRIPT, "--plain", "--no-save")
    assert (bare.returncode, bare.stderr) == (0, "")
    assert "\x1b" not in bare.stdout
    assert max(map(len, bare.stdout.splitlines())) <= 80
    wanted = ("could not read", "Taken back.", "Done again.", "Nothing was kept")
    assert [words for words in wanted if words not in bare.stdout] == []
    assert not (folder / "data").exists()
    kept = call(folder, SCRIPT).stdout.splitlines()
    assert kept[:-1] == bare.stdout.splitlines()[:-1]
    assert "Case 1 is kept" in kept[-1]
    assert kinds(folder)[-2:] == ["undo", "redo"]
    assert f"Resumed case 1, {len(kinds(folder))} entries" in call(folder, "causes\n", "1").stdout


def test_bytes_that_are_no_text_are_refused_and_harm_nothing(folder):
    """As a message: one line, exit 2, nothing kept; as a line: it is said, and the next one is taken."""
    folder.mkdir()
    env = environment(folder, LC_ALL="C")
    command = [sys.executable, "-m", "expert.cli", "consult"]
    for script, code in ((b"it is dead \xff no fans\n.\n", 2), (b"it is dead, no fans\n.\n\nno smo\xffke\nno\n", 0)):
        done = subprocess.run(command, cwd=folder, env=env, input=script, capture_output=True, check=False)
        assert (done.returncode, len(done.stderr.splitlines())) == (code, code // 2)
        assert b"no text in UTF-8" in (done.stderr if code else done.stdout)
    assert kinds(folder) == ["message", "answer"]


def test_a_plain_terminal_draws_nothing(folder):
    """With --plain on a terminal there is no bar and no sequence at all; a lone dot ends the message there too."""
    terminal = Terminal(folder, "--plain", "--no-save", columns=60, NO_COLOR="1")
    terminal.see(DOT)
    terminal.key("no fans, no lights, it is dead\r.\r")
    terminal.see("Right?", ">")
    terminal.say("", "Likely so far")
    terminal.say("leave", "Nothing was kept")
    assert terminal.ends() == 0
    assert "\x1b" not in terminal.output
