"""Where lines come from: what listens does so on this machine alone, what is missing is said in one sentence."""

from __future__ import annotations

import errno
import os
import socket
import threading
import time
from pathlib import Path

import pytest
import serial

from spooldown.exit_codes import ExitCode
from spooldown.live.recorder import Recorder
from spooldown.live.sources.addresses import Address, source_of, target_of
from spooldown.live.sources.base import Lost
from spooldown.live.sources.files import GrowingFile
from spooldown.live.sources.network import Awaited, Connection, Datagrams
from spooldown.live.sources.opening import source_at
from spooldown.live.sources.ports import SerialPort
from spooldown.problems import NotFoundProblem, RefusedProblem, UsageProblem
from tests.live.conftest import LOCAL, Wire, events, kinds, line, recorded, until


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("-", Address("-")),
        ("udp:14550", Address("udp", host=LOCAL, port=14550)),
        ("udp:0.0.0.0:14550", Address("udp", host="0.0.0.0", port=14550)),
        ("tcp:192.0.2.7:5000", Address("tcp", host="192.0.2.7", port=5000)),
        ("tcp-listen:[::1]:5000", Address("tcp-listen", host="::1", port=5000)),
        ("serial:/dev/ttyUSB7", Address("serial", path="/dev/ttyUSB7")),
        ("/dev/ttyUSB7", Address("serial", path="/dev/ttyUSB7")),
        ("COM3", Address("serial", path="COM3")),
    ],
)
def test_how_a_source_is_named(word: str, meant: Address) -> None:
    assert source_of(word) == meant


@pytest.mark.parametrize("word", ["udp:", "udp:x", "tcp:host:99999", "udp:0.0.0.0:-1"])
def test_a_port_is_a_number(word: str) -> None:
    with pytest.raises(UsageProblem, match="names no port"):
        source_of(word)
    with pytest.raises(UsageProblem):
        target_of(word)


def test_what_is_no_source(tmp_path: Path) -> None:
    with pytest.raises(NotFoundProblem, match="is no source of lines"):
        source_of(str(tmp_path / "nothing.csv"))
    with pytest.raises(UsageProblem, match="sends no lines"):
        source_of(str(tmp_path))


def test_listening_is_on_this_machine_unless_an_address_is_named() -> None:
    assert not source_of("udp:14550").listens_outside
    assert not source_of("tcp-listen:5000").listens_outside
    assert source_of("udp:0.0.0.0:14550").listens_outside
    assert not source_of("tcp:192.0.2.7:5000").listens_outside, "it calls, and listens on nothing"
    source = source_at(source_of("udp:0"))
    assert isinstance(source, Datagrams)
    source.open()
    assert source._socket is not None
    assert source._socket.getsockname()[0] == "127.0.0.1"
    source.close()


def test_a_port_that_is_not_there_names_those_that_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("spooldown.live.sources.ports.found", lambda: ("/dev/ttyACM0", "/dev/ttyUSB1"))
    with pytest.raises(NotFoundProblem, match=r"here are /dev/ttyACM0 and /dev/ttyUSB1") as told:
        SerialPort("/dev/ttyUSB9", 9600).open()
    assert told.value.exit_code == ExitCode.NOT_FOUND


def test_a_busy_port(wire: Wire) -> None:
    first = SerialPort(str(wire.link), 9600)
    first.open()
    with pytest.raises(RefusedProblem, match="open in another program"):
        SerialPort(str(wire.link), 9600).open()
    first.close()


def test_a_port_that_may_not_be_opened(wire: Wire, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> None:
        raise serial.SerialException(errno.EACCES, "could not open port: Permission denied")

    monkeypatch.setattr(serial, "Serial", refused)
    monkeypatch.setattr("spooldown.live.sources.ports._group_of", lambda path: "dialout")
    with pytest.raises(RefusedProblem, match=r"sudo usermod -aG dialout \$USER, then log in again") as told:
        SerialPort(str(wire.link), 9600).open()
    assert told.value.exit_code == ExitCode.REFUSED


def test_what_is_no_serial_port(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("")
    with pytest.raises(RefusedProblem, match="can't be opened as a serial port"):
        SerialPort(str(tmp_path / "x"), 9600).open()


def test_datagrams(tmp_path: Path) -> None:
    source = Datagrams(Address("udp", host=LOCAL, port=0))
    made = Recorder(source, tmp_path / "a.csv", idle_s=1.0)
    made.start()
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other,
    ):
        sender.sendto(line(0), (LOCAL, source.port))
        until(lambda: made._came or made.size)
        other.sendto(b"not ours\n", (LOCAL, source.port))
        sender.sendto(line(1).rstrip(), (LOCAL, source.port))
        sender.sendto(line(2) + line(3), (LOCAL, source.port))
        assert made.join(10)
    assert (tmp_path / "a.csv").read_bytes() == b"".join(map(line, range(4)))
    told = {e["event"]: e.get("n") for e in events(tmp_path / "a.csv")}
    assert told["line_ends"] == 1
    assert told["others"] == 1


def test_a_taken_port() -> None:
    first = Datagrams(Address("udp", host=LOCAL, port=0))
    first.open()
    with pytest.raises(RefusedProblem, match="in use by another program"):
        Datagrams(Address("udp", host=LOCAL, port=first.port)).open()
    first.close()


def test_a_connection_that_breaks_and_comes_back(tmp_path: Path) -> None:
    door = socket.create_server((LOCAL, 0))
    made = Recorder(Connection(Address("tcp", host=LOCAL, port=door.getsockname()[1])), tmp_path / "a.csv")
    made.start()
    for n in range(2):
        there, _ = door.accept()
        there.sendall(line(n))
        until(lambda n=n: (tmp_path / "a.csv").stat().st_size == sum(len(line(i)) for i in range(n + 1)))
        there.close()
        until(lambda n=n: made.summary.holes == n + 1)
    made.stop()
    assert made.join(5)
    door.close()
    assert (tmp_path / "a.csv").read_bytes() == line(0) + line(1)
    assert kinds(tmp_path / "a.csv").count("lost") == 2
    with pytest.raises(RefusedProblem, match="nobody answers"):
        Connection(Address("tcp", host=LOCAL, port=door_port_now_closed())).open()


def door_port_now_closed() -> int:
    with socket.create_server((LOCAL, 0)) as door:
        return int(door.getsockname()[1])


def test_whoever_connects_one_after_another(tmp_path: Path) -> None:
    source = Awaited(Address("tcp-listen", host=LOCAL, port=0))
    made = Recorder(source, tmp_path / "a.csv")
    made.start()
    for n in range(2):
        with socket.create_connection((LOCAL, source.port)) as sender:
            sender.sendall(line(n))
        until(lambda n=n: made.summary.holes == n + 1)
    made.stop()
    assert made.join(5)
    assert (tmp_path / "a.csv").read_bytes() == line(0) + line(1)


def test_a_file_that_grows_and_begins_anew(tmp_path: Path) -> None:
    log, path = tmp_path / "log.txt", tmp_path / "a.csv"
    log.write_bytes(line(0))
    made = Recorder(GrowingFile(log), path)
    made.start()
    until(lambda: path.stat().st_size == len(line(0)))
    with log.open("ab") as file:
        file.write(line(1))
    until(lambda: path.stat().st_size == len(line(0) + line(1)))
    log.write_bytes(line(2))
    until(lambda: path.stat().st_size == len(line(0) + line(1) + line(2)))
    made.stop()
    assert made.join(5)
    assert path.read_bytes() == line(0) + line(1) + line(2)
    assert "lost" in kinds(path)


def test_a_file_is_gone_on_with_only_where_it_is_the_same(tmp_path: Path) -> None:
    log, path = tmp_path / "log.txt", tmp_path / "a.csv"
    log.write_bytes(line(0) + line(1))
    recorded(GrowingFile(log), path, idle_s=0.1)
    log.write_bytes(line(5) + line(6) + line(7))
    with pytest.raises(UsageProblem, match="does not hold the beginning"):
        Recorder(GrowingFile(log), path, more=True)


def test_a_source_that_is_not_open_is_lost() -> None:
    for source in (SerialPort("x", 9600), Connection(Address("tcp", host=LOCAL, port=1))):
        with pytest.raises(Lost):
            source.read(0.01)


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_nothing_is_lost_between_two_reads(wire: Wire, tmp_path: Path) -> None:
    """A device at 2 Mbit/s: the thread that reads keeps up while the other writes."""
    made = Recorder(SerialPort(str(wire.link), 2_000_000), tmp_path / "a.csv")
    made.start()
    data = b"".join(line(n) for n in range(8000))
    sender = threading.Thread(target=wire.send, args=(data,))
    sender.start()
    sender.join(20)
    until(lambda: (tmp_path / "a.csv").stat().st_size == len(data))
    made.stop()
    assert made.join(5)
    time.sleep(0)
    assert (tmp_path / "a.csv").read_bytes() == data
