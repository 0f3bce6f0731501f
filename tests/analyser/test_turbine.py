"""Starts, running, flame-outs and cool-downs against flights whose story is known."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.aircraft import Aircraft, Engine, FlightContext
from analyser.core.phases import find_phases
from analyser.engines.analysis import EngineResult, analyse_turbines
from reports.words.catalogue import text
from tests.analyser import flown

NAME = "engine.left"


def _analyse(columns: dict[str, np.ndarray], t: np.ndarray, engine: Engine | None = None) -> EngineResult:
    tele = flown.telemetry(t, **columns)
    context = FlightContext(aircraft=Aircraft("Plover", engines=(engine or Engine("left"),)))
    (result,) = analyse_turbines(tele, find_phases(tele), context).engines
    return result


def _whole(**changes: np.ndarray) -> tuple[dict[str, np.ndarray], np.ndarray]:
    true = flown.truth()
    t = true.time_s
    columns = {
        f"{NAME}.speed_rpm": true.speed_rpm,
        f"{NAME}.egt_c": flown.egt(t),
        f"{NAME}.throttle_percent": np.where((t > 75) & (t < 450), 80.0, 0.0),
        **flown.motion(t),
    }
    return columns | {f"{NAME}.{k}": v for k, v in changes.items()}, t


def test_a_plain_flight_has_one_good_start_and_no_events() -> None:
    result = _analyse(*_whole())
    assert [s.succeeded for s in result.starts] == [True]
    start = result.starts[0]
    assert start.duration_s.value == pytest.approx(flown.LIT_S - flown.SPIN_S, abs=5.0)
    assert start.peak_egt_c.value == pytest.approx(720.0, abs=2.0)
    assert not start.hot
    assert result.events == ()
    assert result.run_min.value == pytest.approx((flown.STOP_S - flown.LIT_S) / 60.0, abs=0.12)
    assert result.idle_rpm.value == pytest.approx(flown.IDLE_RPM, rel=0.01)
    assert result.cool_down_s.value == pytest.approx(66.7, abs=4.0)


def test_a_start_over_the_stated_limit_is_hot_and_without_a_limit_nothing_is_assumed() -> None:
    columns, t = _whole(egt_c=flown.egt(flown.truth().time_s, peak=860.0))
    hot = _analyse(columns, t, Engine("left", max_start_egt_c=800.0))
    assert hot.starts[0].hot
    assert [e.kind for e in hot.events] == ["hot_start"]
    assert not _analyse(columns, t).starts[0].hot


def test_a_failed_start_before_a_good_one_is_counted() -> None:
    true = flown.truth()
    lead = np.arange(0.0, 60.0, 0.1)
    failed = np.interp(lead, [0, 10, 20, 30], [0, 0, 16_000, 0])
    t = np.r_[lead, true.time_s + 60.0]
    result = _analyse({f"{NAME}.speed_rpm": np.r_[failed, true.speed_rpm]}, t)
    assert [s.succeeded for s in result.starts] == [False, True]
    assert [e.kind for e in result.events] == ["failed_start"]


def test_speed_collapse_in_the_air_is_a_flame_out() -> None:
    true = flown.truth()
    t = true.time_s
    out = np.where(t > 300, true.speed_rpm * np.exp(-(t - 300) / 4.0), true.speed_rpm)
    result = _analyse(*_whole(speed_rpm=out))
    (event,) = [e for e in result.events if e.kind == "flame_out"]
    assert 300 <= event.start_s <= 308


def test_shutdown_on_the_ground_with_throttle_closed_is_no_flame_out() -> None:
    assert not [e for e in _analyse(*_whole()).events if e.kind == "flame_out"]


def test_a_log_that_ends_hot_says_cool_down_cut_short_or_not_logged() -> None:
    columns, t = _whole()
    keep = t < flown.STOP_S + 20
    result = _analyse({k: v[keep] for k, v in columns.items()}, t[keep])
    assert result.cool_down_s.value is None
    assert [e.kind for e in result.events] == ["cool_down_cut"]


def test_charge_per_start_from_the_engine_packs_current() -> None:
    columns, t = _whole()
    columns["pack.ecu_left.current_a"] = np.where((t > flown.SPIN_S) & (t < 60), 3.6, 0.0)
    result = _analyse(columns, t)
    duration = result.starts[0].duration_s.value or 0.0
    assert result.mah_per_start.value == pytest.approx(duration * 1.0, rel=0.05)  # 3.6 A is 1 mAh a second


def test_no_shaft_speed_is_missing_not_guessed() -> None:
    t = np.arange(0.0, 60.0, 0.2)
    tele = flown.telemetry(t, **{"engine.left.egt_c": np.full(t.size, 400.0)})
    result = analyse_turbines(tele, find_phases(tele), FlightContext())
    assert result.engines == ()
    assert text(result.missing[0].what) == "shaft speed"


def test_a_hole_in_the_speeds_record_is_no_flame_out() -> None:
    columns, t = _whole()
    columns[f"{NAME}.speed_rpm"] = np.where((t > 300) & (t < 309), np.nan, columns[f"{NAME}.speed_rpm"])
    result = _analyse(columns, t)
    assert not result.events
    assert result.run_min.value == pytest.approx((flown.STOP_S - flown.LIT_S) / 60.0, abs=0.12)


def test_a_speed_sensor_that_falls_silent_aloft_is_no_flame_out() -> None:
    columns, t = _whole()
    columns[f"{NAME}.speed_rpm"] = np.where(t > 300, np.nan, columns[f"{NAME}.speed_rpm"])
    result = _analyse(columns, t)
    assert not [e for e in result.events if e.kind == "flame_out"]
    assert result.cool_down_s.value is None


def test_a_flame_out_within_a_hole_is_still_one() -> None:
    columns, t = _whole()
    speed = np.where(t > 300, columns[f"{NAME}.speed_rpm"] * np.exp(-(t - 300) / 4.0), columns[f"{NAME}.speed_rpm"])
    columns[f"{NAME}.speed_rpm"] = np.where((t > 298) & (t < 318), np.nan, speed)
    (event,) = [e for e in _analyse(columns, t).events if e.kind == "flame_out"]
    assert 298 <= event.start_s <= 318


def test_charge_per_start_from_a_count_that_was_reset() -> None:
    columns, t = _whole()
    used = np.interp(t, [0, flown.SPIN_S, 60, 600], [0, 0, 40, 90])
    columns["pack.ecu_left.used_mah"] = np.where(t > 20, used - used[200], used)
    result = _analyse(columns, t)
    assert result.mah_per_start.value == pytest.approx(0.8 * (result.starts[0].duration_s.value or 0.0), rel=0.05)


def test_a_log_of_a_moment_says_nothing_and_raises_nothing() -> None:
    result = _analyse({f"{NAME}.speed_rpm": np.array([36e3]), f"{NAME}.egt_c": np.array([500.0])}, np.array([0.0]))
    assert result.starts == ()
    assert result.idle_rpm.value is None
