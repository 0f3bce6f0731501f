"""Flights side by side: differences with honest intervals, and what was different."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from analyser.compare import CompareResult, compare_flights, difference
from analyser.core.aircraft import Aircraft, AntennaLayout, Engine, FlightContext, FuelNote, Pack, Tank
from analyser.core.figures import Figure, Method
from analyser.flight import analyse_flight
from analyser.record import FlightRecord
from reports.words.catalogue import text, written
from tests.analyser import flown

PLOVER = Aircraft("Plover", engines=(Engine("main", tank="main"),), tanks=(Tank("main", 3000.0, 50.0, "main"),))


def record(number: int, factor: float = 1.0, **noted: object) -> FlightRecord:
    true = flown.truth(2.0, factor=factor)
    telemetry = flown.telemetry(
        true.time_s,
        engine__main__speed_rpm=true.speed_rpm,
        fuel__main__flow_ml_per_min=true.burn_ml_per_min,
        pack__rx1__voltage_v=8.0 + 0.0 * true.time_s,
        **{k.replace(".", "__"): v for k, v in flown.motion(true.time_s).items()},
    )
    context = FlightContext(f"plover-{number}", PLOVER, **noted)  # type: ignore[arg-type]
    start = datetime(2030, 1, 1, tzinfo=UTC) + timedelta(days=number)
    return FlightRecord(context.flight_id, number, start, context, analyse_flight(telemetry, context))


@pytest.fixture(scope="module")
def three() -> tuple[FlightRecord, ...]:
    pack = Pack("R1", "lipo", 2, 3000.0)
    return (
        record(1, packs={"rx1": pack}, air_temperature_c=18.0, fuel_notes={"main": FuelNote(2800.0, 1900.0)}),
        record(2, 1.1, packs={"rx1": replace(pack, name="R2")}, layout=AntennaLayout("on the fin", ())),
        record(3, packs={"rx1": pack}, air_temperature_c=18.0, remarks="gusty"),
    )


def row(result: CompareResult, path: str) -> tuple[tuple[Figure | None, ...], tuple[Figure | None, ...]]:
    (found,) = [r for r in result.rows if r.path == path]
    return found.figures, found.differences


def test_a_tenth_more_burn_shows_as_a_tenth_more(three: tuple[FlightRecord, ...]) -> None:
    figures, differences = row(compare_flights(three), "tanks.main.by_sensor.burned")
    burned = [f.value for f in figures if f]
    assert differences[0] is None
    assert differences[1] is not None
    assert differences[1].value == pytest.approx(0.1 * burned[0], rel=0.02)
    assert differences[2] is not None
    assert differences[2].value == pytest.approx(0.0, abs=0.01 * burned[0])
    assert figures[0] is not None
    assert figures[0].low is not None, "the tank's burn carries an interval, or this test asks the wrong figure"
    assert differences[2].low is not None
    assert differences[2].high is not None
    assert differences[2].low < 0 < differences[2].high


def test_base_may_be_any_flight(three: tuple[FlightRecord, ...]) -> None:
    first = row(compare_flights(three, 0), "tanks.main.burn.burned")[1]
    second = row(compare_flights(three, 1), "tanks.main.burn.burned")[1]
    assert second[1] is None
    assert first[1] is not None
    assert second[0] is not None
    assert second[0].value == pytest.approx(-first[1].value)
    with pytest.raises(IndexError):
        compare_flights(three, 3)
    with pytest.raises(IndexError):
        compare_flights(three, -1)


def test_what_was_noted_differs_or_not(three: tuple[FlightRecord, ...]) -> None:
    said = {text(c.name): c for c in compare_flights(three).circumstances}
    assert said["Pack as rx1"].values == ("R1", "R2", "R1")
    assert said["Pack as rx1"].differs
    assert said["Antenna layout"].values == ("", "on the fin", "")
    assert tuple(map(written, said["Air temperature"].values)) == ("18\u00a0°C", "", "18\u00a0°C")
    assert tuple(map(written, said["Fuel before, the main tank"].values)) == ("2\u202f800\u00a0mL", "", "")
    assert tuple(map(written, said["Fuel put in after, the main tank"].values)) == ("1\u202f900\u00a0mL", "", "")
    assert said["Remarks"].values == ("", "", "gusty")
    assert not said["Aircraft"].differs
    quiet = {text(c.name) for c in compare_flights(three[:1]).circumstances}
    assert "Remarks" not in quiet


def test_curves_are_shifted_to_take_off(three: tuple[FlightRecord, ...]) -> None:
    result = compare_flights(three)
    assert result.take_off_s == pytest.approx([flown.TAKE_OFF_S] * 3, abs=2.0)
    assert result.flight_ids == ("plover-1", "plover-2", "plover-3")


def test_every_row_is_known_somewhere_and_of_one_unit(three: tuple[FlightRecord, ...]) -> None:
    result = compare_flights(three)
    assert {r.subject for r in result.rows} >= {"fuel", "packs", "turbine"}
    assert len({(r.subject, r.path, r.unit) for r in result.rows}) == len(result.rows)
    for r in result.rows:
        assert len(r.figures) == len(r.differences) == 3
        assert any(f is not None and f.value is not None for f in r.figures)
        assert {f.unit for f in r.figures if f is not None} == {r.unit}


def test_a_quantity_in_two_units_makes_two_rows(three: tuple[FlightRecord, ...]) -> None:
    tank = three[1].result.fuel.tanks[0]
    odd = replace(tank, burn=replace(tank.burn, burned=replace(tank.burned, unit="g")))
    other = replace(three[1], result=replace(three[1].result, fuel=replace(three[1].result.fuel, tanks=(odd,))))
    rows = [r for r in compare_flights((three[0], other)).rows if r.path == "tanks.main.burn.burned"]
    assert [(r.unit, r.differences) for r in rows] == [("mL", (None, None)), ("g", (None, None))]


numbers = st.floats(-1e6, 1e6)
widths = st.floats(0, 1e5)


@st.composite
def estimates(draw: st.DrawFn) -> Figure:
    value = draw(numbers)
    return Figure("x", value, "mL", Method.ESTIMATED, value - draw(widths), value + draw(widths))


@given(estimates(), estimates())
def test_difference_holds_the_value_and_is_wider_than_either(a: Figure, b: Figure) -> None:
    d = difference(a, b)
    assert d.value is not None
    assert d.low is not None
    assert d.high is not None
    assert d.low <= d.value <= d.high
    assert d.half_width >= max(a.half_width, b.half_width) / 2**0.5 - 1e-6
    assert d.half_width <= a.half_width + b.half_width + 1e-6
    back = difference(b, a)
    assert (back.value, back.low, back.high) == pytest.approx((-d.value, -d.high, -d.low), abs=1e-6)


def test_known_example_of_combined_errors() -> None:
    a = Figure("x", 10.0, "V", Method.ESTIMATED, 7.0, 13.0)
    b = Figure("x", 4.0, "V", Method.ESTIMATED, 0.0, 8.0)
    d = difference(a, b)
    assert (d.value, d.low, d.high) == (6.0, 1.0, 11.0)  # 3 and 4 in quadrature: 5


def test_half_an_uncertainty_is_none() -> None:
    a = Figure("x", 10.0, "V", Method.ESTIMATED, 7.0, 13.0)
    plain = Figure("x", 4.0, "V", Method.MEASURED, doubts=("spiky",))
    d = difference(a, plain)
    assert (d.value, d.low, d.high, d.doubts) == (6.0, None, None, ("spiky",))
    assert difference(a, replace(a, confidence=0.5)).low is None


def test_absent_stays_absent_and_units_must_agree() -> None:
    gone = Figure.unavailable("x", "V", "no sensor")
    there = Figure("x", 4.0, "V", Method.MEASURED)
    assert difference(gone, there).missing == "no sensor"
    assert difference(there, gone).value is None
    with pytest.raises(ValueError, match="V"):
        difference(there, replace(there, unit="A"))
