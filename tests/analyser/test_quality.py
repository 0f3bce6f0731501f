"""Screening: quiet on every clean flight, sure on planted faults, and never a change to the raw values.

All flights are invented: a smooth circuit flown by a made-up aircraft, read by sensors of chosen noise,
resolution and refresh.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import FloatArray
from analyser.core.quality import screen, screen_again
from analyser.core.telemetry import Suspect, Telemetry
from reports.words.catalogue import text

OFF, UP, DOWN, STOP, END = 60.0, 80.0, 300.0, 340.0, 380.0


class Sensors(Struct, frozen=True):
    """How the made-up sensors read: rows a second, samples a second, noise and resolution as multiples."""

    rate_hz: float = 10.0
    refresh_hz: float = 10.0
    noise: float = 1.0
    coarse: float = 1.0
    seed: int = 0
    repeat: bool = False
    """Repeat each reading over the rows until the next one, as some loggers do, rather than leave the rows null."""


def clean(how: Sensors) -> dict[str, FloatArray]:
    """A healthy flight of some six minutes, engine idling on the ground for a minute before and forty seconds after."""
    rng = np.random.default_rng(how.seed)
    t = np.arange(0.0, END, 1.0 / how.rate_hz)
    air = (t > UP) & (t < DOWN)
    turn = np.cumsum(np.where(air, 0.25 + 0.15 * np.sin(t / 17), 0.0)) / how.rate_hz
    speed = np.interp(t, [OFF, OFF + 15, UP, UP + 20, DOWN - 20, DOWN, DOWN + 15], [0, 10, 25, 50, 45, 22, 0])
    speed = np.where(air, speed + 4 * np.sin(t / 7), speed)
    north, east = np.cumsum(speed * np.cos(turn)) / how.rate_hz, np.cumsum(speed * np.sin(turn)) / how.rate_hz
    height = np.interp(t, [UP, UP + 30, DOWN - 30, DOWN], [0, 90, 90, 0]) + np.where(air, 20 * np.sin(t / 11) ** 2, 0)
    distance = np.hypot(np.hypot(north, east), height) + 15.0
    power = np.where((t > OFF) & (t < DOWN), 0.75 + 0.2 * np.sin(t / 9), 0.3)
    power = np.where(t > STOP, 0.3 * np.exp(-(t - STOP) / 5.0), power)
    flow = np.where(t < STOP, 60 + 440 * power**2, 0.0)
    left = 3000 - np.cumsum(flow) / 60 / how.rate_hz
    current = 0.4 + np.where(air, 2.0 * rng.gamma(2.0, 0.6, t.size), 0.0)
    voltage = 8.2 - 0.0006 * t - 0.05 * current
    true: dict[str, tuple[FloatArray, float, float, bool]] = {
        # true value, noise, resolution, whether the reading is noisy at rest too
        "position.latitude_deg": (51.0 + north / 111_000, 2e-7, 1e-7, False),
        "position.longitude_deg": (0.5 + east / 70_000, 2e-7, 1e-7, False),
        "position.altitude_m": (112 + height, 0.3, 0.1, False),
        "position.height_m": (height, 0.3, 1.0, False),
        "position.ground_speed_m_s": (speed, 0.1, 0.1, False),
        "motion.airspeed_m_s": (np.maximum(speed - 3, 0), 0.3, 0.1, False),
        "motion.accel_z_m_s2": (-9.81 - np.where(air, 5 * np.sin(t / 3) ** 2, 0), 0.2, 0.05, True),
        "attitude.roll_deg": (np.where(air, 180 * np.sin(t / 8), 0.0), 1.0, 0.1, True),
        "engine.main.speed_rpm": (120_000 * power, 150.0, 100.0, False),
        "engine.main.egt_c": (20 + 650 * power, 1.0, 1.0, True),
        "engine.main.pump_v": (np.where(t < STOP, 5 * power, 0.0), 0.02, 0.01, True),
        "attitude.pitch_deg": (np.where(air, 10 * np.sin(t / 5), 0.0), 0.2, 0.1, True),
        "engine.main.throttle_percent": (100 * power, 0.0, 1.0, False),
        "fuel.main.remaining_ml": (np.maximum(left, 0), 10.0, 1.0, False),
        "fuel.main.remaining_percent": (np.maximum(left, 0) / 30, 0.3, 1.0, False),
        "fuel.header.remaining_ml": (np.where(left > 1500, 200.0, 200 - (1500 - left) / 15), 0.0, 1.0, False),
        "fuel.main.flow_ml_per_min": (flow, 3.0, 1.0, False),
        "pack.rx1.voltage_v": (voltage, 0.003, 0.01, True),
        "pack.rx1.current_a": (current, 0.01, 0.01, True),
        "pack.rx1.cell1_v": (voltage / 2, 0.003, 0.01, True),
        "pack.rx1.temperature_c": (22 + t / 100, 0.1, 1.0, True),
        "pack.ecu.voltage_v": (np.where(t < 20, 11.4, 11.5 - 0.0003 * t), 0.001, 0.01, True),
        "link.rx1.rssi_dbm": (
            -20 - 20 * np.log10(distance) + np.where(air, rng.normal(0, 3, t.size), 0),
            0.5,
            1.0,
            True,
        ),
        "link.rx1.signal_percent": (np.clip(140 - 20 * np.log10(distance) * 1.4, 0, 100), 1.0, 1.0, False),
        "link.rx1.link_quality_percent": (np.where(rng.random(t.size) < 0.02, 97.0, 100.0), 0.0, 1.0, False),
        "link.rx1.lost_frames": (np.cumsum(rng.random(t.size) < 0.01).astype(float), 0.0, 1.0, False),
        "air.temperature_c": (np.full(t.size, 18.0), 0.05, 0.1, True),
        "control.throttle_percent": (np.where(air, 100.0, 0.0), 0.0, 1.0, False),
    }
    out: dict[str, FloatArray] = {"time_s": t}
    every = max(1, round(how.rate_hz / how.refresh_hz))
    for name, (value, noise, resolution, restless) in true.items():
        jitter = how.noise * noise * rng.normal(size=t.size)
        if not restless:
            jitter = np.where(air, jitter, 0.0)
        step = how.coarse * resolution
        read = np.round((value + jitter) / step) * step
        if name.endswith(("_percent", "_ml", "_m_s", "_rpm")) and not name.startswith("motion.accel"):
            read = np.maximum(read, 0.0)
        if name.endswith("percent"):
            read = np.minimum(read, 100.0)
        index = np.arange(t.size)
        out[name] = read[index // every * every] if how.repeat else np.where(index % every == 0, read, np.nan)
    return out


def telemetry(columns: dict[str, FloatArray]) -> Telemetry:
    return Telemetry(pa.table({name: pa.array(values, from_pandas=True) for name, values in columns.items()}))


def of(result: Telemetry, channel: str) -> list[Suspect]:
    return [s for s in result.suspects if s.channel == channel]


@given(
    st.builds(
        Sensors,
        rate_hz=st.sampled_from([1.0, 5.0, 10.0, 50.0]),
        refresh_hz=st.sampled_from([1.0, 2.0, 10.0]),
        noise=st.sampled_from([0.0, 0.3, 1.0, 2.0]),
        coarse=st.sampled_from([0.1, 1.0, 3.0, 10.0]),
        seed=st.integers(0, 1000),
        repeat=st.booleans(),
    )
)
@example(Sensors(rate_hz=5.0, refresh_hz=1.0, noise=0.0, coarse=0.1, seed=428, repeat=True))
@settings(max_examples=40, deadline=None)
def test_clean_flight_raises_no_suspicion(how: Sensors) -> None:
    assert screen(telemetry(clean(how))).suspects == ()


def test_engine_run_on_the_ground_accuses_no_still_receiver() -> None:
    columns = clean(Sensors())
    still = {name: np.full_like(v, v[0]) for name, v in columns.items() if name.startswith(("position", "motion"))}
    assert screen(telemetry(columns | still)).suspects == ()


def test_touch_and_go_accuses_no_receiver_that_holds_its_place() -> None:
    columns = clean(Sensors())
    stop = (columns["time_s"] > 180) & (columns["time_s"] < 230)
    for name in columns:
        if name.startswith("position."):
            columns[name][stop] = columns[name][stop][0]
    for name in ("position.ground_speed_m_s", "motion.airspeed_m_s"):
        columns[name][stop] = 0.0
    assert screen(telemetry(columns)).suspects == ()


def test_flame_out_and_lost_link_are_no_sensor_faults() -> None:
    columns = clean(Sensors())
    t = columns["time_s"]
    columns["engine.main.speed_rpm"][(t > 200) & (t < 260)] = 0.0
    columns["engine.main.speed_rpm"][(t > 150) & (t < 153)] = 0.0
    columns["link.rx1.rssi_dbm"][(t > 100) & (t < 140)] = -118.0
    columns["pack.rx1.voltage_v"][(t > 120) & (t < 120.15)] = 4.1
    result = screen(telemetry(columns))
    assert result.masks == {}
    assert [(s.channel, s.kind) for s in result.suspects] == [("link.rx1.rssi_dbm", "saturated")]


STICKS = [
    "position.latitude_deg",
    "position.altitude_m",
    "position.ground_speed_m_s",
    "motion.airspeed_m_s",
    "motion.accel_z_m_s2",
    "attitude.roll_deg",
    "engine.main.speed_rpm",
    "fuel.main.remaining_ml",
    "fuel.main.flow_ml_per_min",
    "pack.rx1.voltage_v",
    "pack.rx1.current_a",
]


@pytest.mark.parametrize("channel", STICKS)
@pytest.mark.parametrize("how", [Sensors(), Sensors(50.0, 10.0), Sensors(50.0, 10.0, repeat=True)], ids=str)
def test_planted_stuck_sensor_is_found_where_it_is(channel: str, how: Sensors) -> None:
    columns = clean(replace(how, noise=2.0, coarse=0.1))
    t, v = columns["time_s"], columns[channel]
    held = (t >= 150) & (t <= 220) & np.isfinite(v)
    v[held] = v[held][0]
    whole = screen(telemetry(columns))
    (found,) = of(whole, channel)
    assert found.kind == "stuck"
    assert found.start_s == pytest.approx(150, abs=1.0)
    assert found.end_s == pytest.approx(220, abs=1.0)
    again = screen_again(telemetry(columns), whole.suspects)
    assert again.suspects == whole.suspects
    assert again.masks.keys() == whole.masks.keys()
    assert all((again.masks[c] == whole.masks[c]).all() for c in whole.masks)


def test_receiver_that_freezes_in_flight_and_never_wakes_is_found() -> None:
    columns = clean(Sensors(noise=2.0, coarse=0.1))
    late = columns["time_s"] >= 200
    for name in ("position.latitude_deg", "position.longitude_deg", "position.ground_speed_m_s"):
        columns[name][late] = columns[name][late][0]
    result = screen(telemetry(columns))
    assert {s.channel for s in result.suspects} == {
        "position.latitude_deg",
        "position.longitude_deg",
        "position.ground_speed_m_s",
    }
    assert result.series("position.latitude_deg").time_s.max() < 200.0


def test_quiet_pack_without_a_witness_is_left_alone() -> None:
    columns = clean(Sensors(coarse=0.1))
    held = (columns["time_s"] >= 150) & (columns["time_s"] <= 220)
    columns["pack.rx1.voltage_v"][held] = columns["pack.rx1.voltage_v"][held][0]
    alone = {n: v for n, v in columns.items() if n not in ("pack.rx1.current_a", "pack.rx1.cell1_v")}
    assert of(screen(telemetry(alone)), "pack.rx1.voltage_v") == []
    assert [s.kind for s in of(screen(telemetry(columns)), "pack.rx1.voltage_v")] == ["stuck"]


SPIKES = {
    "position.latitude_deg": 0.1,
    "position.altitude_m": 900.0,
    "position.ground_speed_m_s": 150.0,
    "engine.main.speed_rpm": 150_000.0,
    "engine.main.egt_c": 500.0,
    "fuel.main.remaining_ml": 900.0,
    "pack.rx1.temperature_c": 70.0,
    "air.temperature_c": 40.0,
}


@pytest.mark.parametrize(("channel", "size"), SPIKES.items())
@pytest.mark.parametrize("how", [Sensors(), Sensors(50.0), Sensors(50.0, repeat=True), Sensors(noise=0.0)], ids=str)
def test_planted_spikes_are_found_and_nothing_else(channel: str, size: float, how: Sensors) -> None:
    columns = clean(how)
    every = round(how.rate_hz / how.refresh_hz)
    wide = every if how.repeat else 1
    planted = np.array([700, 1300, 2005]) * every
    bad = (planted[:, None] + np.arange(wide)).ravel()
    columns[channel][bad] += size
    result = screen(telemetry(columns))
    assert [(s.channel, s.kind, s.samples) for s in result.suspects] == [(channel, "spike", bad.size)]
    assert np.flatnonzero(result.masks[channel]).tolist() == bad.tolist()


def test_one_spike_on_a_dead_level_channel_is_found() -> None:
    t = np.arange(0.0, 100.0)
    v = np.full(t.size, 21.0)
    v[40] = 90.0
    result = screen(telemetry({"time_s": t, "pack.rx1.temperature_c": v}))
    assert [(s.kind, s.start_s, s.samples) for s in result.suspects] == [("spike", 40.0, 1)]


def test_one_loop_in_a_level_flight_seen_once_a_second_is_no_spike() -> None:
    t = np.arange(0.0, 300.0)
    v = 100.0 + 0.2 * np.random.default_rng(0).normal(size=t.size)
    v[150] += 80.0
    assert screen(telemetry({"time_s": t, "position.altitude_m": v})).suspects == ()


@pytest.mark.parametrize(
    ("channel", "value"),
    [("pack.rx1.voltage_v", 99.9), ("engine.main.egt_c", -273.0), ("fuel.main.remaining_percent", 255.0)],
)
def test_planted_impossible_values_are_left_out(channel: str, value: float) -> None:
    columns = clean(Sensors())
    columns[channel][[500, 501, 900]] = value
    result = screen(telemetry(columns))
    assert [(s.kind, s.samples, s.excluded) for s in of(result, channel)] == [("impossible", 3, True)]
    assert value not in result.series(channel).values


def test_a_place_that_is_not_known_yet_is_left_out() -> None:
    columns = clean(Sensors())
    for name in ("position.latitude_deg", "position.longitude_deg"):
        columns[name][:90] = 0.0
    result = screen(telemetry(columns))
    for name in ("position.latitude_deg", "position.longitude_deg"):
        assert [(s.kind, s.samples, s.excluded) for s in of(result, name)] == [("impossible", 90, True)]
        assert "latitude 0 and longitude 0" in text(of(result, name)[0].note)


def test_the_equator_alone_is_a_place() -> None:
    t = np.arange(0.0, 100.0, 0.1)
    columns = {"time_s": t, "position.latitude_deg": 0 * t, "position.longitude_deg": 9.4 + 1e-5 * t}
    assert screen(telemetry(columns)).suspects == ()


@pytest.mark.parametrize(("channel", "code"), [("engine.main.speed_rpm", 65535.0), ("engine.main.egt_c", 999.0)])
def test_a_number_for_nothing_that_comes_again_and_again_is_left_out(channel: str, code: float) -> None:
    columns = clean(Sensors())
    columns[channel][1000:2400:50] = code
    result = screen(telemetry(columns))
    assert code not in result.series(channel).values
    assert int(result.masks[channel].sum()) == 28


@pytest.mark.parametrize("rows", [slice(0, 1), slice(0, 30), slice(-1, None), slice(-30, None)])
def test_a_number_for_nothing_at_either_end_is_left_out(rows: slice) -> None:
    t = np.arange(0.0, 400.0, 0.2)
    columns = {"time_s": t, "fuel.main.remaining_ml": np.round(3600.0 - 5.0 * t)}
    columns["fuel.main.remaining_ml"][rows] = 65535.0
    result = screen(telemetry(columns))
    assert result.series("fuel.main.remaining_ml").values.max() <= 3600.0
    assert int(result.masks["fuel.main.remaining_ml"].sum()) == np.arange(t.size)[rows].size


def test_a_level_that_begins_at_one_of_those_numbers_is_believed() -> None:
    t = np.arange(0.0, 400.0, 0.2)
    columns = {"time_s": t, "fuel.main.remaining_ml": np.round(1023.0 - 2.0 * t)}
    assert screen(telemetry(columns)).suspects == ()


def test_sensor_a_little_beyond_full_or_empty_is_believed() -> None:
    t = np.arange(0.0, 100.0, 0.1)
    columns = {"time_s": t, "fuel.main.remaining_percent": np.linspace(101.0, -1.0, t.size).round(1)}
    assert screen(telemetry(columns)).suspects == ()


def test_attitude_past_a_half_turn_is_believed_and_a_latitude_past_the_pole_is_not() -> None:
    t = np.arange(0.0, 100.0, 0.1)
    columns = {"time_s": t, "attitude.roll_deg": 182 * np.sin(t), "position.latitude_deg": 90.5 + 0 * t}
    assert [(s.channel, s.kind) for s in screen(telemetry(columns)).suspects] == [
        ("position.latitude_deg", "impossible")
    ]


def test_counter_reset_is_named_and_kept() -> None:
    columns = clean(Sensors())
    t = columns["time_s"]
    count = np.floor(t / 2)
    count[t > 200] -= count[t > 200][0]
    columns["link.rx1.lost_frames"] = count
    result = screen(telemetry(columns))
    assert [(s.kind, s.excluded, s.samples) for s in of(result, "link.rx1.lost_frames")] == [("reset", False, 1)]
    assert result.masks == {}


def test_total_that_wavers_is_no_reset() -> None:
    t = np.arange(0.0, 100.0, 0.1)
    v = np.maximum(0, 10 * t + 3 * np.sin(t * 5))
    assert screen(telemetry({"time_s": t, "fuel.main.used_ml": v})).suspects == ()


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_clipped_channel_is_warned_of_and_kept(sign: float) -> None:
    columns = clean(Sensors())
    t = columns["time_s"]
    pull = 120 * np.sin(t / 3) + np.random.default_rng(1).normal(0, 1, t.size)
    columns["motion.accel_z_m_s2"] = sign * np.minimum(pull, 78.5)
    result = screen(telemetry(columns))
    (found,) = of(result, "motion.accel_z_m_s2")
    assert (found.kind, found.excluded) == ("saturated", False)
    assert f"{sign * 78.5:g}".replace("-", "\N{MINUS SIGN}") in text(found.note)


@given(
    st.sampled_from([*STICKS, *SPIKES]),
    st.integers(0, 3000),
    st.integers(1, 1500),
    st.floats(-1e6, 1e6, allow_nan=False),
)
@settings(max_examples=25, deadline=None)
def test_whatever_is_wrong_the_raw_values_survive(channel: str, start: int, length: int, value: float) -> None:
    columns = clean(Sensors())
    columns[channel][start : start + length] = value
    before = telemetry(columns)
    after = screen(before)
    assert after.table.equals(before.table)
    assert set(after.masks) == {s.channel for s in after.suspects if s.excluded}
    for name, mask in after.masks.items():
        assert mask.shape == (before.table.num_rows,)
        assert mask.any()
        raw, kept = after.series(name, raw=True), after.series(name)
        assert raw.values.size - kept.values.size == mask.sum()
    for suspect in after.suspects:
        assert suspect.start_s <= suspect.end_s
        assert suspect.samples > 0
    again = screen(after)
    assert again.suspects == after.suspects
