"""A pseudo-terminal with a screen in it: types lines as a technician would, and sees what the screen shows."""

import os
import re
import sys
import time
from pathlib import Path

import pexpect
import pyte

import expert.cli

CODE = Path(expert.cli.__file__).parents[1]


def plain(output: str) -> str:
    """Give what was written without the sequences that move the cursor and colour the text."""
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[()=>][A-Za-z0-9]?|\r", " ", output)


def environment(folder: Path, **env: str) -> dict[str, str]:
    """Give what a process of the program is started with; what can be made again (`knowledge.cache`) it finds made."""
    ours = {"PYTHONPATH": str(CODE), "OHMBUDSMAN_DATA": str(folder / "data"), "XDG_CONFIG_HOME": str(folder / "config")}
    return {name: value for name, value in os.environ.items() if name not in ("LINES", "COLUMNS")} | ours | env


class _Answering(pyte.Screen):
    """A screen that tells the program where its cursor is, as a terminal does when asked."""

    def __init__(self, columns, lines, child):
        super().__init__(columns, lines)
        self.child = child

    def write_process_input(self, data):
        """Send the answer."""
        self.child.send(data)


class Terminal:
    """A consultation in a pseudo-terminal; `folder` is where it keeps its cases."""

    def __init__(self, folder: Path, *arguments: str, columns: int = 80, lines: int = 24, **env: str) -> None:
        call = ["-m", "expert.cli", "consult", *arguments]
        folder.mkdir(exist_ok=True, parents=True)
        self._child = pexpect.spawn(
            sys.executable,
            call,
            env=environment(folder, **{"TERM": "xterm-256color", "LC_ALL": "C.UTF-8"} | env),
            cwd=str(folder),
            dimensions=(lines, columns),
            encoding="utf-8",
        )
        self._screen = _Answering(columns, lines, self._child)
        self._stream = pyte.Stream(self._screen)
        self.output = ""
        self._idle = False

    def shows(self) -> str:
        """Give the screen as it is, its lines joined by newlines."""
        return "\n".join(line.rstrip() for line in self._screen.display)

    def printed(self, since: int = 0) -> list[str]:
        """Give the lines that were printed from this place of the output on; what the editor draws is left out."""
        lines = re.sub(r"\x1b\[[0-9;]*m", "", self.output[since:]).replace("\r", "").split("\n")
        return [line for line in lines if line.strip() and "\x1b" not in line]

    def see(self, *wanted: str, seconds: float = 20) -> str:
        """Wait until all of this is on the screen, line ends counting as blanks; give the screen."""
        end = time.monotonic() + seconds
        while not all(text in " ".join(self.shows().split()) for text in wanted):
            if time.monotonic() > end or not self._pump():
                raise AssertionError(f"not on the screen: {wanted}\n{self.shows()}")
        return self.shows()

    def say(self, line: str, *wanted: str, seconds: float = 20) -> str:
        """Type a line and Enter, wait until the next line is asked for, see what is wanted; give what came of it."""
        end = time.monotonic() + seconds
        # What is typed before the prompt stands would be taken for its answer.
        while not self._asks(begun=True) and time.monotonic() < end and self._pump():
            pass
        before = len(self.output)
        self._child.send(f"{line}\r")
        while len(self.output) == before or not self._asks():
            more = self._pump()
            if not more:
                break
            assert time.monotonic() < end, f"no prompt after {line!r}\n{self.shows()}"
        came = " ".join(plain(self.output[before:]).split())
        assert [text for text in wanted if text not in came] == [], f"after {line!r}:\n{came}"
        return came

    def _asks(self, begun: bool = False) -> bool:
        """Tell whether a prompt is at the cursor, empty or with something typed, and nothing more comes."""
        line = self._screen.display[self._screen.cursor.y].rstrip()
        prompts = (">", "done about it>", "yes or no>")
        return (line.startswith(prompts) if begun else line in prompts[:2]) and self._idle

    def paste(self, text: str) -> None:
        """Paste a text as terminals do, between the marks of a paste."""
        self._child.send(f"\x1b[200~{text}\x1b[201~")

    def key(self, keys: str) -> None:
        """Press keys."""
        self._child.send(keys)

    def resize(self, columns: int, lines: int) -> None:
        """Make the window another size."""
        self._screen.resize(lines, columns)
        self._child.setwinsize(lines, columns)

    def kill(self) -> None:
        """Let the program die without warning."""
        self._child.kill(9)
        self._child.wait()

    def ends(self) -> int:
        """Wait for the end; give the exit code."""
        while self._pump():
            pass
        self._child.close()
        return int(self._child.exitstatus if self._child.exitstatus is not None else -1)

    def _pump(self) -> bool:
        """Take in what the program has written; False at its end."""
        try:
            text = self._child.read_nonblocking(65536, timeout=0.08)
        except pexpect.TIMEOUT:
            self._idle = True
            return True
        except pexpect.EOF:
            return False
        self._idle = False
        self.output += text
        self._stream.feed(text)
        return True
