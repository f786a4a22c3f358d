"""The complaints of a queue answered in their order: in this process, or by worker processes of this machine.

Only a few chunks are under way at a time, so the memory does not grow with the queue. A worker that dies takes nothing
with it: what it held is done again, each chunk alone, and only the complaint that kills a worker twice is given up.
"""

import gc
import os
import pickle
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing import get_context, parent_process
from types import TracebackType

from expert.queue.complaint import Complaint
from expert.queue.work import Answer, answer, answer_all, failure
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase

CHUNK = 8  # about half a second of work: next to it, the way to the worker and back is nothing
AHEAD = 3  # chunks under way for each worker: one in its hands, the others so that it need not wait
TRIES = 2
# Without one answer between: three neighbours in a chunk that kill their workers come to nine.
MOST_DEATHS = 12
# A base stays for good: a worker that looks through it for garbage, again and again, works a tenth longer.
OBJECTS = 500_000

Answered = tuple[Complaint, Answer]
Work = Callable[[Sequence[Complaint], KnowledgeBase], list[Answer]]


def run_here(complaints: Iterable[Complaint], base: KnowledgeBase) -> Iterator[Answered]:
    """Answer one complaint after another in this process."""
    for complaint in complaints:
        yield complaint, answer(complaint, base)


def run_workers(
    complaints: Iterable[Complaint], base: KnowledgeBase, workers: int, work: Work = answer_all
) -> Iterator[Answered]:
    """Answer with worker processes, in the order of the complaints; `work` is what a worker does.

    Raises `CallError` if workers keep dying.
    """
    chunks = chunks_of(complaints)
    under_way: deque[tuple[tuple[Complaint, ...], Future[list[Answer]]]] = deque()
    with _Crew(base, workers, work) as crew:
        while True:
            for chunk in islice(chunks, AHEAD * workers - len(under_way)):
                under_way.append((chunk, crew.submit(chunk)))
            if not under_way:
                return
            chunk, future = under_way.popleft()
            if not isinstance(future.exception(), BrokenProcessPool):
                yield from zip(chunk, future.result(), strict=True)
                continue
            # With one worker the whole pool is gone. Nothing new is begun until what it held is done.
            crew.renew()
            for held, lost in [(chunk, future), *under_way]:
                broken = isinstance(lost.exception(), BrokenProcessPool)
                yield from zip(held, crew.alone(held) if broken else lost.result(), strict=True)
            under_way.clear()


def chunks_of(complaints: Iterable[Complaint]) -> Iterator[tuple[Complaint, ...]]:
    """Cut the stream into the pieces that go to a worker."""
    stream = iter(complaints)
    while chunk := tuple(islice(stream, CHUNK)):
        yield chunk


class _Crew:
    """The workers of one run, replaced when one of them dies."""

    def __init__(self, base: KnowledgeBase, workers: int, work: Work) -> None:
        self._work = work
        self._base = pickle.dumps(base)
        self._workers = workers
        self._deaths = 0  # in a row
        self._pool = self._hired()

    def _hired(self) -> ProcessPoolExecutor:
        # Forking a process that has threads is not safe, so workers start afresh, here as on every other system.
        pool = ProcessPoolExecutor(self._workers, get_context("spawn"), initializer=_begin, initargs=(self._base,))
        main = threading.current_thread() is threading.main_thread()
        # Ctrl-C reaches all processes of a terminal: the workers leave it to this one, from their first moment.
        before = signal.signal(signal.SIGINT, signal.SIG_IGN) if main else None
        try:
            for _ in range(self._workers):
                pool.submit(os.getpid)
        finally:
            if main:
                signal.signal(signal.SIGINT, before)
        return pool

    def submit(self, chunk: Sequence[Complaint]) -> Future[list[Answer]]:
        try:
            return self._pool.submit(_do, self._work, chunk)
        except BrokenProcessPool as error:
            lost: Future[list[Answer]] = Future()
            lost.set_exception(error)
            return lost

    def renew(self) -> None:
        self._pool.shutdown()
        self._deaths += 1
        if self._deaths > MOST_DEATHS:
            raise CallError("the workers keep dying; see whether memory runs out, and try with --workers 1")
        self._pool = self._hired()

    def alone(self, chunk: Sequence[Complaint]) -> list[Answer]:
        """Answer a chunk with nothing else under way, so that what kills a worker is known."""
        for _ in range(TRIES):
            future = self.submit(chunk)
            if not isinstance(future.exception(), BrokenProcessPool):
                self._deaths = 0
                return future.result()
            self.renew()
        if len(chunk) == 1:
            return [failure(chunk[0], "a worker died of it, and died again; look at it on its own")]
        return [answer for complaint in chunk for answer in self.alone((complaint,))]

    def __enter__(self) -> "_Crew":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._pool.shutdown(cancel_futures=True)


_held: list[KnowledgeBase] = []  # in a worker: its base


def _begin(base: bytes) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    _held[:] = [pickle.loads(base)]
    gc.freeze()
    gc.set_threshold(OBJECTS)


def _leave_with_parent() -> None:
    """End this worker when the process that started it is gone, however it went: nobody else would."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _do(work: Work, chunk: Sequence[Complaint]) -> list[Answer]:
    return work(chunk, _held[0])
