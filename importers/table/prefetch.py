"""Work ahead in other threads: a generator in one of its own, or the same work on many items side by side."""

from __future__ import annotations

import itertools
import os
import queue
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Generic, TypeVar

from msgspec import Struct

T = TypeVar("T")
U = TypeVar("U")
PROCESSORS = os.cpu_count() or 1
MOST_PIECES = 4
"""Pieces of a file worked on at once; each takes memory."""


class _End(Struct):
    """Nothing more; or an error to raise where the items are awaited."""

    error: BaseException | None = None


def prefetched(items: Iterator[T], depth: int = 2) -> Generator[T]:
    """Yield the same items, made up to ``depth`` ahead; the thread ends with its consumer."""
    ready: queue.Queue[T | _End] = queue.Queue(depth)
    stop = threading.Event()

    def put(item: T | _End) -> bool:
        while not stop.is_set():
            try:
                ready.put(item, timeout=0.1)
                return True
            except queue.Full:
                continue
        return False

    def run() -> None:
        error: BaseException | None = None
        try:
            for item in items:
                if not put(item):
                    return
        except BaseException as caught:  # handed to whoever waits
            error = caught
        put(_End(error))

    thread = threading.Thread(target=run, name="reading", daemon=True)
    thread.start()
    try:
        while True:
            item = ready.get()
            if isinstance(item, _End):
                if item.error is not None:
                    raise item.error
                return
            yield item
    finally:
        stop.set()
        thread.join()


def side_by_side(work: Callable[[T], U], items: Iterable[T], *, beside: int = 0) -> Generator[U]:
    """Yield what the work makes of each item, in order; as many items are worked on at once as there are processors.

    Parameters
    ----------
    work : callable
        Lets other threads run, as reading in numpy and pyarrow does.
    items : iterable
        Taken in the caller's thread.
    beside : int
        Processors that other threads are busy on.
    """
    workers = max(1, min(PROCESSORS - beside, MOST_PIECES))
    each = iter(items)
    first = list(itertools.islice(each, 2))
    if len(first) < 2:  # no thread is worth its while
        yield from map(work, first)
        return
    pending: deque[Future[U]] = deque()
    pool = ThreadPoolExecutor(workers, "piece")  # starts no thread before it is given work
    try:
        for item in itertools.chain(first, each):
            pending.append(pool.submit(work, item))
            if len(pending) > workers:
                yield pending.popleft().result()
        while pending:
            yield pending.popleft().result()
    finally:
        pool.shutdown(cancel_futures=True)


class Started(Generic[T]):
    """Work begun in a thread of its own, which ends with the process at the latest."""

    def __init__(self, work: Callable[[], T]) -> None:
        self._work, self._done = work, Future[T]()
        threading.Thread(target=self._run, name="ahead", daemon=True).start()

    def _run(self) -> None:
        try:
            self._done.set_result(self._work())
        except BaseException as error:  # handed to whoever waits
            self._done.set_exception(error)

    def result(self) -> T:
        """What came of it, once it is there; its error is raised here."""
        return self._done.result()
