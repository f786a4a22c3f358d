"""A real scheduler and two worker processes on this machine, one of them killed half-way."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from expert.cli import main
from tests.expert.queue.voices import write_queue

pytest.importorskip("distributed")
QUIET = {**os.environ, "DASK_DISTRIBUTED__LOGGING__DISTRIBUTED": "error"}


class Cluster:
    """The processes of a scheduler and its workers."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._contact = folder / "scheduler.json"
        self.scheduler = self._start("scheduler", "--port", "0", "--no-dashboard")
        for _ in range(300):
            if self._contact.exists() and self._contact.read_text():
                break
            time.sleep(0.1)
        self.address: str = json.loads(self._contact.read_text())["address"]
        self.workers: list[subprocess.Popen[bytes]] = []

    def work(self) -> None:
        """Start one more worker, which is not started again when it dies."""
        self.workers.append(self._start("worker", "--nthreads", "1", "--no-nanny", "--no-dashboard"))

    def _start(self, role: str, *options: str) -> "subprocess.Popen[bytes]":
        command = [sys.executable, "-m", "dask", role, "--scheduler-file", str(self._contact), *options]
        with (self._folder / "log").open("ab") as log:
            return subprocess.Popen(command, stdout=log, stderr=log, env=QUIET)

    def stop(self) -> None:
        """End what this test has started."""
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path) -> Iterator[Cluster]:
    """A cluster with two workers."""
    started = Cluster(tmp_path)
    started.work()
    started.work()
    yield started
    started.stop()


def test_a_worker_killed_half_way_loses_nothing(cluster, tmp_path):
    """Every complaint is answered once, in order, with the bytes of a run in one process."""
    count = 80
    queue = write_queue(tmp_path / "queue.jsonl", count)
    call = [sys.executable, "-m", "expert.cli", "queue", str(tmp_path / "queue.jsonl"), "--json", "--output"]
    far, near = tmp_path / "far.jsonl", tmp_path / "near.jsonl"
    process = subprocess.Popen([*call, str(far), "--scheduler", cluster.address], stderr=subprocess.PIPE, env=QUIET)
    while not (far.exists() and far.read_bytes().count(b"\n") >= count // 4):
        assert process.poll() is None
        time.sleep(0.05)
    os.kill(cluster.workers[0].pid, signal.SIGKILL)
    assert far.read_bytes().count(b"\n") < count
    assert process.communicate(timeout=120)[1] == b""
    assert process.returncode == 0
    subprocess.run([*call, str(near), "--workers", "1"], check=True)
    assert far.read_bytes() == near.read_bytes()
    assert [json.loads(line)["id"] for line in far.read_text().splitlines()] == [number for number, _ in queue]


def test_no_scheduler_is_one_line(tmp_path, capfd):
    """An address at which nothing listens, and one that is none."""
    write_queue(tmp_path / "queue.jsonl", 2)
    for address in ("tcp://127.0.0.1:9", "nonsense"):
        assert main(["queue", str(tmp_path / "queue.jsonl"), "--json", "--scheduler", address]) == 2
        out, err = capfd.readouterr()
        assert out == ""
        assert err.startswith(f"ohmbudsman: {address}: no scheduler answers there")
