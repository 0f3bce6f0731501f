"""Standard input, and a file that grows, as sources."""

from __future__ import annotations

import os
import queue
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, cast

from reports.words.catalogue import message
from spooldown.live.sources.base import CHUNK, Lost, Source
from spooldown.problems import NotFoundProblem, RefusedProblem

_POLL_S = 0.05


class StandardInput(Source):
    """What another program writes into this one; it ends with it."""

    waits = True

    def __init__(self, stream: BinaryIO | None = None) -> None:
        self.name = "-"
        self._stream = stream
        self._came: queue.Queue[bytes] = queue.Queue(maxsize=64)
        self._thread: threading.Thread | None = None

    def open(self) -> None:
        """Begin to read in a thread: waiting for a pipe can't be ended on every system."""
        if self._thread is None:
            stream = self._stream or sys.stdin.buffer
            self._thread = threading.Thread(target=self._take, args=(stream,), name="standard input", daemon=True)
            self._thread.start()

    def read(self, wait_s: float) -> bytes | None:
        """What came; None after the end."""
        try:
            data = self._came.get(timeout=wait_s)
        except queue.Empty:
            return b""
        if not data:
            self._came.put(b"")  # whoever asks again is told again
            return None
        return data

    def close(self) -> None:
        """Nothing to let go of: the stream is not ours."""

    def _take(self, stream: BinaryIO) -> None:
        read = _plain_read(stream)
        try:
            while data := read(CHUNK):
                self._came.put(data)
        except (OSError, ValueError):  # the other side is gone
            pass
        self._came.put(b"")


def _plain_read(stream: BinaryIO) -> Callable[[int], bytes]:
    """How to read what is there: past any buffer, whose lock a waiting thread would hold when the program ends."""
    try:
        handle = stream.fileno()
    except (OSError, ValueError, AttributeError):
        return cast(Callable[[int], bytes], getattr(stream, "read1", stream.read))
    return lambda size: os.read(handle, size)


class GrowingFile(Source):
    """A file that another program writes: read from its start, then followed.

    One that becomes shorter, or is another file under the same name, has begun anew.
    """

    waits = True

    def __init__(self, path: Path) -> None:
        self.path, self.name = path, path.name
        self._file: BinaryIO | None = None
        self._id = (0, 0)
        self._at = 0
        self._looked = 0.0

    def open(self) -> None:
        """Open it where it was left off, or at the start of the new one."""
        try:
            file = self.path.open("rb", buffering=0)
        except FileNotFoundError:
            raise NotFoundProblem(message("live.refused.no_file", path=str(self.path))) from None
        except OSError as error:
            raise RefusedProblem(
                message("live.refused.no_reading", path=str(self.path), why=error.strerror or str(error))
            ) from None
        state = os.fstat(file.fileno())
        if (state.st_dev, state.st_ino) != self._id or state.st_size < self._at:
            self._id, self._at = (state.st_dev, state.st_ino), 0
        file.seek(self._at)
        self._file = file

    def read(self, wait_s: float) -> bytes:
        """What was added within a moment."""
        if self._file is None:
            raise Lost(message("live.refused.not_open"))
        end = time.monotonic() + wait_s
        while True:
            try:
                data = self._file.read(CHUNK)
            except OSError as error:
                raise Lost(error.strerror or str(error)) from None
            if data:
                self._at += len(data)
                return data
            self._still_the_same()
            if (left := end - time.monotonic()) <= 0:
                return b""
            time.sleep(min(_POLL_S, left))

    def close(self) -> None:
        """Close it."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def skip(self, count: int) -> None:
        """Go on behind what has been recorded before."""
        assert self._file is not None
        self._at = count
        self._file.seek(count)

    def _still_the_same(self) -> None:
        now = time.monotonic()
        if now - self._looked < 0.5:
            return
        self._looked = now
        try:
            state = self.path.stat()
        except OSError as error:
            raise Lost(error.strerror or str(error)) from None
        if (state.st_dev, state.st_ino) != self._id or state.st_size < self._at:
            raise Lost(message("live.refused.began_anew"))
