"""What an aircraft's noted flights teach of its fuel sensors, laid on the flights that have no note of their own.

A flight learns from the noted flights nearest to it, so that a sensor that was exchanged or has drifted is not judged
by what it was long ago, and so that one flight more changes few others.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from analyser.core.aircraft import FlightContext
from analyser.core.figures import Figure
from analyser.fuel.analysis import set_scales
from analyser.fuel.scale import SensorScale, learn_scale
from analyser.fuel.tank import on_bench
from analyser.record import FlightRecord

NEAREST = 20
"""So many noted flights, nearest by count, teach one flight."""


def scales_by_flight(flights: Sequence[FlightRecord]) -> list[dict[str, SensorScale]]:
    """Scale of each tank's sensor in every flight, by the flights whose volume was noted.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Of one aircraft, oldest first.

    Returns
    -------
    list of dict
        Parallel to ``flights``: tank → scale, for every tank that a sensor told. Where the sensor of that kind was
        never checked it is the prior.
    """
    noted: dict[tuple[str, str], tuple[list[int], list[Figure]]] = {}
    for at, flight in enumerate(flights):
        for tank in flight.result.fuel.tanks:
            if tank.measured and tank.scale.own.value is not None:
                positions, ratios = noted.setdefault((tank.name, tank.source), ([], []))
                positions.append(at)
                ratios.append(tank.scale.own)
    learned: dict[tuple[str, str, int, float | None, tuple[float | None, float] | None], SensorScale] = {}
    out: list[dict[str, SensorScale]] = []
    for at, flight in enumerate(flights):
        scales = {}
        for tank in flight.result.fuel.tanks:
            if not tank.measured:
                continue
            positions, ratios = noted.get((tank.name, tank.source), ([], []))
            first = _window(positions, at)
            aircraft = flight.context.aircraft
            described = aircraft.tank(tank.name) if aircraft else None
            percent = described.sensor_scale_percent if described else None
            bench = on_bench(flight.context, tank.name, tank.source)
            said = (bench.value, bench.half_width) if bench else None
            key = (tank.name, tank.source, first, percent, said)
            if key not in learned:
                learned[key] = learn_scale(tank.name, ratios[first : first + NEAREST], percent, bench)
            scales[tank.name] = learned[key]
        out.append(scales)
    return out


def _window(positions: Sequence[int], at: int) -> int:
    """Where the nearest :data:`NEAREST` of the sorted positions begin."""
    if len(positions) <= NEAREST:
        return 0
    middle = int(np.searchsorted(positions, at))
    return int(np.clip(middle - NEAREST // 2, 0, len(positions) - NEAREST))


def scale_teachers(contexts: Sequence[FlightContext], wanted: Collection[str]) -> set[str]:
    """Ids of the flights whose noted volumes teach the sensors of some wanted flights.

    Parameters
    ----------
    contexts : sequence of FlightContext
        Of all flights, oldest first.
    wanted : collection of str
        Ids of the flights to be set right.
    """
    noted = _noted(contexts)
    found: set[int] = set()
    for at, context in enumerate(contexts):
        if context.flight_id in wanted and context.aircraft is not None:
            for positions in noted.get(context.aircraft.name, {}).values():
                first, last = _teaching(positions, at)
                found.update(positions[first:last])
    return {contexts[at].flight_id for at in found}


def scale_windows(contexts: Sequence[FlightContext], own: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    """Pair each flight's id with the digests, joined, of the flights that may teach its sensors."""
    noted = _noted(contexts)
    joined = {
        (name, tank): b"".join(own[contexts[at].flight_id] for at in positions)
        for name, tanks in noted.items()
        for tank, positions in tanks.items()
    }
    size = len(next(iter(own.values()), b""))
    for at, context in enumerate(contexts):
        if context.aircraft is not None:
            for tank, positions in noted.get(context.aircraft.name, {}).items():
                first, last = _teaching(positions, at)
                yield context.flight_id, joined[context.aircraft.name, tank][size * first : size * last]


def _noted(contexts: Sequence[FlightContext]) -> dict[str, dict[str, list[int]]]:
    """Positions of the flights whose volume was noted, by aircraft and tank."""
    noted: dict[str, dict[str, list[int]]] = {}
    for at, context in enumerate(contexts):
        for tank, note in context.fuel_notes.items():
            if context.aircraft and note.put_in_ml is not None:
                noted.setdefault(context.aircraft.name, {}).setdefault(tank, []).append(at)
    return noted


def _teaching(positions: Sequence[int], at: int) -> tuple[int, int]:
    """Twice as many on either side as teach, since not every note turns out to be of use."""
    middle = bisect_left(positions, at)
    return max(middle - 2 * NEAREST, 0), middle + 2 * NEAREST


def correct_burn(flights: Sequence[FlightRecord], only: Collection[str] | None = None) -> tuple[FlightRecord, ...]:
    """The same flights with every figure of fuel set right by what they teach of each other's sensors.

    Doing it twice changes nothing: each flight is set right from what its sensor said. With ``only``, the flights of
    these ids are set right and the others only teach.
    """
    return tuple(
        with_scales(flight, scales) if only is None or flight.flight_id in only else flight
        for flight, scales in zip(flights, scales_by_flight(flights), strict=True)
    )


def burn_settled(flights: Sequence[FlightRecord]) -> list[str]:
    """Ids of those flights of an aircraft, oldest first, that :func:`correct_burn` would leave as they are."""
    found = zip(flights, scales_by_flight(flights), strict=True)
    return [flight.flight_id for flight, scales in found if _shows(flight, scales)]


def _shows(flight: FlightRecord, scales: Mapping[str, SensorScale]) -> bool:
    return not any(
        t.measured and t.scale.own.value is None and t.scale.applied != scales.get(t.name, t.scale.applied)
        for t in flight.result.fuel.tanks
    )


def with_scales(flight: FlightRecord, scales: Mapping[str, SensorScale]) -> FlightRecord:
    """One flight set right by its sensors' scales; itself where it has nothing to learn from them."""
    if _shows(flight, scales):
        return flight
    fuel = set_scales(flight.result.fuel, flight.result.phases, flight.context, scales)
    return replace(flight, result=replace(flight.result, fuel=fuel))
