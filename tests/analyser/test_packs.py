"""Packs against traces made from a known circuit: charge, resistance, sag, redundancy, ageing, and bad input."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter

from analyser.aircraft import Aircraft, FlightContext, Pack, PackNote
from analyser.events import Level
from analyser.figures import figures_of
from analyser.flight import FlightResult
from analyser.fuel import FuelResult
from analyser.link import LinkResult
from analyser.pack_history import pack_histories
from analyser.packs import PacksResult, analyse_packs
from analyser.phases import find_phases
from analyser.quality import screen
from analyser.record import FlightRecord
from analyser.telemetry import Telemetry
from analyser.turbine import TurbineResult

GEAR_S = 200.0


def flown(
    *,
    ohm: float = 0.040,
    mah: float = 3000.0,
    weak_v: float = 0.0,
    hz: float = 10.0,
    minutes: float = 8.0,
    seed: int = 1,
    gear_a: float = 14.0,
) -> dict[str, np.ndarray]:
    """One two-cell flight: servo load, gear at 200 s, rest at both ends; open-circuit line 4.15 to 3.60 V a cell."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 60.0 * minutes, 1.0 / hz)
    held = np.repeat(rng.gamma(2.0, 1.5, t.size // max(int(hz), 1) + 1), max(int(hz), 1))[: t.size]
    current = np.where((t > 15) & (t < t[-1] - 20), 3.0 + held, 0.3)
    current = current + np.where((t >= GEAR_S) & (t < GEAR_S + 2.5), gear_a, 0.0)
    used = np.cumsum(current) / hz / 3.6
    keep = np.exp(-1.0 / hz / 15.0)
    slow = lfilter([1 - keep], [1, -keep], current)
    rest = 4.15 - 0.55 * used / mah
    cells = [rest - (ohm * current + 0.3 * ohm * slow) / 2 - drop for drop in (0.0, weak_v)]
    height = np.where((t > 60) & (t < t[-1] - 60), 80.0, 0.0)
    return {
        "time_s": t,
        "pack.rx1.voltage_v": np.round(cells[0] + cells[1], 2),
        "pack.rx1.current_a": np.round(current, 2),
        "pack.rx1.cell1_v": np.round(cells[0], 3),
        "pack.rx1.cell2_v": np.round(cells[1], 3),
        "control.gear": (t < GEAR_S).astype(float),
        "position.height_m": height,
        "position.ground_speed_m_s": np.where(height > 0, 40.0, 0.0),
    }


def analysed(columns: dict[str, np.ndarray], **context: Any) -> PacksResult:
    telemetry = screen(Telemetry(pa.table(columns)))
    return analyse_packs(telemetry, find_phases(telemetry), FlightContext(**context))


PACK = Pack("R1", "lipo", 2, 3000.0, brown_out_v=6.0, new_resistance_mohm=42.0)


def test_charge_is_the_integral_of_the_known_current() -> None:
    columns = flown()
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    truth = float(np.trapezoid(columns["pack.rx1.current_a"], columns["time_s"])) / 3.6
    assert pack.used_mah.value == pytest.approx(truth, rel=0.01)
    assert pack.used_wh.value is not None
    assert 7.0 < 1000 * pack.used_wh.value / truth < 8.4


@pytest.mark.parametrize("hz", [2.0, 10.0, 50.0])
def test_resistance_is_found_at_any_rate(hz: float) -> None:
    pack = analysed(flown(hz=hz), packs={"rx1": PACK}).packs[0]
    truth = 40.0 + 12.0 * (1 - np.exp(-1 / 15))
    assert pack.resistance_mohm.value == pytest.approx(truth, rel=0.08)
    assert pack.resistance_mohm.low is not None


def test_brown_out_names_the_gear() -> None:
    pack = analysed(flown(ohm=0.130), packs={"rx1": PACK}).packs[0]
    browns = [e for e in pack.events if e.kind == "brown_out"]
    gear = [e for e in browns if abs(e.start_s - GEAR_S) < 1.0]
    assert gear
    assert gear[0].level == Level.ACT
    assert any("gear" in c for c in gear[0].causes)


def test_healthy_pack_browns_nothing_out() -> None:
    assert not [e for e in analysed(flown(), packs={"rx1": PACK}).packs[0].events if e.kind == "brown_out"]


def test_reversed_current_is_turned_round_and_said() -> None:
    columns = flown()
    right = analysed(columns, packs={"rx1": PACK}).packs[0].used_mah
    columns["pack.rx1.current_a"] = -columns["pack.rx1.current_a"]
    turned = analysed(columns, packs={"rx1": PACK}).packs[0].used_mah
    assert turned.value == pytest.approx(right.value)
    assert any("reversed" in d for d in turned.doubts)


def test_offset_is_named_when_the_charger_disagrees() -> None:
    columns = flown()
    truth = float(np.trapezoid(columns["pack.rx1.current_a"], columns["time_s"])) / 3.6
    columns["pack.rx1.current_a"] = columns["pack.rx1.current_a"] + 2.5
    pack = analysed(columns, packs={"rx1": PACK}, pack_notes={"rx1": PackNote(charged_mah=truth)}).packs[0]
    assert any("offset" in d for d in pack.used_mah.doubts)


def test_wrong_cell_count_is_asked() -> None:
    pack = analysed(flown(), packs={"rx1": Pack("R1", "lipo", 3, 3000.0)}).packs[0]
    assert any("cell count" in d for d in pack.rest_before_v.doubts)


def test_counter_reset_in_flight_keeps_the_charge_and_is_named() -> None:
    columns = flown()
    count = np.cumsum(columns.pop("pack.rx1.current_a")) / 36.0
    reset = columns["time_s"] >= 250.0
    whole = float(count[-1] - count[0])
    columns["pack.rx1.used_mah"] = np.round(np.where(reset, count - count[reset][0], count), 1)
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    assert pack.used_mah.value == pytest.approx(whole, rel=0.01)
    assert pack.used_mah.doubts


def test_without_current_the_put_back_counts() -> None:
    columns = flown()
    del columns["pack.rx1.current_a"]
    pack = analysed(columns, packs={"rx1": PACK}, pack_notes={"rx1": PackNote(charged_mah=700.0)}).packs[0]
    assert pack.used_mah.value == 700.0
    assert pack.resistance_mohm.value is None
    assert pack.resistance_mohm.missing


def test_two_packs_share_a_bus() -> None:
    columns = flown()
    columns |= {k.replace("rx1", "rx2"): v for k, v in flown(seed=1, ohm=0.3).items() if "rx1" in k}
    result = analysed(columns, aircraft=Aircraft("invented", brown_out_v=6.0))
    (bus,) = result.buses
    assert sum(f.value or 0.0 for f in bus.share_percent.values()) == pytest.approx(100.0)
    assert bus.carries_alone["rx1"]
    assert not bus.carries_alone["rx2"]


def _season(kind: str, flights: int = 10) -> list[FlightRecord]:
    out = []
    for n in range(flights):
        share = n / (flights - 1)
        aged = (
            {"ohm": 0.040 + 0.085 * share, "mah": 3000 - 900 * share, "weak_v": 0.13 * share}
            if kind == "ageing"
            else {}
        )
        context = FlightContext(
            flight_id=f"{kind}-{n}",
            packs={"rx1": Pack(kind, "lipo", 2, 3000.0, brown_out_v=6.0)},
            air_temperature_c=20.0,
        )
        telemetry = screen(Telemetry(pa.table(flown(seed=n, hz=5.0, **aged))))
        phases = find_phases(telemetry)
        result = FlightResult(
            context.flight_id,
            telemetry.duration_s,
            phases,
            FuelResult.__new__(FuelResult),
            TurbineResult.__new__(TurbineResult),
            analyse_packs(telemetry, phases, context),
            LinkResult.__new__(LinkResult),
            (),
            (),
            (),
        )
        day = datetime(2020, 5, 1, tzinfo=UTC) + timedelta(days=7 * n)
        out.append(FlightRecord(context.flight_id, n + 1, day, context, result))
    return out


def test_the_ageing_pack_is_found_among_normal_ones() -> None:
    first, second = pack_histories([*_season("ageing"), *_season("sound")])
    assert first.pack.name == "ageing"
    assert first.level == Level.ACT
    text = " ".join(first.reasons)
    assert "resistance" in text
    assert "cell spread" in text
    assert "brown-out" in text
    assert "gear" in text
    assert first.weak_cell == 2
    assert (first.resistance_trend.low or 0.0) > 0.0
    assert second.level <= Level.NOTE, second.reasons


def test_few_flights_forecast_nothing() -> None:
    (history,) = pack_histories(_season("sound", 3))
    assert history.flights_to_retirement.value is None
    assert "not enough flights" in history.flights_to_retirement.missing


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(
            st.floats(0.01, 5.0),
            st.one_of(st.none(), st.floats(0.0, 75.0)),
            st.one_of(st.none(), st.floats(-300.0, 300.0)),
        ),
        min_size=1,
        max_size=60,
    )
)
def test_any_trace_gives_finite_figures_or_a_stated_cannot(
    rows: list[tuple[float, float | None, float | None]],
) -> None:
    t = np.cumsum([r[0] for r in rows])
    table = pa.table(
        {
            "time_s": t - t[0],
            "pack.rx1.voltage_v": pa.array([r[1] for r in rows], pa.float64()),
            "pack.rx1.current_a": pa.array([r[2] for r in rows], pa.float64()),
        }
    )
    telemetry = screen(Telemetry(table))
    result = analyse_packs(
        telemetry, find_phases(telemetry), FlightContext(packs={"rx1": PACK}, air_temperature_c=15.0)
    )
    for path, figure in figures_of(result):
        if figure.value is None:
            assert figure.missing, path
        else:
            assert np.isfinite([figure.value, figure.low or 0.0, figure.high or 0.0]).all(), path


def test_a_foreign_pack_in_one_flight_is_asked_about() -> None:
    sound = _season("sound")
    foreign = _season("ageing")[-1].result.packs
    sound[5] = replace(sound[5], result=replace(sound[5].result, packs=foreign))
    (history,) = pack_histories(sound)
    assert len(history.questions) == 1
    assert "sound-5" in history.questions[0]
