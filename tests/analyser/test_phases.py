"""Phases from whatever channels exist, against a flight whose instants are known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from analyser.core.lift_off import Ground, to_the_wheels
from analyser.core.phases import PhaseName, find_phases, idle_speed
from reports.words.catalogue import text
from tests.analyser import flown


def _all(hz: float) -> dict[str, np.ndarray]:
    true = flown.truth(hz)
    t = true.time_s
    return {"engine.left.speed_rpm": true.speed_rpm, "engine.left.egt_c": flown.egt(t), **flown.motion(t)}


@pytest.mark.parametrize("hz", [1.0, 10.0, 50.0])
def test_lift_off_and_touch_down_are_found_at_any_rate(hz: float) -> None:
    phases = find_phases(flown.telemetry(flown.truth(hz).time_s, **_all(hz)))
    assert phases.take_off_s == pytest.approx(flown.TAKE_OFF_S, abs=3.0)
    assert phases.touch_down_s == pytest.approx(flown.TOUCH_DOWN_S, abs=3.0)
    assert not phases.missing


def test_phases_cover_the_log_once_and_come_in_order() -> None:
    tele = flown.telemetry(flown.truth().time_s, **_all(10.0))
    phases = find_phases(tele).phases
    assert phases[0].start_s == 0.0
    assert phases[-1].end_s == pytest.approx(tele.duration_s)
    assert all(a.end_s == b.start_s for a, b in itertools.pairwise(phases))
    order = [p.name for p in phases]
    assert order[0] is PhaseName.BEFORE_START
    for earlier, later in (
        (PhaseName.START, PhaseName.TAKE_OFF),
        (PhaseName.TAKE_OFF, PhaseName.FLIGHT),
        (PhaseName.FLIGHT, PhaseName.LANDING),
        (PhaseName.LANDING, PhaseName.COOL_DOWN),
    ):
        assert order.index(earlier) < order.index(later)


def test_start_and_cool_down_have_their_lengths() -> None:
    phases = find_phases(flown.telemetry(flown.truth().time_s, **_all(10.0)))
    start = sum(b - a for a, b in phases.spans(PhaseName.START))
    assert start == pytest.approx(flown.LIT_S - flown.SPIN_S, abs=6.0)
    (_, cold), *_ = phases.spans(PhaseName.COOL_DOWN)
    assert cold == pytest.approx(flown.STOP_S + 66.7, abs=4.0)


@pytest.mark.parametrize(
    ("kept", "tolerance_s", "lacks"),
    [
        (("engine.left.speed_rpm", "position.ground_speed_m_s"), 10.0, "height"),
        (("engine.left.speed_rpm", "position.height_m"), 6.0, "ground speed"),
        (("position.height_m", "position.ground_speed_m_s"), 3.0, ""),
        (("engine.left.speed_rpm",), 20.0, "speed and height"),
    ],
)
def test_fewer_channels_tell_it_less_sharply_and_say_so(kept: tuple[str, ...], tolerance_s: float, lacks: str) -> None:
    every = _all(10.0)
    phases = find_phases(flown.telemetry(flown.truth().time_s, **{k: every[k] for k in kept}))
    assert phases.take_off_s == pytest.approx(flown.TAKE_OFF_S, abs=tolerance_s)
    assert phases.touch_down_s == pytest.approx(flown.TOUCH_DOWN_S, abs=tolerance_s)
    assert [text(m.what) for m in phases.missing] == ([lacks] if lacks else [])


def test_nothing_to_tell_by_means_no_take_off_and_says_why() -> None:
    t = flown.truth().time_s
    phases = find_phases(flown.telemetry(t, **{"pack.rx1.voltage_v": np.full(t.size, 7.4)}))
    assert phases.take_off_s is None
    assert phases.airborne_span is None
    assert "can't be worked out" in text(phases.missing[0].cost)


def test_a_run_on_the_ground_is_no_flight() -> None:
    every = _all(10.0)
    every["position.ground_speed_m_s"] = np.zeros(every["engine.left.speed_rpm"].size)
    every["position.height_m"] = np.random.default_rng(1).normal(0, 0.4, every["engine.left.speed_rpm"].size)
    phases = find_phases(flown.telemetry(flown.truth().time_s, **every))
    assert phases.take_off_s is None
    assert phases.airborne_s == 0.0


# Engine power alone


def _power_only(*pieces: tuple[float, float]) -> np.ndarray:
    """Shaft speed (or throttle) from (seconds, value) pieces, ramped over a second, at 5 Hz."""
    ends = np.cumsum([0.0] + [s for s, _ in pieces])
    at = np.ravel([(a + 0.5, b - 0.5) for a, b in itertools.pairwise(ends)])
    return np.interp(np.arange(0.0, ends[-1], 0.2), at, np.repeat([v for _, v in pieces], 2))


ROUNDS = (
    (20.0, 0.0), (30.0, 36e3), (40.0, 64e3), (15.0, 120e3), (200.0, 100e3), (35.0, 75e3), (30.0, 36e3), (60.0, 63e3),
    (30.0, 36e3), (60.0, 0.0),
)  # fmt: skip
"""Standing, idle, taxi out, take-off, flight, approach, idle after touch-down, taxi in, idle, stopped."""
LIFT_S, TOUCH_S = 105.0, 340.0


def test_from_power_alone_touch_down_is_the_fall_to_idle_that_stays_and_says_how_unsure() -> None:
    v = _power_only(*ROUNDS)
    phases = find_phases(flown.telemetry(np.arange(v.size) * 0.2, **{"engine.left.speed_rpm": v}))
    assert phases.touch_down_s == pytest.approx(TOUCH_S, abs=2.0)
    assert phases.take_off_between_s is not None
    assert phases.touch_down_between_s is not None
    assert phases.take_off_between_s[0] <= LIFT_S <= phases.take_off_between_s[1]
    assert phases.touch_down_between_s[0] == pytest.approx(TOUCH_S - 35.0, abs=2.0)
    assert phases.touch_down_between_s[1] > TOUCH_S + 10.0
    airborne = phases.airborne_min
    assert airborne.low is not None
    assert airborne.high is not None
    assert airborne.low < (TOUCH_S - LIFT_S) / 60 < airborne.high
    assert airborne.half_width > 0.3


def test_a_long_taxi_at_one_speed_is_not_taken_for_idle() -> None:
    v = _power_only(*ROUNDS)
    assert idle_speed(v) == pytest.approx(36e3, rel=0.02)


def test_a_run_up_on_the_ground_is_no_flight_and_a_glide_aloft_does_not_end_one() -> None:
    run_up = ((20.0, 0.0), (30.0, 36e3), (8.0, 118e3), (40.0, 36e3), *ROUNDS[2:4], (100.0, 100e3), (12.0, 36e3))
    v = _power_only(*run_up, *ROUNDS[4:])
    phases = find_phases(flown.telemetry(np.arange(v.size) * 0.2, **{"engine.left.speed_rpm": v}))
    assert phases.take_off_s is not None
    assert 138.0 <= phases.take_off_s <= 138.0 + 15.0
    assert phases.touch_down_s == pytest.approx(138.0 + 15.0 + 100.0 + 12.0 + 235.0, abs=2.0)


def test_throttle_alone_tells_it_too() -> None:
    pieces = ((50.0, 0.0), (40.0, 13.0), (15.0, 100.0), (200.0, 55.0), (35.0, 28.0), (30.0, 0.0), (60.0, 12.0))
    v = _power_only(*pieces)
    phases = find_phases(flown.telemetry(np.arange(v.size) * 0.2, **{"control.throttle_percent": v}))
    assert phases.told_by == ("control.throttle_percent",)
    assert phases.touch_down_s == pytest.approx(340.0, abs=2.0)
    assert phases.touch_down_between_s is not None
    assert phases.touch_down_between_s[0] == pytest.approx(305.0, abs=3.0)


def test_what_is_told_sharply_has_a_narrow_interval() -> None:
    phases = find_phases(flown.telemetry(flown.truth().time_s, **_all(10.0)))
    assert phases.airborne_min.half_width < 0.08
    assert phases.take_off_between_s is not None
    assert phases.touch_down_between_s is not None
    ends = [(b - a) / 2 for a, b in (phases.take_off_between_s, phases.touch_down_between_s)]
    assert phases.reach(lambda a, b: b - a) == pytest.approx((np.hypot(*ends), np.hypot(*ends)), abs=0.01)
    assert np.hypot(*ends) < 3.54
    for (low, high), true in (
        (phases.take_off_between_s, flown.TAKE_OFF_S),
        (phases.touch_down_between_s, flown.TOUCH_DOWN_S),
    ):
        assert low <= true <= high


@pytest.mark.parametrize("drift_m", [-6.0, 6.0])
def test_an_altimeter_that_drifts_moves_neither_end(drift_m: float) -> None:
    """Six metres of drift over the flight: the ground rolled on afterwards tells it."""
    every = _all(10.0)
    t = flown.truth(10.0).time_s
    straight = find_phases(flown.telemetry(t, **every))
    every["position.height_m"] = every["position.height_m"] + drift_m * t / t[-1]
    drifted = find_phases(flown.telemetry(t, **every))
    assert straight.take_off_s is not None
    assert straight.touch_down_s is not None
    assert drifted.take_off_s == pytest.approx(straight.take_off_s, abs=1.0)
    assert drifted.touch_down_s == pytest.approx(straight.touch_down_s, abs=1.0)


def test_a_hole_in_the_record_is_no_landing() -> None:
    """Six seconds without any reading in mid-flight: between two readings of a flight lies flight."""
    every = _all(10.0)
    t = flown.truth(10.0).time_s
    middle = (flown.TAKE_OFF_S + flown.TOUCH_DOWN_S) / 2.0
    kept = (t < middle) | (t > middle + 6.0)
    whole = find_phases(flown.telemetry(t, **every))
    holed = find_phases(flown.telemetry(t[kept], **{k: v[kept] for k, v in every.items()}))
    assert holed.airborne_s == pytest.approx(whole.airborne_s, abs=0.5)


def test_a_slow_gauge_of_height_leaves_its_ends_wider() -> None:
    every = _all(10.0)
    t = flown.truth(10.0).time_s
    sparse = np.where(np.arange(t.size) % 40 == 0, every["position.height_m"], np.nan)
    fine, coarse = (
        find_phases(flown.telemetry(t, **{**every, "position.height_m": h}))
        for h in (every["position.height_m"], sparse)
    )
    assert coarse.airborne_min.half_width > 1.5 * fine.airborne_min.half_width


def test_a_bend_within_what_looked_like_flight_is_lift_off_and_touch_down() -> None:
    """An altimeter that wavers by metres while it rolls tells of flight; the bend into the ground comes after that."""
    t = np.arange(0.0, 120.0, 0.2)
    height = np.interp(t, [0.0, 44.0, 47.0, 50.0, 60.0, 80.0, 90.0, 93.0, 96.0], [0, 0, 3.4, 3.2, 43, 43, 3.2, 3.4, 0])
    ground = Ground(height, 1.8, 0.0, 35.0, 105.0, t)
    fast = (t > 30.0) & (t < 110.0)
    air, first, last = to_the_wheels(t, ground, fast, height > 3.0)
    up, down = t[air][0], t[air][-1]
    assert up == pytest.approx(50.0, abs=min(first[0], 2.0))
    assert down == pytest.approx(90.0, abs=min(last[0], 2.0))
    assert np.all(air[(t > up) & (t < down)])
