"""Links of poor logs: holes, slow sensors, no height, a log begun in the air."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from analyser.core.aircraft import Aircraft, FlightContext, Receiver
from analyser.core.geometry import locate
from analyser.core.phases import Phases, find_phases
from analyser.core.telemetry import Telemetry
from analyser.link.analysis import LinkResult, analyse_link
from reports.words.catalogue import text
from tests.analyser.link_flights import aircraft, context, fly, level, tail_null

TERN, OLD, _ = aircraft()


def of(seconds: float, rate_hz: float = 10.0, **channels: np.ndarray) -> Telemetry:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return Telemetry(pa.table({"time_s": t, **{f"link.rx1.{k}": pa.array(v) for k, v in channels.items()}}))


def aloft(telemetry: Telemetry, aircraft: Aircraft | None = None) -> LinkResult:
    end = float(telemetry.time_s[-1])
    return analyse_link(telemetry, Phases((), 0.0, end, end, ()), FlightContext(aircraft=aircraft))


def without(telemetry: Telemetry, *names: str) -> Telemetry:
    return Telemetry(telemetry.table.drop_columns(list(names)))


def cut(telemetry: Telemetry, after_s: float) -> Telemetry:
    """The same log, begun later."""
    late = telemetry.table.filter(pa.array(telemetry.time_s >= after_s))
    return Telemetry(late.set_column(0, "time_s", pa.array(late.column("time_s").to_numpy() - after_s)))


def test_a_log_begun_in_the_air_does_not_say_that_the_aircraft_stood_there() -> None:
    sim = fly({"rx1.antenna1": level}, seed=8)
    late = cut(sim.telemetry, 60.0)
    result = analyse_link(late, find_phases(late), FlightContext(aircraft=TERN))
    assert "stood before take-off" not in text(result.pilot_from)
    assert result.max_range_m.value is None
    assert "pilot" in text(result.max_range_m.missing)
    assert result.receivers[0].antennas[0].bins is None
    assert any("pilot" in text(m.what) for m in result.missing)
    # An entered place is all it takes.
    told = analyse_link(late, find_phases(late), context(OLD, TERN))
    assert told.max_range_m.value is not None


def test_a_log_begun_in_the_air_takes_the_spot_where_the_aircraft_stood_after_landing() -> None:
    sim = fly({"rx1.antenna1": level}, seed=8)
    table = sim.telemetry.table
    backwards = {
        n: table.column(n).to_numpy()[::-1].copy() for n in table.column_names if n.startswith(("position", "link"))
    }
    telemetry = Telemetry(pa.table({"time_s": sim.telemetry.time_s, **backwards}))
    t = telemetry.time_s
    result = analyse_link(telemetry, Phases((), None, t[-1] - 20.0, None, ()), FlightContext(aircraft=TERN))
    assert "after landing" in text(result.pilot_from)
    assert result.max_range_m.value == pytest.approx(float(sim.range_m.max()), abs=5.0)


def test_without_a_height_no_direction_is_trusted() -> None:
    sim = fly({"rx1.antenna1": level}, seed=8)
    telemetry = without(sim.telemetry, "position.altitude_m")
    result = analyse_link(telemetry, find_phases(sim.telemetry), context(OLD, TERN))
    assert result.directions_from == ""
    assert result.receivers[0].antennas[0].bins is None
    assert any(text(m.what) == "height" for m in result.missing)
    assert result.max_range_m.value is not None
    assert "without height" in text(result.max_range_m.how)


def test_time_left_out_is_counted_once() -> None:
    sim = fly({"rx1.antenna1": level}, seed=8, attitude=False)
    t = sim.telemetry.time_s
    both = np.where((t > 100) & (t < 110), 90.0, 0.0)
    load = np.where((t > 100) & (t < 110), -9.81, 9.81)
    table = sim.telemetry.table.append_column("control.aileron_percent", pa.array(both))
    telemetry = Telemetry(table.append_column("motion.accel_z_m_s2", pa.array(load)))
    phases = find_phases(telemetry)
    result = analyse_link(telemetry, phases, context(OLD, TERN))
    found = locate(telemetry, phases, context(OLD, TERN))
    assert found is not None
    assert result.directions_left_out_s is not None
    unknown = found.airborne & ~np.isfinite(found.roll_deg)
    assert result.directions_left_out_s.value == pytest.approx(unknown.sum() * 0.1, abs=0.2)


def test_failsafe_is_not_counted_through_a_hole() -> None:
    telemetry = of(60.0, failsafe=np.zeros(600, bool), lost_frames=np.zeros(600))
    t = telemetry.time_s
    state = (t > 20) & (t < 41)
    table = telemetry.table.set_column(1, "link.rx1.failsafe", pa.array(state))
    holed = Telemetry(table.filter(pa.array((t < 22) | (t > 40))))
    receiver = aloft(holed).receivers[0]
    assert receiver.failsafe_s.value == pytest.approx(2.9, abs=0.3)
    assert "18 s more" in text(receiver.failsafe_s.how)


@pytest.mark.parametrize("rate_hz", [5.0, 50.0])
def test_a_fade_of_eight_seconds_shows_at_any_rate_without_position(rate_hz: float) -> None:
    t = np.arange(round(120 * rate_hz)) / rate_hz
    telemetry = of(120.0, rate_hz, antenna1_rssi_dbm=np.where((t > 60) & (t < 68), -95.0, -60.0))
    (fade,) = aloft(telemetry).receivers[0].antennas[0].events
    assert fade.kind == "fade"
    assert fade.duration_s == pytest.approx(8.0, abs=0.3)


def test_a_signal_that_is_mostly_zero_is_no_measure_of_fades() -> None:
    signal = np.zeros(600)
    signal[::7] = 40.0
    antenna = aloft(of(60.0, antenna1_signal_percent=signal)).receivers[0].antennas[0]
    assert antenna.fades.value is None
    assert "zero" in text(antenna.fades.missing)
    assert antenna.events == ()


def test_a_fade_that_begins_as_the_other_ends_was_bridged() -> None:
    t = np.arange(1200) / 10.0
    first = np.where((t >= 50) & (t < 53), -95.0, -60.0)
    second = np.where((t >= 53) & (t < 56), -95.0, -60.0)
    receiver = aloft(of(120.0, antenna1_rssi_dbm=first, antenna2_rssi_dbm=second)).receivers[0]
    assert receiver.fades_together.value == 0
    assert receiver.fades_saved.value == 2
    assert not [e for e in receiver.events if e.kind == "fade_together"]


def test_a_slow_sensor_has_fades_with_a_length() -> None:
    t = np.arange(100) * 3.0
    table = pa.table({"time_s": t, "link.rx1.antenna1_rssi_dbm": np.where((t > 100) & (t < 110), -95.0, -60.0)})
    (fade,) = aloft(Telemetry(table)).receivers[0].antennas[0].events
    assert fade.duration_s == pytest.approx(9.0, abs=0.1)


def test_frames_lost_in_a_hole_are_told_as_that() -> None:
    telemetry = of(60.0, lost_frames=np.zeros(600))
    t = telemetry.time_s
    lost = np.where(t > 30, 40.0, 0.0) + np.where(t > 20.05, 6.0, 0.0)
    table = telemetry.table.set_column(1, "link.rx1.lost_frames", pa.array(lost))
    receiver = aloft(Telemetry(table.filter(pa.array((t < 25) | (t > 35))))).receivers[0]
    short, hole = [e for e in receiver.events if e.kind == "lost_frames"]
    assert short.duration_s < 0.5
    assert "hole" not in text(short.summary)
    assert hole.duration_s == pytest.approx(10.0, abs=0.3)
    assert "hole" in text(hole.summary)


def test_missed_frames_are_a_share_of_what_the_stated_rate_brought() -> None:
    # 27 of 60 s at 45 frames a second are 1 %: by hand.
    telemetry = of(60.1, lost_frames=np.minimum(np.arange(601) // 10, 27).astype(float))
    stated = Aircraft("Tern", receivers=(Receiver("rx1", frame_rate_hz=45.0),))
    share = aloft(telemetry, stated).receivers[0].lost_frames_share
    assert share is not None
    assert share.value == pytest.approx(1.0, rel=0.01)
    assert share.low is not None
    assert share.low < 1.0
    assert not share.doubts
    assert aloft(telemetry).receivers[0].lost_frames_share is None
    slow = Aircraft("Tern", receivers=(Receiver("rx1", frame_rate_hz=0.4),))
    impossible = aloft(telemetry, slow).receivers[0].lost_frames_share
    assert impossible is not None
    assert "more frames missed than" in text(impossible.doubts[0])


def test_link_quality_is_told() -> None:
    receiver = aloft(of(60.0, link_quality_percent=np.r_[np.full(590, 99.0), np.full(10, 35.0)])).receivers[0]
    assert receiver.lowest_quality_percent is not None
    assert receiver.lowest_quality_percent.value == 35.0
    bare = aloft(of(60.0, lost_frames=np.zeros(600))).receivers[0].lowest_quality_percent
    assert bare is not None
    assert bare.value is None


def test_the_null_is_named_by_a_slow_receiver_beside_a_quick_one() -> None:
    """Antennas that report at rates of their own are each judged at their own samples."""
    sim = fly({"rx1.antenna1": level, "rx2.antenna1": tail_null(18.0)}, seed=2)
    slow = sim.telemetry.table.column("link.rx2.antenna1_rssi_dbm").to_numpy().copy()
    slow[np.arange(slow.size) % 5 != 0] = np.nan
    at = sim.telemetry.table.schema.get_field_index("link.rx2.antenna1_rssi_dbm")
    table = sim.telemetry.table.set_column(at, "link.rx2.antenna1_rssi_dbm", pa.array(slow, from_pandas=True))
    telemetry = Telemetry(table)
    result = analyse_link(telemetry, find_phases(telemetry), context(OLD, TERN))
    quick, late = result.receivers
    assert quick.antennas[0].fades.value == 0
    assert "tail" in text(late.antennas[0].worst_direction)
    assert result.fades_on_all_receivers is not None
    assert result.fades_on_all_receivers.value == 0


def test_a_counter_that_wavers_or_restarts_never_counts_backwards() -> None:
    wavers = aloft(of(60.0, lost_frames=np.r_[np.full(300, 100.0), np.full(300, 98.0)])).receivers[0]
    assert wavers.lost_frames.value == 0
    restarts = aloft(of(60.0, lost_frames=np.r_[np.full(300, 100.0), np.full(300, 3.0)])).receivers[0]
    assert restarts.lost_frames.value == 3
