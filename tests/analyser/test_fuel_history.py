"""Fuel and engines over a season whose truth is planted: a change of burn, a wrong sensor scale, hours."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Engine, FlightContext, FuelNote, Reserve, Tank
from analyser.core.events import Level
from analyser.core.phases import find_phases
from analyser.core.telemetry import Telemetry
from analyser.engines.analysis import analyse_turbines
from analyser.flight import FlightResult
from analyser.fuel.analysis import analyse_fuel
from analyser.fuel.scale import ScaleBasis
from analyser.link.analysis import LinkResult
from analyser.packs.analysis import PacksResult
from analyser.record import FlightRecord
from analyser.season.engines import turbine_history
from analyser.season.fuel.history import FuelHistory, fuel_history
from analyser.season.fuel.sensor_scale import correct_burn, scales_by_flight
from reports.words.catalogue import text
from tests.analyser import flown
from tests.reports.invented import make

FIRST = datetime(2026, 5, 1, 10, tzinfo=UTC)
SCALE = {"left": 1 / 0.93, "right": 1 / 1.04}


def _aircraft(**engine: object) -> Aircraft:
    return Aircraft(
        "Tern",
        engines=tuple(Engine(s, tank=s, **engine) for s in ("left", "right")),  # type: ignore[arg-type]
        tanks=tuple(Tank(s, 4000.0, engine=s) for s in ("left", "right")),
        reserve=Reserve(percent=20.0),
    )


def _flight(number: int, factors: dict[str, float], aircraft: Aircraft, *, notes: bool = True) -> FlightRecord:
    columns, put_in = {}, {}
    for side, factor in factors.items():
        true = flown.truth(5.0, factor=factor, seed=10 * number + len(side))
        columns[f"engine.{side}.speed_rpm"] = true.speed_rpm
        content = 4000.0 - true.burned_ml / SCALE[side]
        columns[f"fuel.{side}.remaining_ml"] = content + flown.slosh(true.time_s, 25.0, number)
        filled = float(true.burned_ml[-1] * np.random.default_rng(number).normal(1.0, 0.01))
        put_in[side] = FuelNote(put_in_ml=filled)
    tele: Telemetry = flown.telemetry(true.time_s, **columns, **flown.motion(true.time_s))
    phases = find_phases(tele)
    context = FlightContext(f"f{number}", aircraft, fuel_notes=put_in if notes else {})
    result = FlightResult(
        context.flight_id, tele.duration_s, phases, analyse_fuel(tele, phases, context),
        analyse_turbines(tele, phases, context), make(PacksResult), make(LinkResult),
        (), tele.channels, (),
    )  # fmt: skip
    return FlightRecord(context.flight_id, number, FIRST + timedelta(days=number), context, result)


def _season(left_from_5: float, aircraft: Aircraft | None = None) -> list[FlightRecord]:
    rng = np.random.default_rng(8)
    out = []
    for n in range(1, 13):
        day = rng.normal(1.0, 0.01, 2)
        left = (left_from_5 if n >= 5 else 1.0) * day[0]
        out.append(_flight(n, {"left": float(left), "right": float(day[1])}, aircraft or _aircraft()))
    return out


@pytest.fixture(scope="module")
def changed() -> FuelHistory:
    return fuel_history(_season(1.09))


def test_the_change_from_flight_5_is_found_and_said_in_plain_words(changed: FuelHistory) -> None:
    left, right = changed.tanks
    assert "from flight 5 on" in text(left.burn.verdict)
    assert "more" in text(left.burn.verdict)
    assert left.burn.step.low is not None
    assert left.burn.step.low > 0
    assert "no change" in text(right.burn.verdict)
    assert changed.imbalance.level is Level.WATCH
    assert "The left engine burns" in text(changed.imbalance.verdict)
    assert "since flight 5" in text(changed.imbalance.verdict)


def test_each_sensors_scale_is_learned_from_what_was_put_in(changed: FuelHistory) -> None:
    for tank in changed.tanks:
        assert tank.scale is not None
        assert tank.scale.factor.value == pytest.approx(SCALE[tank.name], rel=0.015)
        assert tank.scale.factor.low is not None
        assert tank.scale.factor.high is not None
        assert tank.scale.factor.low < SCALE[tank.name] < tank.scale.factor.high


def test_one_grossly_wrong_filling_does_not_bend_the_scale() -> None:
    season = _season(1.0)[:7]
    odd = _flight(8, {"left": 3.0, "right": 1.0}, _aircraft())
    tank = fuel_history([*season, odd]).tanks[0]
    assert tank.scale is not None
    assert tank.scale.factor.value == pytest.approx(SCALE["left"], rel=0.02)


def test_an_unchanged_season_is_called_unchanged() -> None:
    history = fuel_history(_season(1.0))
    assert history.imbalance.level is Level.FINE
    assert "no change" in text(history.tanks[0].burn.verdict)


def test_the_timer_follows_the_thirstier_tank_as_it_is_now(changed: FuelHistory) -> None:
    timer = changed.timer
    assert timer is not None
    assert timer.tank == "left"
    assert timer.flights == 8
    true = flown.truth(5.0, factor=1.09)
    at_mean = (3200.0 - true.between(0.0, flown.TAKE_OFF_S)) / true.airborne_rate
    assert (timer.advised.value or 0) < at_mean
    assert timer.advised.value == pytest.approx(at_mean, rel=0.12)


def test_what_the_timer_lacks_is_said() -> None:
    bare = Aircraft("Tern", tanks=(Tank("left", 4000.0), Tank("right", 4000.0)))
    history = fuel_history([_flight(n, {"left": 1.0, "right": 1.0}, bare) for n in (1, 2, 3)])
    assert history.timer is None
    assert "common practice, no source" in text(history.timer_missing)


def test_hours_and_starts_count_from_the_last_service() -> None:
    season = _season(1.0, _aircraft(service_interval_h=25.0, hours_before_log=24.5, starts_before_log=200))[:4]
    (left, _) = turbine_history(season)
    ran = 4 * (flown.STOP_S - flown.LIT_S) / 3600.0
    assert left.hours_since_service.value == pytest.approx(24.5 + ran, abs=0.02)
    assert left.hours_to_service.value == pytest.approx(0.5 - ran, abs=0.02)
    assert left.starts_since_service.value == 204
    assert left.level is not Level.FINE
    serviced = _season(1.0, _aircraft(service_interval_h=25.0, hours_before_log=24.5, last_service=date(2026, 5, 4)))
    assert turbine_history(serviced[:4])[0].starts_since_service.value == 2


def test_the_burn_curve_is_learned_over_flights(changed: FuelHistory) -> None:
    curve = changed.tanks[1].curve
    assert curve is not None
    speed = np.array([0.5, 0.75, 0.95]) * flown.FULL_RPM
    truth = flown.FLOOR + flown.CUBIC * (speed / flown.FULL_RPM) ** 3
    np.testing.assert_allclose(curve.at(speed), truth, rtol=0.05)


def _partly_noted() -> list[FlightRecord]:
    """Eight flights, of which every second one's volume was noted."""
    return [_flight(n, {"left": 1.0, "right": 1.0}, _aircraft(), notes=n % 2 == 0) for n in range(1, 9)]


def test_noted_flights_set_the_others_right_and_one_value_stands_everywhere() -> None:
    bare = _partly_noted()
    flights = correct_burn(bare)
    assert flights[2] is not bare[2]
    asked = correct_burn(bare, {bare[2].flight_id})
    assert [a is b for a, b in zip(asked, bare, strict=True)] == [n != 2 for n in range(8)]
    told = [[(t.scale.applied, t.rate) for t in f[2].result.fuel.tanks] for f in (asked, flights)]
    assert told[0] == told[1]
    true = flown.truth(5.0).airborne_rate
    for flight in flights:
        for tank in flight.result.fuel.tanks:
            wanted = ScaleBasis.VOLUME if flight.number % 2 == 0 else ScaleBasis.FLIGHTS
            assert tank.scale.applied.basis is wanted
            assert tank.rate.value == pytest.approx(true, rel=0.04)
            assert tank.rate.low is not None
            assert tank.rate.low < (tank.rate.value or 0.0) < (tank.rate.high or 0.0)
    history = fuel_history(flights)
    for k, tank_history in enumerate(history.tanks):
        assert tank_history.rates == tuple(f.result.fuel.tanks[k].rate for f in flights)
    assert history.imbalance.values == tuple(f.result.fuel.imbalance for f in flights)
    assert correct_burn(flights) == flights


def test_a_flights_scale_follows_the_notes_nearest_to_it() -> None:
    """A sensor exchanged after thirty noted flights: late flights are not judged by the old one."""
    flights = _partly_noted()[1:3]
    noted, plain = flights
    old = [replace(noted, number=n, flight_id=f"o{n}") for n in range(30)]
    new = [_rescaled(replace(noted, number=n, flight_id=f"n{n}"), 1.3) for n in range(30, 60)]
    *_, late = scales_by_flight([*old, *new, plain])
    own = noted.result.fuel.tanks[0].scale.own.value or 0.0
    assert late["left"].value == pytest.approx(1.3 * own, rel=0.01)
    early, *_ = scales_by_flight([plain, *old, *new])
    assert early["left"].value == pytest.approx(own, rel=0.01)


def _rescaled(flight: FlightRecord, factor: float) -> FlightRecord:
    """The same flight with a sensor of another scale."""
    tanks = tuple(
        replace(t, scale=replace(t.scale, own=t.scale.own.times(factor, t.scale.own.label, "×")))
        for t in flight.result.fuel.tanks
    )
    return replace(flight, result=replace(flight.result, fuel=replace(flight.result.fuel, tanks=tanks)))


def test_a_tank_in_no_log_withholds_the_timer() -> None:
    centre = replace(_aircraft(), tanks=(*_aircraft().tanks, Tank("centre", 1500.0)))
    history = fuel_history([_flight(n, {"left": 1.0, "right": 1.0}, centre) for n in range(1, 5)])
    assert history.timer is None
    assert "centre" in text(history.timer_missing)
    assert "first to reach its reserve" in text(history.timer_missing)


def test_unchecked_sensors_blame_no_engine_over_flights_either() -> None:
    season = [_flight(n, {"left": 1.0, "right": 1.0}, _aircraft(), notes=False) for n in range(1, 8)]
    history = fuel_history(correct_burn(season))
    assert history.imbalance.level is Level.FINE
    assert "may be the sensors" in text(history.imbalance.verdict)
    scale = history.tanks[0].scale
    assert scale is not None
    assert scale.basis is ScaleBasis.UNCHECKED
    assert scale.factor.half_width == pytest.approx(0.1)


def test_starts_before_the_log_are_not_claimed_where_only_hours_are_stated() -> None:
    (left, _) = turbine_history(_season(1.0, _aircraft(hours_before_log=24.5))[:3])
    assert left.starts_since_service.value is None
    assert "3\u00a0starts are in the log" in text(left.starts_since_service.missing)
    assert "those before it are not stated" in text(left.verdict)
    (fresh, _) = turbine_history(_season(1.0, _aircraft())[:3])
    assert fresh.starts_since_service.value == 3
