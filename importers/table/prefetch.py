"""Let a generator run ahead in a thread of its own, so that reading and writing overlap."""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")


@dataclass(slots=True)
class _End:
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
