"""Which flights teach which: the order of analysis over flights, and what a flight's figures take from the others."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from analyser.core.aircraft import FlightContext
from analyser.fuel.sources import wants_curve
from analyser.record import FlightRecord
from analyser.season.fuel.learned_burn import learn_curves_for
from analyser.season.fuel.sensor_scale import correct_burn, scale_teachers
from analyser.season.packs.resistance import correct_resistance, resistance_teachers


@dataclass(frozen=True, slots=True)
class Order:
    """Ids of the flights to analyse, oldest first: ``first`` teach, ``second`` can only be told by a learned curve."""

    first: tuple[str, ...]
    second: tuple[str, ...]


def analysis_order(
    contexts: Sequence[FlightContext], channels: Mapping[str, Collection[str]], wanted: Collection[str]
) -> Order:
    """Flights to analyse so that the wanted ones show what they learn from the others.

    Parameters
    ----------
    contexts : sequence of FlightContext
        Of all flights, oldest first.
    channels : mapping of str to collection of str
        Names of the channels each flight logged, by its id.
    wanted : collection of str
        Ids of the flights to show.

    Returns
    -------
    Order
        A flight that only a learned curve can tell never teaches one, so two rounds are always enough.
    """
    pupil = {c.flight_id: wants_curve(channels[c.flight_id], c.aircraft) for c in contexts}
    second = tuple(c.flight_id for c in contexts if c.flight_id in wanted and pupil[c.flight_id])
    taught = {c.aircraft for c in contexts if c.flight_id in wanted and pupil[c.flight_id]}
    asked = {*wanted, *scale_teachers(contexts, wanted), *resistance_teachers(contexts, wanted)}
    first = tuple(
        c.flight_id for c in contexts if not pupil[c.flight_id] and (c.flight_id in asked or c.aircraft in taught)
    )
    return Order(first, second)


def number_flights(contexts: Sequence[FlightContext]) -> dict[str, int]:
    """Count each aircraft's flights from 1, oldest first, by their ids; flights of no aircraft are counted together."""
    counts: dict[str, int] = {}
    numbers = {}
    for context in contexts:
        owner = context.aircraft.name if context.aircraft else ""
        numbers[context.flight_id] = counts[owner] = counts.get(owner, 0) + 1
    return numbers


def with_learned_burn(
    contexts: Sequence[FlightContext], numbers: Mapping[str, int], flights: Sequence[FlightRecord]
) -> list[FlightContext]:
    """Give flights of the second round the burn curves that their aircraft's measured flights teach.

    Parameters
    ----------
    contexts : sequence of FlightContext
        Of the flights that are to use the curves.
    numbers : mapping of str to int
        Of every flight among its aircraft's; flights on its side of a change of burn teach it.
    flights : sequence of FlightRecord
        Of the first round, oldest first, of any aircraft.

    Returns
    -------
    list of FlightContext
        Parallel to ``contexts``.
    """
    teachers: dict[str, list[FlightRecord]] = {}
    for flight in flights:
        teachers.setdefault(flight.aircraft, []).append(flight)
    pupils: dict[str, list[int]] = {}
    for at, context in enumerate(contexts):
        if context.aircraft:
            pupils.setdefault(context.aircraft.name, []).append(at)
    out = list(contexts)
    for name, places in pupils.items():
        curves = learn_curves_for(teachers.get(name, []), [numbers[contexts[at].flight_id] for at in places])
        for at, learned in zip(places, curves, strict=True):
            out[at] = replace(contexts[at], learned_burn=learned)
    return out


def corrected(flights: Sequence[FlightRecord]) -> tuple[FlightRecord, ...]:
    """Correct flights by what they teach each other of fuel sensors and packs; doing it twice changes nothing.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first, of any aircraft. They come back in the same order.
    """
    own: dict[str, list[FlightRecord]] = {}
    for flight in flights:
        own.setdefault(flight.aircraft, []).append(flight)
    found = {f.flight_id: f for name, group in own.items() for f in (correct_burn(group) if name else group)}
    return correct_resistance([found[f.flight_id] for f in flights])
