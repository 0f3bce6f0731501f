"""Flights side by side: every figure in each of them, how far it is from one chosen flight, and what was different.

Nothing is said of *why* two flights differ: the page puts what was noted beside what was measured, and the
reader judges. A difference carries an interval only where both figures do.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.codes import CompareCode, CoreCode
from analyser.core.figures import Figure, Method, figures_of
from analyser.core.findings import Part, Text, Value, say
from analyser.core.tables import Tabular
from analyser.record import FlightRecord

SUBJECTS = ("fuel", "packs", "link", "turbine")
"""Parts of a flight's result whose figures are compared, in the order shown."""
_NOT_COMPARED = frozenset({"events", "starts", "phases", "bands", "bins"})
"""Lists whose members in two flights have nothing to do with each other but their place."""


class ComparedFigure(Struct, frozen=True):
    """One figure in every flight.

    Parameters
    ----------
    subject : str
        One of :data:`SUBJECTS`.
    path : str
        Where the figure stands in that part of the result (``tanks.left.burn.burned``), the same in every flight.
    label, unit : Text, str
        As printed; a quantity measured in another unit in some flights makes a row of its own for each unit.
    figures : tuple of Figure or None, length (flights,)
        ``None`` where a flight has no such thing at all.
    differences : tuple of Figure or None, length (flights,)
        Against the base flight; ``None`` for the base itself and wherever either value is not known.
    """

    subject: str
    path: str
    label: Text
    unit: str
    figures: tuple[Figure | None, ...]
    differences: tuple[Figure | None, ...]


class Circumstance(Struct, frozen=True):
    """Something noted about the flights; '' where one has no note. ``differs`` where not all are alike."""

    name: Text
    values: tuple[Value, ...]
    differs: bool


class CompareResult(Tabular, Struct, frozen=True):
    """Several flights side by side.

    Parameters
    ----------
    flight_ids : tuple of str, length (flights,)
        In the order given.
    base : int
        Position of the flight that differences are taken against.
    take_off_s : tuple of float or None, length (flights,)
        Offset of each flight's curves: seconds from its first row to lift-off, ``None`` where none was seen.
    circumstances : tuple of Circumstance
        What was the same and what was different, as noted; what nobody noted in any flight is left out.
    rows : tuple of ComparedFigure
        Every quantity known in at least one flight, by subject.
    """

    flight_ids: tuple[str, ...]
    base: int
    take_off_s: tuple[float | None, ...]
    circumstances: tuple[Circumstance, ...]
    rows: tuple[ComparedFigure, ...]


def compare_flights(flights: Sequence[FlightRecord], base: int = 0) -> CompareResult:
    """Put flights side by side.

    Parameters
    ----------
    flights : sequence of FlightRecord
        At least one, in the order to be shown.
    base : int
        Which of them the differences are taken against.

    Raises
    ------
    IndexError
        If there is no flight at ``base``.
    """
    if not 0 <= base < len(flights):
        raise IndexError(f"no flight at {base}: there are {len(flights)}")
    rows = [row for subject in SUBJECTS for row in _rows(subject, flights, base)]
    return CompareResult(
        flight_ids=tuple(f.flight_id for f in flights),
        base=base,
        take_off_s=tuple(f.result.phases.take_off_s for f in flights),
        circumstances=tuple(circumstances(flights)),
        rows=tuple(rows),
    )


def compared(figures: Iterable[tuple[str, Figure]]) -> dict[tuple[str, str], Figure]:
    """Those figures of one part of a result that are compared, by their path and unit."""
    return {(path, f.unit): f for path, f in figures if _NOT_COMPARED.isdisjoint(path.split("."))}


def _rows(subject: str, flights: Sequence[FlightRecord], base: int) -> Iterator[ComparedFigure]:
    walked = [compared(figures_of(getattr(flight.result, subject))) for flight in flights]
    for path, unit in dict.fromkeys(key for found in walked for key in found):
        figures = tuple(found.get((path, unit)) for found in walked)
        known = [f for f in figures if f is not None and f.value is not None]
        if not known:
            continue
        reference = figures[base]
        differences = tuple(_from(reference, f) if n != base else None for n, f in enumerate(figures))
        yield ComparedFigure(subject, path, known[0].label, unit, figures, differences)


def _from(reference: Figure | None, figure: Figure | None) -> Figure | None:
    if reference is None or figure is None or reference.value is None or figure.value is None:
        return None
    return difference(figure, reference)


def circumstances(flights: Sequence[FlightRecord]) -> Iterator[Circumstance]:
    """What was the same and what was different, as noted; what nobody noted in any flight is left out."""
    contexts = [f.context for f in flights]
    noted: list[tuple[Text, list[Value]]] = [
        (say(CompareCode.DATE), [f.utc_start or "" for f in flights]),
        (say(CompareCode.AIRCRAFT), [f.aircraft for f in flights]),
        (say(CompareCode.LAYOUT), [c.layout.name if c.layout else "" for c in contexts]),
        (say(CompareCode.AIR_TEMPERATURE), [_entered(c.air_temperature_c, "°C") for c in contexts]),
    ]
    for role in dict.fromkeys(role for c in contexts for role in c.packs):
        names: list[Value] = [c.packs[role].name if role in c.packs else "" for c in contexts]
        noted.append((say(CompareCode.PACK_AS, role=role), names))
    for tank in dict.fromkeys(tank for c in contexts for tank in c.fuel_notes):
        notes = [c.fuel_notes.get(tank) for c in contexts]
        part = Part(f"fuel.{tank}")
        before = [_entered(n.before_ml if n else None, "mL") for n in notes]
        put_in = [_entered(n.put_in_ml if n else None, "mL") for n in notes]
        noted.append((say(CompareCode.FUEL_BEFORE, tank=part), before))
        noted.append((say(CompareCode.FUEL_PUT_IN, tank=part), put_in))
    aloft = [f.result.phases.airborne_min for f in flights]
    noted.append((say(CoreCode.AIRBORNE), [f if f.value is not None else "" for f in aloft]))
    noted.append((say(CompareCode.REMARKS), [c.remarks for c in contexts]))
    for name, values in noted:
        if any(values):
            yield Circumstance(name, tuple(values), any(v != values[0] for v in values[1:]))


def _entered(value: float | None, unit: str) -> Value:
    if value is None:
        return ""
    return Figure("", value, unit, Method.ENTERED, digits=0)


def difference(figure: Figure, reference: Figure) -> Figure:
    """Take one figure from another of the same unit: ``figure`` − ``reference``.

    The ends of the interval are combined in quadrature, side by side, as for independent errors (JCGM 100:2008, 5.1.2);
    where only one of the two carries an interval there is none: half an uncertainty would look like a whole one.

    Raises
    ------
    ValueError
        If the units differ.
    """
    if figure.unit != reference.unit:
        raise ValueError(f"cannot take {reference.unit!r} from {figure.unit!r}")
    label = say(CompareCode.DIFFERENCE, label=figure.label)
    if figure.value is None or reference.value is None:
        lost = figure if figure.value is None else reference
        return Figure.unavailable(label, figure.unit, lost.missing)
    how = say(CompareCode.DIFFERENCE_HOW, how=figure.how)
    ends = (figure.low, figure.high, reference.low, reference.high)
    if all(e is not None for e in ends) and math.isclose(figure.confidence, reference.confidence):
        return replace(figure.minus(reference, label, how=how), confidence=figure.confidence)
    value = figure.value - reference.value
    plain = Figure(label, value, figure.unit, figure.method, how=how, digits=max(figure.digits, reference.digits))
    return plain.with_doubt(*figure.doubts, *reference.doubts)
