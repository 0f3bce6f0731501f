"""How long one whole analysis takes: an invented hour at 50 Hz with 40 channels, as a ratio to reading its file.

The same run reads the same Parquet file with pyarrow, so that a slow machine slows both. It says what share of the time
each room takes. Run from the repository's root; ``--profile`` adds where the time goes, function by function. Matrix
arithmetic gets one thread, as the command gives it.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import statistics
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from unittest import mock

from spooldown.processes.cores import collect_seldom, one_thread_each

one_thread_each()
collect_seldom()

import numpy as np  # noqa: E402
import pyarrow as pa  # noqa: E402
import pyarrow.parquet as pq  # noqa: E402

from analyser import flight  # noqa: E402
from analyser.core.aircraft import Aircraft, Engine, FlightContext, Pack, Tank  # noqa: E402
from analyser.core.channels import parse  # noqa: E402
from analyser.core.figures import FloatArray  # noqa: E402
from analyser.core.telemetry import Telemetry  # noqa: E402
from analyser.flight import analyse_flight  # noqa: E402

HOUR_S, RATE_HZ = 3600.0, 50.0


def hour(seconds: float = HOUR_S, rate_hz: float = RATE_HZ) -> pa.Table:
    """An invented hour of flying: 40 channels, most of them at full rate, some sensors slower (null between)."""
    rng = np.random.default_rng(0)
    t = np.arange(0.0, seconds, 1.0 / rate_hz)
    n = t.size
    air = (t > 120) & (t < seconds - 120)
    turn = np.cumsum(0.3 + 0.2 * np.sin(t / 17)) / rate_hz
    speed = np.where(air, 45 + 8 * np.sin(t / 7), 0.0)
    north, east = np.cumsum(speed * np.cos(turn)) / rate_hz, np.cumsum(speed * np.sin(turn)) / rate_hz
    height = np.where(air, 90 + 30 * np.sin(t / 11), 0.0)
    distance = np.hypot(np.hypot(north, east), height) + 20
    power = np.where(air, 0.75 + 0.2 * np.sin(t / 9), 0.3)
    flow = 60 + 440 * power**2
    columns: dict[str, FloatArray] = {
        "position.latitude_deg": 51.0 + north / 111_000,
        "position.longitude_deg": 0.5 + east / 70_000,
        "position.altitude_m": 112 + height,
        "position.ground_speed_m_s": speed,
        "position.track_deg": np.degrees(turn) % 360,
        "attitude.roll_deg": np.where(air, 55 * np.sin(t / 8), 0.0),
        "attitude.pitch_deg": np.where(air, 10 * np.sin(t / 5), 0.0),
        "attitude.heading_deg": np.degrees(turn) % 360,
        "motion.airspeed_m_s": np.maximum(speed + rng.normal(0, 1, n), 0),
        "motion.accel_x_m_s2": rng.normal(0, 2, n),
        "motion.accel_y_m_s2": rng.normal(0, 2, n),
        "motion.accel_z_m_s2": -9.81 + rng.normal(0, 2, n),
        "control.throttle_percent": 100 * power,
        "control.gear": (t % 400 < 30).astype(float),
        "control.brake_percent": np.where(air, 0.0, 50.0),
        "air.temperature_c": np.full(n, 18.0),
    }
    for side in ("left", "right"):
        columns |= {
            f"engine.{side}.speed_rpm": 120_000 * power + rng.normal(0, 100, n),
            f"engine.{side}.egt_c": 20 + 600 * power + rng.normal(0, 2, n),
            f"engine.{side}.pump_v": 5 * power,
            f"fuel.{side}.flow_ml_per_min": flow + rng.normal(0, 10, n),
            f"fuel.{side}.remaining_ml": 40_000 - np.cumsum(flow) / 60 / rate_hz + rng.normal(0, 20, n),
        }
    for role in ("rx1", "rx2"):
        current = 0.5 + np.where(air, rng.gamma(2.0, 0.8, n), 0.0)
        columns |= {
            f"pack.{role}.current_a": current,
            f"pack.{role}.voltage_v": 8.3 - 0.0001 * t - 0.05 * current + rng.normal(0, 0.003, n),
            f"pack.{role}.temperature_c": 22 + t / 300,
        }
    for receiver in ("rx1", "rx2"):
        level = -20 - 20 * np.log10(distance)
        columns |= {
            f"link.{receiver}.antenna1_rssi_dbm": level + 8 * np.log10(rng.exponential(1, n) + 1e-3),
            f"link.{receiver}.antenna2_rssi_dbm": level + 8 * np.log10(rng.exponential(1, n) + 1e-3),
            f"link.{receiver}.lost_frames": np.cumsum(rng.random(n) < 0.002).astype(float),
            f"link.{receiver}.link_quality_percent": np.clip(100 - rng.exponential(1, n), 0, 100),
        }
    assert len(columns) == 40, len(columns)
    slow = 10
    out = {"time_s": pa.array(t)}
    for name, values in columns.items():
        if name.startswith(("position", "air", "pack.rx1.temp", "pack.rx2.temp")):
            columns[name] = np.where(np.arange(n) % slow == 0, values, np.nan)
        known = parse(name)
        assert known is not None, name
        out[name] = (
            pa.array(values > 0.5) if known.channel.unit == "bool" else pa.array(columns[name], from_pandas=True)
        )
    return pa.table(out)


def context() -> FlightContext:
    """Everything noted, so that nothing is skipped for want of a note."""
    return FlightContext(
        "hour",
        Aircraft(
            "Bench",
            engines=(Engine("left", tank="left"), Engine("right", tank="right")),
            tanks=(Tank("left", 41_000.0, 100.0, "left"), Tank("right", 41_000.0, 100.0, "right")),
            radio_mhz=2440.0,
            brown_out_v=5.0,
        ),
        packs={role: Pack(role, "lipo", 2, 5000.0, brown_out_v=5.0) for role in ("rx1", "rx2")},
        pilot_latitude_deg=51.0,
        pilot_longitude_deg=0.5,
        pilot_altitude_m=112.0,
        air_temperature_c=18.0,
    )


def median_s(what: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        what()
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


ROOMS = ("screen", "find_phases", "analyse_fuel", "analyse_turbines", "analyse_packs", "analyse_link")
"""What :func:`analyser.flight.analyse_flight` is composed of."""


def rooms(what: Callable[[], object], times: int) -> dict[str, float]:
    """Median seconds that each room takes of an analysis."""
    taken: dict[str, list[float]] = {room: [] for room in ROOMS}

    def timed(room: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any) -> Any:
            begin = time.perf_counter()
            made = work(*given)
            taken[room].append(time.perf_counter() - begin)
            return made

        return run

    with ExitStack() as stack:
        for room in ROOMS:
            stack.enter_context(mock.patch.object(flight, room, timed(room, getattr(flight, room))))
        for _ in range(times):
            what()
    return {room: statistics.median(seconds) for room, seconds in taken.items()}


def where(what: Callable[[], object]) -> None:
    """Time inside each folder of the analyser (its own lines and what it calls outside), and the worst functions."""
    profile = cProfile.Profile()
    profile.runcall(what)
    stats = pstats.Stats(profile)
    own: dict[str, float] = defaultdict(float)
    for (file, _, _), (_, _, itself, _, _) in stats.stats.items():  # type: ignore[attr-defined]
        folders = Path(file).parts
        ours = "analyser" in folders
        own["/".join(folders[folders.index("analyser") : -1]) if ours else "(numpy, scipy, pyarrow)"] += itself
    for name, seconds in sorted(own.items(), key=lambda x: -x[1])[:14]:
        print(f"  {seconds:6.2f} s  {name}")
    stats.sort_stats("cumulative").print_stats("analyser/", 40)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--profile", action="store_true")
    options.add_argument("--times", type=int, default=3)
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "hour.parquet"
        pq.write_table(hour(), file)
        read_s = median_s(lambda: pq.read_table(file), max(5, given.times))
        table = pq.read_table(file)
        noted = context()
        analyse_s = median_s(lambda: analyse_flight(Telemetry(table), noted), given.times)
        print(
            f"{table.num_rows} rows, {table.num_columns - 1} channels, {file.stat().st_size / 1e6:.1f} MB: "
            f"read {read_s:.3f} s, analysed {analyse_s:.2f} s, ratio {analyse_s / read_s:.0f}"
        )
        each = rooms(lambda: analyse_flight(Telemetry(table), noted), given.times)
        for room, seconds in sorted(each.items(), key=lambda x: -x[1]):
            print(f"  {100 * seconds / sum(each.values()):3.0f} %  {1000 * seconds:4.0f} ms  {room}")
        if given.profile:
            where(lambda: analyse_flight(Telemetry(table), noted))


if __name__ == "__main__":
    main()
