"""Flying days: what was flown, used, filled and changed, day by day."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from msgspec.structs import replace

from analyser.core.aircraft import FuelNote, Pack
from analyser.record import FlightRecord
from analyser.season.codes import DayCode
from analyser.season.days import changes_of, flying_days
from tests.reports import invented


def flown(n: int, start: datetime | None, **context: object) -> FlightRecord:
    record = invented.flight(n).record
    return replace(record, utc_start=start, context=replace(record.context, **context))


NOON = datetime(2031, 5, 17, 12, 0, tzinfo=UTC)


def test_flights_are_sorted_into_days_and_aircraft() -> None:
    other = replace(invented.TERN, name="Plover")
    flights = [
        flown(3, NOON + timedelta(days=1)),
        flown(1, NOON),
        flown(2, NOON + timedelta(hours=2)),
        flown(4, None),
        flown(5, NOON, aircraft=other),
    ]
    days = flying_days(flights)
    assert [(d.day, d.aircraft, len(d.flight_ids)) for d in days] == [
        (date(2031, 5, 17), "Plover", 1),
        (date(2031, 5, 17), "Tern", 2),
        (date(2031, 5, 18), "Tern", 1),
    ]
    both = days[1]
    one, two = flights[1].result.fuel.burned, flights[2].result.fuel.burned
    assert both.flight_ids == (flights[1].flight_id, flights[2].flight_id)
    assert both.burned.value == pytest.approx(one.value + two.value)
    # JCGM 100:2008, 5.1.2: independent half-widths combine in quadrature
    if one.half_width and two.half_width:
        assert both.burned.half_width == pytest.approx((one.half_width**2 + two.half_width**2) ** 0.5)


def test_the_can_is_summed_over_the_flights_that_note_it() -> None:
    notes = {"left": FuelNote(put_in_ml=900.0), "right": FuelNote(put_in_ml=850.0)}
    (day,) = flying_days(
        [
            flown(1, NOON, fuel_notes=notes),
            flown(2, NOON, fuel_notes={"left": FuelNote(put_in_ml=100.0)}),
            flown(3, NOON, fuel_notes={}),
        ]
    )
    assert {t: f.value for t, f in day.put_in} == {"left": 1000.0, "right": 850.0}
    assert day.noted_put_in == 2


def test_what_changed_is_said_once_before_its_flight() -> None:
    a, b = invented.LAYOUT_A, invented.LAYOUT_B
    r1, r9 = Pack("R1", "LiFe", 2, 3000.0), Pack("R9", "LiFe", 2, 3000.0)
    flights = [
        flown(1, NOON, layout=a, packs={"rx1": r1}),
        flown(2, NOON + timedelta(hours=1), layout=a, packs={"rx1": r9}),
        flown(3, NOON + timedelta(days=1), layout=b, packs={"rx1": r9}),
        flown(4, NOON + timedelta(days=2), layout=None, packs={}),
    ]
    changes = changes_of(flights)
    assert [[c.code for c in changes[f.flight_id]] for f in flights] == [[], [DayCode.PACK], [DayCode.LAYOUT], []]
    days = flying_days(flights)
    assert [len(d.changes) for d in days] == [1, 1, 0]
    assert days[1].changes[0].values["after"] == "B"


def test_packs_tell_what_they_gave_and_what_is_left() -> None:
    flights = [flown(1, NOON), flown(2, NOON + timedelta(hours=1))]
    (day,) = flying_days(flights)
    for pack in day.packs:
        results = [next(p for p in f.result.packs.packs if p.name == pack.role) for f in flights]
        assert pack.flights == 2
        assert pack.left.value == results[-1].state.after_percent.value
        if all(r.charge.used_mah.value is not None for r in results):
            assert pack.used.value == pytest.approx(sum(r.charge.used_mah.value for r in results))
    assert day.packs
