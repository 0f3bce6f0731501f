"""The side file of a recording: JSON lines that say when what arrived, and whatever was not as it should be.

Each line has ``event``, ``at`` (UTC by the system's clock), ``s`` (seconds since this journal was opened, by a clock
that never jumps) and ``byte`` (how long the recorded file was). Nothing here is needed to read the recorded file.
"""

from __future__ import annotations

import json
import os
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

MOST_WAITING = 5_000
"""Lines kept in memory while they can't be written."""
LONGEST_LINE = 8 * 2**10


class Journal:
    """Writes the side file; a full disk makes it wait, never fail.

    Parameters
    ----------
    path : Path
        Added to where it exists.
    now : callable
        The system's clock, seconds since 1970.
    """

    def __init__(self, path: Path, now: Callable[[], float] = time.time) -> None:
        self.path, self._now = path, now
        self._begun = time.monotonic()
        self._lock = threading.Lock()
        self._waiting: deque[bytes] = deque(maxlen=MOST_WAITING)
        self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        self._unsynced = False
        self.byte = 0

    def note(self, event: str, **values: Any) -> None:
        """Put one line in the row to be written."""
        at = datetime.fromtimestamp(self._now(), UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        told = {"event": event, "at": at, "s": round(time.monotonic() - self._begun, 3), "byte": self.byte, **values}
        line = json.dumps(told, ensure_ascii=True, separators=(",", ":"), default=str).encode() + b"\n"
        with self._lock:
            self._waiting.append(line)

    def flush(self, *, sync: bool = False) -> bool:
        """Write what waits; returns whether all of it is written."""
        with self._lock:
            try:
                while self._waiting:
                    line = self._waiting[0]
                    done = os.write(self._file, line)
                    if done < len(line):  # the disk is full within a line: the rest of it comes later
                        self._waiting[0] = line[done:]
                        return False
                    self._waiting.popleft()
                    self._unsynced = True
                if sync and self._unsynced:
                    os.fsync(self._file)
                    self._unsynced = False
            except OSError:
                return False
        return True

    def close(self) -> None:
        """Write what waits, and close."""
        self.flush(sync=True)
        with self._lock, suppress(OSError):
            os.close(self._file)


def read(path: Path) -> Iterator[dict[str, Any]]:
    """Lines of a journal; one that was cut by a power cut, or is none of ours, is left out."""
    with suppress(OSError), path.open("rb") as file:
        for line in file:
            if (told := parse(line)) is not None:
                yield told


def parse(line: bytes) -> dict[str, Any] | None:
    """One line of a journal as it was noted."""
    if len(line) > LONGEST_LINE:
        return None
    try:
        told = json.loads(line)
    except ValueError:
        return None
    good = isinstance(told, Mapping) and isinstance(told.get("event"), str) and isinstance(told.get("byte"), int)
    return dict(told) if good else None
