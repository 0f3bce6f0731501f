"""How much flying a map or a comparison of antennas needs, by kind of log, on simulated flights with known antennas.

Run ``python -m benchmarks.link_volumes [flights]``; it prints the tables of ``docs/link.md``. Each flight is five
minutes round the pilot, with 2 dB of fading, a day's offset of 1 dB, and four antennas: a plain one, the same 3 dB
stronger, the plain one with 12 dB taken out of a cone of 50° astern, and one alike in all directions. Counters lose
packets as the level falls towards −86 dBm.

Maps are held against the plain antenna's known pattern, comparisons against the known 3 dB; the mended antenna is the
one with the hole, replaced by the plain one. False alarms: a weak direction named on the antenna that has none, and the
plain antenna compared with itself on other flights.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import cast

import numpy as np
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.core.phases import find_phases
from analyser.link.analysis import analyse_link
from analyser.link.count_rate import seen_map
from analyser.link.directions import DirectionBins
from analyser.link.sphere import bin_centres
from analyser.season.link.comparison import compare_bins
from reports.words.catalogue import text
from tests.analyser.link_flights import aircraft, context, fly, tail_null

DRAWS = 60
STRONGER_DB, HOLE_DB = 3.0, 12.0
HOLE = cast(Callable[[FloatArray, FloatArray], FloatArray], tail_null(HOLE_DB))


class Kind(Struct, frozen=True):
    """One kind of log."""

    name: str
    unit: str
    rate_hz: float
    attitude: bool


KINDS = (
    Kind("dBm, attitude, 10 Hz", "dBm", 10.0, True),
    Kind("dBm, no attitude, 2 Hz", "dBm", 2.0, False),
    Kind("whole percent, attitude, 2 Hz", "percent", 2.0, True),
    Kind("whole percent, no attitude, 2 Hz", "percent", 2.0, False),
    Kind("counter only, attitude, 2 Hz", "none", 2.0, True),
    Kind("counter only, no attitude, 2 Hz", "none", 2.0, False),
)


def plain(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
    """A pattern that changes slowly: 5 dB between ahead and astern."""
    return np.asarray(2.5 * np.cos(np.radians(azimuth_deg)) * np.cos(np.radians(elevation_deg)))


def stronger(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
    """The plain one, 3 dB up."""
    return plain(azimuth_deg, elevation_deg) + STRONGER_DB


def with_hole(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
    """The plain one with a hole astern."""
    return np.asarray(plain(azimuth_deg, elevation_deg) + HOLE(azimuth_deg, elevation_deg))


def even(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
    """No weak direction at all, and hardly a lost packet from anywhere."""
    return np.zeros_like(azimuth_deg + elevation_deg)


def season(kind: Kind, flights: int) -> list[tuple[DirectionBins, ...]]:
    """Bins of the four antennas over many flights."""
    tern, layout, _ = aircraft()
    gains: dict[str, object] = {
        "rx1.antenna1": plain,
        "rx1.antenna2": stronger,
        "rx1.antenna3": with_hole,
        "rx1.antenna4": even,
    }
    out = []
    for seed in range(flights):
        sim = fly(
            gains, seed=5000 + seed, rate_hz=kind.rate_hz, attitude=kind.attitude, unit=kind.unit, counters=True,
            day_db=1.0,
        )  # fmt: skip
        result = analyse_link(sim.telemetry, find_phases(sim.telemetry), context(layout, tern))
        bins = tuple(a.bins for a in result.receivers[0].antennas if a.bins is not None)
        if len(bins) == len(gains):
            out.append(bins)
    return out


def map_row(bins: list[tuple[DirectionBins, ...]], n: int, rng: np.random.Generator) -> str:
    """Error, coverage and share of the sphere of maps from ``n`` flights; how often the hole is named astern."""
    truth = plain(*bin_centres())
    worst, rms, cover, seen, named, wrong = [], [], [], [], [], []
    for _ in range(DRAWS // 4):
        drawn = [bins[k] for k in rng.choice(len(bins), n, replace=False)]
        made = seen_map("a", "l", [b[0] for b in drawn])
        holed = seen_map("a", "l", [b[2] for b in drawn])
        named.append(bool(holed and holed.nulls and "tail" in text(holed.nulls[0]).partition(":")[0]))
        alike = seen_map("a", "l", [b[3] for b in drawn])
        wrong.append(bool(alike and alike.nulls))
        if made is None or made.unit != "dB":
            seen.append(float(np.isfinite(made.gain_db).mean()) if made else 0.0)
            continue
        ok = np.isfinite(made.gain_db)
        error = made.gain_db - truth
        zero = float(np.median(error[ok]))
        error = (error - zero)[ok]
        half_low, half_high = (made.gain_db - made.low_db)[ok], (made.high_db - made.gain_db)[ok]
        worst.append(float(np.quantile(np.abs(error), 0.95)))
        rms.append(float(np.sqrt((error**2).mean())))
        cover.append(float(((error <= half_low) & (-error <= half_high)).mean()))
        seen.append(float(ok.mean()))
    found = f"{np.mean(named):.0%} | {np.mean(wrong):.0%}"
    if not rms:
        return f"{np.mean(seen):.0%} | – | – | – | {found}"
    return f"{np.mean(seen):.0%} | {np.mean(rms):.1f} | {np.mean(worst):.1f} | {np.mean(cover):.0%} | {found}"


def comparison_row(bins: list[tuple[DirectionBins, ...]], n: int, rng: np.random.Generator) -> str:
    """Bias and coverage of a known 3 dB, how often a mended hole is told, and how often nothing is called something."""
    off, inside, told, alarms = [], [], 0, 0
    for _ in range(DRAWS):
        drawn = rng.permutation(len(bins))
        old, new = [bins[i] for i in drawn[:n]], [bins[i] for i in drawn[n : 2 * n]]
        difference = compare_bins("a", "x", "y", [b[0] for b in old], [b[1] for b in new]).difference_db
        if difference.value is not None and difference.low is not None and difference.high is not None:
            off.append(difference.value - STRONGER_DB)
            inside.append(difference.low <= STRONGER_DB <= difference.high)
        mended = compare_bins("a", "x", "y", [b[2] for b in old], [b[0] for b in new])
        told += text(mended.verdict).startswith("Moving a helped")
        same = compare_bins("a", "x", "y", [b[0] for b in old], [b[0] for b in new])
        alarms += not text(same.verdict).startswith("Can't tell")
    level = f"{np.mean(off):+.1f} | {np.mean(inside):.0%}" if off else "– | –"
    return f"{level} | {told / DRAWS:.0%} | {alarms / DRAWS:.0%}"


def main(flights: int) -> None:
    """Print both tables."""
    seasons = {kind: season(kind, flights) for kind in KINDS}
    rng = np.random.default_rng(1)
    print("| log | flights | directions seen | rms dB | 95 % within dB | interval holds | hole named | false alarm |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for kind, bins in seasons.items():
        for n in (1, 2, 4, 8):
            print(f"| {kind.name} | {n} | {map_row(bins, n, rng)} |", flush=True)
    print("\n| log | flights each | bias of 3 dB | interval holds | mended hole told | false alarm |")
    print("| --- | --- | --- | --- | --- | --- |")
    for kind, bins in seasons.items():
        for n in (3, 4, 6, 10):
            print(f"| {kind.name} | {n} | {comparison_row(bins, n, rng)} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
