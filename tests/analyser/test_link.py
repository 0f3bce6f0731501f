"""One flight's link: fades from which side, together and apart, with each kind of log, against simulated truth."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext, Receiver
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.link.analysis import LinkResult, analyse_link
from reports.words.catalogue import text
from tests.analyser.link_flights import LAT0, LON0, aircraft, context, fly, level, tail_null

TERN, OLD, _ = aircraft()


def analysed(telemetry: Telemetry, of: FlightContext | None = None) -> LinkResult:
    screened = screen(telemetry)
    return analyse_link(screened, find_phases(screened), of or context(OLD, TERN))


@pytest.mark.parametrize("attitude", [True, False])
@pytest.mark.parametrize("unit", ["dBm", "percent"])
def test_the_null_is_found_astern_and_the_other_antenna_bridged_it(attitude: bool, unit: str) -> None:
    sim = fly({"rx1.antenna1": level, "rx1.antenna2": tail_null(18.0)}, seed=2, attitude=attitude, unit=unit)
    result = analysed(sim.telemetry)
    good, bad = result.receivers[0].antennas
    assert good.fades.value == 0
    assert bad.fades.value
    assert bad.fades.value >= 3
    assert "tail" in text(bad.worst_direction)
    assert result.receivers[0].fades_together.value == 0
    assert result.receivers[0].fades_saved.value
    assert result.receivers[0].fades_saved.value >= 3
    assert all(e.depth and e.depth.value and 12 < e.depth.value < 30 for e in bad.events)
    assert ("attitude" in [text(m.what) for m in result.missing]) is not attitude
    assert bad.bins is not None
    assert bad.bins.calibrated is (unit == "percent")


def test_both_faded_is_not_saved() -> None:
    sim = fly({"rx1.antenna1": tail_null(18.0), "rx1.antenna2": tail_null(18.0)}, seed=2)
    receiver = analysed(sim.telemetry).receivers[0]
    assert receiver.fades_together.value
    assert receiver.fades_together.value >= 3
    assert receiver.fades_saved.value is not None
    assert receiver.fades_saved.value <= 2


def test_counter_alone_finds_the_side() -> None:
    sim = fly({"rx1.antenna1": level, "rx1.antenna2": tail_null(18.0)}, seed=3, unit="none", counters=True, rate_hz=4.0)
    good, bad = analysed(sim.telemetry).receivers[0].antennas
    assert bad.unit == "lost"
    assert bad.median_signal.value is None
    assert bad.lost_packets.value
    assert good.lost_packets.value is not None
    assert bad.lost_packets.value > 2 * good.lost_packets.value
    assert "tail" in text(bad.worst_direction)
    assert bad.lost_per_min.low is not None
    assert bad.lost_per_min.value is not None
    assert bad.lost_per_min.low < bad.lost_per_min.value


def test_range_and_free_space_exponent() -> None:
    sim = fly({"rx1.antenna1": level}, seed=4)
    result = analysed(sim.telemetry)
    assert result.max_range_m.value == pytest.approx(float(sim.range_m.max()), abs=5.0)
    fit = result.receivers[0].antennas[0].distance_exponent
    assert fit is not None
    assert fit.value == pytest.approx(2.0, abs=0.5)
    assert fit.low is not None
    assert fit.high is not None
    assert fit.low - 0.1 < 2.0 < fit.high + 0.1


def test_places_that_no_model_reaches_in_the_time_are_doubted() -> None:
    """A receiver that loses its satellites says another place; how far off says nothing of how far was flown."""
    sim = fly({"rx1.antenna1": level}, seed=4, seconds=60.0)
    assert not analysed(sim.telemetry).max_range_m.doubts
    table = sim.telemetry.table
    for name in ("position.latitude_deg", "position.longitude_deg"):
        places = table.column(name).to_numpy().copy()
        places[places.size // 2 : places.size * 3 // 4] -= 30.0
        table = table.set_column(table.column_names.index(name), name, pa.array(places))
    result = analysed(Telemetry(table))
    assert result.max_range_m.value is not None
    assert result.max_range_m.value > 1e6
    assert "faster than sound" in text(result.max_range_m.doubts[0])


def test_percent_is_never_db_without_a_distance_to_learn_from() -> None:
    sim = fly({"rx1.antenna1": tail_null(18.0)}, seed=2, unit="percent")
    kept = [c for c in sim.telemetry.table.column_names if not c.startswith("position.latitude")]
    antenna = analysed(Telemetry(sim.telemetry.table.select(kept))).receivers[0].antennas[0]
    assert antenna.residual is not None
    assert antenna.residual.unit == "% of usual"
    assert antenna.bins is None
    assert all(e.depth is not None and e.depth.unit == "% of usual" for e in antenna.events)
    assert antenna.lowest_margin_db.value is None


def test_margin_needs_the_stated_sensitivity() -> None:
    sim = fly({"rx1.antenna1": level}, seed=4)
    assert "sensitivity" in text(analysed(sim.telemetry).receivers[0].antennas[0].lowest_margin_db.missing)
    told = context(OLD, replace(TERN, receivers=(Receiver("rx1", -95.0),)))
    antenna = analysed(sim.telemetry, told).receivers[0].antennas[0]
    assert antenna.lowest_margin_db.value is not None
    assert antenna.lowest_signal.value is not None
    assert antenna.lowest_margin_db.value == pytest.approx(antenna.lowest_signal.value + 95.0)


def test_pilot_is_found_where_the_aircraft_stood() -> None:
    sim = fly({"rx1.antenna1": level}, seed=4)
    result = analysed(sim.telemetry, FlightContext(aircraft=TERN))
    assert "stood before take-off" in text(result.pilot_from)
    assert result.max_range_m.value == pytest.approx(float(sim.range_m.max()), abs=5.0)
    assert (LAT0, LON0) == (51.0, 0.5)


def with_columns(sim_table: pa.Table, **columns: np.ndarray) -> Telemetry:
    for name, values in columns.items():
        sim_table = sim_table.append_column(name.replace("__", "."), pa.array(values))
    return Telemetry(sim_table)


def test_failsafe_bursts_and_downlink_gaps_are_told_apart() -> None:
    sim = fly({"rx1.antenna1": level}, seed=4)
    t = sim.telemetry.time_s
    lost = np.cumsum(np.where((t > 100) & (t < 102), 1.0, 0.0))
    telemetry = with_columns(
        sim.telemetry.table, link__rx1__lost_frames=lost, link__rx1__failsafe=(t > 101) & (t < 101.95)
    )
    holed = Telemetry(telemetry.table.filter(pa.array((t < 200) | (t > 204))))
    result = analysed(holed)
    receiver = result.receivers[0]
    assert receiver.failsafe_s.value == pytest.approx(0.9, abs=0.15)
    bursts = [e for e in receiver.events if e.kind == "lost_frames"]
    assert len(bursts) == 1
    assert 99.5 < bursts[0].start_s < 100.5
    assert receiver.lost_frames.value == 19
    assert result.downlink_gaps.value == 1
    assert result.events[0].kind == "downlink_gap"
    assert result.events[0].duration_s == pytest.approx(4.0, abs=0.3)
    assert not [e for e in receiver.antennas[0].events if e.kind == "fade"]


def test_nothing_logged_says_so() -> None:
    result = analysed(Telemetry(pa.table({"time_s": np.arange(10.0), "pack.rx1.voltage_v": np.full(10, 8.0)})))
    assert result.receivers == ()
    assert result.missing
    assert result.max_range_m.value is None


@pytest.mark.parametrize(("wander_m", "leaves_db"), [(0.0, 2.0), (2.0, 5.4)])
def test_the_ground_reflected_ray_is_taken_off_where_it_shows(wander_m: float, leaves_db: float) -> None:
    """Low and far at 2.4 GHz the two rays beat by 5 dB rms; a height that wanders hides most of that, not all."""
    sim = fly(
        {"rx1.antenna1": level}, seed=4, two_ray=True, away_m=350.0, height_m=12.0, day_db=0.0, noise_db=1.5
    )  # fmt: skip
    table = sim.telemetry.table
    height = table.column("position.altitude_m").to_numpy() + wander_m * np.sin(sim.telemetry.time_s / 40)
    at = table.schema.get_field_index("position.altitude_m")
    telemetry = Telemetry(table.set_column(at, "position.altitude_m", pa.array(height)))
    antenna = analyse_link(telemetry, find_phases(telemetry), context(OLD, TERN)).receivers[0].antennas[0]
    assert antenna.distance_exponent is not None
    assert antenna.residual is not None
    assert "ground-reflected" in text(antenna.distance_exponent.how)
    assert float(np.nanstd(antenna.residual.values)) < leaves_db


@pytest.mark.parametrize("seed", range(6))
def test_no_ground_ray_is_taken_off_where_there_is_none(seed: int) -> None:
    sim = fly({"rx1.antenna1": level}, seed=40 + seed, away_m=350.0, height_m=12.0)
    antenna = analyse_link(sim.telemetry, find_phases(sim.telemetry), context(OLD, TERN)).receivers[0].antennas[0]
    assert antenna.distance_exponent is not None
    assert "ground-reflected" not in text(antenna.distance_exponent.how)
