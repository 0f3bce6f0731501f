"""Which flights teach which: the order of analysis over flights, and what a flight's figures take from the others."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext
from analyser.core.figures import Figure
from analyser.fuel.scale import SensorScale
from analyser.packs.scale import CurrentScale
from analyser.record import FlightRecord
from analyser.season.fuel.learned_burn import learn_curves_for
from analyser.season.fuel.sensor_scale import burn_settled, correct_burn, scale_taught, with_scales
from analyser.season.lineup import Lineup, Taught
from analyser.season.packs.current_scale import (
    correct_currents,
    currents_settled,
    currents_taught,
    with_current_scales,
)
from analyser.season.packs.resistance import correct_resistance, resistance_taught

Digests: TypeAlias = npt.NDArray[np.uint64]
"""SHA-256 digests, each as four numbers."""

BLOCK = 50
"""Measured flights teach a burn curve in blocks of so many."""


def taught(lineup: Lineup) -> tuple[Taught, ...]:
    """Every group of flights of which some teach the others a sensor's scale or a pack's resistance."""
    return (*scale_taught(lineup), *currents_taught(lineup), *resistance_taught(lineup))


def teachers_of(lineup: Lineup, groups: Sequence[Taught], wanted: Collection[str]) -> set[str]:
    """Flights, by id, that the wanted ones need to be corrected by, themselves included.

    Parameters
    ----------
    groups : sequence of Taught
        From :func:`taught`. What tells a burn without a fuel sensor is in :func:`lessons_of`.
    """
    found = np.zeros(len(lineup), bool)
    found[[lineup.at[i] for i in wanted]] = True
    asked = found.copy()
    for group in groups:
        rows = asked[group.pupils]
        # One more at the first teacher of each, one fewer after the last: above nought in between.
        change = np.zeros(group.teachers.size + 1, np.intp)
        np.add.at(change, group.first[rows], 1)
        np.add.at(change, group.last[rows], -1)
        found[group.teachers[np.cumsum(change)[:-1] > 0]] = True
    return set(lineup.named(np.flatnonzero(found)))


def lessons_of(lineup: Lineup) -> dict[str, tuple[str, ...]]:
    """By each flight that only a learned curve can tell, the measured flights of its aircraft that teach it.

    Those are the nearest by count, in blocks of :data:`BLOCK` and both blocks beside: one flight more changes what
    few others learn.
    """
    out: dict[str, tuple[str, ...]] = {}
    learns = np.array([f.learns for f in lineup.kinds], bool)
    for places in lineup.owned.values() if learns.any() else ():
        learning = learns[lineup.codes[places]]
        measured, pupils = places[~learning], places[learning]
        block = np.clip(np.searchsorted(measured, pupils), 0, max(measured.size - 1, 0)) // BLOCK
        of_block = {
            n: tuple(lineup.named(measured[max(n - 1, 0) * BLOCK : (n + 2) * BLOCK])) for n in np.unique(block).tolist()
        }
        out |= {i: of_block[n] for i, n in zip(lineup.named(pupils), block.tolist(), strict=True)}
    return {i: out[i] for i in sorted(out, key=lineup.at.__getitem__)}


def teaching_digests(
    lineup: Lineup, groups: Sequence[Taught], lessons: Mapping[str, tuple[str, ...]], own: Digests
) -> Digests:
    """Digest of all that may teach each flight: as long as it is the same, so is what the flight shows.

    Parameters
    ----------
    groups, lessons
        From :func:`taught` and :func:`lessons_of`.
    own : ndarray of uint64, shape (n, 4)
        Digest of what each flight's own result depends on, in the line-up's order.

    Returns
    -------
    ndarray of uint64, shape (n, 4)

    Notes
    -----
    Those of a window are added up weighted by powers of odd numbers, modulo 2⁶⁴, four sums beside each other (Karp and
    Rabin 1987): running sums then give every window's digest at once, and an order changed shows.
    """
    total = own * _ODD
    powers, back = (_powers(odd, max((g.teachers.size for g in groups), default=0)) for odd in (_ODD, _BACK))
    running: dict[bytes, Digests] = {}  # what is noted of all tanks or packs of an aircraft has the same teachers
    for group in groups:
        if (sums := running.get(told_by := group.teachers.tobytes())) is None:
            rows = own[group.teachers]
            sums = np.vstack([np.zeros((1, 4), np.uint64), np.cumsum(rows * powers[: len(rows)], axis=0)])
            running[told_by] = sums
        window = (sums[group.last] - sums[group.first]) * back[group.first]
        told = window * _weight(group.what)
        if (np.diff(group.pupils) > 0).all():
            total[group.pupils] += told
        else:  # a flight that is taught the same twice
            np.add.at(total, group.pupils, told)
    if lessons:
        joined: dict[int, Digests] = {}
        for flight_id, teachers in lessons.items():
            if id(teachers) not in joined:
                joined[id(teachers)] = _weight("curve " + own[[lineup.at[i] for i in teachers]].tobytes().hex())
            total[lineup.at[flight_id]] += joined[id(teachers)]
    return total


def _powers(of: Digests, most: int) -> Digests:
    """Powers nought to ``most`` of some numbers, modulo 2⁶⁴, one row a power."""
    return np.cumprod(np.vstack([np.ones((1, of.size), np.uint64), np.tile(of, (most, 1))]), axis=0, dtype=np.uint64)


def _weight(text: str) -> Digests:
    """Four odd numbers that stand for a text."""
    return np.frombuffer(hashlib.sha256(text.encode()).digest(), "<u8") | np.uint64(1)


_ODD = _weight("teaching")
_BACK = np.array([pow(int(odd), -1, 1 << 64) for odd in _ODD], np.uint64)
"""Their inverses modulo 2⁶⁴."""


def settled(flights: Sequence[FlightRecord]) -> set[str]:
    """Ids of the flights that show already what the others teach; briefs will do."""
    own: dict[str, list[FlightRecord]] = {}
    for flight in flights:
        own.setdefault(flight.aircraft, []).append(flight)
    right = {i for name, group in own.items() for i in (burn_settled(group) if name else [f.flight_id for f in group])}
    right &= currents_settled(flights)
    return {a.flight_id for a, b in zip(flights, correct_resistance(flights), strict=True) if a is b} & right


class Corrections(Struct, frozen=True):
    """What a flight was set right by: scales of fuel sensors by tank, of current sensors and resistances by pack."""

    fuel: Mapping[str, SensorScale]
    currents: Mapping[str, CurrentScale]
    resistances: Mapping[str, Figure]


def corrections_of(shown: FlightRecord) -> Corrections:
    """What a corrected flight, or its brief, was set right by."""
    packs = shown.result.packs.packs
    return Corrections(
        {t.name: t.scale.applied for t in shown.result.fuel.tanks},
        {p.name: p.scale.applied for p in packs},
        {p.name: p.resistance.value_mohm for p in packs},
    )


def with_corrections(flight: FlightRecord, corrections: Corrections) -> FlightRecord:
    """A whole flight, as analysed by itself, set right without asking again those that teach it."""
    flight = with_scales(flight, corrections.fuel)
    flight = with_current_scales(flight, corrections.currents)
    values = corrections.resistances
    packs = tuple(
        p
        if values.get(p.name, p.resistance.value_mohm) == p.resistance.value_mohm
        else replace(p, resistance=replace(p.resistance, value_mohm=values[p.name]))
        for p in flight.result.packs.packs
    )
    if all(a is b for a, b in zip(packs, flight.result.packs.packs, strict=True)):
        return flight
    return replace(flight, result=replace(flight.result, packs=replace(flight.result.packs, packs=packs)))


def taken_over(flight: FlightRecord, shown: FlightRecord) -> FlightRecord:
    """A whole flight corrected the way its brief shows it.

    Parameters
    ----------
    flight : FlightRecord
        As analysed by itself.
    shown : FlightRecord
        The same flight corrected, or its brief.
    """
    return with_corrections(flight, corrections_of(shown))


def number_flights(lineup: Lineup) -> dict[str, int]:
    """Count each aircraft's flights from 1, oldest first, by their ids; flights of no aircraft are counted together."""
    numbers = np.zeros(len(lineup), np.intp)
    for places in lineup.owned.values():
        numbers[places] = np.arange(1, places.size + 1)
    return dict(zip(lineup.ids, numbers.tolist(), strict=True))


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
    return correct_resistance(correct_currents([found[f.flight_id] for f in flights], only), only)
