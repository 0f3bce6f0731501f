"""How late a live row is, and whether eight hours of them change that: ratios to a bare loop and to the second hour.

First, rows of 40 channels at 50 Hz go through a pseudo-terminal for some seconds: how long until each is in the file,
and until the view knows it. The reference reads the same kind of port in a bare loop and writes to a file, in the same
run. Then eight hours of such rows are recorded and understood as fast as they are taken. Run from the repository's
root.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import psutil
import pyarrow as pa
import pyarrow.compute as pc
from analyse_flight import hour

from spooldown.live import watch as watching
from spooldown.live.recorder import Recorder
from spooldown.live.replay import lines_of
from spooldown.live.session import Session
from spooldown.live.sources.base import Source
from spooldown.live.sources.ports import SerialPort
from spooldown.live.watch import POLL_S, Watch

RATE_HZ, HOURS = 50.0, 8
SETTLE_ROWS = 150


class Port:
    """A pseudo-terminal: its device end is written to, its other end is opened as a serial port."""

    def __init__(self) -> None:
        import tty

        self.own, self.other = os.openpty()
        tty.setraw(self.other)
        self.name = os.ttyname(self.other)

    def close(self) -> None:
        os.close(self.own)
        os.close(self.other)


def rows_of(table: pa.Table) -> list[bytes]:
    return lines_of(table, heading=False).splitlines(keepends=True)


def paced(port: Port, rows: list[bytes], heading: bytes) -> list[tuple[float, int]]:
    """Send rows at their pace; when each was sent, and how many bytes there were then."""
    os.write(port.own, heading)
    sent, size, begun = [], len(heading), time.perf_counter()
    for n, row in enumerate(rows):
        time.sleep(max(0.0, begun + n / RATE_HZ - time.perf_counter()))
        size += os.write(port.own, row)
        sent.append((time.perf_counter(), size))
    return sent


def seen_at(now: Callable[[], int], ended: threading.Event) -> list[tuple[float, int]]:
    """When a count was first seen to be so large, looked at every millisecond."""
    log, last = [], -1
    while not ended.is_set():
        if (value := now()) != last:
            last = value
            log.append((time.perf_counter(), value))
        time.sleep(0.001)
    return log


def lateness_ms(sent: list[tuple[float, int]], seen: list[tuple[float, int]]) -> list[float]:
    out, at = [], 0
    for when, count in sent:
        while at < len(seen) and seen[at][1] < count:
            at += 1
        if at == len(seen):
            break
        out.append((seen[at][0] - when) * 1e3)
    return out


def bare(port: Port, path: Path, ended: threading.Event) -> None:
    """What is to beat: a loop that reads and writes, and does nothing else."""
    import select

    reader = os.open(port.name, os.O_RDONLY | os.O_NOCTTY)
    with path.open("wb", buffering=0) as file:
        while not ended.is_set():
            if select.select([reader], [], [], 0.1)[0]:
                file.write(os.read(reader, 65536))
    os.close(reader)


def measured(rows: list[bytes], heading: bytes, start: Callable[[Port], tuple[Callable[[], int], ...]],
             stop: Callable[[], None]) -> list[list[float]]:  # fmt: skip
    """Lateness of each count that ``start`` gives, while rows are sent at their pace."""
    port, ended = Port(), threading.Event()
    logs: list[list[tuple[float, int]]] = []
    looks = start(port)
    threads = [threading.Thread(target=lambda look=look: logs.append(seen_at(look, ended))) for look in looks]
    time.sleep(0.3)
    for thread in threads:
        thread.start()
    sent = paced(port, rows, heading)
    time.sleep(0.6)
    ended.set()
    for thread in threads:
        thread.join()
    stop()
    port.close()
    by_bytes = [log for log in logs if log[-1][1] > len(rows)]
    by_rows = [log for log in logs if log[-1][1] <= len(rows)]
    counted = [(when, n + 1) for n, (when, _) in enumerate(sent)]
    late = [lateness_ms(sent, log)[SETTLE_ROWS:] for log in by_bytes]
    return late + [lateness_ms(counted, log)[SETTLE_ROWS:] for log in by_rows]


def real_time(table: pa.Table, seconds: float, place: Path) -> None:
    rows = rows_of(table.slice(0, int(seconds * RATE_HZ) + SETTLE_ROWS))
    heading = lines_of(table.slice(0, 0), heading=True)
    ended = threading.Event()
    path = place / "bare.csv"
    path.touch()

    def start_bare(port: Port) -> tuple[Callable[[], int], ...]:
        threading.Thread(target=bare, args=(port, path, ended), daemon=True).start()
        return (lambda: path.stat().st_size,)

    (reference,) = measured(rows, heading, start_bare, ended.set)
    ours = place / "ours.csv"
    sessions: list[Session] = []

    def start(port: Port) -> tuple[Callable[[], int], ...]:
        sessions.append(Session(SerialPort(port.name, 115_200), ours))
        sessions[0].start()
        return (lambda: ours.stat().st_size), (lambda: sessions[0].watch.state.rows)

    disk, view = measured(rows, heading, start, lambda: None)
    sessions[0].stop()
    for name, some in (("bare loop, written", reference), ("recorder, written", disk), ("view", view)):
        worst = sorted(some)[int(0.99 * len(some))]
        print(f"{name}: {statistics.median(some):.1f} ms, 99 of 100 within {worst:.1f} ms")
    print(f"ratio of the medians, recorder to bare loop: {statistics.median(disk) / statistics.median(reference):.1f}")
    print(f"ratio of the view's median to its polling step: {statistics.median(view) / (POLL_S * 1e3):.2f}")


class Fast(Source):
    """Blocks of lines as fast as they are taken."""

    waits = True

    def __init__(self) -> None:
        self.name, self.blocks = "fast", deque[bytes | None]()

    def open(self) -> None:
        pass

    def read(self, wait_s: float) -> bytes | None:
        if not self.blocks:
            time.sleep(min(wait_s, 0.001))
            return b""
        return self.blocks.popleft()

    def close(self) -> None:
        pass


def eight_hours(table: pa.Table, place: Path, hours: int) -> None:
    """Each hour is recorded, then understood in the steps of the view; the last is compared with the second."""
    watching.BEHIND_BYTES = 1 << 40  # all of it is to be understood here, nothing passed over
    heading = lines_of(table.slice(0, 0), heading=True)
    source, path = Fast(), place / "long.csv"
    recorder, watch, size = Recorder(source, path), Watch(path), 0
    recorder.start()
    took, memory = [], []
    for n in range(hours):
        moved = table.set_column(0, "time_s", pc.add(table.column("time_s"), 3600.0 * n))
        text = (b"" if n else heading) + lines_of(moved, heading=False)
        size += len(text)
        begin = time.perf_counter()
        source.blocks.extend(text[at : at + 65_536] for at in range(0, len(text), 65_536))
        del text, moved
        while recorder.size < size:
            time.sleep(0.001)
        recorded = time.perf_counter()
        watch.catch_up()
        ended = time.perf_counter()
        took.append((recorded - begin, ended - recorded))
        memory.append(psutil.Process().memory_info().rss / 2**20)
        print(f"hour {n + 1}: {size / 1e6:.0f} MB, recorded in {took[-1][0]:.1f} s, understood in"
              f" {took[-1][1]:.1f} s, memory {memory[-1]:.0f} MB", flush=True)  # fmt: skip
    source.blocks.append(None)
    recorder.join()
    assert watch.state.rows == hours * table.num_rows, (watch.state.rows, hours * table.num_rows)
    print(f"ratio of understanding the last hour to the second: {took[-1][1] / took[1][1]:.2f}")
    print(f"ratio of memory after the last hour to after the second: {memory[-1] / memory[1]:.2f}")
    print(f"faster than real time: {3600 / max(sum(t) for t in took):.0f} times")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=float, default=20.0)
    options.add_argument("--hours", type=int, default=HOURS)
    given = options.parse_args()
    table = hour()
    with tempfile.TemporaryDirectory() as place:
        if os.name == "posix":
            real_time(table, given.seconds, Path(place))
        eight_hours(table, Path(place), given.hours)


if __name__ == "__main__":
    main()
