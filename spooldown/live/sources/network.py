"""Lines from a network as sources: datagrams (UDP), a connection made (TCP), a connection awaited (TCP).

What listens does so on this machine alone unless an address is named. One sender at a time is listened to.
"""

from __future__ import annotations

import errno
import os
import socket
import time

from reports.words.catalogue import message
from spooldown.live.sources.addresses import Address
from spooldown.live.sources.base import CHUNK, Lost, Source
from spooldown.problems import NotFoundProblem, Problem, RefusedProblem

SENDER_SILENT_S = 5.0
"""After this another sender may take over."""
CONNECT_S = 3.0


class Datagrams(Source):
    """UDP: each datagram holds one or more lines; one without a line end gets it."""

    live = True

    def __init__(self, address: Address) -> None:
        self.address, self.name = address, str(address)
        self._socket: socket.socket | None = None
        self._sender: object = None
        self._heard = 0.0
        self._others = self._ends = 0

    def open(self) -> None:
        """Listen."""
        self._socket = _bound(self.address, socket.SOCK_DGRAM)

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self._socket.getsockname()[1]) if self._socket else self.address.port

    def read(self, wait_s: float) -> bytes:
        """One datagram, or nothing."""
        if self._socket is None:
            raise Lost(message("live.refused.not_open"))
        self._socket.settimeout(wait_s)
        try:
            data, sender = self._socket.recvfrom(CHUNK)
        except TimeoutError:
            return b""
        except OSError as error:
            raise Lost(error.strerror or str(error)) from None
        now = time.monotonic()
        if sender != self._sender and self._sender is not None and now - self._heard < SENDER_SILENT_S:
            self._others += 1
            return b""
        self._sender, self._heard = sender, now
        if data and not data.endswith((b"\n", b"\r")):
            self._ends += 1
            return data + b"\n"
        return data

    def close(self) -> None:
        """Stop listening."""
        _close(self._socket)
        self._socket = None

    def notes(self) -> list[tuple[str, dict[str, object]]]:
        """Line ends added, and datagrams of other senders left out."""
        out: list[tuple[str, dict[str, object]]] = []
        if self._ends:
            out.append(("line_ends", {"n": self._ends}))
        if self._others:
            out.append(("others", {"n": self._others}))
        self._ends = self._others = 0
        return out


class Connection(Source):
    """TCP: connects to who sends, again and again."""

    mid_line = True
    live = True
    waits = True

    def __init__(self, address: Address) -> None:
        self.address, self.name = address, str(address)
        self._socket: socket.socket | None = None

    def open(self) -> None:
        """Connect."""
        try:
            self._socket = socket.create_connection((self.address.host, self.address.port), CONNECT_S)
        except socket.gaierror:
            raise NotFoundProblem(message("live.refused.no_host", host=self.address.host)) from None
        except OSError as error:
            raise RefusedProblem(message("live.refused.no_answer", address=self.name, why=_reason(error))) from None

    def read(self, wait_s: float) -> bytes:
        """What came."""
        return _received(self._socket, wait_s)

    def close(self) -> None:
        """Hang up."""
        _close(self._socket)
        self._socket = None


class Awaited(Source):
    """TCP: waits for whoever connects; the next one after that."""

    mid_line = True
    live = True
    waits = True

    def __init__(self, address: Address) -> None:
        self.address, self.name = address, str(address)
        self._door: socket.socket | None = None
        self._socket: socket.socket | None = None

    def open(self) -> None:
        """Listen; the door stays open while one sender goes and another comes."""
        if self._door is None:
            self._door = _bound(self.address, socket.SOCK_STREAM)
            self._door.listen(1)

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self._door.getsockname()[1]) if self._door else self.address.port

    def read(self, wait_s: float) -> bytes:
        """What came from whoever is connected."""
        if self._door is None:
            raise Lost(message("live.refused.not_open"))
        if self._socket is None:
            self._door.settimeout(wait_s)
            try:
                self._socket, _ = self._door.accept()
            except TimeoutError:
                return b""
            except OSError as error:
                raise Lost(_reason(error)) from None
        return _received(self._socket, wait_s)

    def lose(self) -> None:
        """Forget who hung up; the door stays open."""
        _close(self._socket)
        self._socket = None

    def close(self) -> None:
        """Hang up; the port itself is given back when nothing is left to do."""
        _close(self._socket)
        _close(self._door)
        self._socket = self._door = None


def _received(connected: socket.socket | None, wait_s: float) -> bytes:
    if connected is None:
        raise Lost(message("live.refused.not_open"))
    connected.settimeout(max(wait_s, 0.001))
    try:
        data = connected.recv(CHUNK)
    except TimeoutError:
        return b""
    except OSError as error:
        raise Lost(_reason(error)) from None
    if not data:
        raise Lost(message("live.refused.hung_up"))
    return data


def _bound(address: Address, kind: socket.SocketKind) -> socket.socket:
    try:
        family = socket.getaddrinfo(address.host, address.port, type=kind, flags=socket.AI_PASSIVE)[0][0]
    except OSError:
        raise NotFoundProblem(message("live.refused.no_host", host=address.host)) from None
    made = socket.socket(family, kind)
    if kind is socket.SOCK_STREAM and os.name == "posix":
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if kind is socket.SOCK_DGRAM:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 20)
    try:
        made.bind((address.host, address.port))
    except OSError as error:
        made.close()
        raise _no_listening(address, error) from None
    return made


def _no_listening(address: Address, error: OSError) -> Problem:
    if error.errno == errno.EADDRINUSE:
        return RefusedProblem(message("live.refused.port_taken", port=address.port, host=address.host))
    if error.errno == errno.EACCES:
        return RefusedProblem(message("live.refused.port_low", port=address.port))
    return RefusedProblem(message("live.refused.no_listening", host=address.host, why=_reason(error)))


def _reason(error: OSError) -> str:
    return error.strerror or str(error)


def _close(one: socket.socket | None) -> None:
    if one is not None:
        one.close()
