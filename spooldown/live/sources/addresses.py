"""Where lines come from or go to, as a person types it: ``serial:/dev/ttyUSB0``, ``udp:14550``, ``-``, a file."""

from __future__ import annotations

import re
import stat
from pathlib import Path

from msgspec import Struct

from reports.words.catalogue import message
from spooldown.problems import NotFoundProblem, UsageProblem

LOOPBACK = "127.0.0.1"
KINDS = ("serial", "udp", "tcp", "tcp-listen", "file", "pty")
USUAL_BAUD = 115_200
_PORT_NAME = re.compile(r"(COM\d+|/dev/(tty|cu|serial|rfcomm|pts).*)", re.IGNORECASE)


class Address(Struct, frozen=True):
    """One end of a stream.

    ``kind`` is one of :data:`KINDS` or ``-`` (standard input or output); ``path`` names a serial port or a file,
    ``host`` and ``port`` a place on a network.
    """

    kind: str
    path: str = ""
    host: str = ""
    port: int = 0
    baud: int = USUAL_BAUD

    def __str__(self) -> str:
        if self.kind in ("serial", "file"):
            return f"{self.kind}:{self.path}"
        if self.kind in ("udp", "tcp", "tcp-listen"):
            host = f"[{self.host}]" if ":" in self.host else self.host
            return f"{self.kind}:{host}:{self.port}"
        return self.kind

    @property
    def listens_outside(self) -> bool:
        """Whether other machines can reach it."""
        here = self.host.startswith("127.") or self.host in ("localhost", "::1")
        return self.kind in ("udp", "tcp-listen") and not here


def source_of(word: str, baud: int = USUAL_BAUD) -> Address:
    """Take apart where lines come from.

    Raises
    ------
    UsageProblem
        If the word is none of the forms there are.
    NotFoundProblem
        If it looks like a port or a file that is not there.

    Examples
    --------
    >>> str(source_of("udp:14550")), str(source_of("tcp:192.0.2.7:5000"))
    ('udp:127.0.0.1:14550', 'tcp:192.0.2.7:5000')
    """
    if word == "-":
        return Address("-")
    kind, colon, rest = word.partition(":")
    if colon and kind in ("serial", "file") and rest:
        return Address(kind, path=rest, baud=baud)
    if colon and kind in ("udp", "tcp", "tcp-listen"):
        return _on_network(kind, rest, word)
    path = Path(word)
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):
        if _PORT_NAME.fullmatch(word):
            return Address("serial", path=word, baud=baud)
        from spooldown.live.sources.ports import found

        raise NotFoundProblem(message("live.refused.no_source", word=word, ports=found())) from None
    if stat.S_ISCHR(mode):
        return Address("serial", path=word, baud=baud)
    if stat.S_ISREG(mode):
        return Address("file", path=word)
    raise UsageProblem(message("live.refused.not_a_source", word=word))


def target_of(word: str) -> Address:
    """Take apart where lines go to: ``-``, ``pty``, ``udp:``, ``tcp:`` or ``tcp-listen:``.

    Raises
    ------
    UsageProblem
        If the word is none of them.
    """
    kind, _, rest = word.partition(":")
    if word in ("-", "pty"):
        return Address(word)
    if kind in ("udp", "tcp", "tcp-listen"):
        return _on_network(kind, rest, word)
    raise UsageProblem(message("live.refused.not_a_target", word=word))


def _on_network(kind: str, rest: str, word: str) -> Address:
    host, _, port = rest.rpartition(":")
    if not port.isascii() or not port.isdecimal() or not int(port) <= 65_535:
        raise UsageProblem(message("live.refused.no_port_number", word=word))
    return Address(kind, host=host.strip("[]") or LOOPBACK, port=int(port))
