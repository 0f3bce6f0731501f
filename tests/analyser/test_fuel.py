"""Fuel of one flight from every kind of sensor, against known burn; and every kind of bad data, by name."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Engine, FlightContext, Fuel, FuelNote, Reserve, Tank
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.fuel.analysis import FuelResult, analyse_fuel
from analyser.fuel.density import volume_correction
from reports.words.catalogue import text
from tests.analyser import flown

FULL = 4000.0
TWIN = Aircraft(
    "Tern", mass_kg=24.0,
    engines=(Engine("left", tank="left", pump_ml_per_min_at_full=900.0), Engine("right", tank="right")),
    tanks=(Tank("left", FULL, 50.0, "left", x_m=0.4), Tank("right", FULL, 50.0, "right", x_m=0.4)),
    reserve=Reserve(percent=20.0),
)  # fmt: skip
Sensor = Callable[[flown.Truth], dict[str, np.ndarray]]

SENSORS: dict[str, Sensor] = {
    "remaining": lambda x: {"fuel.left.remaining_ml": FULL - x.burned_ml + flown.slosh(x.time_s, 30.0)},
    "percent": lambda x: {"fuel.left.remaining_percent": np.round(100 * (FULL - x.burned_ml) / FULL)},
    "used": lambda x: {"fuel.left.used_ml": np.round(x.burned_ml)},
    "flow": lambda x: {
        "fuel.left.flow_ml_per_min": np.maximum(
            x.burn_ml_per_min + np.random.default_rng(3).normal(0, 15, x.time_s.size), 0
        )
    },
    "pump": lambda x: {"engine.left.pump_percent": 100 * x.burn_ml_per_min / 900.0},
}


def _analyse(columns: dict[str, np.ndarray], true: flown.Truth, context: FlightContext | None = None) -> FuelResult:
    base = {"engine.left.speed_rpm": true.speed_rpm, **flown.motion(true.time_s)}
    tele = screen(flown.telemetry(true.time_s, **(base | columns)))
    return analyse_fuel(tele, find_phases(tele), context or FlightContext(aircraft=TWIN))


@pytest.mark.parametrize("kind", SENSORS)
@pytest.mark.parametrize("hz", [2.0, 10.0])
def test_every_sensor_gives_the_true_burn(kind: str, hz: float) -> None:
    true = flown.truth(hz)
    tank = _analyse(SENSORS[kind](true), true).tanks[0]
    assert tank.burned.value == pytest.approx(true.burned_ml[-1], rel=0.015)
    assert tank.rate.value == pytest.approx(true.airborne_rate, rel=0.02)
    assert tank.burn_rate is not None
    assert tank.burn_rate.low is not None
    assert tank.burn_rate.high is not None
    assert sum(p.burned.value or 0.0 for p in tank.phases) == pytest.approx(tank.burned.value, rel=0.01)


def test_burn_curve_has_the_true_constants() -> None:
    true = flown.truth()
    curve = _analyse(SENSORS["flow"](true), true).tanks[0].curve
    assert curve is not None
    assert float(curve.at(np.array([0.75 * flown.FULL_RPM]))[0]) == pytest.approx(
        flown.FLOOR + flown.CUBIC * 0.75**3, rel=0.05
    )


def test_put_in_volume_sets_the_sensor_right_and_both_are_shown() -> None:
    true = flown.truth()
    reads_low = {"fuel.left.used_ml": 0.9 * true.burned_ml}
    context = FlightContext(aircraft=TWIN, fuel_notes={"left": FuelNote(put_in_ml=float(true.burned_ml[-1]))})
    tank = _analyse(reads_low, true, context).tanks[0]
    assert tank.by_sensor.burned.value == pytest.approx(0.9 * true.burned_ml[-1], rel=0.01)
    assert tank.burned.value == pytest.approx(true.burned_ml[-1], rel=0.001)
    own = tank.scale.own
    assert own.value == pytest.approx(1 / 0.9, rel=0.01)
    assert own.low is not None
    assert own.low < 1 / 0.9 < (own.high or 0)
    assert tank.scale.applied.factor.value == own.value
    assert tank.scale.applied.factor.half_width == own.half_width
    assert tank.rate.value == pytest.approx(true.airborne_rate, rel=0.02)


def test_what_was_left_and_the_margin_follow_the_volume_put_in() -> None:
    true = flown.truth()
    columns = {"fuel.left.remaining_ml": 4000.0 - 0.9 * true.burned_ml + flown.slosh(true.time_s, 10.0)}
    tank = Tank("left", capacity_ml=4000.0, reserve=Reserve(ml=500.0))
    context = FlightContext(
        aircraft=Aircraft("Test", tanks=(tank,)), fuel_notes={"left": FuelNote(put_in_ml=float(true.burned_ml[-1]))}
    )
    (result,) = _analyse(columns, true, context).tanks
    left = 4000.0 - true.between(0.0, flown.TOUCH_DOWN_S)
    corrected = result.left
    assert corrected.low is not None
    assert corrected.high is not None
    assert corrected.low <= left <= corrected.high
    by_sensor = (result.by_sensor.start.value or 0.0) - (result.by_sensor.to_landing.value or 0.0)
    assert by_sensor > left + 100.0  # a sensor that reads low flatters the margin
    assert result.margin.value == pytest.approx(left - 500.0, abs=60.0)


def test_reserve_margin_and_dry_time() -> None:
    true = flown.truth()
    tank = _analyse(SENSORS["remaining"](true), true).tanks[0]
    left = FULL - true.between(0, flown.TOUCH_DOWN_S)
    assert tank.left.value == pytest.approx(left, abs=25)
    assert tank.content.reserve.value == 800.0
    assert tank.margin.value == pytest.approx(left - 800.0, abs=25)
    flown_min = (flown.TOUCH_DOWN_S - flown.TAKE_OFF_S) / 60
    assert tank.content.endurance.value == pytest.approx(flown_min + (left - 50) / true.airborne_rate, rel=0.03)


def test_a_landing_below_the_reserve_is_an_event() -> None:
    true = flown.truth()
    context = FlightContext(aircraft=Aircraft("Plover", tanks=(Tank("left", FULL, reserve=Reserve(ml=3000.0)),)))
    result = _analyse(SENSORS["remaining"](true), true, context)
    assert [e.kind for e in result.events] == ["reserve_reached"]


def test_no_reserve_stated_gives_a_suggestion_marked_as_common_practice() -> None:
    true = flown.truth()
    context = FlightContext(aircraft=Aircraft("Plover", tanks=(Tank("left", FULL),)))
    reserve = _analyse(SENSORS["used"](true), true, context).tanks[0].content.reserve
    assert reserve.value is None
    assert "common practice, no source" in text(reserve.missing)


def test_imbalance_and_whether_the_sensors_resolve_it() -> None:
    true = flown.truth()
    more = {f"fuel.{s}.flow_ml_per_min": k * true.burn_ml_per_min for s, k in (("left", 1.08), ("right", 1.0))}
    result = _analyse(more, true)
    assert result.imbalance.value == pytest.approx(100 * 0.08 / 1.04, abs=0.3)
    assert "sensor of the left side shows" in text(result.balance)
    rough = {
        f"fuel.{s}.remaining_ml": FULL - k * true.burned_ml + flown.slosh(true.time_s, 150.0, i)
        for i, (s, k) in enumerate((("left", 1.002), ("right", 1.0)))
    }
    noted = {s: FuelNote(put_in_ml=k * float(true.burned_ml[-1])) for s, k in (("left", 1.08), ("right", 1.0))}
    checked = _analyse(more, true, FlightContext(aircraft=TWIN, fuel_notes=noted))
    assert checked.imbalance.value == pytest.approx(100 * 0.08 / 1.04, abs=0.3)
    assert "left side burned" in text(checked.balance)
    alike = {s: FuelNote(put_in_ml=float(true.burned_ml[-1])) for s in ("left", "right")}
    found = _analyse(rough, true, FlightContext(aircraft=TWIN, fuel_notes=alike))
    assert "within what the sensors resolve" in text(found.balance)


def test_a_sensor_never_checked_blames_no_engine_and_says_so() -> None:
    true = flown.truth()
    two = {f"fuel.{s}.flow_ml_per_min": k * true.burn_ml_per_min for s, k in (("left", 1.08), ("right", 1.0))}
    result = _analyse(two, true)
    assert "never checked" in text(result.tanks[0].burned.how)
    assert "not an engine" in text(result.balance)
    half = result.tanks[0].burned.half_width / (result.tanks[0].burned.value or 1.0)
    assert half == pytest.approx(0.10, abs=0.01)
    better = replace(TWIN, tanks=tuple(replace(t, sensor_scale_percent=3.0) for t in TWIN.tanks))
    known = _analyse(two, true, FlightContext(aircraft=better)).tanks[0].burned
    assert known.half_width / (known.value or 1.0) == pytest.approx(0.03, abs=0.005)


@pytest.mark.parametrize("noted", [False, True])
@pytest.mark.parametrize("rule", [Reserve(percent=20.0), Reserve(ml=777.7), Reserve(minutes=2.0)])
def test_a_row_adds_up_exactly_as_printed(noted: bool, rule: Reserve) -> None:
    true = flown.truth()
    notes = {"left": FuelNote(3950.0, 1.06 * float(true.burned_ml[-1]))} if noted else {}
    context = FlightContext(aircraft=replace(TWIN, reserve=rule), fuel_notes=notes)
    result = _analyse(SENSORS["remaining"](true), true, context)
    (tank,) = [t for t in result.tanks if t.name == "left"]
    left, reserve, margin = (f.value for f in (tank.left, tank.content.reserve, tank.margin))
    assert left is not None
    assert reserve is not None
    assert margin is not None
    assert round(left) - round(reserve) == round(margin) == margin
    assert result.burned.value == tank.burned.value
    assert (result.mass.value or 0.0) == pytest.approx(0.8 * (result.burned.value or 0.0) / 1000.0, rel=1e-9)


def test_left_by_the_curve_of_the_flight_is_left_at_landing() -> None:
    true = flown.truth()
    notes = {"left": FuelNote(3950.0, 1.06 * float(true.burned_ml[-1]))}
    tank = _analyse(SENSORS["remaining"](true), true, FlightContext(aircraft=TWIN, fuel_notes=notes)).tanks[0]
    assert tank.remaining is not None
    drawn = np.interp(flown.TOUCH_DOWN_S, tank.remaining.time_s, tank.remaining.values)
    assert tank.left.value == pytest.approx(drawn, abs=12.0)


def test_mass_follows_temperature_and_balance_moves_aft() -> None:
    true = flown.truth()
    both = {f"fuel.{s}.used_ml": true.burned_ml for s in ("left", "right")}
    cold = _analyse(both, true, FlightContext(aircraft=TWIN, air_temperature_c=-20.0))
    litres = 2 * true.burned_ml[-1] / 1000
    assert cold.mass.value == pytest.approx(litres * 0.8 * volume_correction(-20.0), rel=0.005)
    mass = cold.mass.value or 0.0
    assert cold.balance_shift.value == pytest.approx(1000 * mass * 0.4 / (24 - mass), rel=0.01)
    assert Fuel().density_is_assumed


# Bad data, each by name


def test_percent_without_capacity_costs_millilitres_and_says_so() -> None:
    true = flown.truth()
    context = FlightContext(aircraft=Aircraft("Plover"))
    result = _analyse(SENSORS["percent"](true), true, context)
    assert not result.tanks
    assert any("capacity" in text(m.what) for m in result.missing)


def test_a_stuck_sensor_is_named_and_its_figures_marked() -> None:
    true = flown.truth()
    content = FULL - true.burned_ml + flown.slosh(true.time_s, 10.0)
    content[true.time_s > 200] = content[true.time_s > 200][0]
    result = _analyse({"fuel.left.remaining_ml": content}, true)
    assert any(e.kind == "fuel_data" for e in result.events)
    assert result.tanks[0].burned.doubts
    assert result.tanks[0].rate.doubts


def test_refuel_in_mid_log_is_named_and_not_taken_from_the_burn() -> None:
    true = flown.truth()
    content = FULL - true.burned_ml + flown.slosh(true.time_s, 10.0) + 1000.0 * (true.time_s > 530)
    result = _analyse({"fuel.left.remaining_ml": content}, true)
    assert [e.kind for e in result.events if e.kind == "refuel"] == ["refuel"]
    assert result.tanks[0].burned.value == pytest.approx(true.burned_ml[-1], rel=0.03)
    assert result.tanks[0].burned.doubts


def test_tanks_swapped_side_for_side_are_named_and_marked() -> None:
    a, b = flown.truth(seed=1), flown.truth(seed=2)
    apart = (a.time_s > 200) & (a.time_s < 260)
    speed_b = np.where(apart, flown.IDLE_RPM, b.speed_rpm)
    burn_b = np.where(apart, 75.0, b.burn_ml_per_min)
    columns = {
        "engine.right.speed_rpm": speed_b,
        "fuel.left.flow_ml_per_min": burn_b,
        "fuel.right.flow_ml_per_min": a.burn_ml_per_min,
    }
    result = _analyse(columns, a)
    swapped = [e for e in result.events if "swapped" in text(e.summary)]
    assert len(swapped) == 1
    assert all(t.rate.doubts for t in result.tanks)
    assert result.imbalance.doubts
    straight = {**columns, "fuel.left.flow_ml_per_min": a.burn_ml_per_min, "fuel.right.flow_ml_per_min": burn_b}
    assert not [e for e in _analyse(straight, a).events if "swapped" in text(e.summary)]


def test_negative_burn_is_named_and_marked() -> None:
    true = flown.truth()
    result = _analyse({"fuel.left.remaining_ml": 1000.0 + true.burned_ml}, true)
    assert any(e.kind == "fuel_data" for e in result.events)
    assert result.tanks[0].burned.doubts


def test_less_put_in_than_burned_is_named_and_marked() -> None:
    true = flown.truth()
    context = FlightContext(aircraft=TWIN, fuel_notes={"left": FuelNote(put_in_ml=0.5 * float(true.burned_ml[-1]))})
    result = _analyse(SENSORS["used"](true), true, context)
    assert any("put in afterwards" in text(e.summary) for e in result.events)
    tank = result.tanks[0]
    assert tank.burned.doubts
    assert tank.scale.own.doubts
    assert tank.by_sensor.burned.doubts


def test_shaft_speed_alone_with_a_stated_curve_gives_the_burn_with_its_spread() -> None:
    true = flown.truth()
    engine = Engine(
        "left", tank="left", max_rpm=flown.FULL_RPM, burn_floor_ml_per_min=flown.FLOOR,
        burn_cubic_ml_per_min=flown.CUBIC, burn_spread_percent=4.0,
    )  # fmt: skip
    context = FlightContext(aircraft=Aircraft("Plover", engines=(engine,), tanks=(Tank("left", FULL),)))
    rate = _analyse({}, true, context).tanks[0].rate
    assert rate.value == pytest.approx(true.airborne_rate, rel=0.02)
    assert rate.half_width == pytest.approx(1.96 * 0.04 * true.airborne_rate, rel=0.1)
    assert "stated in the aircraft file" in text(rate.how)


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        (lambda x: {"fuel.left.remaining_ml": 10 * (FULL - x.burned_ml)}, "the gauge shows 40"),
        (lambda x: {"fuel.left.used_ml": np.round(10 * x.burned_ml)}, "were burned by the log"),
    ],
)
def test_more_than_the_tank_holds_is_doubted(columns: Sensor, says: str) -> None:
    true = flown.truth()
    found = _analyse(columns(true), true)
    tank = found.tanks[0]
    assert any(e.kind == "fuel_data" and says in text(e.summary) for e in found.events)
    assert any(says in text(d) for d in tank.burned.doubts)
    if tank.content.start.value is not None and "gauge" in says:
        assert any(says in text(d) for d in tank.content.start.doubts)
    for sound in SENSORS.values():
        assert not any("it holds" in text(e.summary) for e in _analyse(sound(true), true).events)


def test_endurance_is_as_wide_as_drawing_the_errors_makes_it() -> None:
    """Start and volume put in drawn anew, 1 % each; one volume sets what was left and the burn (JCGM 101:2008, 7)."""
    true = flown.truth()
    whole = float(true.burned_ml[-1])
    note = FuelNote(before_ml=4000.0, put_in_ml=whole)
    tank = _analyse(SENSORS["used"](true), true, FlightContext(aircraft=TWIN, fuel_notes={"left": note})).tanks[0]
    rng = np.random.default_rng(7)
    start, scale = 4000.0 * rng.normal(1.0, 0.01, 20_000), rng.normal(1.0, 0.01, 20_000)
    flown_min = (flown.TOUCH_DOWN_S - flown.TAKE_OFF_S) / 60.0
    left = start - scale * true.between(0.0, flown.TOUCH_DOWN_S)
    drawn = flown_min + (left - 50.0) / (scale * true.airborne_rate)
    low, high = np.quantile(drawn, [0.025, 0.975])
    figure = tank.content.endurance
    assert figure.half_width == pytest.approx((high - low) / 2.0, rel=0.15)
    assert figure.half_width > 0.95 * (high - low) / 2.0


def test_a_gauge_never_checked_is_off_once_in_what_was_left() -> None:
    """Right at the start mark, all it burned is off by the scale; right when empty, all that is left: never both."""
    true = flown.truth()
    tank = _analyse(SENSORS["remaining"](true), true).tanks[0]
    burned = true.between(0.0, flown.TOUCH_DOWN_S)
    assert tank.left.half_width == pytest.approx(0.1 * max(burned, FULL - burned), rel=0.2)
    assert tank.content.start.high is not None
    assert tank.content.start.high <= 1.05 * FULL


def test_a_tank_taken_for_full_may_hold_less_but_hardly_more() -> None:
    true = flown.truth()
    start = _analyse(SENSORS["used"](true), true).tanks[0].content.start
    assert start.value == FULL
    assert start.low == pytest.approx(0.95 * FULL)
    assert start.high is not None
    assert FULL < start.high < 1.03 * FULL
