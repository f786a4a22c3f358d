"""The file of answers: what is there is kept, what is half-written is cut, what is something else is left alone."""

import json
import os
import stat
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest

from expert.queue.complaint import Complaint
from expert.queue.output import Output
from expert.queue.run import run_here
from knowledge import shipped_base
from knowledge.errors import CallError

BASE = shipped_base()
QUEUE = [
    Complaint("a", "My machine is completely dead, no fans, no lights."),
    Complaint("b", "", fault="not text"),
    Complaint("a", "The screen stays black but the fans spin."),
]


@pytest.fixture(scope="module")
def whole() -> bytes:
    """The lines of a run without interruption."""
    return "".join(f"{answer.line}\n" for _, answer in run_here(QUEUE, BASE)).encode()


def _resumed(path: Path) -> tuple[int, bytes]:
    """Go on with the file; give how many answers were kept, and the bytes at the end."""
    complaints = iter(QUEUE)
    with closing(Output(path, True, True)) as output:
        kept = list(output.kept(complaints, BASE))
        for _, answer in run_here(complaints, BASE):
            output.write(answer)
    return len(kept), path.read_bytes()


def test_wherever_it_was_cut_the_result_is_the_same(whole, tmp_path):
    """Cut at the ends of lines and next to them, in the middle of each, and in the first bytes."""
    ends = [0, *(at + 1 for at, byte in enumerate(whole) if byte == 10)]
    middles = [(a + b) // 2 for a, b in pairwise(ends)]
    cuts = sorted({at for end in ends for at in (end - 1, end, end + 1, end + 7) if 0 <= at <= len(whole)} | {*middles})
    path = tmp_path / "answers.jsonl"
    for cut in cuts:
        path.write_bytes(whole[:cut])
        assert _resumed(path) == (sum(end <= cut for end in ends[1:]), whole)
    assert len(cuts) > 12


def test_kept_answers_are_as_urgent_as_new_ones(whole, tmp_path):
    """The table after a resumed run is that of a run without interruption."""
    path = tmp_path / "answers.jsonl"
    path.write_bytes(whole)
    with closing(Output(path, True, True)) as output:
        assert list(output.kept(iter(QUEUE), BASE)) == list(run_here(QUEUE, BASE))


@pytest.mark.parametrize(
    "content",
    [
        b"Dear all,\n",
        b"Dear all",
        b'{"id":"b","error":"x"}\n',
        b'{"id":"a"}\n',
        b'{"id":"a","triage":{"schema":"x"}}\n',
        b'{"id":"a","error":"x"}\n\xff\xfe\n',
        b'{"id":"a","error":"x"}\n{"id":"b","error":"x"}\n{"id":"a","error":"x"}\n{"id":"d","error":"x"}\n',
    ],
)
def test_a_file_of_something_else_is_refused_and_left_as_it_is(content, tmp_path):
    """Another text, answers to another queue, more answers than complaints."""
    path = tmp_path / "answers.jsonl"
    path.write_bytes(content)
    with pytest.raises(CallError, match="give another file"):
        _resumed(path)
    assert path.read_bytes() == content


def test_a_file_that_exists_is_not_overwritten(tmp_path):
    """Without --resume it must be a new one."""
    path = tmp_path / "answers.jsonl"
    path.write_text("precious")
    with pytest.raises(CallError, match="exists already"):
        Output(path, False, True)
    assert path.read_text() == "precious"


def test_lines_are_ascii_around_the_document_and_read_back(whole):
    """Each line is one JSON object with two keys."""
    assert [list(json.loads(line)) for line in whole.splitlines()] == [
        ["id", "triage"],
        ["id", "error"],
        ["id", "triage"],
    ]


def test_the_answers_are_for_the_eyes_of_their_owner(tmp_path):
    """They quote messages: mode 0600, whatever the mask of the shell."""
    path = tmp_path / "answers.jsonl"
    before = os.umask(0)
    try:
        Output(path, False, True).close()
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
