"""Kill a recorder at random instants; see each time that what it recorded is what was sent.

Run by ``test_recorder.py`` for a few rounds, by ``make kill-recording`` for two hundred. Half of them record a pipe:
the file must be the beginning of what was sent, and lack no more than the last moment. The other half follow a file
that grows, and go on after each kill: in the end it must be the same byte for byte.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from spooldown.live import journal
from spooldown.live.recorder import Recorder
from spooldown.live.recordings import journal_of
from spooldown.live.sources.files import GrowingFile, StandardInput
from tests.live.conftest import HEADING, line

LAST_MOMENT_S = 1.0
RATE_HZ = 2000


def forked(work: Callable[[], None]) -> int:
    pid = os.fork()
    if pid == 0:
        try:
            work()
        finally:
            os._exit(1)
    return pid


def record(make: Callable[[], Recorder]) -> Callable[[], None]:
    def work() -> None:
        made = make()
        made.start()
        made.join()

    return work


class Sender(threading.Thread):
    """Writes rows at an even pace, in pieces that do not end where lines do, and remembers when it sent how much."""

    def __init__(self, handle: int, draw: random.Random) -> None:
        super().__init__(daemon=True)
        self.handle, self.draw, self.ended = handle, draw, threading.Event()
        self.sent = bytearray()
        self.log: list[tuple[float, int]] = []

    def run(self) -> None:
        n, rest, begun = 0, HEADING, time.monotonic()
        while not self.ended.is_set():
            due = int((time.monotonic() - begun) * RATE_HZ)
            rest += b"".join(line(i) for i in range(n, due))
            n = max(n, due)
            some, rest = rest[: (cut := self.draw.randrange(1, 4000))], rest[cut:]
            try:
                done = os.write(self.handle, some)
            except OSError:
                return
            rest = some[done:] + rest
            self.sent += some[:done]
            self.log.append((time.monotonic(), len(self.sent)))
            time.sleep(0.001)


def whole_journal(path: Path) -> None:
    """All lines of the journal but the last, which the kill may have cut, are whole."""
    lines = journal_of(path).read_bytes().split(b"\n")
    assert all(journal.parse(one) for one in lines[:-1]), "a line of the journal is damaged"


def kill_pipe(place: Path, draw: random.Random) -> None:
    path = place / f"pipe-{draw.random()}.csv"
    out, into = os.pipe()
    pid = forked(record(lambda: Recorder(StandardInput(os.fdopen(out, "rb", buffering=0)), path)))
    os.close(out)
    sender = Sender(into, draw)
    sender.start()
    time.sleep(0.05 + 0.6 * draw.random())
    os.kill(pid, signal.SIGKILL)
    killed = time.monotonic()
    os.waitpid(pid, 0)
    sender.ended.set()
    sender.join()
    os.close(into)
    kept = path.read_bytes() if path.exists() else b""
    assert bytes(sender.sent[: len(kept)]) == kept, "what is recorded is not what was sent"
    before = max((size for at, size in sender.log if at < killed - LAST_MOMENT_S), default=0)
    assert len(kept) >= before, f"{before - len(kept)} bytes older than {LAST_MOMENT_S} s are lost"
    if path.exists():
        whole_journal(path)


def kill_file(place: Path, draw: random.Random, kills: int) -> None:
    source, path = place / f"source-{draw.random()}.csv", place / f"followed-{draw.random()}.csv"
    handle = os.open(source, os.O_WRONLY | os.O_CREAT)
    sender = Sender(handle, draw)
    sender.start()
    for _ in range(kills):
        pid = forked(record(lambda: Recorder(GrowingFile(source), path, more=True)))
        time.sleep(0.03 + 0.4 * draw.random())
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        assert os.WIFSIGNALED(status), "the recorder ended by itself"
        kept = path.read_bytes() if path.exists() else b""
        assert bytes(sender.sent[: len(kept)]) == kept, "what is recorded is not what was sent"
    sender.ended.set()
    sender.join()
    os.close(handle)
    last = Recorder(GrowingFile(source), path, more=True, idle_s=0.3)
    last.start()
    assert last.join(20)
    assert path.read_bytes() == source.read_bytes() == bytes(sender.sent), "not the same byte for byte"


def run(kills: int, seed: int) -> None:
    draw = random.Random(seed)
    with tempfile.TemporaryDirectory() as place:
        for _ in range(kills // 2):
            kill_pipe(Path(place), draw)
        left = kills - kills // 2
        while left:
            some = min(left, 10)
            kill_file(Path(place), draw, some)
            left -= some


if __name__ == "__main__":
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int(time.time())
    print(f"seed {seed}", flush=True)
    run(rounds, seed)
    print(f"{rounds} kills: nothing recorded that was not sent, nothing older than {LAST_MOMENT_S:g} s lost")
