"""Same facts, same bytes: in fresh processes, under several hash seeds and under one seed repeated.

A fixed seed alone proves nothing: order can also hang on the addresses of objects, which change with the process.
"""

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

SEEDS = ("0", "0", "0", "0", "1", "2", "3", "42", "random", "random")


def _trace(run: tuple[int, str]) -> str:
    shuffle, seed = run
    command = [sys.executable, "-W", "error", "-m", "tests.expert.same_bytes", str(shuffle)]
    environment = {**os.environ, "PYTHONHASHSEED": seed}
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout


def test_ten_fresh_processes_print_the_same_trace_byte_for_byte():
    """Each with the facts in another order."""
    with ThreadPoolExecutor(max_workers=2) as pool:
        traces = list(pool.map(_trace, enumerate(SEEDS)))
    assert len(set(traces)) == 1
    document = json.loads(traces[0])
    assert len(document["ties"]) == 24
    assert document["shipped"]
