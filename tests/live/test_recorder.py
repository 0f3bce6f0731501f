"""What is recorded is what was sent, byte for byte, whatever happens; and what happens is written down."""

from __future__ import annotations

import errno
import os
import random
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from spooldown.live import recordings
from spooldown.live.recorder import SYNC_S, Recorder
from spooldown.live.sources.files import GrowingFile
from spooldown.live.sources.ports import SerialPort
from spooldown.live.watch import Watch
from spooldown.problems import UsageProblem
from tests.live.conftest import HEADING, Scripted, Wire, events, kinds, line, recorded, until

LINES = HEADING + b"".join(line(n) for n in range(300))


def test_every_byte_as_it_came(tmp_path: Path) -> None:
    rng = random.Random(1)
    data = bytes(rng.randrange(256) for _ in range(50_000)) + LINES
    pieces, at = [], 0
    while at < len(data):
        pieces.append(data[at : at + rng.randrange(1, 900)])
        at += len(pieces[-1])
    made = recorded(Scripted(*pieces, None), tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_bytes() == data
    assert made.summary.bytes == len(data)
    assert kinds(tmp_path / "a.csv")[0] == "begin"
    assert kinds(tmp_path / "a.csv")[-1] == "end"


def test_a_port_that_is_pulled_out_and_plugged_in_again(wire: Wire, tmp_path: Path) -> None:
    path, begun = tmp_path / "a.csv", datetime.now(UTC)
    made = Recorder(SerialPort(str(wire.link), 115_200), path)
    made.start()
    wire.send(LINES[:3000])
    until(lambda: path.stat().st_size == 3000)
    wire.pull_out()
    until(lambda: made.summary.holes)
    wire.plug_in()
    until(lambda: "back" in kinds(path))
    wire.send(LINES[5000:])
    until(lambda: path.stat().st_size == 3000 + len(LINES) - 5000)
    made.stop()
    assert made.join(5)
    assert path.read_bytes() == LINES[:3000] + LINES[5000:]
    hole = next(e for e in events(path) if e["event"] == "lost")
    assert hole["byte"] == 3000
    ready = recordings.importable(path)
    assert ready != path, "a line cut by the hole must not run into the next"
    start, _, rest = ready.read_bytes().partition(b"\n")
    assert rest == LINES[:3000] + b"\n" + LINES[5000:]
    assert abs((datetime.fromisoformat(start.decode().removeprefix("# Start: ")) - begun).total_seconds()) < 2.0
    assert path.read_bytes() == LINES[:3000] + LINES[5000:], "the recorded file stays as it came"


def test_on_the_disk_within_a_second(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each byte is waited for (fsync, POSIX.1-2017) within a second: a power cut costs no more."""
    path, synced, sent = tmp_path / "a.csv", [(0.0, 0)], []
    real = os.fsync

    def fsync(handle: int) -> None:
        real(handle)
        if os.fstat(handle).st_ino == path.stat().st_ino:
            synced.append((time.monotonic(), os.fstat(handle).st_size))

    monkeypatch.setattr(os, "fsync", fsync)
    source = Scripted()
    made = Recorder(source, path)
    made.start()
    for n in range(80):
        source.pieces.append(line(n))
        sent.append((time.monotonic(), sum(len(line(i)) for i in range(n + 1))))
        time.sleep(0.02)
    made.stop()
    assert made.join(5)
    for when, size in sent:
        safe = next(t for t, s in synced if s >= size)
        assert safe - when < 1.0
    assert SYNC_S < 1.0
    assert len(synced) < 20, "and no more often than it takes"


def test_a_full_disk_costs_nothing_once_there_is_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, real, full = tmp_path / "a.csv", os.write, threading.Event()

    def write(handle: int, data: bytes) -> int:
        if full.is_set() and os.fstat(handle).st_ino == path.stat().st_ino:
            if len(data) > 100:
                return real(handle, bytes(data)[:7])  # a disk fills in the middle of a line
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(handle, data)

    monkeypatch.setattr(os, "write", write)
    source = Scripted(LINES[:100])
    made = Recorder(source, path, sync_s=0.1)
    made.start()
    until(lambda: path.stat().st_size == 100)
    full.set()
    for at in range(100, len(LINES), 50):
        source.pieces.append(LINES[at : at + 50])
    until(lambda: "disk_full" in kinds(path))
    full.clear()
    until(lambda: path.stat().st_size == len(LINES))
    made.stop()
    assert made.join(5)
    assert path.read_bytes() == LINES
    assert made.summary.lost_bytes == 0
    assert kinds(path).index("disk_full") < kinds(path).index("disk_back")


def test_a_disk_that_stays_full_is_told_and_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, real = tmp_path / "a.csv", os.write

    def write(handle: int, data: bytes) -> int:
        if os.fstat(handle).st_ino == path.stat().st_ino and path.stat().st_size >= 500:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(handle, data[: 500 - path.stat().st_size] if path.exists() and path.stat().st_size < 500 else data)

    monkeypatch.setattr(os, "write", write)
    made = Recorder(Scripted(LINES[:400], LINES[400:], None), path, sync_s=0.1)
    made.start()
    assert made.join(10)
    assert path.read_bytes() == LINES[:500]
    assert made.summary.lost_bytes == len(LINES) - 500
    assert "given_up" in kinds(path)


def test_more_than_memory_holds_is_a_hole_that_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, real, full = tmp_path / "a.csv", os.write, threading.Event()

    def write(handle: int, data: bytes) -> int:
        if full.is_set() and os.fstat(handle).st_ino == path.stat().st_ino:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(handle, data)

    monkeypatch.setattr(os, "write", write)
    source = Scripted(LINES[:100])
    made = Recorder(source, path, sync_s=0.1, held_bytes=1000)
    made.start()
    until(lambda: path.stat().st_size == 100)
    full.set()
    source.pieces += [LINES[100:1000], LINES[1000:2000], LINES[2000:3000]]
    until(lambda: made.summary.lost_bytes == 2000)
    full.clear()
    until(lambda: path.stat().st_size == 1000)
    source.pieces.append(LINES[3000:3700])
    until(lambda: path.stat().st_size == 1700)
    made.stop()
    assert made.join(5)
    assert path.read_bytes() == LINES[:1000] + LINES[3000:3700]
    assert next(e for e in events(path) if e["event"] == "overrun")["byte"] == 1000


def test_a_source_that_waits_loses_nothing_to_a_slow_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a file or a pipe holds is taken when there is room for it, however little memory there is."""
    path, real = tmp_path / "a.csv", os.write

    def write(handle: int, data: bytes) -> int:
        time.sleep(0.002)
        return real(handle, data[:50])

    source = Scripted(*(LINES[at : at + 300] for at in range(0, len(LINES), 300)), None)
    source.waits = True
    monkeypatch.setattr(os, "write", write)
    made = recorded(source, path, held_bytes=1000)
    assert path.read_bytes() == LINES
    assert made.summary.lost_bytes == 0


def test_silence_is_a_hole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("spooldown.live.recorder.SILENT_S", 0.2)
    source = Scripted(line(0))
    made = Recorder(source, tmp_path / "a.csv", sync_s=0.1)
    made.start()
    until(lambda: "silent" in kinds(tmp_path / "a.csv"))
    source.pieces.append(line(1))
    until(lambda: "sound" in kinds(tmp_path / "a.csv"))
    made.stop()
    assert made.join(5)
    assert made.summary.holes == 1


def test_a_jump_of_the_systems_clock_is_told(tmp_path: Path) -> None:
    shift = [0.0]
    made = Recorder(Scripted(line(0)), tmp_path / "a.csv", sync_s=0.1, now=lambda: time.time() + shift[0])
    made.start()
    time.sleep(0.3)
    shift[0] = -3600.0
    until(lambda: "system_clock" in kinds(tmp_path / "a.csv"))
    made.stop()
    assert made.join(5)
    (told,) = (e for e in events(tmp_path / "a.csv") if e["event"] == "system_clock")
    assert told["by_s"] == pytest.approx(-3600.0, abs=1.0)
    seconds = [float(str(e["s"])) for e in events(tmp_path / "a.csv")]
    assert seconds == sorted(seconds)


@pytest.mark.parametrize(
    ("data", "event"),
    [
        (bytes(random.Random(2).randrange(256) for _ in range(4000)), "garbage"),  # another speed: noise
        (bytes(random.Random(3).choice(b"\x00\xe0\xfc\x80\xf8\x1c") for _ in range(4000)), "garbage"),
        (line(1) + line(1) + line(2), "doubled"),
        (b"7" * 70_000, "unended"),
    ],
)
def test_what_is_no_telemetry_is_recorded_and_told(tmp_path: Path, data: bytes, event: str) -> None:
    recorded(Scripted(HEADING, data, None), tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_bytes() == HEADING + data
    assert event in kinds(tmp_path / "a.csv")


@pytest.mark.parametrize("encoding", ["utf-8", "latin-1", "utf-16-le"])
def test_text_of_any_encoding_is_no_garbage(tmp_path: Path, encoding: str) -> None:
    text = "Zeit [s];Spannung Empfänger [V];Höhe über Grund [m];Länge [°]\n" + "".join(
        f"{n / 10:.1f};8,{n:03};{n};3,19\n".replace(".", ",") for n in range(200)
    )
    recorded(Scripted(text.encode(encoding), None), tmp_path / "a.csv")
    assert "garbage" not in kinds(tmp_path / "a.csv")


def test_going_on_behind_what_there_is(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    recorded(Scripted(LINES[:1010], None), path)
    with pytest.raises(UsageProblem, match="--append"):
        Recorder(Scripted(None), path)
    recorded(Scripted(LINES[1010:], None), path, more=True)
    assert path.read_bytes() == LINES
    assert kinds(path).count("begin") == 2


def test_two_recorders_never_share_a_file(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    made = Recorder(Scripted(line(0)), tmp_path / "a.csv")
    made.start()
    with pytest.raises(Exception, match="another process"):
        Recorder(Scripted(line(0)), tmp_path / "a.csv", more=True)
    made.stop()
    assert made.join(5)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
def test_killed_at_random_instants() -> None:
    """A few rounds of what ``make kill-recording`` does two hundred times."""
    harness = Path(__file__).parent / "killing.py"
    done = subprocess.run([sys.executable, harness, "8", "1"], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    assert "8 kills" in done.stdout


def test_a_file_gone_on_with_has_no_hole(tmp_path: Path) -> None:
    """Killed in the middle of a line and begun again, the two halves are one row."""
    log, path = tmp_path / "log.csv", tmp_path / "a.csv"
    log.write_bytes(LINES[:1013])
    recorded(GrowingFile(log), path, idle_s=0.1)
    log.write_bytes(LINES)
    recorded(GrowingFile(log), path, more=True, idle_s=0.1)
    assert path.read_bytes() == LINES
    assert recordings.importable(path) == path
    watch = Watch(path)
    watch.catch_up()
    assert watch.state.rows == 300
