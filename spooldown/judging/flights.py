"""An aircraft's limits brought to bear on its flights."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace

from analyser.core.events import Event
from analyser.core.levels import Limit, Limits
from analyser.core.quality import screen
from analyser.programme.limits import crossings, judged
from analyser.programme.measures import rows_of
from spooldown.logbook.codec import to_bytes

if TYPE_CHECKING:
    from analyser.record import FlightRecord
    from spooldown.logbook.book import Logbook


def on_channels(limits: Limits | None) -> tuple[Limit, ...]:
    """Those that are held against telemetry, not against results."""
    return tuple(x for x in limits.every if x.on == "channel") if limits else ()


def judged_record(record: FlightRecord, key: str, limits: Limits | None) -> tuple[FlightRecord, str]:
    """Judge a flight by its aircraft's limits; they become part of its key. Without limits it stays as it is."""
    if limits is None:
        return record, key
    result = record.result
    result = judged(result, limits, rows_of(result), [e for e in result.passed if _is_crossing(e, limits)])
    digest = hashlib.sha256(key.encode() + to_bytes(limits, sort=True)).hexdigest()
    return replace(record, result=result), digest


def _is_crossing(event: Event, limits: Limits) -> bool:
    return any(x.name == event.limit for x in limits.every if x.on == "channel")


def crossed_by(book: Logbook, flights: Sequence[FlightRecord], limits: Sequence[Limit]) -> dict[str, tuple[Event, ...]]:
    """Hold every flight's telemetry against limits on channels; a flight whose file does not read is left out."""
    from spooldown.problems import LogbookProblem

    out: dict[str, tuple[Event, ...]] = {}
    for flight in flights if limits else ():
        try:
            telemetry = screen(book.telemetry(flight.flight_id))
        except LogbookProblem:
            continue
        out[flight.flight_id] = crossings(telemetry, flight.result.phases, limits)
    return out
