"""The same work on a Dask cluster: every flight by itself, in whatever order, on whichever worker."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

from spooldown.problems import LogbookProblem, UsageProblem
from spooldown.processes.workers import Done, WorkerEnded
from spooldown.scratch import owned, sweep

Item = TypeVar("Item")
Out = TypeVar("Out")

WAIT_S = 10.0
"""How long a scheduler may take to answer."""
TRIES = 3
"""So many workers may end on one flight before it is taken for the reason."""


class Cluster:
    """A cluster that was connected to; its :meth:`spread` stands for :func:`spooldown.processes.workers.spread`."""

    def __init__(self, client: Any) -> None:
        self.client = client

    def spread(self, function: Callable[[Item], Out], items: Sequence[Item]) -> Iterator[Done[Item, Out]]:
        """Call a function for every item on the cluster; results come as they are ready.

        A worker that ends in the middle costs only time: its items are done by another one.
        """
        from distributed import KilledWorker, as_completed

        if not items:
            return
        futures = self.client.map(partial(_tried, function), items, pure=False)
        named = {future.key: item for future, item in zip(futures, items, strict=True)}
        for future in as_completed(futures, loop=self.client.loop):  # type: ignore[no-untyped-call]
            item = named[future.key]
            error = future.exception() if future.status == "error" else None
            if isinstance(error, KilledWorker):
                yield Done(item, None, WorkerEnded())
            elif error is not None:
                yield Done(item, None, error if isinstance(error, Exception) else RuntimeError(str(error)))
            else:
                yield Done(item, *future.result())
            future.release()  # its result is let go of on the cluster


def _tried(function: Callable[[Item], Out], item: Item) -> tuple[Out | None, Exception | None]:
    """Call it on a worker, which would print the traceback of what it raises where the caller reads sentences."""
    try:
        return function(item), None
    except Exception as error:
        return None, error


@contextmanager
def connected(scheduler: str = "", workers: int = 2) -> Iterator[Cluster]:
    """Connect to a cluster, or start one on this machine.

    Parameters
    ----------
    scheduler : str
        Address of a running scheduler (``tcp://host:8786``), '' for a cluster of this machine.
    workers : int
        How many processes a cluster of this machine has.

    Raises
    ------
    UsageProblem
        If Dask is not installed.
    LogbookProblem
        If the scheduler does not answer.
    """
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError as error:
        raise UsageProblem("usage.needs_dask") from error
    with dask.config.set(
        {"distributed.scheduler.allowed-failures": TRIES, "distributed.logging.distributed": "critical"}
    ):
        if scheduler:
            try:
                client = Client(scheduler, timeout=WAIT_S, set_as_default=False)  # type: ignore[no-untyped-call]
            except (OSError, ValueError) as error:
                raise LogbookProblem("problem.no_scheduler", address=scheduler, why=str(error)) from error
            with client:
                yield Cluster(client)
            return
        sweep()  # what a build that was killed left
        done = False
        try:
            with (
                TemporaryDirectory(prefix=owned(), ignore_cleanup_errors=True) as place,
                dask.config.set({"temporary-directory": place}),
                LocalCluster(  # type: ignore[no-untyped-call]
                    n_workers=workers, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
                ) as local,
                Client(local, set_as_default=False) as client,  # type: ignore[no-untyped-call]
            ):
                yield Cluster(client)
                done = True
        except TimeoutError:
            # Dask killed processes that were slow to end, as on a busy machine: what they made is all there.
            if not done:
                raise
