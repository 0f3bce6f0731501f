"""Which flights a pack was fitted in, and which of them have a known place in time."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from analyser.core.aircraft import Pack
from analyser.core.figures import FloatArray
from analyser.packs.analysis import PackResult
from analyser.record import FlightRecord


class PackUse(Struct, frozen=True):
    """One pack in one flight: the flight, what the pack did there, and the pack as described for it."""

    flight: FlightRecord
    result: PackResult
    pack: Pack


class Charges(Struct, frozen=True):
    """States of charge of a pack in every flight it was ever fitted in, oldest first.

    ``before`` and ``after``, shape (n, 3), are low end, value and high end in percent, NaN where not known;
    ``start_s``, shape (n,), is when each flight began, seconds since 1970, NaN where not known.
    """

    start_s: FloatArray
    before: FloatArray
    after: FloatArray


def uses_of(flights: Sequence[FlightRecord], name: str = "") -> list[list[PackUse]]:
    """The uses of every pack, or of the named one, in the order of the flights, whatever the aircraft."""
    fitted: dict[str, list[PackUse]] = {}
    for flight in flights:
        for result in flight.result.packs.packs:
            pack = flight.context.packs.get(result.name)
            if pack is not None and name in ("", pack.name):
                fitted.setdefault(pack.name, []).append(PackUse(flight, result, pack))
    return list(fitted.values())


def in_order(uses: Sequence[PackUse]) -> list[int]:
    """Positions of the flights whose place in time is known: a trend over flights out of order is none.

    Where no flight has a date at all, the logbook's order is the order.
    """
    dated = [k for k, use in enumerate(uses) if use.flight.utc_start is not None]
    return dated or list(range(len(uses)))
