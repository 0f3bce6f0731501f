"""Antenna maps and layout comparisons against the patterns the simulators gave their antennas."""

from __future__ import annotations

import numpy as np

from analyser.season.analysis import analyse_season
from tests.coverage.seasons import SEASON_RATE_HZ, records_of
from tests.coverage.tally import Tally
from tests.simulators.flight import FloatArray, Maker
from tests.simulators.season import Plan, fly_season


def count_antennas(tally: Tally, maker: Maker, seasons: int, seed: int) -> None:
    """Fly three to six flights under either of two layouts, the later of which hears a known amount better or worse."""
    for k in range(seasons):  # a loop over seasons
        rng = np.random.default_rng([seed, k])
        first, second = rng.integers(3, 7, 2)
        moved = float(rng.choice([0.0, 3.0, -5.0]))
        plan = Plan(flights=int(first + second), moved_at=int(first), moved_db=moved, minutes=3.5)
        build = maker.build(rng, rate_hz=SEASON_RATE_HZ.get(maker.name, 4.0), attitude=bool(rng.random() < 0.7))
        planned, flown = fly_season(maker, build, plan, rng)
        layouts = analyse_season(records_of(planned, flown)).aircraft[0].layouts
        for c in layouts.comparisons:
            for f, name in ((c.difference_db, "all round"), *((s, "by sector") for s in c.sectors)):
                if f.unit == "dB" and f.value is not None and f.low is not None and f.high is not None:
                    row = tally.row(f"season.layouts.difference_db, {name}", maker.name, f.confidence)
                    row.add(k, f.value, f.low, f.high, moved)
        for maps in layouts.layouts[:1]:
            for seen in maps.measured:
                if seen.unit != "dB":
                    continue
                truth = bin_means_of(build.gain[seen.antenna], seen.edges_azimuth_deg, seen.edges_sin_elevation)
                ok = np.isfinite(seen.gain_db)
                # The map's zero is its own; directions are what is judged.
                truth = truth + float(np.median((seen.gain_db - truth)[ok]))
                row = tally.row("season.layouts.measured gain_db, by direction", maker.name)
                for at in np.argwhere(ok):  # a loop over directions
                    i, j = at
                    row.add(k, seen.gain_db[i, j], seen.low_db[i, j], seen.high_db[i, j], truth[i, j])


def bin_means_of(gain: object, azimuth_deg: FloatArray, sin_elevation: FloatArray) -> FloatArray:
    """Mean gain over every bin of equal area, dB, shape (azimuths, elevations)."""
    parts = (np.arange(4) + 0.5) / 4.0
    a = (azimuth_deg[:-1, None] + np.diff(azimuth_deg)[:, None] * parts).ravel()
    s = (sin_elevation[:-1, None] + np.diff(sin_elevation)[:, None] * parts).ravel()
    aa, ee = np.meshgrid(a, np.degrees(np.arcsin(s)), indexing="ij")
    values = np.asarray(gain(aa.ravel(), ee.ravel())).reshape(aa.shape)  # type: ignore[operator]
    n, m = azimuth_deg.size - 1, sin_elevation.size - 1
    return np.asarray(values.reshape(n, 4, m, 4).mean(axis=(1, 3)), float)
