"""A headless Chromium for the tests of the pages; where there is none, they are skipped and say so."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
AXE = "OHMBUDSMAN_AXE"  # the path of axe.min.js of the package axe-core


@contextmanager
def chromium() -> Iterator:
    """Give a browser; its contexts are the caller's to open and close."""
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    path = next(filter(None, map(shutil.which, NAMES)), None)
    if path is None:
        pytest.skip(f"no Chromium on this machine ({', '.join(NAMES)})")
    with api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@contextmanager
def opened(browser, path: Path, **options) -> Iterator:
    """Open a file; nothing on it may complain, and nothing may be asked of the network."""
    context = browser.new_context(offline=True, **options)
    page = context.new_page()
    complaints: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    yield page
    assert complaints == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    context.close()


def axe_script() -> str:
    """Give the checker of accessibility; skip where it is not at hand."""
    path = os.environ.get(AXE)
    if not path:
        pytest.skip(f"{AXE} does not name axe.min.js; 'npm pack axe-core' fetches it")
    return Path(path).read_text(encoding="utf-8")
