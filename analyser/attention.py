"""What needs attention first, with the reason, the figure and the moment to look at.

Events of one kind and subject in one flight make one line, the worst of them leading, so that a flight with
eighty fades does not bury a brown-out. A figure the log cannot support raises nothing: absence is no alarm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from analyser.events import Attention, Event, Level

if TYPE_CHECKING:
    from analyser.pack_history import PackHistory
    from analyser.record import FlightRecord
    from analyser.season import AircraftSeason


def rank_attention(
    flights: Sequence[FlightRecord], aircraft: Sequence[AircraftSeason], packs: Sequence[PackHistory]
) -> tuple[Attention, ...]:
    """Rank everything in a season that its owner should look at, worst and latest first.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first.
    aircraft : sequence of AircraftSeason
        Histories over those flights.
    packs : sequence of PackHistory
        Every pack's own verdict.

    Returns
    -------
    tuple of Attention
        Nothing below :attr:`Level.WATCH`. At one level, what stands for a whole season comes before single
        moments, later flights before earlier ones, and the order is stable for the same input.
    """
    found: list[tuple[int, int, int, Attention]] = []
    for pack in packs:
        found.append((-pack.level, 0, 0, _pack_line(pack)))
    for season in aircraft:
        found.extend((-line.level, 0, 0, line) for line in _season_lines(season))
    for order, flight in enumerate(flights):
        found.extend((-line.level, 1, -order, line) for line in _flight_lines(flight))
    kept = [entry for entry in found if entry[3].level >= Level.WATCH]
    return tuple(entry[3] for entry in sorted(kept, key=lambda entry: entry[:3]))


def _pack_line(pack: PackHistory) -> Attention:
    reason = "; ".join(pack.reasons) or pack.sentence
    figure = next((f for f in (pack.resistance_ratio, pack.capacity_now_percent) if f.value is not None), None)
    name = pack.pack.name
    return Attention(Level(pack.level), f"pack {name}", reason, figure, page=f"packs/{name}")


def _season_lines(season: AircraftSeason) -> Iterator[Attention]:
    name = season.aircraft.name
    page = f"aircraft/{name}"
    for engine in season.engines:
        if engine.level >= Level.WATCH:
            yield Attention(
                Level(engine.level),
                f"{name}, engine {engine.name}",
                engine.sentence,
                engine.hours_to_service if engine.hours_to_service.value is not None else None,
                page=page,
            )
    fuel = season.fuel
    for tank in fuel.tanks:
        # A change is worth a line only where its whole interval lies on one side of nought.
        if _clear_of_zero(tank.step.low, tank.step.high):
            yield Attention(Level.WATCH, f"{name}, tank {tank.name}", tank.sentence, tank.step, page=page)
    if _clear_of_zero(fuel.imbalance_step.low, fuel.imbalance_step.high):
        yield Attention(Level.WATCH, name, fuel.imbalance_sentence, fuel.imbalance_step, page=page)
    for comparison in season.layouts.comparisons:
        worse = comparison.difference_db.high
        if worse is not None and worse < 0.0:
            yield Attention(
                Level.WATCH,
                f"{name}, {comparison.antenna}",
                comparison.verdict,
                comparison.difference_db,
                page=f"antennas/{name}",
            )


def _clear_of_zero(low: float | None, high: float | None) -> bool:
    return low is not None and high is not None and (low > 0.0 or high < 0.0)


def _flight_lines(flight: FlightRecord) -> Iterator[Attention]:
    groups: dict[tuple[str, str], list[Event]] = {}
    for event in flight.result.events():
        if event.level >= Level.WATCH:
            groups.setdefault((event.kind, event.subject), []).append(event)
    for (_, subject), events in groups.items():
        worst = max(events, key=_badness)  # the first of equals: the earliest moment
        more = f" ({len(events)} such in this flight, this is the worst)" if len(events) > 1 else ""
        yield Attention(worst.level, subject, worst.summary + more, worst.depth, flight.flight_id, worst.start_s)
    said = {subject for kind, subject in groups if kind == "reserve_reached"}
    for tank in flight.result.fuel.tanks:
        margin = tank.margin_ml
        subject = f"fuel.{tank.name}"
        if margin.value is not None and margin.value < 0.0 and subject not in said:
            yield Attention(
                Level.ACT if margin.high is None or margin.high < 0.0 else Level.WATCH,
                subject,
                f"Landed {-margin.value:.0f} {margin.unit} below the reserve.",
                margin,
                flight.flight_id,
                flight.result.phases.touch_down_s,
            )


def _badness(event: Event) -> tuple[int, float, float]:
    depth = event.depth.value if event.depth is not None and event.depth.value is not None else 0.0
    return (int(event.level), depth, event.duration_s)
