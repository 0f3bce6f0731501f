"""Which flights teach which: the order of analysis over flights, and what a flight's figures take from the others."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from analyser.core.aircraft import FlightContext
from analyser.fuel.sources import wants_curve
from analyser.record import FlightRecord
from analyser.season.fuel.learned_burn import learn_curves_for
from analyser.season.fuel.sensor_scale import burn_settled, correct_burn, scale_teachers, scale_windows, with_scales
from analyser.season.packs.resistance import correct_resistance, resistance_teachers, resistance_windows

BLOCK = 50
"""Measured flights teach a burn curve in blocks of so many."""


def teachers_of(contexts: Sequence[FlightContext], wanted: Collection[str]) -> set[str]:
    """Flights, by id, that the wanted ones need to be corrected by, themselves included.

    Parameters
    ----------
    contexts : sequence of FlightContext
        Of all flights, oldest first.
    wanted : collection of str
        Ids of the flights to show. What tells a burn without a fuel sensor is in :func:`lessons_of`.
    """
    return {*wanted, *scale_teachers(contexts, wanted), *resistance_teachers(contexts, wanted)}


def lessons_of(
    contexts: Sequence[FlightContext], channels: Mapping[str, Collection[str]]
) -> dict[str, tuple[str, ...]]:
    """By each flight that only a learned curve can tell, the measured flights of its aircraft that teach it.

    Those are the nearest by count, in blocks of :data:`BLOCK` and both blocks beside: one flight more changes what
    few others learn.
    """
    measured: dict[str, list[str]] = {}
    places: dict[str, tuple[str, int]] = {}
    wants: dict[tuple[int, tuple[str, ...]], bool] = {}
    for context in contexts:
        key = (id(context.aircraft), tuple(channels[context.flight_id]))
        if key not in wants:
            wants[key] = wants_curve(channels[context.flight_id], context.aircraft)
        owner = context.aircraft.name if context.aircraft else ""
        before = measured.setdefault(owner, [])
        if wants[key]:
            places[context.flight_id] = (owner, len(before))
        else:
            before.append(context.flight_id)
    blocks: dict[tuple[str, int], tuple[str, ...]] = {}
    out = {}
    for flight_id, (owner, at) in places.items():
        block = max(min(at, len(measured[owner]) - 1), 0) // BLOCK
        if (owner, block) not in blocks:
            blocks[owner, block] = tuple(measured[owner][max(block - 1, 0) * BLOCK : (block + 2) * BLOCK])
        out[flight_id] = blocks[owner, block]
    return out


def teaching_digests(
    contexts: Sequence[FlightContext], lessons: Mapping[str, tuple[str, ...]], own: Mapping[str, bytes]
) -> dict[str, bytes]:
    """Digest of all that may teach each flight: as long as it is the same, so is what the flight shows.

    Parameters
    ----------
    contexts : sequence of FlightContext
        Of all flights, oldest first.
    lessons : mapping
        From :func:`lessons_of`.
    own : mapping of str to bytes
        Digest of what each flight's own result depends on, all of one length.
    """
    digests = {flight_id: hashlib.sha256(key) for flight_id, key in own.items()}
    for flight_id, taught_by in scale_windows(contexts, own):
        digests[flight_id].update(b"scale" + taught_by)
    for flight_id, taught_by in resistance_windows(contexts, own):
        digests[flight_id].update(b"pack" + taught_by)
    joined: dict[int, bytes] = {}
    for flight_id, teachers in lessons.items():
        if id(teachers) not in joined:
            joined[id(teachers)] = b"curve" + b"".join(own[i] for i in teachers)
        digests[flight_id].update(joined[id(teachers)])
    return {flight_id: digest.digest() for flight_id, digest in digests.items()}


def settled(flights: Sequence[FlightRecord]) -> set[str]:
    """Ids of the flights that show already what the others teach; briefs will do."""
    own: dict[str, list[FlightRecord]] = {}
    for flight in flights:
        own.setdefault(flight.aircraft, []).append(flight)
    right = {i for name, group in own.items() for i in (burn_settled(group) if name else [f.flight_id for f in group])}
    return {a.flight_id for a, b in zip(flights, correct_resistance(flights), strict=True) if a is b} & right


def taken_over(flight: FlightRecord, shown: FlightRecord) -> FlightRecord:
    """A whole flight corrected the way its brief shows it, without asking again those that teach it.

    Parameters
    ----------
    flight : FlightRecord
        As analysed by itself.
    shown : FlightRecord
        The same flight corrected, or its brief.
    """
    scales = {t.name: t.scale.applied for t in shown.result.fuel.tanks}
    flight = with_scales(flight, scales)
    values = {p.name: p.resistance.value_mohm for p in shown.result.packs.packs}
    packs = tuple(
        p
        if values.get(p.name, p.resistance.value_mohm) == p.resistance.value_mohm
        else replace(p, resistance=replace(p.resistance, value_mohm=values[p.name]))
        for p in flight.result.packs.packs
    )
    if all(a is b for a, b in zip(packs, flight.result.packs.packs, strict=True)):
        return flight
    return replace(flight, result=replace(flight.result, packs=replace(flight.result.packs, packs=packs)))


def number_flights(contexts: Sequence[FlightContext]) -> dict[str, int]:
    """Count each aircraft's flights from 1, oldest first, by their ids; flights of no aircraft are counted together."""
    counts: dict[str, int] = {}
    numbers = {}
    for context in contexts:
        owner = context.aircraft.name if context.aircraft else ""
        numbers[context.flight_id] = counts[owner] = counts.get(owner, 0) + 1
    return numbers


def with_learned_burn(
    contexts: Sequence[FlightContext],
    numbers: Mapping[str, int],
    flights: Sequence[FlightRecord],
    lessons: Mapping[str, tuple[str, ...]] | None = None,
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
    lessons : mapping, optional
        Which of them teach each; all of its aircraft where ``None``.

    Returns
    -------
    list of FlightContext
        Parallel to ``contexts``.
    """
    by_id = {f.flight_id: f for f in flights}
    of_aircraft: dict[str, list[str]] = {}
    for flight in flights:
        of_aircraft.setdefault(flight.aircraft, []).append(flight.flight_id)
    pupils: dict[tuple[str, ...], list[int]] = {}
    for at, context in enumerate(contexts):
        if context.aircraft:
            taught_by = lessons[context.flight_id] if lessons else tuple(of_aircraft.get(context.aircraft.name, ()))
            pupils.setdefault(taught_by, []).append(at)
    out = list(contexts)
    for ids, places in pupils.items():
        teachers = [by_id[i] for i in ids if i in by_id]
        curves = learn_curves_for(teachers, [numbers[contexts[at].flight_id] for at in places])
        for at, learned in zip(places, curves, strict=True):
            out[at] = replace(contexts[at], learned_burn=learned)
    return out


def corrected(flights: Sequence[FlightRecord], only: Collection[str] | None = None) -> tuple[FlightRecord, ...]:
    """Correct flights by what they teach each other of fuel sensors and packs; doing it twice changes nothing.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first, of any aircraft. They come back in the same order.
    only : collection of str, optional
        Ids of the flights to correct; the others only teach, and of them briefs will do.
    """
    own: dict[str, list[FlightRecord]] = {}
    for flight in flights:
        own.setdefault(flight.aircraft, []).append(flight)
    found = {f.flight_id: f for name, group in own.items() for f in (correct_burn(group, only) if name else group)}
    return correct_resistance([found[f.flight_id] for f in flights])
