"""A new aircraft's form filled with what its logs already show: engines, tanks, receivers, pack places."""

from __future__ import annotations

from collections.abc import Iterable

from analyser.core.channels import parse
from spooldown.logbook.flight import Flight


def found_in(flights: Iterable[Flight], name: str) -> dict[str, str]:
    """Fields of the form, by address, from the channels of flights.

    Only names and counted cells are taken over; what no log can know stays empty.
    """
    listed = list(flights)

    def named(subject: str) -> list[str]:
        return sorted({i for f in listed for i in f.instances(subject)})

    engines, tanks, receivers, places = (named(s) for s in ("engine", "fuel", "link", "pack"))
    out = {"aircraft.name": name}
    for n, engine in enumerate(engines):
        out[f"engines.{n}.name"] = engine
        out[f"engines.{n}.tank"] = engine if engine in tanks else tanks[0] if len(tanks) == len(engines) == 1 else ""
        feeds = [p for p in places if p == f"ecu_{engine}" or (p == "ecu" and len(engines) == 1)]
        out[f"engines.{n}.pack_role"] = feeds[0] if feeds else ""
    for n, tank in enumerate(tanks):
        out[f"tanks.{n}.name"] = tank
        out[f"tanks.{n}.engine"] = tank if tank in engines else engines[0] if len(tanks) == len(engines) == 1 else ""
    for n, receiver in enumerate(receivers):
        out[f"receivers.{n}.name"] = receiver
    for n, place in enumerate(places):
        out[f"packs.{n}.name"] = f"{name} {place}".strip()
        out[f"packs.{n}.role"] = place
        if cells := _cells(listed, place):
            out[f"packs.{n}.cells"] = str(cells)
    return {k: v for k, v in out.items() if v}


def _cells(flights: Iterable[Flight], place: str) -> int:
    """How many cells of a pack are logged one by one; 0 where none is."""
    parsed = (parse(c) for f in flights for c in f.channels)
    return max(
        (p.number or 0 for p in parsed if p and p.instance == place and "cell<n>_v" in p.channel.quantity), default=0
    )
