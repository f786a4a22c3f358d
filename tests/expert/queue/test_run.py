"""Worker processes: the order, and workers that die. What a worker does is replaced by something quick."""

import multiprocessing
import os
import signal
from collections.abc import Sequence
from itertools import islice

import pytest

from expert.queue.complaint import Complaint
from expert.queue.run import CHUNK, run_here, run_workers
from expert.queue.work import Answer, failure
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase

BASE = KnowledgeBase()


def echo(chunk: Sequence[Complaint], base: KnowledgeBase) -> list[Answer]:
    """Answer with the text itself; die of "poison"."""
    if any(complaint.text == "poison" for complaint in chunk):
        os._exit(1)
    return [Answer(complaint.text, None) for complaint in chunk]


def die(chunk: Sequence[Complaint], base: KnowledgeBase) -> list[Answer]:
    """Die of anything."""
    os._exit(1)


def _queue(count: int, *poisoned: int) -> list[Complaint]:
    return [Complaint(str(n), "poison" if n in poisoned else f"text {n}") for n in range(count)]


@pytest.mark.parametrize("count", [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 200])
def test_every_complaint_is_answered_once_and_in_order(count):
    """Also where the last chunk is short, or there is none."""
    queue = _queue(count)
    assert list(run_workers(queue, BASE, 2, echo)) == [(c, Answer(c.text, None)) for c in queue]


def test_the_queue_is_not_read_far_ahead():
    """However long it is, only a few chunks are under way."""
    read = 0

    def endless():
        nonlocal read
        while True:
            read += 1
            yield Complaint(str(read), "x")

    answers = run_workers(endless(), BASE, 2, echo)
    assert len(list(islice(answers, 1000))) == 1000
    answers.close()
    assert read <= 1000 + 8 * CHUNK


def test_a_killed_worker_loses_nothing():
    """Killed from outside, again and again, as when memory runs out."""
    queue, answered, killed = _queue(400), [], 0
    for complaint, answer in run_workers(queue, BASE, 2, echo):
        answered.append((complaint, answer))
        if len(answered) in (30, 180):
            for worker in multiprocessing.active_children()[:1]:
                os.kill(worker.pid, signal.SIGKILL)
                worker.join()
                killed += 1
    assert killed == 2
    assert answered == [(c, Answer(c.text, None)) for c in queue]


def test_only_the_complaint_that_kills_its_worker_is_given_up():
    """Its neighbours in the chunk, and all others under way, are answered."""
    queue = _queue(60, 11)
    answers = [answer for _, answer in run_workers(queue, BASE, 2, echo)]
    assert [n for n, answer in enumerate(answers) if answer.error] == [11]
    assert "died" in answers[11].line
    assert [a.line for n, a in enumerate(answers) if n != 11] == [f"text {n}" for n in range(60) if n != 11]


def test_workers_that_die_of_everything_end_the_run():
    """Instead of marking thousands of sound complaints as bad."""
    with pytest.raises(CallError, match="keep dying"):
        list(run_workers(_queue(40), BASE, 1, die))


def test_a_complaint_at_fault_is_answered_with_its_fault():
    """In one line, whatever its id holds."""
    bad = Complaint('a"\n\x1b', "", fault="not\na letter")
    assert list(run_here([bad], BASE)) == [(bad, failure(bad, "not a letter"))]
    assert failure(bad, bad.fault).line == '{"id":"a\\"\\n\\u001b","error":"not a letter"}'
