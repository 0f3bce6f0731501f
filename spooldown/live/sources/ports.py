"""A serial port as a source; which ports there are, and what to do where one can't be opened."""

from __future__ import annotations

import errno
import os
import re
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from reports.words.catalogue import message
from spooldown.live.sources.base import CHUNK, Lost, Source
from spooldown.problems import NotFoundProblem, Problem, RefusedProblem

if TYPE_CHECKING:
    import serial


def found() -> tuple[str, ...]:
    """Serial ports that this machine has now."""
    from serial.tools import list_ports

    return tuple(sorted(str(p.device) for p in list_ports.comports()))


class SerialPort(Source):
    """A serial port, opened for this process alone.

    A device that comes back under another name is recognised by its maker's, product's and serial number.
    """

    mid_line = True
    live = True

    def __init__(self, path: str, baud: int) -> None:
        self.path, self.baud = path, baud
        self.name = path
        self._identity: tuple[object, ...] = ()
        self._port: serial.Serial | None = None

    def open(self) -> None:
        """Open it; says in one sentence what stands against it."""
        import serial

        path = self._where()
        try:
            self._port = serial.Serial(path, self.baud, timeout=0.1, exclusive=True if os.name == "posix" else None)
        except (serial.SerialException, OSError, ValueError) as error:
            raise self._problem(path, error) from None
        self._identity = _identity(path) or self._identity

    def read(self, wait_s: float) -> bytes:
        """What came within a moment."""
        import serial

        if self._port is None:
            raise Lost(message("live.refused.not_open"))
        try:
            self._port.timeout = wait_s
            first = self._port.read(1)
            if not first:
                if not self._there():
                    raise Lost(message("live.refused.unplugged"))
                return b""
        except (serial.SerialException, OSError, TypeError) as error:  # TypeError: closed while it read
            raise Lost(_reason(error)) from None
        try:
            return bytes(first + self._port.read(min(self._port.in_waiting, CHUNK)))
        except (serial.SerialException, OSError, TypeError):  # told the next time; the byte in hand is kept
            return bytes(first)

    def close(self) -> None:
        """Close it, whatever state it is in."""
        if self._port is not None:
            with suppress(Exception):
                self._port.close()
            self._port = None

    def _there(self) -> bool:
        return os.name != "posix" or os.path.exists(self._port.port if self._port else self.path)

    def _where(self) -> str:
        """Where the device is now: under its name, or under another one since it was plugged in again."""
        if self._identity and not os.path.exists(self.path):
            from serial.tools import list_ports

            for port in list_ports.comports():
                if (port.vid, port.pid, port.serial_number) == self._identity:
                    return str(port.device)
        return self.path

    def _problem(self, path: str, error: Exception) -> Problem:
        number = getattr(error, "errno", None)
        text = str(error)
        if number == errno.ENOENT or "FileNotFoundError" in text:
            return NotFoundProblem(message("live.refused.no_port", port=self.path, ports=found()))
        if number in (errno.EACCES, errno.EPERM) and not _opened_elsewhere(text):
            return RefusedProblem(message("live.refused.not_allowed", port=path, group=_group_of(path)))
        if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK) or _opened_elsewhere(text):
            return RefusedProblem(message("live.refused.busy", port=path))
        if isinstance(error, ValueError):
            return RefusedProblem(message("live.refused.baud", port=path, baud=self.baud))
        return RefusedProblem(message("live.refused.no_serial", port=path, why=_reason(error)))


def _opened_elsewhere(text: str) -> bool:
    return "exclusively lock" in text or ("PermissionError" in text and sys.platform == "win32")


def _identity(path: str) -> tuple[object, ...]:
    """Maker's, product's and serial number of the device behind a port; empty where it has none."""
    from serial.tools import list_ports

    for port in list_ports.comports():
        if port.device == path and port.vid is not None:
            return port.vid, port.pid, port.serial_number
    return ()


def _group_of(path: str) -> str:
    """The group that may open a port; '' where that is not how it is ruled here."""
    try:
        return Path(path).group()
    except (OSError, KeyError, NotImplementedError, ImportError):
        return ""


def _reason(error: BaseException) -> str:
    number = getattr(error, "errno", None)
    if isinstance(number, int):
        return os.strerror(number)
    quoted = re.search(r"\(\d+, '([^']+)'\)", str(error))  # the system's reason inside the library's sentence
    return quoted[1] if quoted else str(error).strip("[] ")[:120]
