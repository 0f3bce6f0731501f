"""What an aircraft's noted flights teach of its fuel sensors, laid on the flights that have no note of their own.

A flight learns from the noted flights nearest to it, so that a sensor that was exchanged or has drifted is not judged
by what it was long ago, and so that one flight more changes few others.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
from msgspec.structs import replace

from analyser.core.figures import Figure
from analyser.fuel.analysis import set_scales
from analyser.fuel.scale import SensorScale, learn_scale
from analyser.fuel.tank import on_bench
from analyser.record import FlightRecord
from analyser.season.lineup import Lineup, Taught

NEAREST = 20
"""So many noted flights, nearest by count, teach one flight."""


def scales_by_flight(
    flights: Sequence[FlightRecord], only: Collection[str] | None = None
) -> list[dict[str, SensorScale]]:
    """Scale of each tank's sensor in every flight, by the flights whose volume was noted.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Of one aircraft, oldest first.
    only : collection of str, optional
        Ids of the flights that are asked about; the others only teach.

    Returns
    -------
    list of dict
        Parallel to ``flights``: tank → scale, for every tank that a sensor told; nothing where not asked. Where the
        sensor of that kind was never checked it is the prior.
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
        for tank in flight.result.fuel.tanks if only is None or flight.flight_id in only else ():
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


def scale_taught(lineup: Lineup) -> Iterator[Taught]:
    """Which flights' noted volumes may teach the sensors of which, for every tank of every aircraft.

    Twice as many on either side as teach, since not every note turns out to be of use.
    """
    noted = lineup.grouped(lambda f: (f"{tank}\n{f.aircraft}" for tank in f.noted if f.aircraft))
    for key, teachers in noted.items():
        pupils = lineup.owned[key.partition("\n")[2]]
        middle = np.searchsorted(teachers, pupils)
        first = np.maximum(middle - 2 * NEAREST, 0)
        last = np.minimum(middle + 2 * NEAREST, teachers.size)
        yield Taught(f"scale {key}", pupils, teachers, first, last)


def correct_burn(flights: Sequence[FlightRecord], only: Collection[str] | None = None) -> tuple[FlightRecord, ...]:
    """The same flights with every figure of fuel set right by what they teach of each other's sensors.

    Doing it twice changes nothing: each flight is set right from what its sensor said. With ``only``, the flights of
    these ids are set right and the others only teach.
    """
    return tuple(
        with_scales(flight, scales) if only is None or flight.flight_id in only else flight
        for flight, scales in zip(flights, scales_by_flight(flights, only), strict=True)
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
