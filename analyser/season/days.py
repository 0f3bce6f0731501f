"""Flying days: what one aircraft flew on one day, what it used, what is left, and what was changed before."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext
from analyser.core.codes import CoreCode
from analyser.core.figures import Figure, Method, total
from analyser.core.findings import Finding, say
from analyser.record import Record
from analyser.season.codes import DayCode


class PackDay(Struct, frozen=True):
    """One pack on one day.

    Parameters
    ----------
    pack, role : str
        Its name, and where it was fitted.
    flights : int
        How many of the day's flights it was fitted in.
    used : Figure
        Charge taken over the day, mAh.
    left : Figure
        State of charge after the last of them, percent.
    charged : bool
        Whether charge put back is noted after the last of them.
    """

    pack: str
    role: str
    flights: int
    used: Figure
    left: Figure
    charged: bool


class FlyingDay(Struct, frozen=True):
    """One aircraft on one day (UTC), its flights oldest first.

    Parameters
    ----------
    airborne, burned : Figure
        Sums over the day's flights, min and mL; unavailable where one flight cannot tell.
    put_in : tuple of (tank, Figure)
        Fuel from the can as noted, mL, tank by tank, over the flights that note it.
    noted_put_in : int
        How many of the day's flights note what was put in.
    changes : tuple of Finding
        What differs from the aircraft's flight before, flight by flight.
    air_temperature_c : tuple of float
        As noted, in the order of the flights.
    """

    day: date
    aircraft: str
    flight_ids: tuple[str, ...]
    airborne: Figure
    burned: Figure
    put_in: tuple[tuple[str, Figure], ...]
    noted_put_in: int
    packs: tuple[PackDay, ...]
    changes: tuple[Finding, ...]
    air_temperature_c: tuple[float, ...]


def flying_days(flights: Sequence[Record]) -> tuple[FlyingDay, ...]:
    """Sort flights into days and aircraft, oldest day first; flights without a date belong to no day.

    Parameters
    ----------
    flights : sequence of Record
        In any order; of any number of aircraft.
    """
    out = []
    changes = changes_of(flights)
    for aircraft, flown in _by_aircraft(flights).items():
        by_day: dict[date, list[Record]] = {}
        for flight in flown:
            by_day.setdefault(_when(flight).date(), []).append(flight)
        for day, some in by_day.items():
            found = tuple(change for f in some for change in changes[f.flight_id])
            out.append(_day(day, aircraft, some, found))
    return tuple(sorted(out, key=lambda d: (d.day, d.aircraft)))


def changes_of(flights: Sequence[Record]) -> dict[str, tuple[Finding, ...]]:
    """What is noted to differ from the same aircraft's flight before, by flight id; dated flights only."""
    out: dict[str, tuple[Finding, ...]] = {}
    for flown in _by_aircraft(flights).values():
        out[flown[0].flight_id] = ()
        out |= {after.flight_id: changed(before, after) for before, after in pairwise(flown)}
    return out


def _by_aircraft(flights: Sequence[Record]) -> dict[str, list[Record]]:
    out: dict[str, list[Record]] = {}
    for flight in sorted((f for f in flights if f.utc_start is not None), key=_when):
        out.setdefault(flight.aircraft, []).append(flight)
    return out


def changed(before: Record, after: Record) -> tuple[Finding, ...]:
    """What was noted to be different in the later of two flights of one aircraft: layout, and packs by place."""
    old, new = before.context, after.context
    out = []
    layouts = [c.layout.name if c.layout else "" for c in (old, new)]
    if all(layouts) and layouts[0] != layouts[1]:
        out.append(say(DayCode.LAYOUT, before=layouts[0], after=layouts[1], flight=after.number))
    for role, pack in new.packs.items():
        if role in old.packs and old.packs[role].name != pack.name:
            name = old.packs[role].name
            out.append(say(DayCode.PACK, role=role, before=name, after=pack.name, flight=after.number))
    return tuple(out)


def _when(flight: Record) -> datetime:
    assert flight.utc_start is not None
    return flight.utc_start


def _day(day: date, aircraft: str, flights: Sequence[Record], changes: tuple[Finding, ...]) -> FlyingDay:
    results = [f.result for f in flights]
    return FlyingDay(
        day=day,
        aircraft=aircraft,
        flight_ids=tuple(f.flight_id for f in flights),
        airborne=total(say(CoreCode.AIRBORNE), [r.phases.airborne_min for r in results]),
        burned=total(say(DayCode.BURNED), [r.fuel.burned for r in results]),
        put_in=_put_in([f.context for f in flights]),
        noted_put_in=sum(any(n.put_in_ml is not None for n in f.context.fuel_notes.values()) for f in flights),
        packs=_packs(flights),
        changes=changes,
        air_temperature_c=tuple(t for f in flights if (t := f.context.air_temperature_c) is not None),
    )


def _put_in(contexts: Sequence[FlightContext]) -> tuple[tuple[str, Figure], ...]:
    """Volumes are read off a can or a pump, so they have no interval of their own."""
    noted: dict[str, float] = {}
    for context in contexts:
        for tank, note in context.fuel_notes.items():
            if note.put_in_ml is not None:
                noted[tank] = noted.get(tank, 0.0) + note.put_in_ml
    return tuple((t, Figure(say(DayCode.PUT_IN), ml, "mL", Method.ENTERED, digits=0)) for t, ml in noted.items())


def _packs(flights: Sequence[Record]) -> tuple[PackDay, ...]:
    fitted: dict[str, list[tuple[str, Record]]] = {}
    for flight in flights:
        for role, pack in flight.context.packs.items():
            fitted.setdefault(pack.name, []).append((role, flight))
    out = []
    for name, some in fitted.items():
        found = [next((p for p in f.result.packs.packs if p.name == role), None) for role, f in some]
        known = [p for p in found if p is not None]
        if not known:
            continue
        last = known[-1]
        out.append(
            PackDay(
                pack=name,
                role=some[-1][0],
                flights=len(some),
                used=total(say(DayCode.USED), [p.charge.used_mah for p in known]),
                left=replace(last.state.after_percent, digits=0),
                charged=last.charge.put_back_mah.value is not None,
            )
        )
    return tuple(out)
