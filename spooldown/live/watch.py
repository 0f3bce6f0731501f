"""A recording understood while it grows: the file itself is the queue, so who looks on never holds up who records."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from analyser.core.aircraft import Aircraft
from importers.live import Live
from spooldown.live import journal
from spooldown.live.limits import Limit, Passed, Watchman
from spooldown.live.recordings import is_break, journal_of
from spooldown.live.state import State

POLL_S = 0.1
STEP_BYTES = 1 << 20
BEHIND_BYTES = 512 << 20
"""Further behind than this, what lies between is passed over: the present counts."""
EVENTS = 50
_QUIET = {"beat", "arrived", "first"}
"""Events that nobody needs to read."""


class Watch:
    """Follows a recording.

    Parameters
    ----------
    path : Path
        The recorded file.
    limits : sequence of Limit
        What speaks.
    note : Journal or None
        Where jumps of the stream's clock are noted; None where another process keeps the journal.
    mappings, answers, aircraft, headings
        What helps to understand it; see :class:`importers.live.Live`.

    Attributes
    ----------
    lock : Lock
        Held while what follows changes.
    state : State
    events : deque of dict
        The last events of the journal.
    spoken : deque of (float, Passed)
        Limits that were passed, and when (seconds of :func:`time.time`).
    count, seen : int
        How many limits were passed and events read since the start.
    ended : bool
        Whether the recording's end has been read.
    """

    def __init__(
        self, path: Path, *, limits: Sequence[Limit] = (), note: journal.Journal | None = None,
        mappings: Sequence[Path] = (), answers: Mapping[str, str] | None = None, aircraft: Aircraft | None = None,
        headings: str = "",
    ) -> None:  # fmt: skip
        self.path, self.side, self.aircraft = path, journal_of(path), aircraft
        self._note = note
        self.live = Live(path.name, mappings=mappings, answers=answers, aircraft=aircraft, headings=headings)
        self.state, self.watchman = State(), Watchman(limits)
        self.events: deque[dict[str, Any]] = deque(maxlen=EVENTS)
        self.spoken: deque[tuple[float, Passed]] = deque(maxlen=EVENTS)
        self.ended = False
        self.source = ""
        self.bytes = self.passed_over = 0
        self.count = self.seen = 0
        self.came_at = self.begun_at = time.time()
        self.fault = ""
        self.lock = threading.RLock()
        self._plan: object = None
        self._data_at = self._side_at = 0
        self._side_rest = b""
        self._breaks: deque[int] = deque()
        self._ragged = self._untimed = 0
        self._told = 0.0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._follow, name="live view", daemon=True)

    def start(self) -> None:
        """Begin to follow, in a thread."""
        self._thread.start()

    def close(self) -> None:
        """Stop following."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(5)

    def step(self) -> int:
        """Take what was added since the last step, at most :data:`STEP_BYTES`; returns how many bytes that was."""
        data = self._added()
        with self.lock:
            self._read_side()
            for piece, broken in self._pieces(data):
                if broken:
                    self.live.broken()
                self._take(piece)
            self._tell()
            self.bytes = self._data_at
        return len(data)

    def _follow(self) -> None:
        while not self._stop.is_set() and not self.fault:
            if self._guarded() < STEP_BYTES:
                self._stop.wait(POLL_S)

    def catch_up(self) -> None:
        """Take everything there is, once nothing follows any more."""
        while not self.fault and self._guarded():
            pass

    def _guarded(self) -> int:
        try:
            return self.step()
        except Exception as error:  # the view ends, the recording goes on
            with self.lock:
                self.fault = f"{type(error).__name__}: {error}"
            return 0

    def _added(self) -> bytes:
        try:
            with self.path.open("rb") as file:
                size = file.seek(0, 2)
                if size - self._data_at > BEHIND_BYTES and self.live.plan is not None:
                    self.passed_over += size - STEP_BYTES - self._data_at
                    self._data_at = size - STEP_BYTES
                    with self.lock:
                        self.live.broken()
                        self.state.new_clock()
                file.seek(self._data_at)
                return file.read(STEP_BYTES)
        except OSError:
            return b""

    def _pieces(self, data: bytes) -> list[tuple[bytes, bool]]:
        """What was added, cut where the journal says that a hole is."""
        out, at, broken = [], self._data_at, False
        end = at + len(data)
        while self._breaks and self._breaks[0] <= end:
            place = self._breaks.popleft()
            if place > at:
                out.append((data[at - self._data_at : place - self._data_at], broken))
                at = place
            broken = True
        out.append((data[at - self._data_at :], broken))
        self._data_at = end
        return out

    def _take(self, data: bytes) -> None:
        if not data:
            return
        self.came_at = time.time()
        for seen in self.live.feed(data):
            if self.live.plan is not self._plan:
                self._plan = self.live.plan
                if self.live.from_start:
                    self.state = State()
                    self.watchman.begin_again()
                else:
                    self.state.new_clock()
            self.state.push(seen.times_s, seen.table)
        for passed in self.watchman.look(self.state):
            self.spoken.append((time.time(), passed))
            self.count += 1

    def _tell(self) -> None:
        """Note in the journal what only who understands the stream can know, at most once a second."""
        if self._note is None or time.monotonic() - self._told < 1.0:
            return
        self._told = time.monotonic()
        for at_s, by_s in self.state.jumps:
            self._note.note("clock", by_s=round(by_s, 3), elapsed_s=round(at_s, 3))
        self.state.jumps.clear()
        ragged, untimed = self.live.ragged, self.live.untimed
        if ragged > self._ragged:
            self._note.note("ragged", n=ragged - self._ragged)
        if untimed > self._untimed:
            self._note.note("untimed", n=untimed - self._untimed)
        self._ragged, self._untimed = ragged, untimed

    def _read_side(self) -> None:
        try:
            with self.side.open("rb") as file:
                file.seek(self._side_at)
                added = file.read(STEP_BYTES)
        except OSError:
            return
        self._side_at += len(added)
        lines = (self._side_rest + added).split(b"\n")
        self._side_rest = lines.pop()[-journal.LONGEST_LINE :]
        for line in lines:
            told = journal.parse(line)
            if told is None:
                continue
            event = told["event"]
            self.ended = event == "end"
            if event == "begin":
                self.source = str(told.get("source", ""))
            if is_break(told) and told["byte"]:
                self._breaks.append(told["byte"])
            if event not in _QUIET:
                self.events.append(told)
                self.seen += 1
