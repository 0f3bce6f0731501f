"""What needs attention first, with the reason, the figure and the moment to look at.

Events of one kind and subject make one line over all flights of an aircraft, the worst recent one leading, so
that eighty fades do not bury a brown-out. A figure the log cannot support raises nothing: absence is no alarm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from analyser.core.events import Attention, Event, Level
from analyser.core.findings import Text, say
from analyser.link.antenna import exposed_null_db
from analyser.season.codes import SeasonCode

if TYPE_CHECKING:
    from analyser.record import FlightRecord
    from analyser.season.packs.history import PackHistory
    from analyser.season.result import AircraftSeason


DEEP_NULL_DB = 10.0
"""A twentieth of the time seen from directions this far below the antenna's own median is worth looking at."""
RECENT = 3
"""How many of an aircraft's last flights count as "now"."""


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
    order = {f.flight_id: k for k, f in enumerate(flights)}
    for line in (*_repeated_lines(flights), *_margin_lines(flights)):
        found.append((-line.level, 1, -order[line.flight_id], line))
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
        # The history's own level: it has paid for looking at every possible flight of change.
        if tank.level >= Level.WATCH:
            yield Attention(tank.level, f"{name}, fuel", tank.sentence, tank.step, page=page)
    if fuel.imbalance_level >= Level.WATCH:
        figure = next((f for f in reversed(fuel.imbalance) if f.value is not None), None)
        yield Attention(fuel.imbalance_level, f"{name}, fuel", fuel.imbalance_sentence, figure, page=page)
    current = season.layouts.layouts[-1].measured if season.layouts.layouts else ()
    for seen in current:
        if (exposed_null_db(seen) or 0.0) >= DEEP_NULL_DB:
            yield Attention(Level.WATCH, f"{name}, {seen.antenna}", seen.sentence, page=f"antennas/{name}")
    for comparison in season.layouts.comparisons:
        # After less before: fewer decibels or more lost packets are worse, and only a whole interval counts.
        weaker, lossier = comparison.difference_db, comparison.difference_lost_per_min
        worse = [f for f in (weaker,) if f.high is not None and f.high < 0.0]
        worse += [f for f in (lossier,) if f.low is not None and f.low > 0.0]
        if worse:
            about = f"{name}, {comparison.antenna}"
            yield Attention(Level.WATCH, about, comparison.verdict, worse[0], page=f"antennas/{name}")
    for line in season.range.lines:
        if line.level >= Level.WATCH:
            fallen = next(
                (f for f in (line.earlier_db, line.moved_db) if f is not None and (f.high or 0.0) < 0.0), None
            )
            yield Attention(line.level, f"{name}, {line.antenna}", line.fell, fallen, page=f"antennas/{name}")


def _repeated_lines(flights: Sequence[FlightRecord]) -> Iterator[Attention]:
    """One line for each kind of event of each part of an aircraft, over all its flights.

    What has not happened in the aircraft's last :data:`RECENT` flights has perhaps been mended: it ranks a level lower.
    """
    groups: dict[tuple[str, str, str], list[tuple[FlightRecord, Event]]] = {}
    for flight in flights:
        for event in flight.result.events():
            if event.level >= Level.WATCH:
                groups.setdefault((flight.aircraft, event.kind, event.subject), []).append((flight, event))
    last = {f.aircraft: f.number for f in flights}
    for (aircraft, _, subject), found in groups.items():
        recent = [(f, e) for f, e in found if f.number > last[aircraft] - RECENT]
        flight, worst = max(recent or found, key=lambda pair: _badness(pair[1]))
        level = worst.level if recent else Level(worst.level - 1)
        yield Attention(
            level,
            f"{aircraft}, {subject}" if aircraft else subject,
            _with_count(worst.summary, _how_often([f for f, _ in found], len(found), last[aircraft])),
            worst.depth,
            flight.flight_id,
            worst.start_s,
        )


def _with_count(summary: Text, often: str) -> Text:
    return say(SeasonCode.WORST_OF, summary=summary, often=often) if often else summary


def _how_often(flights: Sequence[FlightRecord], times: int, last: int) -> str:
    if times == 1:
        return ""
    numbers = sorted({f.number for f in flights})
    where = (
        f"in flight {numbers[0]}" if len(numbers) == 1 else f"in {len(numbers)} flights, last in flight {numbers[-1]}"
    )
    mended = f"; not since, to flight {last}" if numbers[-1] <= last - RECENT else ""
    return f" This is the worst of {times} {where}{mended}."


def _margin_lines(flights: Sequence[FlightRecord]) -> Iterator[Attention]:
    for flight in flights:
        said = {e.subject for e in flight.result.events() if e.kind == "reserve_reached"}
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
