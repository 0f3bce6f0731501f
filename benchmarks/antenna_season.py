"""Mapping a season against one pass over its columns: 200 flights × 10 min × 20 Hz × 4 antennas.

Prints, as ratios to one summing pass over the same Parquet columns: the whole radio-link analysis of every flight,
done once and kept; and the maps and the comparison of two layouts made from what is kept. Also what a season holds in
memory (bins, not samples) and the peak of the process. Run: ``python -m benchmarks.antenna_season [flights]``.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from analyser.core.aircraft import FlightContext
from analyser.core.phases import Phases
from analyser.core.telemetry import Telemetry
from analyser.link.analysis import analyse_link
from analyser.link.directions import DirectionBins
from analyser.link.measured import measured_map
from analyser.link.propagation import DEFAULT_MHZ, free_space_loss_db
from analyser.season.link.comparison import compare_bins

SECONDS, RATE_HZ, ANTENNAS = 600, 20, 4


def made_up(seed: int) -> pa.Table:
    """One flight's columns: circles of changing size with attitude and four antennas in whole dBm."""
    rng = np.random.default_rng(seed)
    t = np.arange(SECONDS * RATE_HZ) / RATE_HZ
    angle, radius = t / 8 + rng.uniform(0, 6), 180 + 80 * np.sin(t / 31)
    columns = {
        "time_s": t,
        "position.latitude_deg": 51 + radius * np.cos(angle) / 111_240,
        "position.longitude_deg": 0.5 + radius * np.sin(angle) / 70_000,
        "position.altitude_m": 130 + 40 * np.sin(t / 11),
        "attitude.roll_deg": 40 + 10 * np.sin(t / 3),
        "attitude.pitch_deg": 15 * np.cos(t / 11),
        "attitude.heading_deg": (np.degrees(angle) + 90) % 360,
    }
    height = columns["position.altitude_m"] - 80.0
    level = 10.0 - free_space_loss_db(np.hypot(radius, height), DEFAULT_MHZ)
    for k in range(ANTENNAS):
        columns[f"link.rx{k // 2 + 1}.antenna{k % 2 + 1}_rssi_dbm"] = np.round(level + rng.normal(0, 3, t.size))
    return pa.table(columns)


def main(flights: int) -> None:
    """Time both and print the ratio."""
    import pymap3d  # noqa: F401 — imported here so that the first flight is not charged for it

    here = FlightContext(pilot_latitude_deg=51.0, pilot_longitude_deg=0.5, pilot_altitude_m=80.0)
    phases = Phases((), 5.0, SECONDS - 5.0, SECONDS - 10.0, ())
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / f"{k}.parquet" for k in range(flights)]
        for k, path in enumerate(paths):
            pq.write_table(made_up(k), path, compression="zstd")
        begin = time.perf_counter()
        for path in paths:
            table = pq.read_table(path)
            for name in table.column_names:
                pc.sum(table.column(name))
        one_pass = time.perf_counter() - begin
        bins: dict[str, list[DirectionBins]] = {}
        begin = time.perf_counter()
        for path in paths:
            result = analyse_link(Telemetry(pq.read_table(path)), phases, here)
            for receiver in result.receivers:
                for antenna in receiver.antennas:
                    if antenna.bins is not None:
                        bins.setdefault(antenna.name, []).append(antenna.bins)
        analysed = time.perf_counter() - begin
        begin = time.perf_counter()
        maps = [measured_map(name, "all", found) for name, found in bins.items()]
        half = flights // 2
        for name, found in bins.items():
            compare_bins(name, "first", "second", found[:half], found[half:])
        mapped = time.perf_counter() - begin
    held = sum(b.histogram.nbytes + b.seconds_by_range.nbytes * 2 for found in bins.values() for b in found)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{flights} flights, {len(maps)} maps; one pass over the columns {one_pass:.2f} s")
    print(f"analysing every flight's link: {analysed:.1f} s, ratio {analysed / one_pass:.0f}, ", end="")
    print(f"{1000 * analysed / flights:.0f} ms a flight")
    print(f"maps and comparisons from what is kept: {mapped:.2f} s, ratio {mapped / one_pass:.1f}")
    print(f"bins held {held / 1e6:.0f} MB; peak of the process {peak:.0f} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
