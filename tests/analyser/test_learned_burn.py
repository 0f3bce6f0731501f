"""The burn of a flight without a fuel sensor, by the curve that other flights taught, against known burn."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Engine, FlightContext, FuelNote, Tank
from analyser.core.burn_curve import LearnedCurve
from analyser.core.phases import find_phases
from analyser.engines.analysis import analyse_turbines
from analyser.flight import FlightResult
from analyser.fuel.analysis import analyse_fuel
from analyser.fuel.sources import wants_curve
from analyser.fuel.tank import TankResult
from analyser.link.analysis import LinkResult
from analyser.packs.analysis import PacksResult
from analyser.record import FlightRecord
from analyser.season.fuel.history import fuel_history
from analyser.season.fuel.learned_burn import learn_curves
from reports.words.catalogue import text
from tests.analyser import flown
from tests.reports.invented import make

SINGLE = Aircraft("Plover", engines=(Engine("main", tank="main"),), tanks=(Tank("main", 4000.0),))
SCALE = 0.95
"""Of what was burned the sensor shows this share."""


def _flight(
    number: int,
    factor: float = 1.0,
    *,
    sensor: bool = True,
    noted: bool = True,
    curves: dict[str, LearnedCurve] | None = None,
) -> tuple[FlightRecord, flown.Truth]:
    true = flown.truth(5.0, factor=factor, seed=100 + number)
    columns = {"engine.main.speed_rpm": true.speed_rpm, **flown.motion(true.time_s)}
    if sensor:
        content = 4000.0 - SCALE * true.burned_ml + flown.slosh(true.time_s, 15.0, number)
        columns["fuel.main.remaining_ml"] = content
    tele = flown.telemetry(true.time_s, **columns)
    filled = float(true.burned_ml[-1] * np.random.default_rng(number).normal(1.0, 0.006))
    context = FlightContext(
        f"f{number}", SINGLE, fuel_notes={"main": FuelNote(put_in_ml=filled)} if noted and sensor else {},
        learned_burn=curves or {},
    )  # fmt: skip
    phases = find_phases(tele)
    result = FlightResult(
        context.flight_id, tele.duration_s, phases, analyse_fuel(tele, phases, context),
        analyse_turbines(tele, phases, context), make(PacksResult), make(LinkResult), (), tele.channels, (),
    )  # fmt: skip
    return FlightRecord(context.flight_id, number, None, context, result), true


def _tank(record: FlightRecord) -> TankResult:
    (tank,) = record.result.fuel.tanks
    return tank


@pytest.fixture(scope="module")
def season() -> list[FlightRecord]:
    rng = np.random.default_rng(3)
    return [_flight(n, float(rng.normal(1.0, 0.01)))[0] for n in range(1, 6)]


def test_only_a_flight_with_shaft_speed_and_no_fuel_wants_a_curve() -> None:
    speed = "engine.main.speed_rpm"
    assert wants_curve([speed], SINGLE)
    assert not wants_curve([speed, "fuel.main.flow_ml_per_min"], SINGLE)
    assert not wants_curve([speed, "fuel.main.remaining_percent"], SINGLE)
    assert wants_curve([speed, "fuel.main.remaining_percent"], replace(SINGLE, tanks=(Tank("main"),)))
    assert not wants_curve(["pack.rx1.voltage_v"], SINGLE)
    own = Engine("main", tank="main", max_rpm=1e5, burn_floor_ml_per_min=50.0, burn_cubic_ml_per_min=300.0)
    assert not wants_curve([speed], replace(SINGLE, engines=(own,)))
    assert wants_curve([speed], Aircraft("undescribed"))
    assert not wants_curve([speed], None)


def test_its_interval_holds_the_truth_as_often_as_it_says(season: list[FlightRecord]) -> None:
    """Seasons of a burn that differs by 1 % from day to day; the next flight logs shaft speed alone."""
    rng = np.random.default_rng(11)
    pool = [_flight(n, 1.0) for n in range(10, 40)]
    held, widths = [], []
    for _ in range(12):
        picks = rng.choice(len(pool), 4, replace=False)
        # The day's factor is laid on what was flown, by its curve and by what was put in alike.
        taught = [_scaled(pool[i][0], float(rng.normal(1.0, 0.01))) for i in picks[:3]]
        curves = learn_curves(taught)
        number = 10 + int(picks[3])
        flight, true = _flight(number, float(rng.normal(1.0, 0.01)), sensor=False, curves=curves)
        tank = _tank(flight)
        for figure, truth in (
            (tank.burned, true.burned_ml[-1]),
            (tank.rate, true.airborne_rate),
            (tank.left, 4000.0 - true.between(0.0, flown.TOUCH_DOWN_S)),
        ):
            assert figure.low is not None
            assert figure.high is not None
            held.append(figure.low <= truth <= figure.high)
        widths.append(tank.burned.half_width / float(true.burned_ml[-1]))
    assert np.mean(held) >= 0.85
    assert np.median(widths) < 0.12


def _scaled(record: FlightRecord, factor: float) -> FlightRecord:
    """The same flight of an engine that burns ``factor`` times as much."""
    tank = _tank(record)
    assert tank.curve is not None
    curve = replace(
        tank.curve,
        floor_ml_per_min=factor * tank.curve.floor_ml_per_min,
        cubic_ml_per_min=factor * tank.curve.cubic_ml_per_min,
    )
    fuel = replace(record.result.fuel, tanks=(replace(tank, curve=curve),))
    return replace(record, result=replace(record.result, fuel=fuel))


def test_the_figure_says_where_it_comes_from(season: list[FlightRecord]) -> None:
    tank = _tank(_flight(9, sensor=False, curves=learn_curves(season))[0])
    assert text(tank.burned.how) == "estimated from shaft speed by the curve learned over 5 flights"
    assert tank.source == "shaft speed"
    assert tank.curve is None
    assert text(tank.content.start.how) == "tank assumed full at start"
    unchecked = learn_curves([_flight(n, noted=False)[0] for n in (1, 2, 3)])
    assert "never checked by what was put in" in text(_tank(_flight(9, sensor=False, curves=unchecked)[0]).burned.how)


def test_an_estimated_flight_teaches_nothing(season: list[FlightRecord]) -> None:
    curves = learn_curves(season)
    estimated = _flight(6, 1.3, sensor=False, curves=curves)[0]
    assert learn_curves([*season, estimated]) == curves
    before, after = fuel_history(season).tanks[0], fuel_history([*season, estimated]).tanks[0]
    assert after.scale == before.scale
    assert after.burn.trend == before.burn.trend
    assert after.normalised_rates[:5] == before.normalised_rates
    assert after.rates[5].value is not None
    assert "sensor corrected" not in text(after.rates[5].how)
    assert after.curve == before.curve


def test_two_flights_teach_nothing_and_a_sensor_in_doubt_neither(season: list[FlightRecord]) -> None:
    assert learn_curves(season[:2]) == {}
    tank = _tank(season[2])
    stuck = replace(season[2].result.fuel, tanks=(tank.doubted("stuck"),))
    assert learn_curves([*season[:2], replace(season[2], result=replace(season[2].result, fuel=stuck))]) == {}


def test_after_a_change_of_burn_each_side_teaches_its_own() -> None:
    flights = [_flight(n, 1.0 if n < 5 else 1.12)[0] for n in range(1, 10)]
    early, late = (learn_curves(flights, n)["main"] for n in (2, 8))
    assert (early.flights, late.flights) == (4, 5)
    ratio = float(late.at(np.array([9e4]))[0] / early.at(np.array([9e4]))[0])
    assert ratio == pytest.approx(1.12, abs=0.03)
    assert learn_curves(flights)["main"] == late
