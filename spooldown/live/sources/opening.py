"""From an address to the source behind it."""

from __future__ import annotations

from pathlib import Path

from spooldown.live.sources.addresses import Address
from spooldown.live.sources.base import Source


def source_at(address: Address) -> Source:
    """Make the source that an address names; it is not opened yet.

    Raises
    ------
    ValueError
        If nothing is read there.
    """
    from spooldown.live.sources import files, network
    from spooldown.live.sources.ports import SerialPort

    if address.kind == "serial":
        return SerialPort(address.path, address.baud)
    if address.kind == "file":
        return files.GrowingFile(Path(address.path))
    if address.kind == "-":
        return files.StandardInput()
    if address.kind == "udp":
        return network.Datagrams(address)
    if address.kind == "tcp":
        return network.Connection(address)
    if address.kind == "tcp-listen":
        return network.Awaited(address)
    raise ValueError(f"nothing is read from {address}")
