"""What one flight adds to the counts over an aircraft's, an engine's and a pack's life, as it is kept.

They are tuples of plain numbers: a life has ten thousand of them, and they are counted by columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from analyser.record import FlightRecord

Ends = Sequence[float | None]
"""Low end, value and high end; the value thrice where there is no interval, ``None`` where there is no value."""
EngineTotal = tuple[str, float, int, int]
"""One engine in one flight: its name, minutes it ran, starts that succeeded and that failed."""
PackTotal = tuple[str, Ends, Ends, Sequence[int]]
"""One pack in one flight: its name, its state of charge before and after, percent, and the brown-outs it was part of
(:class:`~analyser.season.packs.brown_outs.BrownOutCount`)."""

DAY_S = 86_400.0
EPOCH = date(1970, 1, 1).toordinal()


class FlightTotals(NamedTuple):
    """One flight's part in every count.

    ``start_s`` is when it began, seconds since 1970 in UTC, NaN where not known. ``events`` counts what deserves a
    remark at least, by kind of event and by what it happened to.
    """

    flight_id: str
    start_s: float
    farthest_m: float | None
    engines: Sequence[EngineTotal]
    packs: Sequence[PackTotal]
    events: Sequence[tuple[str, str, int]]


def start_s(flight: FlightRecord) -> float:
    """When a flight began, seconds since 1970, NaN where not known."""
    return flight.utc_start.timestamp() if flight.utc_start else float("nan")
