"""The complaints of a queue answered by a Dask cluster, past one machine, in their order.

The base travels as a plugin of the workers, so that one that is started later, or again, has it too. Everything that is
sent is pickled: use only a scheduler on a network that you trust.
"""

import hashlib
import logging
import pickle
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import CancelledError
from itertools import islice

from distributed import Client, Future, KilledWorker, Worker, WorkerPlugin
from distributed.comm.core import CommClosedError

from expert.queue.complaint import Complaint
from expert.queue.run import AHEAD, Answered, Work, chunks_of
from expert.queue.work import Answer, answer_all, failure
from knowledge.errors import CallError
from knowledge.models import KnowledgeBase

PATIENCE = 10  # seconds, to reach the scheduler and to see a worker
_MOST_BASES = 4

_bases: dict[str, KnowledgeBase] = {}  # in a worker


class _Base(WorkerPlugin):
    """Puts the base into each worker, once."""

    def __init__(self, base: bytes) -> None:
        self.digest = hashlib.sha256(base).hexdigest()
        self.name = f"ohmbudsman-{self.digest[:16]}"
        self._base = base

    def setup(self, worker: Worker) -> None:
        if self.digest not in _bases:
            while len(_bases) >= _MOST_BASES:
                _bases.pop(next(iter(_bases)))
            _bases[self.digest] = pickle.loads(self._base)


def run_cluster(
    complaints: Iterable[Complaint], base: KnowledgeBase, address: str, work: Work = answer_all
) -> Iterator[Answered]:
    """Answer on the cluster behind the scheduler, in the order of the complaints; `work` is what a worker does.

    The scheduler gives the work of a worker that dies to another one. Raises `CallError` if the scheduler cannot be
    reached, has no workers, or goes away.
    """
    with _connected(address) as client:
        under_way: deque[tuple[tuple[Complaint, ...], Future[list[Answer]]]] = deque()
        chunks = chunks_of(complaints)
        try:
            link = _Link(client, base, work)
            while True:
                for chunk in islice(chunks, max(0, link.room() - len(under_way))):
                    under_way.append((chunk, link.submit(chunk)))
                if not under_way:
                    return
                chunk, future = under_way.popleft()
                yield from zip(chunk, link.answers(chunk, future), strict=True)
        except (OSError, TimeoutError, CommClosedError, CancelledError) as error:
            raise CallError(
                f"{address}: no worker, or the scheduler is gone; see to it, and go on with --resume"
            ) from error


def _connected(address: str) -> Client:
    # The library logs whole tracebacks when a scheduler goes; what matters of it is raised, and told in one line.
    for name in [name for name in logging.root.manager.loggerDict if name.split(".")[0] == "distributed"]:
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        return Client(address, timeout=PATIENCE, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as error:
        raise CallError(f"{address}: no scheduler answers there; give its address, such as tcp://host:8786") from error


class _Link:
    """The way to the workers of a cluster, once they have the base."""

    def __init__(self, client: Client, base: KnowledgeBase, work: Work) -> None:
        self._client = client
        self._work = work
        plugin = _Base(pickle.dumps(base))
        self._digest = plugin.digest
        client.wait_for_workers(1, timeout=PATIENCE)
        client.register_plugin(plugin)

    def room(self) -> int:
        """Give how many chunks may be under way; workers may join and leave."""
        return AHEAD * max(1, len(self._client.nthreads()))  # type: ignore[no-untyped-call]

    def submit(self, chunk: Sequence[Complaint]) -> Future[list[Answer]]:
        return self._client.submit(_do, self._digest, self._work, chunk, pure=False)

    def answers(self, chunk: Sequence[Complaint], future: Future[list[Answer]]) -> list[Answer]:
        """Wait for a chunk; one that workers keep dying of is done complaint by complaint."""
        try:
            answers: list[Answer] = future.result()
            return answers
        except KilledWorker:
            if len(chunk) == 1:
                return [failure(chunk[0], "workers died of it again and again; look at it on its own")]
            return [answer for one in chunk for answer in self.answers((one,), self.submit((one,)))]
        except (ImportError, AttributeError, KeyError) as error:
            raise CallError(f"the workers lack this program, or have another version of it ({error})") from error


def _do(digest: str, work: Work, chunk: Sequence[Complaint]) -> list[Answer]:
    return work(chunk, _bases[digest])
