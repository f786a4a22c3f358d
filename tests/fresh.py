"""A command in a process of its own: what it loads shows there, whatever the other tests have loaded here."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent


def check_spared(arguments: list[str], modules: set[str], more: str = "") -> None:
    """Check that a command loads none of these modules; `more` is code with further assertions."""
    code = (
        "import sys; from expert.cli import main\n"
        f"try: main({arguments!r})\nexcept SystemExit: pass\n"
        f"loaded = {modules!r} & set(sys.modules)\nassert not loaded, loaded\n"
    )
    command = [sys.executable, "-c", code + more]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
