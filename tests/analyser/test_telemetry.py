"""Telemetry: what a sensor gave, and what may be read between its samples."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.core.figures import FloatArray
from analyser.core.telemetry import Suspect, Telemetry


def telemetry(**columns: list[float | None] | list[bool | None]) -> Telemetry:
    table = {name.replace("__", "."): values for name, values in columns.items()}
    n = len(next(iter(table.values())))
    return Telemetry(pa.table({"time_s": np.arange(float(n)), **table}))


def test_series_leaves_out_nulls_and_what_was_masked() -> None:
    tele = telemetry(pack__rx1__voltage_v=[8.0, None, 7.0, float("nan"), 6.0])
    t, v = tele.series("pack.rx1.voltage_v")
    assert (t.tolist(), v.tolist()) == ([0, 2, 4], [8, 7, 6])
    suspect = Suspect("pack.rx1.voltage_v", "spike", 2.0, 2.0, 1, "x")
    masked = tele.screened({"pack.rx1.voltage_v": np.array([0, 0, 1, 0, 0], bool)}, [suspect])
    assert masked.series("pack.rx1.voltage_v").values.tolist() == [8, 6]
    assert masked.series("pack.rx1.voltage_v", raw=True).values.tolist() == [8, 7, 6]
    assert masked.suspects == (suspect,)


def test_a_channel_that_is_not_there_is_empty_and_false() -> None:
    tele = telemetry(pack__rx1__voltage_v=[8.0])
    assert not tele.series("pack.rx2.voltage_v")
    assert np.isnan(tele.at("pack.rx2.voltage_v", np.array([0.0, 1.0]))).all()
    assert not tele.has("pack.rx2.voltage_v")


def test_continuous_is_interpolated_inside_only() -> None:
    tele = telemetry(pack__rx1__voltage_v=[None, 8.0, None, 6.0, None])
    got = tele.at("pack.rx1.voltage_v", np.array([0.5, 1.0, 2.0, 3.0, 3.5]))
    assert np.array_equal(got, [np.nan, 8, 7, 6, np.nan], equal_nan=True)


def test_state_is_held_and_a_count_too() -> None:
    tele = telemetry(control__gear=[None, True, None, False, None], link__rx1__lost_frames=[3.0, None, None, 9.0, None])
    when = np.array([0.0, 1.0, 2.9, 3.0, 4.0])
    assert np.array_equal(tele.at("control.gear", when), [np.nan, 1, 1, 0, 0], equal_nan=True)
    assert tele.at("link.rx1.lost_frames", when).tolist() == [3, 3, 3, 9, 9]


def test_gap_gives_nothing() -> None:
    tele = telemetry(
        pack__rx1__voltage_v=[8.0, 7.0, None, None, None, 6.0], control__gear=[True, None, None, None, None, False]
    )
    when = np.array([0.0, 0.5, 1.0, 1.5, 4.9, 5.0])
    got = tele.at("pack.rx1.voltage_v", when, max_gap_s=2.0)
    assert np.array_equal(got, [8, 7.5, 7, np.nan, np.nan, 6], equal_nan=True), "a sample itself is always known"
    held = tele.at("control.gear", when, max_gap_s=2.0)
    assert np.array_equal(held, [1, 1, 1, 1, np.nan, 0], equal_nan=True)


@pytest.mark.parametrize(
    ("channel", "values", "middle"),
    [
        ("position.track_deg", [350.0, 20.0], 5.0),
        ("position.track_deg", [20.0, 350.0], 5.0),
        ("attitude.roll_deg", [170.0, -170.0], -180.0),
        ("attitude.roll_deg", [-10.0, 30.0], 10.0),
        ("position.longitude_deg", [179.9, -179.9], -180.0),
        ("attitude.pitch_deg", [-80.0, 80.0], 0.0),
    ],
)
def test_angles_go_the_shorter_way(channel: str, values: list[float], middle: float) -> None:
    tele = telemetry(**{channel.replace(".", "__"): values})
    assert tele.at(channel, np.array([0.5]))[0] == pytest.approx(middle)


@given(st.lists(st.floats(-180, 180), min_size=2, max_size=20), st.lists(st.floats(0, 30), max_size=20))
def test_roll_stays_in_range_and_passes_through_its_samples(values: list[float], when: list[float]) -> None:
    tele = telemetry(attitude__roll_deg=values)
    got = tele.at("attitude.roll_deg", np.array(when))
    inside = np.array(when) <= len(values) - 1
    assert np.array_equal(np.isfinite(got), inside)
    assert ((got[inside] >= -180) & (got[inside] <= 180)).all()
    here = tele.at("attitude.roll_deg", np.arange(float(len(values))))
    turned = (here - np.array(values) + 180) % 360 - 180
    assert turned == pytest.approx(np.zeros(len(values)), abs=1e-6)


@given(
    st.lists(st.floats(0.01, 5.0), min_size=1, max_size=15),
    st.lists(st.floats(-10, 80), max_size=15),
    st.sampled_from([0.5, 2.0, np.inf]),
)
def test_reading_between_agrees_with_the_rule_read_aloud(steps: list[float], when: list[float], gap: float) -> None:
    t = np.r_[0.0, np.cumsum(steps)]
    v = np.cos(t) * 5 + 20
    tele = Telemetry(pa.table({"time_s": t, "air.temperature_c": v, "position.satellites": np.round(v)}))
    for channel in ("air.temperature_c", "position.satellites"):
        expected = [slowly(t, tele.series(channel).values, x, gap, channel.startswith("air")) for x in when]
        got = tele.at(channel, np.array(when, float), max_gap_s=gap)
        assert got == pytest.approx(np.array(expected, float), nan_ok=True)


def slowly(t: FloatArray, v: FloatArray, when: float, gap: float, continuous: bool) -> float:
    before = [k for k in range(len(t)) if t[k] <= when]
    after = [k for k in range(len(t)) if t[k] >= when]
    if not before:
        return np.nan
    a = before[-1]
    if not continuous:
        return float(v[a]) if when - t[a] <= gap else np.nan
    if not after:
        return np.nan
    b = after[0]
    if a == b:
        return float(v[a])
    share = (when - t[a]) / (t[b] - t[a])
    return float(v[a] + share * (v[b] - v[a])) if t[b] - t[a] <= gap else np.nan


def test_names_are_taken_apart() -> None:
    tele = telemetry(
        pack__rx2__cell2_v=[4.0],
        pack__rx2__cell1_v=[4.0],
        pack__ecu__voltage_v=[11.0],
        extra__smoke=[1.0],
        fuel__main__used_ml=[None],
    )
    assert tele.instances("pack") == ("rx2", "ecu")
    assert tele.numbers("pack", "rx2", "cell<n>_v") == (1, 2)
    assert tele.extras == ("extra.smoke",)
    assert "fuel.main.used_ml" not in tele.channels


def test_rate_and_duration() -> None:
    tele = telemetry(
        pack__rx1__voltage_v=[8.0, None, 8.0, None, 8.0], air__temperature_c=[None, 20.0, None, None, None]
    )
    assert tele.rate_hz("pack.rx1.voltage_v") == 0.5
    assert np.isnan(tele.rate_hz("air.temperature_c"))
    assert tele.duration_s == 4.0


@pytest.mark.parametrize(
    ("table", "complaint"),
    [
        ({"pack.rx1.voltage_v": [1.0]}, "needs a time_s"),
        ({"time_s": [0.0, None]}, "null"),
        ({"time_s": [0.0, 1.0, 1.0]}, "row 2"),
        ({"time_s": [0.0, 2.0, 1.0]}, "row 2"),
    ],
)
def test_a_time_that_does_not_run_is_refused(table: dict[str, list[float | None]], complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        Telemetry(pa.table(table))
