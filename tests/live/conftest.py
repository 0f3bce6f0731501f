"""Ends of streams to record from, without hardware."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from msgspec import Struct

from spooldown.live import journal
from spooldown.live.recorder import Recorder
from spooldown.live.recordings import journal_of
from spooldown.live.sources.base import Source

LOCAL = "127.0.0.1"
HEADING = b"time_s,Rx1 Voltage (V),Left Tank Fuel (mL),Right Tank Fuel (mL),Rx1 Antenna 1 RSSI (dBm)\n"


def line(n: int, step_s: float = 0.02) -> bytes:
    """One invented row; every one is different."""
    return f"{n * step_s:.2f},{8.2 - n * 1e-4:.4f},{4000 - n * 0.1:.1f},{3900 - n * 0.1:.1f},{-60 - n % 7}\n".encode()


def until(true: Callable[[], object], seconds: float = 10.0) -> None:
    """Wait for something that happens in another thread."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.01)


def events(path: Path) -> list[dict[str, object]]:
    return list(journal.read(journal_of(path)))


def kinds(path: Path) -> list[str]:
    return [str(e["event"]) for e in events(path)]


class Wire(Struct):
    """A serial port without hardware, whose device end a test holds; it can be pulled out and plugged in again."""

    link: Path
    own: int = -1
    keep: int = -1

    def plug_in(self) -> None:
        import tty

        self.own, self.keep = os.openpty()
        tty.setraw(self.keep)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self.keep))

    def pull_out(self) -> None:
        for one in (self.own, self.keep):
            with suppress(OSError):
                os.close(one)
        self.link.unlink(missing_ok=True)
        self.own = self.keep = -1

    def send(self, data: bytes) -> None:
        while data:
            data = data[os.write(self.own, data) :]


@pytest.fixture
def wire(tmp_path: Path) -> Iterator[Wire]:
    pytest.importorskip("pty", reason="needs pseudo-terminals")
    made = Wire(tmp_path / "ttyDEV0")
    made.plug_in()
    yield made
    made.pull_out()


class Scripted(Source):
    """A source that gives what a test puts into it."""

    def __init__(self, *pieces: bytes | None) -> None:
        self.name = "script"
        self.pieces: list[bytes | None] = list(pieces)

    def open(self) -> None:
        pass

    def read(self, wait_s: float) -> bytes | None:
        if not self.pieces:
            time.sleep(min(wait_s, 0.01))
            return b""
        return self.pieces.pop(0)

    def close(self) -> None:
        pass


def recorded(source: Source, path: Path, **more: object) -> Recorder:
    """Record a source to its end."""
    made = Recorder(source, path, **more)  # type: ignore[arg-type]
    made.start()
    assert made.join(30)
    return made
