"""The complaints of a queue answered by a Dask cluster, past one machine, in their order.

The base travels as a plugin of the workers, so that one that is started later, or again, has it too. Everything that is
sent is pickled: use only a scheduler on a network that you trust.
"""

import hashlib
import pickle
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from distributed import Client, Future, KilledWorker, Worker, WorkerPlugin
from distributed.comm.core import CommClosedError

from expert.queue.complaint import Complaint
from expert.queue.run import AHEAD, Answered, chunks_of
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


def run_cluster(complaints: Iterable[Complaint], base: KnowledgeBase, address: str) -> Iterator[Answered]:
    """Answer on the cluster behind the scheduler, in the order of the complaints.

    The scheduler gives the work of a worker that dies to another one. Raises `CallError` if the scheduler cannot be
    reached, has no workers, or goes away.
    """
    with _connected(address) as client:
        plugin = _Base(pickle.dumps(base))
        under_way: deque[tuple[tuple[Complaint, ...], Future[list[Answer]]]] = deque()
        chunks = chunks_of(complaints)
        try:
            client.wait_for_workers(1, timeout=PATIENCE)
            client.register_plugin(plugin)
            while True:
                room = AHEAD * max(1, len(client.nthreads()))  # workers may join and leave
                for chunk in islice(chunks, max(0, room - len(under_way))):
                    under_way.append((chunk, _submit(client, plugin, chunk)))
                if not under_way:
                    return
                chunk, future = under_way.popleft()
                yield from zip(chunk, _answers(client, plugin, chunk, future), strict=True)
        except (OSError, TimeoutError, CommClosedError) as error:
            raise CallError(
                f"{address}: no worker, or the scheduler is gone; see to it, and go on with --resume"
            ) from error


def _connected(address: str) -> Client:
    try:
        return Client(address, timeout=PATIENCE, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as error:
        raise CallError(f"{address}: no scheduler answers there; give its address, such as tcp://host:8786") from error


def _submit(client: Client, plugin: _Base, chunk: Sequence[Complaint]) -> Future[list[Answer]]:
    return client.submit(_work, plugin.digest, chunk, pure=False)


def _answers(client: Client, plugin: _Base, chunk: Sequence[Complaint], future: Future[list[Answer]]) -> list[Answer]:
    """Wait for a chunk; one that workers keep dying of is done complaint by complaint."""
    try:
        answers: list[Answer] = future.result()
        return answers
    except KilledWorker:
        if len(chunk) == 1:
            return [failure(chunk[0], "workers died of it again and again; look at it on its own")]
        singles = [((complaint,), _submit(client, plugin, (complaint,))) for complaint in chunk]
        return [answer for single, again in singles for answer in _answers(client, plugin, single, again)]
    except (ImportError, AttributeError, KeyError) as error:
        raise CallError(f"the workers lack this program, or have another version of it ({error})") from error


def _work(digest: str, chunk: Sequence[Complaint]) -> list[Answer]:
    return answer_all(chunk, _bases[digest])
