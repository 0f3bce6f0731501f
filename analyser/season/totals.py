"""What one flight adds to the counts over an aircraft's, an engine's and a pack's life."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analyser.core.figures import Figure
from analyser.record import FlightRecord
from analyser.season.engines import EngineTotal, engine_totals
from analyser.season.packs.brown_outs import BrownOutCount, count_of
from analyser.season.packs.uses import PackUse

Ends = tuple[float | None, float | None, float | None]
"""Low end, value and high end; the value thrice where there is no interval, ``None`` where there is no value."""


@dataclass(frozen=True, slots=True)
class PackTotal:
    """One pack in one flight: its state of charge before and after, percent, and the brown-outs it was part of."""

    pack: str
    flight_id: str
    utc_start: datetime | None
    before: Ends
    after: Ends
    brown_outs: BrownOutCount


@dataclass(frozen=True, slots=True)
class FlightTotals:
    """One flight's part in every count.

    ``events`` counts what deserves a remark at least, by kind of event and by what it happened to.
    """

    flight_id: str
    aircraft: str
    utc_start: datetime | None
    airborne_s: float
    burned_ml: float | None
    farthest_m: float | None
    engines: tuple[EngineTotal, ...]
    packs: tuple[PackTotal, ...]
    events: tuple[tuple[str, str, int], ...]


def totals_of(flight: FlightRecord) -> FlightTotals:
    """Take from one flight, corrected, what counts over flights."""
    result = flight.result
    counted: dict[tuple[str, str], int] = {}
    for event in result.events():
        if event.level > 0:
            key = (event.kind, event.subject)
            counted[key] = counted.get(key, 0) + 1
    return FlightTotals(
        flight_id=flight.flight_id,
        aircraft=flight.aircraft,
        utc_start=flight.utc_start,
        airborne_s=float(result.phases.airborne_s),
        burned_ml=result.fuel.burned.value,
        farthest_m=result.link.max_range_m.value,
        engines=engine_totals(flight),
        packs=pack_totals(flight),
        events=tuple((kind, subject, n) for (kind, subject), n in counted.items()),
    )


def pack_totals(flight: FlightRecord) -> tuple[PackTotal, ...]:
    """Take from one flight what counts over its packs' lives."""
    fitted = [(r, flight.context.packs[r.name]) for r in flight.result.packs.packs if r.name in flight.context.packs]
    return tuple(
        PackTotal(
            pack.name,
            flight.flight_id,
            flight.utc_start,
            _ends(result.state.before_percent),
            _ends(result.state.after_percent),
            count_of(PackUse(flight, result, pack)),
        )
        for result, pack in fitted
    )


def _ends(figure: Figure) -> Ends:
    if (value := figure.value) is None:
        return (None, None, None)
    low, high = (value if end is None else end for end in (figure.low, figure.high))
    return (float(low), float(value), float(high))
