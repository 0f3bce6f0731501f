"""Work spread over processes that end together: an item that fails, or takes its process down, stops no other."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from contextvars import ContextVar
from importlib import import_module
from itertools import chain, islice
from multiprocessing import connection, get_context, parent_process, util
from typing import Generic, TypeVar, cast

from spooldown.processes.cores import COLD_FROM, POOL_FROM, available, collect_seldom, one_thread_each
from spooldown.processes.lightly import load_lightly

Item = TypeVar("Item")
Out = TypeVar("Out")

AHEAD = 4
"""Items that each process has before it or in hand, so that results don't pile up."""


class WorkerEnded(RuntimeError):
    """The process that worked on an item was ended by the system, most often for want of memory."""


READING = ("importers.plan", "importers.read", "spooldown.intake.batch")
ANALYSING = (
    "analyser.flight",
    "reports.flights",
    "reports.site",
    "scipy.optimize",
    "spooldown.site",
    "spooldown.work.elsewhere",
)
"""What the workers of an import, and those of a build, load; the process that starts them needs most of it, too."""


class _Held:
    """Processes that stay until what holds them ends: each takes a second to begin."""

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None

    def fork(self, modules: Sequence[str]) -> None:
        """Load what the processes will need, and let them begin as forks of this one where that is safe.

        It is as long as this process has one thread. Each then begins in some milliseconds, not in a second, and
        shares with the others what is loaded.
        """
        if available() < 2 or not _alone():
            return
        for name in modules:
            import_module(name)
        if _alone():
            with _ignoring_interrupts():
                self._pool = ProcessPoolExecutor(available(), get_context("fork"), _begin)
                self._pool.submit(int)  # all of them begin with the first task

    def pool(self) -> ProcessPoolExecutor:
        """These processes, or new ones where one of them died or they were stopped."""
        try:
            if self._pool is not None:
                self._pool.submit(int).result()
        except RuntimeError:
            self.end()
        if self._pool is None:
            self._pool = _new_pool(available())
        return self._pool

    @property
    def begun(self) -> bool:
        """Whether there are any."""
        return self._pool is not None

    def end(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
            self._pool = None


_HELD: ContextVar[_Held | None] = ContextVar("held", default=None)


@contextmanager
def together(modules: Sequence[str] = ()) -> Iterator[None]:
    """Let the same processes do everything that is spread inside the block, or inside one around it.

    Parameters
    ----------
    modules : sequence of str
        By name, what they will call, where it is known that they will be needed: they then begin at once. Without it
        they begin when there is something to do.
    """
    if _HELD.get() is not None:
        yield
        return
    held = _Held()
    if modules:
        held.fork(modules)
    before = _HELD.set(held)
    try:
        yield
    finally:
        _HELD.reset(before)
        held.end()


class Done(Generic[Item, Out]):
    """One item with what came of it: ``value``, or ``error``."""

    __slots__ = ("error", "item", "value")

    def __init__(self, item: Item, value: Out | None, error: Exception | None) -> None:
        self.item, self.value, self.error = item, value, error


def spread(function: Callable[[Item], Out], items: Sequence[Item], *, workers: int = 0) -> Iterator[Done[Item, Out]]:
    """Call a function for every item, in as many processes as pay; results come as they are ready.

    The processes begin at once, whenever the first result is taken.

    Parameters
    ----------
    function : callable
        Importable by its name; what it takes and gives can be pickled.
    workers : int
        How many processes at most, 0 for one a core.

    Examples
    --------
    >>> [done.value for done in spread(abs, [-1, -2])]
    [1, 2]
    """
    workers = min(workers or available(), len(items))
    if len(items) < POOL_FROM or workers < 2:
        return (_here(function, item) for item in items)
    done = _spread(function, items, workers)
    next(done)
    return cast(Iterator[Done[Item, Out]], done)


def spread_pages(function: Callable[[Item], Out], items: Sequence[Item]) -> Iterator[Done[Item, Out]]:
    """The same for pages: a few of them are made here, unless processes have begun."""
    held = _HELD.get()
    at_hand = held is not None and held.begun
    return spread(function, items, workers=0 if at_hand or len(items) >= COLD_FROM else 1)


def _spread(function: Callable[[Item], Out], items: Sequence[Item], workers: int) -> Iterator[Done[Item, Out] | None]:
    suspects: list[Item] = []
    with _pool(workers) as pool:
        with _ignoring_interrupts():
            futures = {pool.submit(function, item): item for item in items}
        yield None
        for future in as_completed(futures):
            done = _of(future, futures.pop(future))
            if isinstance(done.error, BrokenProcessPool):
                suspects.append(done.item)  # one of them brought the pool down; which one shows when each is alone
            else:
                yield done
    for item in suspects:
        with _pool(1) as pool, _ignoring_interrupts():
            future = pool.submit(function, item)
            done = _of(future, item)
        yield Done(item, None, WorkerEnded()) if isinstance(done.error, BrokenProcessPool) else done


def in_order(function: Callable[[Item], Out], items: Iterable[Item], *, workers: int = 0) -> Iterator[Done[Item, Out]]:
    """The same for items that are made as they are needed; results come in their order, a few ahead of the last taken.

    Examples
    --------
    >>> [done.value for done in in_order(abs, iter([-1, -2]), workers=1)]
    [1, 2]
    """
    workers = workers or available()
    if workers < 2:
        yield from (_here(function, item) for item in items)
        return
    rest = iter(items)
    again: deque[Item] = deque()
    while True:
        first = next(iter([again.popleft()]) if again else rest, None)
        if first is None:
            return
        with _pool(workers) as pool:
            futures: deque[tuple[Future[Out], Item]] = deque()
            upcoming = chain([first], _drained(again), rest)
            broken = False
            while not broken:
                with _ignoring_interrupts():
                    for item in islice(upcoming, max(AHEAD * workers - len(futures), 0)):
                        futures.append((pool.submit(function, item), item))
                if not futures:
                    return
                future, item = futures.popleft()
                done = _of(future, item)
                broken = isinstance(done.error, BrokenProcessPool)
                if not broken:
                    yield done
        again.extendleft(i for _, i in reversed(futures))
        with _pool(1) as pool:  # which one brought the pool down shows when each is alone
            with _ignoring_interrupts():
                future = pool.submit(function, item)
            done = _of(future, item)
        yield Done(item, None, WorkerEnded()) if isinstance(done.error, BrokenProcessPool) else done


def _drained(items: deque[Item]) -> Iterator[Item]:
    while items:
        yield items.popleft()


def _here(function: Callable[[Item], Out], item: Item) -> Done[Item, Out]:
    try:
        return Done(item, function(item), None)
    except Exception as error:
        return Done(item, None, error)


def _of(future: Future[Out], item: Item) -> Done[Item, Out]:
    try:
        return Done(item, future.result(), None)
    except Exception as error:
        return Done(item, None, error)


@contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Processes to work with: those that are held, else some of their own, gone at the end of the block."""
    held = _HELD.get() if workers > 1 else None
    with _quiet_main():
        pool = held.pool() if held else _new_pool(workers)
        try:
            yield pool
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
        if held is None:
            pool.shutdown()


def _new_pool(workers: int) -> ProcessPoolExecutor:
    # Never forks of this process: those of a process with running Arrow threads are not safe.
    return ProcessPoolExecutor(workers, get_context("spawn"), _begin)


def _begin() -> None:
    """Let the parent alone answer to Ctrl-C, which reaches every process of a terminal, and end with it."""
    one_thread_each()
    collect_seldom()
    load_lightly()
    _HELD.set(None)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    util.Finalize(None, _save_compiled, exitpriority=1)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _alone() -> bool:
    """Whether this process has one thread, its libraries' included; False where the system does not tell."""
    try:
        return len(os.listdir("/proc/self/task")) == 1
    except OSError:
        return False


def _save_compiled() -> None:
    """Keep what this process compiled of templates and texts for the next run."""
    if "reports.words.compiled" in sys.modules:
        from reports.words.compiled import compiled  # slow to load, and not every worker needs it

        compiled().save()


def _end_with_parent() -> None:
    # A killed parent tells nobody, and the queue a worker waits on never ends: the worker holds its other end itself.
    if (parent := parent_process()) is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


@contextmanager
def _quiet_main() -> Iterator[None]:
    """Keep the workers from importing the calling script again: they need nothing from it."""
    main = sys.modules["__main__"]
    file, spec = getattr(main, "__file__", None), getattr(main, "__spec__", None)
    main.__file__, main.__spec__ = None, None
    try:
        yield
    finally:
        main.__file__, main.__spec__ = file, spec


@contextmanager
def _ignoring_interrupts() -> Iterator[None]:
    """Start processes that ignore Ctrl-C from their first moment on: they inherit it, where the system knows how."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
