"""Any flight of the logbook as a live source: its rows as lines of CSV, at the pace they were measured, or faster."""

from __future__ import annotations

import errno
import io
import os
import socket
import sys
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import Any

import numpy as np
import pyarrow as pa

from analyser.core.channels import TIME
from reports.words.catalogue import message
from spooldown.live.sources.addresses import Address
from spooldown.problems import RefusedProblem, UsageProblem

TICK_S = 0.02
"""Rows that are due are sent together, fifty times a second."""
DRAIN_S = 3.0
"""How long the end waits for whoever reads slowly."""
DATAGRAM_BYTES = 1400
"""What fits into one Ethernet frame: a datagram holds whole lines, no more than this where they allow it."""


class Sink(ABC):
    """Where lines go.

    Attributes
    ----------
    name : str
        How the other side reaches it.
    """

    name: str = ""

    def wait(self) -> bool:
        """Whether somebody listens, waiting a moment for it."""
        return True

    @abstractmethod
    def put(self, lines: bytes) -> bool:
        """Send whole lines; False where nobody will ever listen again."""

    def close(self) -> None:  # noqa: B027 - most have nothing to close
        """Let go of it."""


def sink_at(address: Address) -> Sink:
    """Open where lines go.

    Raises
    ------
    Problem
        If it can't be opened; the sentence says what to do.
    """
    if address.kind == "pty":
        return PseudoTerminal()
    if address.kind == "udp":
        return _Datagrams(address)
    if address.kind in ("tcp", "tcp-listen"):
        return _Stream(address)
    return _Output()


def lines_of(table: pa.Table, *, heading: bool) -> bytes:
    """Rows as lines of CSV under the canonical names."""
    import pyarrow.csv

    out = io.BytesIO()
    options = pyarrow.csv.WriteOptions(include_header=heading, quoting_style="none")
    pyarrow.csv.write_csv(table, out, options)
    return out.getvalue().replace(b'"', b"")


def paced(
    table: pa.Table, *, speed: float = 1.0, from_s: float = 0.0, above: Mapping[str, str] | None = None,
    clock: Callable[[], float] = time.monotonic, sleep: Callable[[float], None] = time.sleep,
) -> Iterator[bytes]:  # fmt: skip
    """The lines of a flight, each batch when it is due.

    Parameters
    ----------
    table : Table
        A flight's telemetry; what is text is left out.
    speed : float
        How many times as fast; 0 as fast as it is taken.
    from_s : float
        Where in the flight to begin.
    above : mapping of str to str, optional
        What lines above the headings say, such as ``Start``.

    Yields
    ------
    bytes
        First the lines above the headings, and these, then whole lines.
    """
    plain = [n for n in table.column_names if not pa.types.is_string(table.schema.field(n).type)]
    table = table.select(plain)
    times = table.column(TIME).to_numpy()
    start = int(np.searchsorted(times, from_s))
    if start >= times.size:
        raise UsageProblem(message("live.refused.after_the_end", from_s=from_s, whole=float(times[-1])))
    told = "".join(f"# {key}: {' '.join(value.split())}\n" for key, value in (above or {}).items())
    yield told.encode() + lines_of(table.slice(0, 0), heading=True)
    begun, at = clock(), start
    while at < times.size:
        if speed > 0:
            due = float(times[start]) + (clock() - begun) * speed
            until = int(np.searchsorted(times, due, side="right"))
        else:
            until = min(at + 2_000, times.size)
        if until > at:
            yield lines_of(table.slice(at, until - at), heading=False)
            at = until
        elif speed > 0:
            sleep(min(TICK_S, max((float(times[at]) - due) / speed, 0.001)))


def play(lines: Iterator[bytes], sink: Sink) -> int:
    """Send lines until they end, or nobody will listen any more; returns how many bytes went."""
    sent = 0
    for some in lines:
        if not sink.put(some):
            break
        sent += len(some)
    return sent


class _Output(Sink):
    name = "-"

    def put(self, lines: bytes) -> bool:
        sys.stdout.buffer.write(lines)
        sys.stdout.buffer.flush()
        return True


class _Datagrams(Sink):
    def __init__(self, address: Address) -> None:
        self.name = str(address)
        self._to: Any
        try:
            family, *_, self._to = socket.getaddrinfo(address.host, address.port, type=socket.SOCK_DGRAM)[0]
        except OSError:
            raise RefusedProblem(message("live.refused.no_host", host=address.host)) from None
        self._socket = socket.socket(family, socket.SOCK_DGRAM)

    def put(self, lines: bytes) -> bool:
        held = b""
        for line in lines.splitlines(keepends=True):
            if held and len(held) + len(line) > DATAGRAM_BYTES:
                self._send(held)
                held = b""
            held += line
        self._send(held)
        return True

    def _send(self, data: bytes) -> None:
        with suppress(ConnectionRefusedError):  # nobody listens yet
            self._socket.sendto(data, self._to)

    def close(self) -> None:
        self._socket.close()


class _Stream(Sink):
    def __init__(self, address: Address) -> None:
        self.name = str(address)
        self._door: socket.socket | None = None
        self._socket: socket.socket | None = None
        try:
            if address.kind == "tcp":
                self._socket = socket.create_connection((address.host, address.port), 3.0)
            else:
                self._door = socket.create_server((address.host, address.port))
                self.name = str(Address("tcp", host=address.host, port=self._door.getsockname()[1]))
        except OSError as error:
            why = error.strerror or str(error)
            raise RefusedProblem(message("live.refused.no_answer", address=self.name, why=why)) from None

    def wait(self) -> bool:
        if self._socket is None and self._door is not None:
            self._door.settimeout(0.2)
            with suppress(TimeoutError):
                self._socket, _ = self._door.accept()
                self._socket.settimeout(None)
        return self._socket is not None

    def put(self, lines: bytes) -> bool:
        if not self.wait() or self._socket is None:
            return True  # nobody there now: the lines are gone, as a device's would be
        try:
            self._socket.sendall(lines)
        except OSError:
            self._socket.close()
            self._socket = None
            return self._door is not None
        return True

    def close(self) -> None:
        for one in (self._socket, self._door):
            if one is not None:
                one.close()


class PseudoTerminal(Sink):
    """A serial port without hardware (POSIX, ``posix_openpt``): the other side opens :attr:`name` as one.

    Raises
    ------
    UsageProblem
        If the system has none.
    """

    def __init__(self) -> None:
        try:
            import tty
        except ImportError:
            raise UsageProblem(message("live.refused.no_pty")) from None
        self._own, other = os.openpty()
        tty.setraw(other)
        self.name = os.ttyname(other)
        os.set_blocking(self._own, False)
        os.close(other)  # so that it shows when somebody opens it

    def wait(self) -> bool:
        """Whether somebody has opened the other side; looks for a moment."""
        import select

        looking = select.poll()
        looking.register(self._own, select.POLLHUP)
        if not looking.poll(0):
            return True
        time.sleep(0.05)
        return not looking.poll(0)

    def put(self, lines: bytes) -> bool:
        """Send; what nobody takes is gone, as on a wire."""
        import select

        view = memoryview(lines)
        while view:
            try:
                view = view[os.write(self._own, view) :]
            except BlockingIOError:
                if not self.wait():
                    return True
                select.select([], [self._own], [], 0.2)
            except OSError as error:
                if error.errno == errno.EIO:
                    return True
                raise
        return True

    def close(self) -> None:
        """Take the port away, once what was sent has been read or nobody reads any more."""
        end, empty = time.monotonic() + DRAIN_S, 0
        while empty < 5 and self.wait() and time.monotonic() < end:  # what is on its way inside the system shows late
            empty = 0 if self._unread() else empty + 1
            time.sleep(TICK_S)
        os.close(self._own)

    def _unread(self) -> int:
        """Bytes that wait on the other side."""
        import fcntl
        import struct
        import termios

        try:
            other = os.open(self.name, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError:
            return 0
        try:
            return int(struct.unpack("i", fcntl.ioctl(other, termios.FIONREAD, b"\0" * 4))[0])
        except OSError:
            return 0
        finally:
            os.close(other)
