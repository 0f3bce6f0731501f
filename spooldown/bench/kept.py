"""Bench records as the logbook keeps them, and what flights take from them."""

from __future__ import annotations

import bisect
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from msgspec.structs import replace

from analyser.bench import fuel
from analyser.bench.procedures import BenchRecord, Procedure
from analyser.core.aircraft import FlightContext
from analyser.core.figures import Figure
from spooldown.logbook.book import Logbook
from spooldown.problems import not_found

KIND = "bench"


def bench_records(book: Logbook) -> dict[str, BenchRecord]:
    """All bench records by their number."""
    found = {number: record for number, record in book.records_of(KIND, BenchRecord).items() if number.isdecimal()}
    return dict(sorted(found.items(), key=lambda item: int(item[0])))


def keep(book: Logbook, record: BenchRecord) -> tuple[str, bool]:
    """Keep a record; returns its number, and whether it is new: the same one twice is kept once."""
    return _kept(book, [record])[0]


def keep_all(book: Logbook, records: Sequence[BenchRecord]) -> int:
    """Keep records, all or none; returns how many were new."""
    return sum(new for _, new in _kept(book, records))


def _kept(book: Logbook, records: Sequence[BenchRecord]) -> list[tuple[str, bool]]:
    from spooldown.logbook.codec import to_json

    found: list[tuple[str, bool]] = []

    def add(there: dict[str, str]) -> Mapping[str, str | None]:
        known = {json.dumps(json.loads(body), sort_keys=True): number for number, body in there.items()}
        last, put = max(map(int, there), default=0), {}
        for record in records:
            body = to_json(record).decode()
            mark = json.dumps(json.loads(body), sort_keys=True)
            new = mark not in known
            if new:
                last += 1
                known[mark] = str(last)
                put[str(last)] = body
            found.append((known[mark], new))
        return put

    book.change_records(KIND, add)
    return found


def remove(book: Logbook, numbers: Iterable[str]) -> None:
    """Take records out, all or none.

    Raises
    ------
    NotFoundProblem
        If there is none of such a number.
    """

    def drop(there: dict[str, str]) -> Mapping[str, str | None]:
        for number in numbers:
            if number not in there:
                raise not_found("bench_record", number, there, remedy="remedy.list_bench")
        return dict.fromkeys(numbers)

    book.change_records(KIND, drop)


class Scales:
    """What calibrations on the bench say of an aircraft's fuel sensors and pumps, from the day they were made."""

    def __init__(self, records: Iterable[BenchRecord]) -> None:
        self._days: dict[str, list[date]] = {}
        self._found: dict[str, list[tuple[dict[str, Figure], dict[str, Figure]]]] = {}
        flows = sorted((r for r in records if r.procedure is Procedure.FLOW), key=lambda r: r.day)
        for aircraft in dict.fromkeys(r.aircraft for r in flows):
            own = [r for r in flows if r.aircraft == aircraft]
            for day in dict.fromkeys(r.day for r in own):
                until = [r for r in own if r.day <= day]
                self._days.setdefault(aircraft, []).append(day)
                self._found.setdefault(aircraft, []).append((fuel.calibrations(until), fuel.deliveries(until)))

    def given_to(self, context: FlightContext, day: date | None) -> FlightContext:
        """The context of a flight of that day with what was calibrated by then; itself where nothing was.

        A pump's delivery takes the place of the one in the aircraft's file.
        """
        aircraft = context.aircraft
        if aircraft is None or day is None or aircraft.name not in self._days:
            return context
        at = bisect.bisect_right(self._days[aircraft.name], day) - 1
        if at < 0:
            return context
        sensors, pumps = self._found[aircraft.name][at]
        if not pumps:
            return replace(context, sensor_scales=sensors)
        engines = []
        for engine in aircraft.engines:
            tank = engine.tank or next((t.name for t in aircraft.tanks if t.engine == engine.name), engine.name)
            delivery = pumps.get(tank)
            value = delivery.value if delivery else None
            engines.append(replace(engine, pump_ml_per_min_at_full=value) if value else engine)
        scales = {
            tank: figure.times(1.0 / figure.value, figure.label, "×", digits=3)
            for tank, figure in pumps.items()
            if figure.value
        }
        return replace(
            context, aircraft=replace(aircraft, engines=tuple(engines)), sensor_scales=sensors, pump_scales=scales
        )
