"""Taking from flights what counts over an aircraft's, an engine's and a pack's life."""

from __future__ import annotations

from analyser.core.figures import Figure
from analyser.record import FlightRecord
from analyser.season.counts import Ends, FlightTotals, PackTotal, start_s
from analyser.season.engines import engine_totals
from analyser.season.packs.brown_outs import count_of
from analyser.season.packs.uses import PackUse


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
        start_s=start_s(flight),
        farthest_m=None if result.link.max_range_m.doubts else result.link.max_range_m.value,
        engines=engine_totals(flight),
        packs=pack_totals(flight),
        events=tuple((kind, subject, n) for (kind, subject), n in counted.items()),
    )


def pack_counts(flight: FlightRecord) -> FlightTotals:
    """Take from one flight what counts over its packs' lives alone."""
    return FlightTotals(flight.flight_id, start_s(flight), None, (), pack_totals(flight), ())


def pack_totals(flight: FlightRecord) -> tuple[PackTotal, ...]:
    """Take from one flight what counts over its packs' lives."""
    fitted = [(r, flight.context.packs[r.name]) for r in flight.result.packs.packs if r.name in flight.context.packs]
    return tuple(
        (
            pack.name,
            _ends(result.state.before_percent),
            _ends(result.state.after_percent),
            tuple(count_of(PackUse(flight, result, pack))),
        )
        for result, pack in fitted
    )


def _ends(figure: Figure) -> Ends:
    if (value := figure.value) is None:
        return (None, None, None)
    low, high = (value if end is None else end for end in (figure.low, figure.high))
    return (float(low), float(value), float(high))
