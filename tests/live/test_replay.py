"""Any flight plays as a live source, at its own pace or faster; recorded again it is the same flight."""

from __future__ import annotations

import io
import itertools
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest

from analyser.core.telemetry import Telemetry
from importers.plan import plan
from importers.read import read
from spooldown import register
from spooldown.exit_codes import ExitCode
from spooldown.intake.adding import LogFile, add_file
from spooldown.live import recordings
from spooldown.live.recorder import Recorder
from spooldown.live.replay import lines_of, paced, play, sink_at
from spooldown.live.sources.addresses import Address, target_of
from spooldown.live.sources.files import StandardInput
from spooldown.live.sources.network import Awaited, Connection, Datagrams
from spooldown.live.sources.ports import SerialPort
from spooldown.logbook.book import Logbook
from spooldown.problems import UsageProblem
from tests.live.conftest import HEADING, LOCAL, Scripted, line, recorded, until

SAMPLE = Path(__file__).parents[2] / "sample_logs" / "tern" / "tern-2026-07-04.csv"


@pytest.fixture(scope="module")
def flight() -> Telemetry:
    return next(iter(read(plan(SAMPLE)))).telemetry()


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("replay") / "book"
    with Logbook(folder) as made:
        sample = SAMPLE.with_name("tern-2026-05-24.csv")  # one whose lines above say a label and a start
        add_file(made, LogFile(sample, sample.name), register.load(made))
    return folder


def test_the_lines_are_the_flight(flight: Telemetry) -> None:
    """Against pandas, which knows nothing of us."""
    text = b"".join(paced(flight.table, speed=0))
    again = pd.read_csv(io.BytesIO(text))
    assert list(again.columns) == flight.table.column_names
    for name in ("time_s", "pack.rx1.voltage_v", "fuel.left.remaining_ml"):
        ours = flight.table.column(name).to_pandas().to_numpy(float)
        assert np.array_equal(again[name].to_numpy(float), ours, equal_nan=True)


@pytest.mark.parametrize("speed", [1.0, 7.0])
def test_each_row_when_it_is_due(speed: float) -> None:
    """On a clock that only goes on while it sleeps: no row before its time, and none later than a tick."""
    table = pa.table({"time_s": np.arange(0.0, 5.0, 0.05), "pack.rx1.voltage_v": np.full(100, 8.0)})
    now = [100.0]
    lines = paced(table, speed=speed, clock=lambda: now[0], sleep=lambda s: now.__setitem__(0, now[0] + s))
    assert next(lines) == b"time_s,pack.rx1.voltage_v\n"
    sent = 0
    for some in lines:
        sent += some.count(b"\n")
        due = (now[0] - 100.0) * speed
        last = float(some.splitlines()[-1].split(b",")[0])
        assert due - 0.05 * speed - 0.05 <= last <= due + 1e-9
    assert sent == 100
    assert now[0] - 100.0 == pytest.approx(4.95 / speed, abs=0.05)


def test_from_the_middle(flight: Telemetry) -> None:
    text = b"".join(paced(flight.table, speed=0, from_s=300.0))
    assert float(text.splitlines()[1].split(b",")[0]) >= 300.0
    with pytest.raises(UsageProblem, match="the flight ends after"):
        next(paced(flight.table, speed=0, from_s=1e6))


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_over_a_real_serial_path_it_comes_in_as_the_same_flight(flight: Telemetry, tmp_path: Path) -> None:
    sink = sink_at(target_of("pty"))
    assert not sink.wait(), "nobody listens yet"
    made = Recorder(SerialPort(sink.name, 115_200), tmp_path / "a.csv")
    made.start()
    until(sink.wait)
    sent = list(paced(flight.table, speed=0))
    play(iter(sent), sink)
    until(lambda: (tmp_path / "a.csv").stat().st_size == sum(map(len, sent)))
    made.stop()
    assert made.join(5)
    sink.close()
    assert (tmp_path / "a.csv").read_bytes() == b"".join(sent)
    again = next(iter(read(plan(recordings.importable(tmp_path / "a.csv"))))).telemetry()
    assert again.table.column_names == flight.table.column_names
    assert again.table.column("pack.rx2.voltage_v").equals(flight.table.column("pack.rx2.voltage_v"))


@pytest.mark.parametrize("kind", ["udp", "tcp", "tcp-listen"])
def test_over_a_network(flight: Telemetry, tmp_path: Path, kind: str) -> None:
    table, path = flight.table.slice(0, 400), tmp_path / "a.csv"
    if kind == "tcp-listen":
        sink = sink_at(Address("tcp-listen", host=LOCAL, port=0))
        port = int(sink.name.rpartition(":")[2])
        made = Recorder(Connection(Address("tcp", host=LOCAL, port=port)), path)
        until(sink.wait)
    else:
        source: Any = Datagrams(Address("udp", host=LOCAL, port=0)) if kind == "udp" else None
        source = source or Awaited(Address("tcp-listen", host=LOCAL, port=0))
        made = Recorder(source, path)
        sink = sink_at(Address(kind, host=LOCAL, port=source.port))
    made.start()
    sent = list(paced(table, speed=0))
    play(iter(sent), sink)
    until(lambda: path.stat().st_size == sum(map(len, sent)))
    sink.close()
    made.stop()
    assert made.join(5)
    assert path.read_bytes() == b"".join(sent)


def command(*words: object, **more: Any) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-m", "spooldown", *map(str, words)], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, **more)  # fmt: skip


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_replayed_and_recorded_by_commands_and_ended_by_ctrl_c(book: Path, tmp_path: Path) -> None:
    """A whole evening without hardware: one command plays to a port, another records it and imports what came."""
    player = command("replay", "latest", "--to", "pty", "--speed", "200", "--logbook", book)
    assert player.stderr is not None
    said = player.stderr.readline().decode()
    port = said.split()[2].rstrip(";")
    recorder = command("record", f"serial:{port}", "--out", tmp_path / "a.csv", "--import", "--plain",
                       "--logbook", tmp_path / "book", "--limit", "fuel.*.remaining_ml<3000")  # fmt: skip
    assert player.wait(60) == 0
    until(lambda: (tmp_path / "a.csv").stat().st_size > 200_000)
    time.sleep(0.5)
    recorder.send_signal(signal.SIGINT)
    out, err = recorder.communicate(timeout=60)
    assert recorder.returncode == ExitCode.OK, err
    assert b"no alarm to fly by" in out
    assert b"is below your limit" in out
    assert b"imported" in out
    with Logbook(book) as one, Logbook(tmp_path / "book") as other:
        (ours,), (theirs,) = one.flights(), other.flights()
        assert ours.rows == theirs.rows
        assert ours.channels == theirs.channels
        assert ours.utc_start == theirs.utc_start, "a player says when its flight began"
        label = other.telemetry(theirs.flight_id).metadata["label"]
        assert label == one.telemetry(ours.flight_id).metadata["label"] == "invented data"


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_the_screen_of_a_terminal_and_ctrl_c_while_it_waits(tmp_path: Path) -> None:
    own, other = os.openpty()
    recorder = subprocess.Popen(
        [sys.executable, "-m", "spooldown", "record", "-", "--out", str(tmp_path / "a.csv"), "--logbook",
         str(tmp_path / "book"), "--limit", "pack.*.voltage_v<9"],
        stdin=subprocess.PIPE, stdout=other, stderr=other, env={**os.environ, "COLUMNS": "100", "TERM": "xterm"},
    )  # fmt: skip
    os.close(other)
    assert recorder.stdin is not None
    recorder.stdin.write(HEADING + b"".join(line(n) for n in range(300)))
    recorder.stdin.flush()
    shown, ended = b"", False
    while True:
        try:
            shown += os.read(own, 65_536)
        except OSError:  # Linux says so when the other end closes
            break
        if not ended and b"is below your limit" in shown and b"\a" in shown:
            ended = True
            recorder.send_signal(signal.SIGINT)
    os.close(own)
    assert recorder.wait(20) == ExitCode.OK, shown[-2000:]
    assert b"Voltages" in shown
    assert b"no alarm to fly by" in shown
    assert b"Fatal" not in shown
    assert b"Recorded 0.01 MB" in shown


def front(*words: object, stdin: bytes = b"") -> Any:
    sys.path.insert(0, str(Path(__file__).parents[1] / "spooldown"))
    try:
        from front import run  # type: ignore[import-not-found]
    finally:
        sys.path.pop(0)
    return run(*words, stdin=stdin)


def test_the_end_of_standard_input_ends_it(tmp_path: Path) -> None:
    data = HEADING + b"".join(line(n) for n in range(300))
    done = front("record", "-", "--out", tmp_path / "a.csv", "--json", "--logbook", tmp_path / "b", stdin=data)
    assert done.returncode == 0
    assert f'"bytes": {len(data)}' in done.stdout
    assert (tmp_path / "a.csv").read_bytes() == data


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["/dev/ttyNOTHERE"], ExitCode.NOT_FOUND, "there is no serial port"),
        (["udp:x"], ExitCode.USAGE, "names no port"),
        (["nothing.csv"], ExitCode.NOT_FOUND, "is no source of lines"),
        (["udp:0", "--limit", "volts<7"], ExitCode.USAGE, "names no channel"),
        (["udp:0", "--headings", "a,b", "--headings-of", "x"], ExitCode.USAGE, "give one"),
        (["udp:0", "--headings-of", "nothing"], ExitCode.USAGE, "is no log and no saved mapping"),
    ],
)
def test_refusals_are_one_sentence(tmp_path: Path, words: list[str], code: int, said: str) -> None:
    done = front("record", *words, "--out", tmp_path / "a.csv", "--logbook", tmp_path / "book")
    assert done.returncode == code
    (sentence,) = done.stderr.strip().splitlines()
    assert said in sentence
    assert not (tmp_path / "a.csv").exists()


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("mine")
    (tmp_path / "log.csv").write_bytes(HEADING)
    done = front("record", tmp_path / "log.csv", "--out", tmp_path / "a.csv", "--logbook", tmp_path / "book")
    assert done.returncode == ExitCode.USAGE
    assert (tmp_path / "a.csv").read_text() == "mine"


def test_headings_of_a_saved_mapping(tmp_path: Path) -> None:
    """Import a log once and save its mapping; a stream without headings is then recorded with them, and imported."""
    rows = [line(n) for n in range(300)]
    (tmp_path / "log.csv").write_bytes(HEADING + b"".join(rows))
    (tmp_path / "stream.csv").write_bytes(b"".join(rows[1:]))
    book = tmp_path / "book"
    assert front("import", tmp_path / "log.csv", "--save-mapping", "bird", "--logbook", book).returncode == 0
    done = front("record", tmp_path / "stream.csv", "--headings-of", "bird", "--idle", "0.5", "--import", "--out",
                 tmp_path / "a.csv", "--logbook", book)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "a.csv").read_bytes() == b"".join(rows[1:]), "the recorded file is the source"
    assert recordings.mended_of(tmp_path / "a.csv").read_bytes() == HEADING + b"".join(rows[1:])
    with Logbook(book) as opened:
        assert len(opened.flights()) == 2


def test_limits_are_remembered(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_bytes(HEADING + b"".join(line(n) for n in range(300)))
    book, more = tmp_path / "book", ["--idle", "0.3", "--plain"]
    front("record", tmp_path / "log.csv", "--limit", "pack.*.voltage_v<9", "--keep-limits", *more, "--logbook", book)
    done = front("record", tmp_path / "log.csv", *more, "--out", tmp_path / "b.csv", "--logbook", book)
    assert "is below your limit 9.00" in done.stdout


def test_without_a_source_the_ports_are_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("spooldown.live.sources.ports.found", lambda: ("/dev/ttyUSB3",))
    assert "spooldown record /dev/ttyUSB3" in front("record", "--logbook", tmp_path / "book").stdout


def test_listening_beyond_this_machine_is_said(tmp_path: Path) -> None:
    done = front("record", "udp:0.0.0.0:0", "--for", "0.2", "--plain", "--logbook", tmp_path / "book")
    assert "any machine that reaches this address" in done.stderr


def test_a_reader_that_goes_away_does_not_stop_a_player(flight: Telemetry) -> None:
    sink = sink_at(Address("tcp-listen", host=LOCAL, port=0))
    reader = socket.create_connection((LOCAL, int(sink.name.rpartition(":")[2])))
    until(sink.wait)
    threading.Timer(0.05, reader.close).start()
    lines = itertools.islice(itertools.cycle([lines_of(flight.table.slice(0, 50), heading=False)]), 400)
    play(lines, sink)
    sink.close()


def test_standard_input_is_read_to_its_end(tmp_path: Path) -> None:
    recorded(StandardInput(io.BytesIO(HEADING)), tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_bytes() == HEADING
    assert recorded(Scripted(None), tmp_path / "b.csv").summary.bytes == 0


def test_a_flight_with_one_tank_is_read_back_without_a_question() -> None:
    """A channel's own name means that channel, also where its words alone could mean another."""
    table = pa.table({"time_s": np.arange(0, 60, 0.5), "fuel.left.remaining_ml": np.arange(3000, 2880, -1.0)})
    found = plan(io.BytesIO(b"".join(paced(table, speed=0))))
    assert found.questions == ()
    assert [c.channel for c in found.columns] == ["time_s", "fuel.left.remaining_ml"]
