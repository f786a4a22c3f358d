"""Queues for the tests, made of the development messages."""

import json
from pathlib import Path

from tests.corpus import letters


def write_queue(path: Path, count: int) -> list[tuple[str, str]]:
    """Write a queue of the first messages, over and over, as JSON Lines; give (id, text) of each."""
    texts = [letter.text for letter in letters("development")]
    queue = [(f"m{number}", texts[number % len(texts)]) for number in range(count)]
    path.write_text("".join(json.dumps({"id": i, "text": text}) + "\n" for i, text in queue))
    return queue
