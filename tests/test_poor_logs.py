"""Poor logs of the invented scenario, whole percent or only counters: their antenna maps say nothing false."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from analyser.core.aircraft import Aircraft, FlightContext
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.link.analysis import analyse_link
from analyser.link.count_rate import seen_map
from analyser.link.directions import DirectionBins
from analyser.link.sphere import bin_centres
from importers.plan import plan
from importers.read import read
from sample_logs.generator import scenario
from spooldown import register

SAMPLES = Path(__file__).resolve().parent.parent / "sample_logs"
PERCENT = ("plover-2026-05-03.csv", "plover-2026-07-26.csv")
COUNTERS = ("plover-2026-05-31.csv", "plover-2026-08-30.csv")


@cache
def described(name: str) -> Aircraft:
    path = SAMPLES / "aircraft" / f"{name}.toml"
    found = register.parse(path.read_bytes(), path.name).aircraft
    assert found is not None
    return found


@cache
def bins_of(log: str) -> dict[str, DirectionBins]:
    of = described(log.partition("-")[0])
    path = SAMPLES / log.partition("-")[0] / log
    (table,) = (pa.Table.from_batches(list(d.batches), d.schema) for d in read(plan(path)))
    telemetry = screen(Telemetry(table))
    told = FlightContext(
        aircraft=of, pilot_latitude_deg=scenario.LATITUDE_DEG, pilot_longitude_deg=scenario.LONGITUDE_DEG,
        pilot_altitude_m=scenario.GROUND_M,
    )  # fmt: skip
    link = analyse_link(telemetry, find_phases(telemetry), told)
    return {a.name: a.bins for r in link.receivers for a in r.antennas if a.bins is not None}


@pytest.mark.parametrize("number", [1, 2])
def test_percent_and_counters_say_nothing_false(number: int) -> None:
    """Plover's antennas: what its maps call weak must be weak in the pattern the scenario flew."""
    layout = described("plover").layouts[0]
    antenna = next(a for a in layout.antennas if a.number == number)
    along = np.asarray(antenna.axis, float)
    name = f"rx1.antenna{number}"
    azimuth, elevation = (np.radians(v) for v in bin_centres())
    towards = np.stack(
        [np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth), -np.sin(elevation)], axis=-1
    )
    end_on = np.degrees(np.arccos(np.abs(towards @ along / np.linalg.norm(along))))
    levels = seen_map(name, "P", [bins_of(log)[name] for log in PERCENT])
    assert levels is not None
    assert levels.unit == "dB"
    sure = np.nan_to_num(levels.high_db, nan=np.inf) < np.nanmedian(levels.gain_db) - 3.0
    assert sure.any()
    assert end_on[sure].max() < 60.0
    counted = seen_map(name, "P", [bins_of(log)[name] for log in COUNTERS])
    assert counted is not None
    assert counted.unit == "lost/s"
    worst = np.nan_to_num(counted.low_db, nan=-np.inf) > 2.0 * np.nanmedian(counted.gain_db)
    assert worst.any()
    assert float(np.median(end_on[worst])) < 45.0
