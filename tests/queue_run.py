"""A long queue, for its speed and its memory: `python -m tests.queue_run [--messages N] [--workers N] [--seed S]`.

Samples messages of the development half, changes each a little (a word left out, doubled or put elsewhere, a greeting),
and runs the queue twice: straight through, and killed half-way and resumed. Prints messages a second, the peak of the
resident memory at a quarter of the queue and at its end, for the program and for each worker, and whether both runs
wrote the same bytes. Then a shorter queue by one process and by the workers, one after the other, for the ratio of the
two; where other work is on the machine that says little, so the load of the last minute stands beside it,
and the ratio that the processor seconds of both would allow. Reads /proc, so it needs Linux.
"""

import argparse
import json
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.corpus import letters

RATIO_MESSAGES = 3_000  # long enough that to start the workers is a small part of it
GREETINGS = ("", "Hi,\n", "Hello there,\n", "Good morning.\n")


def write_queue(path: Path, count: int, seed: int) -> None:
    """Write the queue as JSON Lines."""
    chance = random.Random(seed)
    texts = [letter.text for letter in letters("development")]
    with path.open("w", encoding="utf-8") as stream:
        for number in range(count):
            text = chance.choice(GREETINGS) + _changed(chance.choice(texts), chance)
            stream.write(json.dumps({"id": f"m{number:06}", "text": text}) + "\n")


def _changed(text: str, chance: random.Random) -> str:
    words = text.split(" ")
    for _ in range(1 + len(words) // 40):
        at = chance.randrange(len(words))
        word = words[at]
        kind = chance.choice(("out", "twice", "elsewhere"))
        if kind != "twice" and len(words) > 3:
            del words[at]
        if kind != "out":
            words.insert(chance.randrange(len(words) + 1), word)
    return " ".join(words)


class Run:
    """One run of the program, watched from outside."""

    def __init__(self, queue: Path, answers: Path, workers: int, *more: str) -> None:
        command = [sys.executable, "-m", "expert.cli", "queue", str(queue), "--json", "--output", str(answers)]
        self.answers = answers
        self.process = subprocess.Popen([*command, "--workers", str(workers), *more])

    def watch(self, until: int) -> list[int]:
        """Wait for that many answers, or the end; give the peak memory in MB, the program's first."""
        peaks: list[int] = []
        while self.process.poll() is None:
            now = self._peaks()
            peaks = now if len(now) >= len(peaks) else peaks  # at the end the workers go first
            if self.answers.exists() and _lines(self.answers) >= until:
                break
            time.sleep(0.5)
        return peaks

    def _peaks(self) -> list[int]:
        pid = self.process.pid
        children = Path(f"/proc/{pid}/task/{pid}/children")
        try:
            return [_peak(pid), *sorted((_peak(int(child)) for child in children.read_text().split()), reverse=True)]
        except OSError:
            return []


def _peak(pid: int) -> int:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) // 1024
    return 0


def _gain(folder: Path, count: int, workers: int, seed: int) -> str:
    """Give in a row how much sooner the workers are done with a queue than one process alone."""
    queue, seconds, busy = folder / "short.jsonl", {}, {}
    write_queue(queue, count, seed)
    load = os.getloadavg()[0]
    for crew in (1, workers):
        begun, worked = time.monotonic(), _worked()
        Run(queue, folder / f"by-{crew}.jsonl", crew).process.wait()
        seconds[crew], busy[crew] = time.monotonic() - begun, _worked() - worked
    return (
        f"{count} messages: {seconds[1]:.1f} s by one process, {seconds[workers]:.1f} s by {workers} workers,"
        f" ratio {seconds[1] / seconds[workers]:.2f}, starting included; load before {load:.1f}\n"
        f"processor seconds {busy[1]:.1f} and {busy[workers]:.1f}:"
        f" at most {workers * busy[1] / busy[workers]:.2f} with a core for each"
    )


def _worked() -> float:
    """Give the processor seconds of all processes that were started here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


_counted: dict[Path, tuple[int, int]] = {}


def _lines(path: Path) -> int:
    """Count the lines, reading only what came since the last look."""
    at, lines = _counted.get(path, (0, 0))
    with path.open("rb") as stream:
        stream.seek(at)
        while piece := stream.read(1 << 20):
            at, lines = at + len(piece), lines + piece.count(b"\n")
    _counted[path] = at, lines
    return lines


def _same(first: Path, second: Path) -> bool:
    with first.open("rb") as one, second.open("rb") as other:
        while (piece := one.read(1 << 20)) == other.read(1 << 20):
            if not piece:
                return True
    return False


def main() -> int:
    """Run and print; exit 1 if the resumed run differs or memory has grown by a tenth and more than 20 MB."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    count, workers = options.messages, options.workers
    with tempfile.TemporaryDirectory() as folder:
        queue, straight, broken = (Path(folder) / name for name in ("queue.jsonl", "straight.jsonl", "broken.jsonl"))
        write_queue(queue, count, options.seed)
        begun = time.monotonic()
        run = Run(queue, straight, workers)
        early, late = run.watch(count // 4), run.watch(count + 1)
        seconds = time.monotonic() - begun
        print(
            f"{count} messages, {workers} workers: {seconds:.0f} s, {count / seconds:.1f} a second,"
            f" exit {run.process.wait()}"
        )
        print(f"peak memory in MB, the program and the rest: {early} at {count // 4}, {late} at {count}")

        run = Run(queue, broken, workers)
        run.watch(count // 2)
        run.process.send_signal(signal.SIGKILL)
        run.process.wait()
        kept = _lines(broken)
        run = Run(queue, broken, workers, "--resume")
        run.watch(count + 1)
        same = run.process.wait() == 0 and _same(straight, broken)
        print(f"killed after {kept} answers and resumed: {'the same bytes' if same else 'ANOTHER RESULT'}")
        print(_gain(Path(folder), min(count, RATIO_MESSAGES), workers, options.seed))
    grown = [
        after - before for before, after in zip(early, late, strict=False) if after - before > max(20, before // 10)
    ]
    return 0 if same and early and not grown else 1


if __name__ == "__main__":
    sys.exit(main())
