"""Write the story of the README anew: `python -m tests.story [FOLDER]`; the folder is corpus/demo if none is given.

Consults on the demo message in a pseudo-terminal, answers as a technician would, closes the case, and exports it.
Writes consultation.txt (all that a plain terminal showed), consultation.svg (one screen of the full terminal) and
report.png (the top of the report, by a headless Chromium). The times in the report are fixed, so that a second run on
the same base gives the same. Without FOLDER the answer that the README shows is written into it as well.
"""

import argparse
import shutil
import tempfile
from collections.abc import Callable
from html import escape
from pathlib import Path

from playwright.sync_api import sync_playwright

from expert.case import CloseEntry, Entry
from expert.first_pass import expert_of
from expert.report.gather import report_of
from expert.report.page import write_page
from expert.store import Store
from knowledge import shipped_base
from tests.expert.terminal.pseudo import Terminal
from tests.readme import MESSAGE, ROOT, answer, with_answer

DEMO = ROOT / "corpus" / "demo"
MOST_QUESTIONS = 15
MISSED = "I reseated the graphics card"  # "put it all back" does not name it
AT_THE_BENCH = ("check press-power-leads-home", "why", "a", "plan", "leave")
FOUND = CloseEntry(cause="psu-lead-loose", words="the board's main lead pressed home; it starts, three times of three")


def tell(terminal: Terminal, screen: Callable[[], None] = lambda: None) -> None:
    """Hold the consultation: what was missed is said, no to every danger, the main lead pressed home on the bench.

    `screen` is called where the terminal stands at the check.
    """
    terminal.see("Right?")
    terminal.say(MISSED, "What was understood")
    terminal.say("")
    came = terminal.say("bench")
    for _ in range(MOST_QUESTIONS):
        if "Do this:" in came:
            break
        came = terminal.say("no")
    for line in AT_THE_BENCH:
        if line == "why":
            screen()
        if line == "leave":
            terminal.say(line, "is kept")
        else:
            terminal.say(line)
    assert terminal.ends() == 0


def captured(folder: Path) -> str:
    """Give all that a plain terminal showed, what was typed included."""
    terminal = Terminal(folder, "--plain", str(MESSAGE), NO_COLOR="1")
    tell(terminal)
    lines = terminal.output.replace("\r", "").splitlines()
    return "\n".join(
        ["$ ohmbudsman consult --plain corpus/demo/dusted-out.txt", *(line.rstrip() for line in lines), ""]
    )


def drawn(folder: Path) -> str:
    """Give the screen of the full terminal at the check as a drawing; its last line is the bar."""
    terminal = Terminal(folder, str(MESSAGE), NO_COLOR="1", lines=30)
    shown: list[str] = []
    dark = ' fill="#17202a"'
    tell(terminal, lambda: shown.extend(terminal.shows().splitlines()))
    high = 18 * len(shown) + 16
    last = len(shown) - 1
    lines = [
        f'<text x="10" y="{22 + 18 * row}"{dark if row == last else ""}>{escape(line)}</text>'
        for row, line in enumerate(shown)
        if line
    ]
    bar = f'<rect x="4" y="{18 * len(shown) - 10}" width="692" height="18" fill="#d5dbdf"/>'
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="700" height="{high}" role="img">',
            "<title>A consultation at the check that is proposed</title>",
            f'<rect width="700" height="{high}" rx="6" fill="#17202a"/>',
            bar,
            '<g font-family="monospace" font-size="14" fill="#e8ecef" xml:space="preserve">',
            *lines,
            "</g>",
            "</svg>",
            "",
        ]
    )


def photograph(page: str, path: Path) -> None:
    """Write the top of a page as a picture."""
    browser_path = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path, args=["--no-sandbox", "--disable-gpu"])
        tab = browser.new_page(viewport={"width": 900, "height": 1100}, color_scheme="light")
        tab.set_content(page)
        tab.screenshot(path=path)
        browser.close()


def reported(log: tuple[Entry, ...]) -> str:
    """Give the report of the closed case as a page, with fixed times a minute apart."""
    base = shipped_base()
    stamped = [(f"2026-03-14T10:{minute:02d}:00Z", entry) for minute, entry in enumerate((*log, FOUND))]
    return write_page(report_of(base, stamped, expert_of(base), 1))


def main() -> None:
    """Write the three files, and the answer in the README."""
    parser = argparse.ArgumentParser(description="Write the story of the README anew.")
    parser.add_argument("folder", nargs="?", type=Path, default=DEMO)
    folder: Path = parser.parse_args().folder
    with tempfile.TemporaryDirectory() as work:
        text = captured(Path(work) / "plain")
        picture = drawn(Path(work) / "full")
        with Store.open(Path(work) / "plain" / "data") as store:
            page = reported(store.log(1))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "consultation.txt").write_text(text, "utf-8")
    (folder / "consultation.svg").write_text(picture, "utf-8")
    photograph(page, folder / "report.png")
    if folder == DEMO:
        readme = ROOT / "README.md"
        readme.write_text(with_answer(readme.read_text("utf-8"), answer()), "utf-8")


if __name__ == "__main__":
    main()
