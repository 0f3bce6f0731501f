"""Fuel of one flight over all its tanks: what was burned, how fast, which side more, and what happened.

Each subject has a module of its own: sources of burn (``sources``), the smoothed burn (``burn``), what a sensor's
millilitre is worth (``scale``), one tank (``tank``), what was left (``remaining``), phases and power bands
(``shares``), two tanks side by side (``balance``), mass and balance point (``mass``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from analyser.core.aircraft import FlightContext, Tank
from analyser.core.events import Event
from analyser.core.figures import Figure, Missing, total
from analyser.core.findings import Text, say
from analyser.core.phases import Phases
from analyser.core.tables import Tabular
from analyser.core.telemetry import Telemetry
from analyser.fuel.balance import find_swapped, first_endurance, imbalance
from analyser.fuel.codes import FuelCode
from analyser.fuel.mass import balance_shift, burned_mass
from analyser.fuel.remaining import RESERVE_EVENTS
from analyser.fuel.scale import SensorScale
from analyser.fuel.sources import tanks_of
from analyser.fuel.tank import TankResult, analyse_tank, events_of_reserve, set_scale


class FuelResult(Tabular, Struct, frozen=True):
    """Fuel of one flight over its tanks.

    ``burned``, ``mass`` and ``rate`` are sums over tanks; ``imbalance`` is the first tank over the second, as a share
    of their mean, ``balance`` what to say of it; ``endurance`` is flight time to the first dry tank.
    """

    tanks: tuple[TankResult, ...]
    burned: Figure
    mass: Figure
    rate: Figure
    imbalance: Figure
    balance: Text
    endurance: Figure
    balance_shift: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]


def analyse_fuel(telemetry: Telemetry, phases: Phases, context: FlightContext) -> FuelResult:
    """Work out one flight's fuel.

    Parameters
    ----------
    telemetry : Telemetry
        Screened.
    phases : Phases
        Of the same telemetry.
    context : FlightContext
        Tanks (capacity, unusable, reserve), volumes noted before and afterwards, air temperature, fuel density, and
        the burn curves that other flights taught.

    Returns
    -------
    FuelResult
        A tank for every ``fuel.*`` instance and every tank that the owner described, or other flights logged, of which
        the log can say anything. :func:`set_scales` sets it right by what other flights teach of the sensors.
    """
    described = tanks_of(telemetry.channels, context.aircraft)
    described += [Tank(n) for n in context.learned_burn if n not in {t.name for t in described}]
    found = [analyse_tank(t, telemetry, phases, context) for t in described]
    tanks = [f.result for f in found if f.result]
    missing = [m for f in found for m in f.missing]
    if not described:
        missing.append(
            Missing("fuel", say(FuelCode.ANY_CHANNEL), say(FuelCode.ALL_FUEL), say(FuelCode.LOG_FUEL))
        )  # fmt: skip
    crossed = find_swapped(telemetry, tanks)
    tanks = [t.doubted(*(e.summary for e in crossed)) for t in tanks]
    events = (*(e for f in found for e in f.events), *crossed)
    return _composed(tanks, context, events, tuple(missing))


def set_scales(
    fuel: FuelResult, phases: Phases, context: FlightContext, scales: Mapping[str, SensorScale]
) -> FuelResult:
    """Set a flight's fuel right by what other flights teach of its sensors; no telemetry is needed.

    Parameters
    ----------
    fuel : FuelResult
        From :func:`analyse_fuel`, or set right before.
    phases, context : Phases, FlightContext
        Of the same flight.
    scales : mapping of str to SensorScale
        By tank; a tank that is not in it, was told by a curve, or has a volume of its own stands as it is.
    """
    described = {t.name: t for t in context.aircraft.tanks} if context.aircraft else {}
    tanks = [
        set_scale(t, scales[t.name], described.get(t.name) or Tank(t.name), phases, context)
        if t.measured and t.scale.own.value is None and t.name in scales
        else t
        for t in fuel.tanks
    ]
    events = [e for e in fuel.events if e.kind not in RESERVE_EVENTS]
    events += [e for t in tanks for e in events_of_reserve(t, phases)]
    return _composed(tanks, context, tuple(events), fuel.missing)


def _composed(
    tanks: Sequence[TankResult], context: FlightContext, events: tuple[Event, ...], missing: tuple[Missing, ...]
) -> FuelResult:
    uneven, said = imbalance(tanks)
    # Sensors of one make are off alike, so that unchecked errors add up instead of averaging away.
    alike = any(t.measured and not t.scale.applied.checked for t in tanks)
    aircraft, temperature_c = context.aircraft, context.air_temperature_c
    burned = _sum(say(FuelCode.BURNED_ALL), [t.burned for t in tanks], "mL", alike)
    return FuelResult(
        tanks=tuple(tanks),
        burned=burned,
        mass=burned_mass(burned, aircraft.fuel if aircraft else None, temperature_c),
        rate=_sum(say(FuelCode.RATE_ALL), [t.rate for t in tanks], "mL/min", alike),
        imbalance=uneven,
        balance=said,
        endurance=first_endurance(tanks),
        balance_shift=balance_shift({t.name: t.burned for t in tanks}, aircraft, temperature_c),
        events=events,
        missing=missing,
    )


def _sum(label: Text, parts: Sequence[Figure], unit: str, correlated: bool) -> Figure:
    if not parts:
        return Figure.unavailable(label, unit, say(FuelCode.NO_FUEL))
    how = parts[0].how if len(parts) == 1 else say(FuelCode.SUM_OF_TANKS)
    return total(label, parts, how=how, correlated=correlated)
