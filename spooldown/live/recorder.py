"""Bytes from a source to the disk, as they come and nothing else, with a journal of when and of what went wrong.

Two threads: one only reads, so that a slow disk costs no bytes; the other writes at once and waits for the disk twice
a second, so that a power cut costs less than one second. While the disk is full, what comes is held in memory.
"""

from __future__ import annotations

import errno
import os
import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

from msgspec import Struct

from reports.words.catalogue import message
from spooldown.live.journal import Journal
from spooldown.live.recordings import MOST_BYTES, journal_of
from spooldown.live.scrutiny import Scrutiny
from spooldown.live.sources.base import Lost, Source
from spooldown.problems import Problem, RefusedProblem, UsageProblem

SYNC_S = 0.5
"""How long what was written may wait for the disk at most."""
HELD_BYTES = 64 * 2**20
"""What is held in memory while it can't be written; more is a hole."""
SILENT_S = 3.0
"""A silence longer than this is noted as a hole, or four times the usual pause between arrivals."""
BEAT_S = 5.0
"""How often a journal says that it is still written."""
CLOCK_S = 1.0
"""A step of the system's clock larger than this is noted."""
RETRY_S = (0.25, 2.0)
"""First and longest pause before a source that vanished is tried again."""
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG} if hasattr(errno, "EDQUOT") else {errno.ENOSPC, errno.EFBIG}


class Summary(Struct):
    """What became of a recording.

    ``lost_bytes`` came, but could not be kept; ``holes`` are times that nothing could be received.
    """

    path: Path
    source: str = ""
    bytes: int = 0
    seconds: float = 0.0
    holes: int = 0
    lost_bytes: int = 0
    why: str = ""


class Recorder:
    """Records one source into one file.

    Parameters
    ----------
    source : Source
    path : Path
        The file; it must not exist unless ``more``.
    more : bool
        Go on behind what the file holds. A file as source must begin with that.
    headings : str
        Headings that were given; noted in the journal, never written into the file.
    idle_s : float or None
        End after so long a silence.
    until_s : float or None
        End after so long.
    aircraft : str
        Whose it is; noted in the journal.
    sync_s, held_bytes : float, int
        See :data:`SYNC_S`, :data:`HELD_BYTES`.

    Raises
    ------
    Problem
        If the file or the source can't be opened.
    """

    def __init__(
        self, source: Source, path: Path, *, more: bool = False, headings: str = "", idle_s: float | None = None,
        until_s: float | None = None, aircraft: str = "", sync_s: float = SYNC_S, held_bytes: int = HELD_BYTES,
        now: Callable[[], float] = time.time,
    ) -> None:  # fmt: skip
        self.source, self.path = source, path
        self.idle_s, self.until_s = idle_s, until_s
        self.sync_s, self.held_bytes = sync_s, held_bytes
        self._now = now
        source.open()
        self._file = _opened(path, more=more)
        self.size = os.fstat(self._file).st_size
        try:
            _lock(self._file, path)
            goes_on = bool(self.size) and _go_on(source, path, self.size)
        except BaseException:
            os.close(self._file)
            source.close()
            raise
        self.journal = Journal(journal_of(path), now)
        self.journal.byte = self.size
        self.journal.note("begin", source=source.name, live=source.live, goes_on=goes_on, headings=headings,
                          aircraft=aircraft)  # fmt: skip
        self.journal.flush(sync=True)
        self.summary = Summary(path, source.name)
        self._scrutiny = Scrutiny()
        self._stop, self._read_all = threading.Event(), threading.Event()
        self._ready = threading.Condition()
        self._came: deque[bytes | tuple[str, dict[str, Any]]] = deque()
        self._held = 0
        self._begun = time.monotonic()
        self._threads = [
            threading.Thread(target=self._guarded, args=(work,), name=name, daemon=True)
            for work, name in ((self._read, "recording: reads"), (self._write, "recording: writes"))
        ]

    def start(self) -> None:
        """Begin."""
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """Ask for the end; what was received is still written."""
        self._stop.set()

    def join(self, timeout: float | None = None) -> bool:
        """Wait for the end; whether it has come."""
        for thread in self._threads:
            thread.join(timeout)
        return not self.running

    @property
    def running(self) -> bool:
        """Whether it records."""
        return any(t.is_alive() for t in self._threads)

    def _guarded(self, work: Callable[[], None]) -> None:
        try:
            work()
        except Exception as error:  # a fault of ours ends the recording, with what there is kept
            self.summary.why = f"{type(error).__name__}: {error}"
            self.journal.note("fault", why=self.summary.why)
            self._stop.set()
            self._read_all.set()
            with self._ready:
                self._ready.notify_all()
            if work == self._write:
                self.journal.close()

    # What reads

    def _read(self) -> None:
        quiet_since, usual, silent, told = time.monotonic(), 0.1, False, time.monotonic()
        begun = False
        while not self._stop.is_set():
            now = time.monotonic()
            if self.until_s is not None and now - self._begun >= self.until_s:
                break
            try:
                data = self.source.read(0.1)
            except Lost as lost:
                if not self._again(str(lost)):
                    break
                quiet_since, silent = time.monotonic(), False
                continue
            if now - told >= 1.0:
                told = now
                self._put_notes()
            if data is None:
                break
            pause = time.monotonic() - quiet_since
            if not data:
                if self.idle_s is not None and pause >= self.idle_s:
                    break
                if not silent and pause > max(SILENT_S, 4 * usual):
                    silent = True
                    self._put_event("silent", for_s=round(pause, 1))
                continue
            if silent:
                self.summary.holes += 1
                self._put_event("sound", after_s=round(pause, 3))
            else:
                usual += 0.05 * (pause - usual)
            quiet_since, silent = time.monotonic(), False
            if not begun:
                begun = True
                self._put_event("first", came_at=round(self._now(), 3))
            self._put(data)
        self._put_notes()
        self.source.close()
        self._read_all.set()
        with self._ready:
            self._ready.notify_all()

    def _put_notes(self) -> None:
        for event, values in self.source.notes():
            self._put_event(event, **values)

    def _again(self, why: str) -> bool:
        """Open a source that vanished as soon as it is back; False where the end was asked for before."""
        begun, pause = time.monotonic(), RETRY_S[0]
        self.summary.holes += 1
        self._put_event("lost", why=why)
        self.source.lose()
        while not self._stop.wait(pause):
            gone = time.monotonic() - begun
            if self.idle_s is not None and gone >= self.idle_s:
                return False
            if self.until_s is not None and time.monotonic() - self._begun >= self.until_s:
                return False
            try:
                self.source.open()
            except Problem:
                pause = min(2 * pause, RETRY_S[1])
                continue
            self._put_event("back", after_s=round(time.monotonic() - begun, 3))
            return True
        return False

    def _put(self, data: bytes) -> None:
        with self._ready:
            while self.source.waits and self._held + len(data) > self.held_bytes and not self._stop.is_set():
                self._ready.wait(0.2)
            if self._held + len(data) > self.held_bytes:
                self.summary.lost_bytes += len(data)
                if not self._came or self._came[-1] != ("overrun", {}):
                    self._came.append(("overrun", {}))
                return
            self._came.append(data)
            self._held += len(data)
            self._ready.notify_all()

    def _put_event(self, event: str, **values: Any) -> None:
        """An event in its place between the bytes."""
        with self._ready:
            self._came.append((event, values))
            self._ready.notify_all()

    # What writes

    def _write(self) -> None:
        state = _Writing(time.monotonic(), self._now() - time.monotonic())
        while True:
            with self._ready:
                if not self._came:
                    self._ready.wait(min(self.sync_s / 2, 0.25))
                taken = list(self._came)
                self._came.clear()
            left = self._keep(taken, state)
            if left:  # the disk is full: it stays in the row, before what came meanwhile
                with self._ready:
                    self._came.extendleft(reversed(left))
                if self._read_all.is_set() and time.monotonic() - state.full_since > 2 * self.sync_s:
                    break
                time.sleep(self.sync_s / 2)
            self._tick(state)
            if self._read_all.is_set() and not self._came:
                break
        with self._ready:
            self.summary.lost_bytes += sum(len(d) for d in self._came if isinstance(d, bytes))
        self._tell_scrutiny()
        self.summary.bytes, self.summary.seconds = self.size, time.monotonic() - self._begun
        if self.summary.lost_bytes:
            self.journal.note("given_up", n=self.summary.lost_bytes)
            if state.full and not self.summary.why:
                self.summary.why = message("live.refused.disk", path=str(self.path), why=state.why)
        self._sync(state)
        self.journal.note("end", holes=self.summary.holes, lost=self.summary.lost_bytes)
        self.journal.close()
        os.close(self._file)

    def _keep(self, taken: list[Any], state: _Writing) -> list[Any]:
        """Write bytes and note events in their order; returns what could not be written."""
        for at, item in enumerate(taken):
            if isinstance(item, tuple):
                event, values = item
                if event in ("lost", "overrun"):
                    self._tell_scrutiny()
                    self._scrutiny.broken()
                self.journal.note(event, **values)
                self.journal.flush()  # who looks on must know of a hole before what comes after it
                continue
            done = self._put_down(item, state)
            with self._ready:
                self._held -= done
                self._ready.notify_all()
            if done:
                self._scrutiny.look(item[:done])
            if done < len(item):
                return [item[done:], *taken[at + 1 :]]
        return []

    def _put_down(self, data: bytes, state: _Writing) -> int:
        """Write bytes; returns how many went down."""
        if self.size + len(data) > MOST_BYTES:
            self.journal.note("too_long", most=MOST_BYTES)
            self.summary.lost_bytes += len(data)
            self.summary.why = message("live.refused.too_long", most=MOST_BYTES >> 30)
            self._stop.set()
            return len(data)
        done, view = 0, memoryview(data)
        while done < len(data):
            try:
                done += os.write(self._file, view[done:])
            except OSError as error:
                if not state.full:
                    state.full, state.full_since = True, time.monotonic()
                    event, state.why = (
                        "disk_full" if error.errno in _FULL else "disk_fault",
                        error.strerror or str(error),
                    )
                    self.journal.note(event, why=state.why)
                break
        if done:
            self.size += done
            self.journal.byte = self.size
            state.dirty = True
        if state.full and done == len(data):
            state.full = False
            self.journal.note("disk_back", after_s=round(time.monotonic() - state.full_since, 1))
        return done

    def _tick(self, state: _Writing) -> None:
        """What is due by the clock: wait for the disk, note arrivals, the system's clock, that we live."""
        now = time.monotonic()
        if now - state.synced < self.sync_s and now >= state.synced:
            return
        if state.dirty:
            if self.size > state.told:
                self.journal.note("arrived", n=self.size - state.told)
                state.told, state.beat = self.size, now
            self._tell_scrutiny()
        offset = self._now() - now
        if abs(offset - state.offset) > CLOCK_S:
            self.journal.note("system_clock", by_s=round(offset - state.offset, 1))
        state.offset = offset
        if now - state.beat > BEAT_S:
            self.journal.note("beat")
            state.beat = now
        self._sync(state)
        self.summary.bytes, self.summary.seconds = self.size, now - self._begun

    def _sync(self, state: _Writing) -> None:
        if state.dirty:
            try:
                os.fsync(self._file)
                state.dirty = False
            except OSError as error:  # asked again the next time
                if not state.full:
                    state.full, state.full_since = True, time.monotonic()
                    self.journal.note("disk_fault", why=error.strerror or str(error))
        self.journal.flush(sync=True)
        state.synced = time.monotonic()

    def _tell_scrutiny(self) -> None:
        for event, values in self._scrutiny.news():
            self.journal.note(event, **values)


class _Writing(Struct):
    """Where the writing thread is."""

    synced: float
    offset: float
    dirty: bool = False
    full: bool = False
    full_since: float = 0.0
    why: str = ""
    told: int = 0
    beat: float = 0.0


def _opened(path: Path, *, more: bool) -> int:
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        return os.open(path, flags if more else flags | os.O_EXCL, 0o644)
    except FileExistsError:
        raise UsageProblem(message("live.refused.exists", path=str(path))) from None
    except OSError as error:
        raise UsageProblem(
            message("live.refused.no_writing", path=str(path), why=error.strerror or str(error))
        ) from None


def _lock(file: int, path: Path) -> None:
    """Keep a second recorder off the same file, where the system can."""
    try:
        import fcntl
    except ImportError:
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise RefusedProblem(message("live.refused.recorded_already", path=str(path))) from None


def _go_on(source: Source, path: Path, size: int) -> bool:
    """Let a file that is followed go on where the recording ends; whether what comes joins what there is."""
    from spooldown.live.sources.files import GrowingFile

    if not isinstance(source, GrowingFile):
        return False
    with path.open("rb") as ours, source.path.open("rb") as theirs:
        left = size
        while left:
            some = ours.read(min(left, 1 << 20))
            if theirs.read(len(some)) != some:
                raise UsageProblem(message("live.refused.other_file", path=str(path), source=source.name))
            left -= len(some)
    source.skip(size)
    return True
