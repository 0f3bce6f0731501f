"""Antenna layouts of one aircraft: the planned maps, the measured maps, and whether moving an antenna helped.

Two layouts are compared direction by direction (and, for counters, range by range), each cell weighted by the time both
layouts spent in it, so that a day flown mostly tail-on is not held against the antenna. The interval comes from
resampling flights, not samples, with Student's t for the few flights there are (Welch–Satterthwaite).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy import stats

from analyser.aircraft import Aircraft, Antenna, AntennaLayout
from analyser.antenna import (
    AZIMUTHS,
    ELEVATIONS,
    LEVEL_EDGES_DB,
    AntennaMap,
    DirectionBins,
    add_levels,
    antenna_key,
    bin_centres,
    coverage_sentence,
    planned_best,
    planned_map,
    pool_histogram,
    quantile_of_histogram,
)
from analyser.count_rate import seen_map
from analyser.figures import Figure, FloatArray, Method
from analyser.record import FlightRecord

RESAMPLES = 400
CONFIDENCE = 0.95
FEWEST_FLIGHTS = 3
"""With two flights on a side their spread is hardly known: simulated false alarms exceed the stated rate."""
FEWEST_CELL_S = 1.0
DISAGREE_DB = 8.0
NO_LAYOUT = "layout not stated"
SECTORS = ("nose-on", "right wing", "tail-on", "left wing", "from above", "from below")


@dataclass(frozen=True, slots=True)
class LayoutMaps:
    """Planned and measured maps of one layout, antenna by antenna; ``disagreements`` says where the two differ most."""

    layout: str
    flight_ids: tuple[str, ...]
    measured: tuple[AntennaMap, ...]
    planned: tuple[AntennaMap, ...]
    planned_best: AntennaMap | None
    coverage_sentence: str
    disagreements: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LayoutComparison:
    """Did moving it help: one antenna under two layouts, at equal direction and range, resampled by flight.

    ``more_flights`` is how many more flights of each layout would tell a difference as large as the one seen.
    """

    antenna: str
    before: str
    after: str
    difference_db: Figure
    difference_lost_per_min: Figure
    sectors: tuple[Figure, ...]
    verdict: str
    more_flights: int | None = None


@dataclass(frozen=True, slots=True)
class LayoutsResult:
    """All layouts of one aircraft."""

    layouts: tuple[LayoutMaps, ...]
    comparisons: tuple[LayoutComparison, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """An estimated difference with its standard error and degrees of freedom; NaN where it can't be had."""

    value: float
    error: float
    freedom: float

    @property
    def half(self) -> float:
        """Half width of the interval at :data:`CONFIDENCE`."""
        return float(stats.t.ppf(0.5 + CONFIDENCE / 2, max(self.freedom, 1.0)) * self.error)

    @property
    def known(self) -> bool:
        """Whether there is an estimate with an error."""
        return bool(np.isfinite(self.value) and np.isfinite(self.error))

    def p_value(self) -> float:
        """Two-sided; 1 where unknown."""
        if not self.known:
            return 1.0
        if self.error <= 0:
            return 0.0 if self.value else 1.0
        return float(2 * stats.t.sf(abs(self.value) / self.error, max(self.freedom, 1.0)))


def analyse_layouts(flights: Sequence[FlightRecord], aircraft: Aircraft) -> LayoutsResult:
    """Map every layout of one aircraft over its flights and compare successive ones.

    Works without any flight: then only the planned maps are there.
    """
    by_layout: dict[str, list[FlightRecord]] = {}
    for f in flights:
        by_layout.setdefault(f.context.layout.name if f.context.layout else NO_LAYOUT, []).append(f)
    described = {lay.name: lay for lay in aircraft.layouts}
    described |= {f.context.layout.name: f.context.layout for f in flights if f.context.layout}
    flown = list(by_layout)
    order = [*flown, *(n for n in described if n not in by_layout)]
    zero = _references(flights)
    maps = tuple(_maps(n, by_layout.get(n, []), described.get(n), zero) for n in order)
    comparisons = [
        c
        for before, after in pairwise(flown)
        if NO_LAYOUT not in (before, after)
        for c in _compare_layouts(described[before], described[after], by_layout[before], by_layout[after])
    ]
    return LayoutsResult(maps, tuple(comparisons))


def bins_of(flight: FlightRecord) -> dict[str, DirectionBins]:
    """The flight's binned samples, antenna by antenna."""
    return {a.name: a.bins for r in flight.result.link.receivers for a in r.antennas if a.bins is not None}


def _references(flights: Sequence[FlightRecord]) -> float | None:
    """One zero for all dBm maps of the aircraft, so that layouts and antennas can be laid side by side."""
    levels = [b for f in flights for b in bins_of(f).values() if b.histogram.any() and not b.calibrated]
    if not levels:
        return None
    pooled = np.zeros((AZIMUTHS, ELEVATIONS, LEVEL_EDGES_DB.size - 1))
    for b in levels:
        add_levels(pooled, b)
    return float(quantile_of_histogram(pooled.sum(axis=(0, 1)), LEVEL_EDGES_DB, np.asarray(0.5)))


def _maps(
    name: str, flights: Sequence[FlightRecord], described: AntennaLayout | None, zero: float | None
) -> LayoutMaps:
    found: dict[str, list[DirectionBins]] = {}
    for f in flights:
        for key, bins in bins_of(f).items():
            found.setdefault(key, []).append(bins)
    measured = []
    for key in sorted(found):
        scale = None if any(b.calibrated for b in found[key]) else zero
        made = seen_map(key, name, found[key], scale)
        if made is not None:
            azimuth, elevation = _fades_of(key, flights)
            measured.append(replace(made, fade_azimuth_deg=azimuth, fade_elevation_deg=elevation))
    planned = tuple(planned_map(described, a) for a in described.antennas) if described else ()
    return LayoutMaps(
        name,
        tuple(f.flight_id for f in flights),
        tuple(measured),
        planned,
        planned_best(described) if described else None,
        coverage_sentence(described) if described else "This layout is not described, so nothing is planned for it.",
        tuple(_disagreements(measured, planned)),
    )


def _fades_of(key: str, flights: Sequence[FlightRecord]) -> tuple[FloatArray, FloatArray]:
    """Body azimuth and elevation of every fade of one antenna that has a trusted direction."""
    pairs = [
        (a.fade_azimuth_deg, a.fade_elevation_deg)
        for f in flights
        for r in f.result.link.receivers
        for a in r.antennas
        if a.name == key and a.fade_azimuth_deg is not None and a.fade_elevation_deg is not None
    ]
    if not pairs:
        return np.empty(0), np.empty(0)
    azimuth, elevation = (np.concatenate(part).astype(float) for part in zip(*pairs, strict=True))
    known = np.isfinite(azimuth) & np.isfinite(elevation)
    return azimuth[known], elevation[known]


def _disagreements(measured: Sequence[AntennaMap], planned: Sequence[AntennaMap]) -> list[str]:
    """Where an antenna is much weaker than its placement should give: there something is in the way."""
    plans = {p.antenna: p for p in planned}
    out = []
    for m in measured:
        p = plans.get(m.antenna)
        if p is None or m.unit != "dB":
            continue
        seen = np.isfinite(m.gain_db)
        off = np.where(seen, m.gain_db - p.gain_db, np.nan)
        off = off - np.nanmedian(off)
        for k in _sector_order(off):
            inside = seen & (sector_of_bins() == k)
            worst = float(np.nanmedian(off[inside]))
            if worst < -DISAGREE_DB:
                out.append(f"{m.antenna} is {-worst:.0f} dB weaker {SECTORS[k]} than its placement should give.")
    return out


def _sector_order(off: FloatArray) -> list[int]:
    sector = sector_of_bins()
    return [k for k in range(len(SECTORS)) if np.isfinite(off[sector == k]).sum() >= 2]


def sector_of_bins() -> npt.NDArray[np.intp]:
    """Which of :data:`SECTORS` every bin belongs to, shape (a, e): steep ones above or below, the rest by azimuth."""
    azimuth, elevation = bin_centres()
    side = (np.round((azimuth % 360.0) / 90.0) % 4).astype(np.intp)
    steep = np.abs(elevation) > 45.0
    return np.where(steep, np.where(elevation > 0, 4, 5), side)


def _changed(before: AntennaLayout, after: AntennaLayout) -> list[str]:
    """Antennas that sit elsewhere or point elsewhere; every antenna where one side is not described."""

    def placed(layout: AntennaLayout) -> dict[str, Antenna]:
        return {antenna_key(a.receiver, a.number): a for a in layout.antennas}

    old, new = placed(before), placed(after)
    return [
        key
        for key in dict.fromkeys([*old, *new])
        if key not in old
        or key not in new
        or (old[key].position_m, old[key].axis, old[key].kind) != (new[key].position_m, new[key].axis, new[key].kind)
    ]


def last_moved(aircraft: Aircraft) -> dict[str, date]:
    """By antenna, the day from which it stands where it stands now; only antennas that were ever moved."""
    dated = sorted((x for x in aircraft.layouts if x.since), key=lambda x: x.since or date.min)
    moved: dict[str, date] = {}
    for before, after in pairwise(dated):
        # Antennas that first appear are new, not moved.
        fitted = {antenna_key(a.receiver, a.number) for a in before.antennas}
        moved |= {key: after.since for key in _changed(before, after) if key in fitted and after.since}
    return moved


def _compare_layouts(
    before: AntennaLayout, after: AntennaLayout, old: Sequence[FlightRecord], new: Sequence[FlightRecord]
) -> list[LayoutComparison]:
    keys = _changed(before, after)
    if not keys and before.antennas != after.antennas:
        return []
    if not keys:
        keys = sorted({k for f in (*old, *new) for k in bins_of(f)})
    return [
        compare_bins(
            key,
            before.name,
            after.name,
            [b for f in old if (b := bins_of(f).get(key)) is not None],
            [b for f in new if (b := bins_of(f).get(key)) is not None],
        )
        for key in keys
    ]


def compare_bins(
    antenna: str, before: str, after: str, old: Sequence[DirectionBins], new: Sequence[DirectionBins], *, seed: int = 0
) -> LayoutComparison:
    """Compare one antenna under two layouts from the flights' binned samples, one item a flight.

    Positive decibels mean that the later layout hears better; positive lost packets a minute that it loses more.
    """
    label_db = f"{antenna}: level, {after} less {before}"
    label_lost = f"{antenna}: lost packets a minute, {after} less {before}"
    if min(len(old), len(new)) < FEWEST_FLIGHTS:
        gone = (
            f"needs {FEWEST_FLIGHTS} flights or more with directions under each layout; have {len(old)} and {len(new)}"
        )
        return LayoutComparison(
            antenna, before, after, Figure.unavailable(label_db, "dB", gone),
            Figure.unavailable(label_lost, "1/min", gone), (), f"Can't tell yet: {gone}.",
        )  # fmt: skip
    rng = np.random.default_rng(seed)
    draws = tuple(_draws(len(side), rng) for side in (old, new))
    have_level = all(b.histogram.any() for b in (*old, *new)) and not any(b.calibrated for b in (*old, *new))
    rescaled = all(b.histogram.any() and b.calibrated for b in (*old, *new))
    level: dict[int, Change] = {}
    if have_level or rescaled:
        shifts = _common_scale([*old, *new]) if rescaled else np.zeros(len(old) + len(new))
        level = _level_changes(old, new, shifts, draws)
    lost: dict[int, Change] = {}
    if all(b.counted for b in (*old, *new)):
        lost = _lost_changes(old, new, draws)
    estimated = "; through a calibration learned from distance, estimated" if rescaled else ""
    how_db = f"median level at equal direction, resampled by flight ({len(old)} and {len(new)} flights){estimated}"
    how_lost = f"counts at equal direction and range, resampled by flight ({len(old)} and {len(new)} flights)"
    no_db = "needs signal strength in dBm (or one that falls with distance) with directions under both layouts"
    no_lost = "needs a counter of lost packets per antenna under both layouts"
    main = level or lost
    unit, how, better = ("dB", how_db, 1.0) if level else ("1/min", how_lost, -1.0)
    figure_db = _figure(label_db, "dB", level.get(-1), how_db, no_db)
    figure_lost = _figure(label_lost, "1/min", lost.get(-1), how_lost, no_lost)
    sectors = tuple(
        _figure(f"{antenna}: {SECTORS[k]}, {after} less {before}", unit, main[k], how, "not seen under both layouts")
        for k in range(len(SECTORS))
        if k in main
    )
    verdict, more = _verdict(antenna, main, unit, better, len(old), len(new))
    return LayoutComparison(antenna, before, after, figure_db, figure_lost, sectors, verdict, more)


def _figure(label: str, unit: str, change: Change | None, how: str, missing: str) -> Figure:
    if change is None or not change.known:
        return Figure.unavailable(label, unit, missing)
    v, h = change.value, change.half
    digits = 1 if unit == "dB" else 2
    return Figure(label, v, unit, Method.ESTIMATED, v - h, v + h, CONFIDENCE, how=how, digits=digits)


def _draws(n: int, rng: np.random.Generator) -> FloatArray:
    """How often each flight is drawn in each resample, (resamples + 1, n); row 0 is the data as it stands."""
    drawn = rng.multinomial(n, np.full(n, 1.0 / n), RESAMPLES).astype(float)
    return np.vstack([np.ones(n), drawn])


Sides = tuple[FloatArray, ...]


def _common_scale(bins: Sequence[DirectionBins]) -> FloatArray:
    """Each flight's own calibration starts from its own zero; shift them to one percent-to-dB curve, dB a flight."""
    low = max(float(b.calibration_signal[0]) for b in bins)
    high = min(float(b.calibration_signal[-1]) for b in bins)
    at = np.linspace(min(low, high), max(low, high), 21)
    curves = np.array([np.interp(at, b.calibration_signal, b.calibration_db) for b in bins])
    return np.asarray(np.median(np.median(curves, axis=0) - curves, axis=1))


# Cells of direction coarse enough that several flights meet in each: 3 × 2 bins of the map.
_COARSE = (AZIMUTHS // 3, ELEVATIONS // 2)


def _coarse(v: FloatArray) -> FloatArray:
    """Sum bins into comparison cells: (a, e, …) → (cells, …)."""
    a, e = _COARSE
    summed = v.reshape(a, 3, e, 2, *v.shape[2:]).sum(axis=(1, 3))
    return np.asarray(summed.reshape(a * e, *v.shape[2:]))


def _cell_sectors() -> npt.NDArray[np.intp]:
    a, e = _COARSE
    azimuth = -180.0 + 360.0 / a * (np.arange(a) + 0.5)
    sine = -1.0 + 2.0 / e * (np.arange(e) + 0.5)
    az, s = np.meshgrid(azimuth, sine, indexing="ij")
    side = (np.floor(((az + 45.0) % 360.0) / 90.0)).astype(np.intp) % 4
    return np.where(s > 0.5, 4, np.where(s < -0.5, 5, side)).ravel()


def _level_changes(
    old: Sequence[DirectionBins], new: Sequence[DirectionBins], shifts: FloatArray, draws: Sides
) -> dict[int, Change]:
    both = []
    for side, shift, weights in ((old, shifts[: len(old)], draws[0]), (new, shifts[len(old) :], draws[1])):
        flights = np.array([_coarse(_moved(pool_histogram([b]), s)) for b, s in zip(side, shift, strict=True)])
        used = np.flatnonzero(flights.any(axis=(0, 1)))  # levels nobody saw need no resampling
        first, last = int(used[0]), int(used[-1]) + 1
        flights = flights[:, :, first:last]  # (flights, cells, levels)
        drawn = (weights @ flights.reshape(len(side), -1)).reshape(len(weights), *flights.shape[1:])
        both.append((quantile_of_histogram(drawn, LEVEL_EDGES_DB[first : last + 1], 0.5), _exposure(side)))
    return _matched(both[0], both[1], draws, lambda v: v)


def _moved(histogram: FloatArray, shift_db: float) -> FloatArray:
    """Shift a histogram along its levels by a whole number of steps (1 dB)."""
    steps = round(shift_db)
    return histogram if not steps else np.asarray(np.roll(histogram, steps, axis=-1))


def _exposure(side: Sequence[DirectionBins]) -> FloatArray:
    return _coarse(np.sum([b.seconds for b in side], axis=0))


def _lost_changes(old: Sequence[DirectionBins], new: Sequence[DirectionBins], draws: Sides) -> dict[int, Change]:
    both = []
    for side, weights in ((old, draws[0]), (new, draws[1])):
        seconds = np.array([_coarse(b.seconds_by_range).ravel() for b in side])
        lost = np.array([_coarse(b.lost_by_range).ravel() for b in side])
        exposure = weights @ seconds
        with np.errstate(invalid="ignore", divide="ignore"):
            rate = np.where(exposure > 0, 60.0 * (weights @ lost) / exposure, np.nan)
        both.append((rate, seconds.sum(axis=0)))
    return _matched(both[0], both[1], draws, lambda v: np.repeat(v, both[0][1].size // v.size))


def _matched(
    old: tuple[FloatArray, FloatArray], new: tuple[FloatArray, FloatArray], draws: Sides,
    spread: Callable[[npt.NDArray[np.intp]], npt.NDArray[np.intp]],
) -> dict[int, Change]:  # fmt: skip
    """Weighted difference over cells both layouts saw: overall under −1, and by sector."""
    shared = np.minimum(old[1], new[1])
    weight = np.where(shared >= FEWEST_CELL_S, shared, 0.0)
    if not weight.any():
        return {}
    sector = spread(_cell_sectors())
    out = {}
    for k in (-1, *range(len(SECTORS))):
        w = weight if k < 0 else np.where(sector == k, weight, 0.0)
        if w.sum() >= 4 * FEWEST_CELL_S:
            out[k] = _change(old[0], new[0], w, draws)
    return out


def _change(old: FloatArray, new: FloatArray, w: FloatArray, draws: Sides) -> Change:
    """Row 0 is the estimate; the other rows, one side resampled at a time, give each side's variance."""
    variances, means = [], []
    for values, drawn in ((old, draws[0]), (new, draws[1])):
        # A cell no drawn flight saw stands at its undrawn value: leaving it out would change the mix of directions.
        filled = np.where(np.isfinite(values), values, values[0])
        known = np.isfinite(filled[0]) & (w > 0)
        mean = (filled[:, known] * w[known]).sum(axis=1) / max(float(w[known].sum()), 1e-9)
        n = drawn.shape[1]
        means.append(float(mean[0]))
        # A bootstrap of n units understates the variance by (n − 1)/n.
        variances.append(float(mean[1:].var(ddof=1)) * n / (n - 1))
    total = sum(variances)
    freedom = total**2 / max(sum(v**2 / (d.shape[1] - 1) for v, d in zip(variances, draws, strict=True)), 1e-12)
    return Change(means[1] - means[0], float(np.sqrt(total)), freedom)


def _verdict(
    antenna: str, changes: dict[int, Change], unit: str, better: float, n_old: int, n_new: int
) -> tuple[str, int | None]:
    """One plain sentence. Sectors share the error rate (Bonferroni), so that six looks don't make a find."""
    overall = changes.get(-1)
    if overall is None or not overall.known:
        return "Can't tell: the two layouts were not seen from the same directions, or not both with a signal.", None
    per = "dB" if unit == "dB" else "lost packets a minute"
    sectors = {k: c for k, c in changes.items() if k >= 0 and c.known}
    sure = {k: c for k, c in sectors.items() if c.p_value() < (1 - CONFIDENCE) / 2 / max(len(sectors), 1)}
    # Half of the stated error rate goes to the whole, half to the sectors.
    whole = overall.p_value() < (1 - CONFIDENCE) / 2
    helped = sorted((k for k, c in sure.items() if c.value * better > 0), key=lambda k: -abs(sure[k].value))
    hurt = sorted((k for k, c in sure.items() if c.value * better < 0), key=lambda k: -abs(sure[k].value))

    def said(keys: list[int]) -> str:
        return ", ".join(
            f"{SECTORS[k]} {sectors[k].value:+.1f} {per} ({sectors[k].value - sectors[k].half:+.1f} to "
            f"{sectors[k].value + sectors[k].half:+.1f})"
            for k in keys[:3]
        )

    low, high = overall.value - overall.half, overall.value + overall.half
    total = f"overall {overall.value:+.1f} {per} ({low:+.1f} to {high:+.1f})"
    if (whole and overall.value * better > 0) or (not whole and helped and not hurt):
        tail = f"; most {said(helped)}" if helped else ""
        worse = f"; but it hears worse {said(hurt)}" if hurt else ""
        return f"Moving {antenna} helped: {total}{tail}{worse}.", None
    if whole or (hurt and not helped):
        tail = f"; most {said(hurt)}" if hurt else ""
        gain = f"; it hears better {said(helped)}" if helped else ""
        return f"Moving {antenna} made it worse: {total}{tail}{gain}.", None
    if helped and hurt:
        return f"Moving {antenna} traded directions: better {said(helped)}; worse {said(hurt)}; {total}.", None
    more = _more_flights(overall, n_old, n_new)
    want = f"about {more} more flights of each layout would" if more is not None and more <= 50 else (
        "and even 50 more flights of each layout would not, if the difference is as small as it looks"
    )  # fmt: skip
    return f"Can't tell yet whether moving {antenna} helped: {total}; {want}.", more


def _more_flights(change: Change, n_old: int, n_new: int) -> int | None:
    """Flights to add to each side until the interval leaves zero out, if the difference is as large as seen."""
    if not change.value or change.error <= 0:
        return None
    n = min(n_old, n_new)
    need = n * (stats.norm.ppf(0.5 + CONFIDENCE / 2) * change.error / abs(change.value)) ** 2
    return max(1, int(np.ceil(need)) - n) if need < 1e6 else None
