"""Bench procedures against hand-worked examples, closed forms and simulation, on logs made by other rules."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pyarrow as pa
import pytest
from msgspec.structs import replace

from analyser.bench import fuel
from analyser.bench.analysis import analyse_bench
from analyser.bench.pack import at_reference_state, cell_resistances, load_resistance
from analyser.bench.procedures import PROCEDURES, BadReading, BenchRecord, Procedure
from analyser.bench.reading import read_log, thin_traces
from analyser.core.aircraft import Aircraft, Engine, FlightContext, FuelNote, Pack, Tank
from analyser.core.figures import Figure, Method
from analyser.core.levels import Level
from analyser.core.phases import find_phases
from analyser.core.telemetry import Telemetry
from analyser.fuel.analysis import analyse_fuel
from analyser.fuel.scale import ScaleBasis, learn_scale
from reports.words.catalogue import text
from tests.analyser import flown

DAY = date(2031, 4, 5)
HERON = Aircraft(
    "Heron",
    engines=(Engine("left", tank="left", max_start_egt_c=700.0, max_egt_c=720.0), Engine("right", tank="right")),
    tanks=(Tank("left", 3600.0, 60.0), Tank("right", 3600.0, 60.0)),
    brown_out_v=6.1,
)


def record(procedure: Procedure, subject: str = "left", day: date = DAY, **values: float | str) -> BenchRecord:
    numbers = {k: (float(v),) for k, v in values.items() if not isinstance(v, str)}
    return BenchRecord(
        procedure, day, "Heron", subject, numbers, {k: v for k, v in values.items() if isinstance(v, str)}
    )


def flow(sensor: float, measured: float = 500.0, day: date = DAY, subject: str = "left") -> BenchRecord:
    return record(Procedure.FLOW, subject, day, measured_ml=measured, sensor_ml=sensor)


def log(seconds: float, rate_hz: float = 20.0, **channels: np.ndarray | float) -> Telemetry:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    named = {
        k.replace("__", "."): pa.array(np.broadcast_to(np.asarray(v, float), t.shape)) for k, v in channels.items()
    }
    return Telemetry(pa.table({"time_s": t, **named}))


def test_three_runs_by_hand() -> None:
    """500 mL against 520, 524 and 516: ratios 0.96154, 0.95420, 0.96899; their mean is 0.96158."""
    runs = [fuel.run_scale(flow(said)) for said in (520.0, 524.0, 516.0)]
    made = fuel.calibrate("left", runs)
    assert made is not None
    assert made.value == pytest.approx(0.961577, abs=1e-5)
    # Scatter 0.77 % pooled with 1 % (5 free, t 2.571): 1.29 % over √3 twice; with 1 % of the measure (95 %) and 1 % to
    # flight (one standard error): 0.96158 · √(0.0138² + 0.01² + 0.0196²) = 0.025.
    assert made.half_width == pytest.approx(0.025, abs=0.002)


@pytest.mark.parametrize("runs", [1, 2, 3, 6])
def test_the_calibration_holds_the_flights_own_factor(runs: int) -> None:
    """A sensor 6 % off; runs scatter by 1 %, the measure is read within 1 %, flights differ from the bench by 1 %."""
    rng = np.random.default_rng(runs)
    held, n = 0, 400
    for _ in range(n):
        measure = float(rng.normal(1.0, 0.01 / 1.96))
        figures = [
            fuel.run_scale(flow(500.0 * measure / 0.94 * float(rng.normal(1.0, 0.01)))) for _ in range(runs)
        ]  # fmt: skip
        made = fuel.calibrate("left", figures)
        assert made is not None
        assert made.low is not None
        assert made.high is not None
        held += made.low <= 0.94 * float(rng.normal(1.0, 0.01)) <= made.high
    assert 0.93 <= held / n <= 1.0


def test_a_flight_from_that_day_uses_it_and_a_noted_volume_comes_first() -> None:
    true = flown.truth(5.0, factor=1.0, seed=7)
    columns = {"engine.left.speed_rpm": true.speed_rpm, **flown.motion(true.time_s)}
    tele = flown.telemetry(true.time_s, **columns, **{"fuel.left.used_ml": true.burned_ml / 0.94})
    phases = find_phases(tele)
    made = fuel.calibrate("left", [fuel.run_scale(flow(500.0 / 0.94)) for _ in range(3)])
    assert made is not None
    context = FlightContext("f", HERON, sensor_scales={"left": made})
    tank = analyse_fuel(tele, phases, context).tanks[0]
    burned = float(true.burned_ml[-1])
    assert tank.scale.applied.basis is ScaleBasis.BENCH
    assert tank.scale.applied.checked
    assert tank.burned.value == pytest.approx(burned, rel=0.01)
    assert tank.burned.low is not None
    assert tank.burned.high is not None
    assert tank.burned.low <= burned <= tank.burned.high
    assert tank.burned.half_width < 0.04 * burned
    assert "on the bench" in text(tank.burned.how)
    unchecked = analyse_fuel(tele, phases, replace(context, sensor_scales={})).tanks[0]
    assert not unchecked.burned.low or unchecked.burned.half_width > 0.09 * burned
    noted = replace(context, fuel_notes={"left": FuelNote(put_in_ml=0.97 * burned)})
    assert analyse_fuel(tele, phases, noted).tanks[0].scale.applied.basis is ScaleBasis.VOLUME


def test_noted_flights_and_the_bench_are_weighed_by_their_precision() -> None:
    bench = Figure.within("scale", 0.94, 0.02, "×", digits=3)
    ratio = Figure.within("ratio", 0.96, 0.02, "×", digits=3)
    alone, both = learn_scale("left", [ratio] * 4), learn_scale("left", [ratio] * 4, on_bench=bench)
    assert 0.94 < both.value < alone.value + 1e-9
    assert both.factor.half_width < bench.half_width
    assert learn_scale("left", [], on_bench=bench).value == pytest.approx(0.94)


def test_pump_delivery_from_a_log() -> None:
    """Half drive for 90 s and full for 30 s is 75 % min; 600 mL then is 800 mL/min at full."""
    drive = np.r_[np.full(1800, 50.0), np.full(600, 100.0)]
    values, _, _ = read_log(Procedure.FLOW, "left", log(120.0, engine__left__pump_percent=drive), HERON)
    assert values["pump_percent_min"][0] == pytest.approx(125.0, rel=0.01)
    run = fuel.run_delivery(record(Procedure.FLOW, measured_ml=600.0, pump_percent_min=75.0))
    assert run.value == pytest.approx(800.0)


def test_two_loads_by_the_closed_form_and_from_a_log() -> None:
    """IEC 61960-3, d.c.: 8.20 V at 0.6 A and 8.08 V at 3.0 A are 50 mΩ."""
    typed = BenchRecord(
        Procedure.LOAD, DAY, "Heron", "R1",
        {"first_a": (0.6,), "first_v": (8.2,), "second_a": (3.0,), "second_v": (8.08,),
         "first_cells_v": (4.1, 4.1), "second_cells_v": (4.052, 4.028), "temperature_c": (10.0,)},
    )  # fmt: skip
    read = load_resistance(typed)
    assert read.value == pytest.approx(50.0)
    assert [f.value for f in cell_resistances(typed)] == [pytest.approx(20.0), pytest.approx(30.0)]
    warm = at_reference_state(typed, read)
    assert warm.value is not None
    assert warm.value < 40.0  # at 10 °C it has more than at 25 °C
    # One branch of 20 mΩ and 1 s beside 40 mΩ: by hand 40 + 20 (1 − e^(−t)) after the step.
    rate, at = 50.0, 12.0
    t = np.arange(round(20.0 * rate)) / rate
    amps = np.where(t < at, 0.5, 3.0)
    slow = np.where(t < at, 0.5, 0.5 + 2.5 * (1.0 - np.exp(-(t - at) / 1.0)))
    volts = 8.3 - 0.040 * amps - 0.020 * slow
    values, _, missing = read_log(
        Procedure.LOAD, "rx1", log(20.0, rate, pack__rx1__current_a=amps, pack__rx1__voltage_v=volts), None
    )
    assert not missing
    found = load_resistance(BenchRecord(Procedure.LOAD, DAY, "", "R1", values))
    assert found.value == pytest.approx(40.0 + 20.0 * (1.0 - np.exp(-1.0)), abs=1.0)


def test_traces_are_thinned_and_keep_their_peaks() -> None:
    volts = 8.0 + 0.01 * np.sin(np.arange(20_000) / 50.0)
    volts[12_345] = 5.5
    kept = thin_traces(Procedure.SUPPLY, log(1000.0, pack__rx1__voltage_v=volts, pack__rx1__current_a=2.0))
    (trace,) = kept  # a constant shows nothing
    assert trace.channel == "pack.rx1.voltage_v"
    assert len(trace.values) <= 240
    assert min(trace.values) == 5.5
    assert trace.time_s[trace.values.index(5.5)] == pytest.approx(12_345 / 20.0)
    assert list(trace.time_s) == sorted(trace.time_s)


def test_a_log_without_a_step_says_so() -> None:
    values, _, missing = read_log(
        Procedure.LOAD, "rx1", log(20.0, pack__rx1__current_a=2.0, pack__rx1__voltage_v=8.0), None
    )
    assert values == {}
    assert "no step" in text(missing[0])
    assert "current" in text(read_log(Procedure.CAPACITY, "rx1", log(5.0, pack__rx1__voltage_v=8.0), None)[2][0])


def test_capacity_from_a_log_and_against_the_label() -> None:
    """2.5 A for an hour are 2,500 mAh, 83 % of 3,000."""
    values, _, _ = read_log(
        Procedure.CAPACITY, "rx1", log(3600.0, 2.0, pack__rx1__current_a=2.5, pack__rx1__voltage_v=6.1), None
    )
    assert values["discharged_mah"][0] == pytest.approx(2500.0, rel=1e-3)
    assert values["end_v"][0] == pytest.approx(6.1)
    result = analyse_bench(
        {"1": BenchRecord(Procedure.CAPACITY, DAY, "Heron", "R1", values)}, HERON, {"R1": Pack("R1", rated_mah=3000.0)}
    )
    given, share = result.lines[0].figures
    assert given.value == pytest.approx(2500.0, rel=1e-3)
    assert share.value == pytest.approx(83.3, abs=0.1)


def test_supply_and_a_pulled_pack() -> None:
    sag = np.where(np.arange(400) % 100 < 20, 5.9, 7.2)
    values, _, _ = read_log(
        Procedure.PULLED, "rx2", log(20.0, pack__rx1__voltage_v=sag, pack__rx2__voltage_v=8.0), HERON
    )
    assert values["lowest_v"] == (pytest.approx(5.9),)
    logged = BenchRecord(Procedure.PULLED, DAY, "Heron", "R2", values, read=("lowest_v",))
    assert logged.method("lowest_v") is Method.INTEGRATED
    assert record(Procedure.PULLED, "R2", lowest_v=6.6).method("lowest_v") is Method.ENTERED
    done = analyse_bench({"1": logged}, HERON)
    assert {f.method for f in done.lines[0].figures} == {Method.INTEGRATED}
    assert done.level is Level.ACT
    assert "did not carry" in text(done.lines[0].findings[0])
    fine = analyse_bench({"1": record(Procedure.PULLED, "R2", lowest_v=6.6)}, HERON)
    assert fine.level is Level.FINE
    assert "not for every flight" in text(fine.lines[0].findings[0])
    unknown = analyse_bench({"1": record(Procedure.SUPPLY, "", lowest_v=6.6)}, replace(HERON, brown_out_v=None))
    assert unknown.level is Level.CANT_TELL


def test_packs_share_the_load() -> None:
    """6 A and 2 A for the same time: three quarters and one."""
    volts = {"pack__rx1__voltage_v": 7.4, "pack__rx2__voltage_v": 7.3}
    both = log(20.0, **volts, pack__rx1__current_a=6.0, pack__rx2__current_a=2.0)
    values, others, _ = read_log(Procedure.SUPPLY, "", both, HERON)
    assert others == ("pack.rx1", "pack.rx2")
    assert values["shares_percent"] == (pytest.approx(75.0), pytest.approx(25.0))
    assert values["highest_a"] == (pytest.approx(8.0),)
    done = analyse_bench({"1": BenchRecord(Procedure.SUPPLY, DAY, "Heron", "", values, others=others)}, HERON)
    assert "75" in text(done.lines[0].findings[0])


def test_swapped_plugs_are_recognised() -> None:
    """The left engine is run; the log moves the right engine's channels."""
    t = np.arange(1200) / 20.0
    speed = np.clip(t - 10.0, 0.0, 20.0) * 2000.0
    running = log(60.0, engine__left__speed_rpm=0.0, engine__right__speed_rpm=speed, fuel__left__used_ml=0.0,
                  fuel__right__used_ml=np.clip(t - 20.0, 0.0, None) * 3.0)  # fmt: skip
    _, others, _ = read_log(Procedure.PLUGS, "left", running, HERON)
    assert set(others) == {"engine.right", "fuel.right"}
    assert read_log(Procedure.PLUGS, "right", running, HERON)[1] == ()
    assert read_log(Procedure.PLUGS, "left", log(60.0, engine__left__speed_rpm=0.0), HERON)[1] == ("",)
    swapped = BenchRecord(Procedure.PLUGS, DAY, "Heron", "left", {}, {"moved": "others"}, others)
    line = analyse_bench({"1": swapped}, HERON).lines[0]
    assert line.level is Level.ACT
    assert "swapped" in text(line.findings[0])


def test_a_ground_run_from_a_log_beside_its_limits_and_earlier_runs() -> None:
    rate = 10.0
    t = np.arange(2400) / rate
    speed = np.interp(t, [0, 10, 40, 100, 104, 140, 146, 180, 190], [0, 0, 35e3, 35e3, 1.2e5, 1.2e5, 35e3, 35e3, 0])
    egt = np.interp(t, [0, 10, 25, 40, 104, 140, 180, 235], [20, 20, 720, 500, 640, 640, 480, 60])
    values, _, _ = read_log(
        Procedure.GROUND_RUN, "left", log(240.0, rate, engine__left__speed_rpm=speed, engine__left__egt_c=egt), HERON
    )
    assert values["idle_rpm"][0] == pytest.approx(35e3, rel=0.02)
    assert values["full_rpm"][0] == pytest.approx(1.2e5)
    assert values["acceleration_s"][0] == pytest.approx(4.0, abs=0.6)
    assert values["start_egt_c"][0] == pytest.approx(720.0, abs=5.0)
    run = BenchRecord(Procedure.GROUND_RUN, DAY, "Heron", "left", values)
    line = analyse_bench({"1": run}, HERON).lines[0]
    assert line.level is Level.ACT
    assert "over the limit of 700" in text(line.findings[0])


def test_a_run_far_from_those_before_is_said() -> None:
    rng = np.random.default_rng(4)
    runs = {
        str(k): record(Procedure.GROUND_RUN, day=DAY + timedelta(k), start_s=float(rng.normal(30.0, 1.0)))
        for k in range(1, 8)
    }
    assert analyse_bench(runs, HERON).level is Level.FINE
    late = {**runs, "9": record(Procedure.GROUND_RUN, day=DAY + timedelta(30), start_s=55.0)}
    line = analyse_bench(late, HERON).lines[0]
    assert line.level is Level.WATCH
    assert "far from" in text(line.findings[0])
    assert line.changes[0].low is not None


def test_sides_that_differ_are_said() -> None:
    primed = {
        "1": record(Procedure.PRIMING, "left", volume_ml=1200.0, seconds_to_engine=30.0, leaks="none"),
        "2": record(Procedure.PRIMING, "right", volume_ml=1200.0, seconds_to_engine=48.0, air="much", leaks="drips"),
    }
    result = analyse_bench(primed, HERON)
    assert [f.value for f in result.pairs] == [pytest.approx(100.0), pytest.approx(160.0)]
    assert len(result.uneven) == 1
    assert result.level is Level.ACT
    assert {text(f)[:4] for f in result.lines[0].findings} == {"Leak", "Air "}


def test_a_tank_that_is_not_as_the_file_says() -> None:
    line = analyse_bench({"1": record(Procedure.TANK, capacity_ml=3350.0, unusable_ml=61.0)}, HERON).lines[0]
    assert line.level is Level.WATCH
    assert [f.value for f in line.figures] == [3350.0, 61.0]
    assert len(line.findings) == 1


@pytest.mark.parametrize(
    ("fault", "of", "values"),
    [
        ("unknown", Procedure.FLOW, {"measured_ml": (500.0,), "colour": (1.0,)}),
        ("missing", Procedure.FLOW, {"sensor_ml": (500.0,)}),
        ("range", Procedure.FLOW, {"measured_ml": (float("inf"),)}),
        ("range", Procedure.SUPPLY, {"lowest_v": (-3.0,)}),
        ("count", Procedure.SUPPLY, {"lowest_v": (3.0, 4.0)}),
        ("same", Procedure.LOAD, {"first_a": (1.0,), "first_v": (8.0,), "second_a": (1.0,), "second_v": (7.9,)}),
        ("empty", Procedure.CHARGER, {}),
    ],
)
def test_a_reading_that_no_bench_gives_is_refused(
    fault: str, of: Procedure, values: dict[str, tuple[float, ...]]
) -> None:
    with pytest.raises(BadReading) as refused:
        BenchRecord(of, DAY, "Heron", "left", values)
    assert refused.value.fault == fault


def test_every_procedure_has_a_name_and_a_guide_in_every_language() -> None:
    from reports.words.catalogue import LANGUAGES, Reader, has, reading

    for language in LANGUAGES:
        with reading(Reader(language)):
            for procedure, steps in PROCEDURES.items():
                name = procedure.value.replace("-", "_")
                assert has(f"bench_procedure.{name}")
                assert has(f"bench_how.{name}")
                assert all(has(f"bench_reading.{r.name}") for r in steps.readings)
                assert all(has(f"bench_choice.{c.name}") for c in steps.choices)
