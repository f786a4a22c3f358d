"""The block of the README that shows what `triage` prints, cut from the real output.

`python -m tests.story` writes it anew; `tests/test_documents.py` holds it to the program.
"""

import re
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from expert.cli import main

ROOT = Path(__file__).parent.parent
MESSAGE = ROOT / "corpus" / "demo" / "dusted-out.txt"
_ANSWER = re.compile(r"(<!-- the answer -->\n```text\n)(.*?)(?=```)", re.DOTALL)
_LATER_CHECKS = re.compile(r"(?<=\n)  2 .*?(?=\n\nWhat to ask)", re.DOTALL)


def answer() -> str:
    """Give what `triage` prints of the demo message; of the checks only the first, "..." for the others."""
    printed = StringIO()
    with redirect_stdout(printed):
        code = main(["triage", str(MESSAGE)])
    assert code == 0
    text, cut = _LATER_CHECKS.subn("  ...", printed.getvalue())
    assert cut == 1
    return text


def shown(readme: str) -> str:
    """Give the answer as the README shows it."""
    found = _ANSWER.search(readme)
    assert found
    return found[2]


def with_answer(readme: str, text: str) -> str:
    """Give the README with this answer in it."""
    return _ANSWER.sub(lambda found: found[1] + text, readme)
