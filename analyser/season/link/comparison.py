"""Did moving an antenna help: flights under two layouts, compared at equal direction and range.

Every flight is reduced to one number: its level (or its rate of lost packets) over the directions both layouts saw,
each direction weighted by the time both spent in it, so that a day flown mostly tail-on is not held against the
antenna. What a flight did not see is filled in from the other flights of its layout and its own day. So flights, not
samples, are counted: two layouts are two handfuls of numbers, and their difference is that of two means.

The interval is the wider of two (:class:`Change`). Student's takes the flights of both layouts to scatter alike, which
is exact where the move did nothing, but is too sure of itself where three scattered flights meet nine steady ones.
Welch's does not, but its degrees of freedom are themselves an estimate: with three flights against nine it cries wolf
at one and a half times the stated rate, and at more than twice for the small rates that several sectors leave to each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import Figure, FloatArray
from analyser.core.findings import Finding, Part, Text, Value, say
from analyser.core.statistics.distributions import student_beyond, student_quantile
from analyser.link.directions import LEVEL_EDGES_DB, DirectionBins
from analyser.link.measured import pool_histogram, quantile_of_histogram
from analyser.link.sides import SECTORS, sector_of
from analyser.link.signal_scale import Calibration
from analyser.link.sphere import AZIMUTHS, ELEVATIONS
from analyser.season.link.codes import LayoutCode

CONFIDENCE = 0.95
FEWEST_FLIGHTS = 3
"""Of two flights on a side nothing says how flights of that layout differ."""
FEWEST_CELL_S = 1.0
SEEN_BY = 2
"""A direction counts where this many flights of each layout saw it: one flight's day can't be told from its side."""
SEEN_SHARE = 0.1
"""A flight that saw less of the compared directions than this says nothing of them."""
SETTLED_S = 2.0
"""Seconds in a direction from which a flight's own level counts for more than what the layout's others let expect."""
LEAST_SPREAD_DB = 0.3
"""Levels are kept in whole decibels, so that no flight's is known better (1/√12)."""
MOST_FLIGHTS = 50


class LayoutComparison(Struct, frozen=True):
    """Did moving it help: one antenna under two layouts, at equal direction and range, flight by flight.

    ``more_flights`` is how many more flights of each layout would tell a difference as large as the one seen.
    """

    antenna: str
    before: str
    after: str
    difference_db: Figure
    difference_lost_per_min: Figure
    sectors: tuple[Figure, ...]
    verdict: Text
    more_flights: int | None = None


class Change(Struct, frozen=True, dict=True):
    """The difference of the means of two handfuls of flights.

    Parameters
    ----------
    old, new : ndarray, shapes (m,) and (n,)
        One number a flight, at least two of each.
    least : float
        Spread of one flight below which chance must not take it.
    """

    old: FloatArray
    new: FloatArray
    least: float = 0.0

    @property
    def value(self) -> float:
        """New less old."""
        return float(self.new.mean() - self.old.mean())

    @cached_property
    def errors(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Standard error and degrees of freedom: Student's of one common spread, and Welch's of a spread each."""
        m, n = self.old.size, self.new.size
        a, b = (max(float(v.var(ddof=1)), self.least**2) for v in (self.old, self.new))
        common = (a * (m - 1) + b * (n - 1)) / (m + n - 2)
        welch = a / m + b / n
        freedom = welch**2 / ((a / m) ** 2 / (m - 1) + (b / n) ** 2 / (n - 1)) if welch > 0 else m + n - 2.0
        return (float(np.sqrt(common * (1 / m + 1 / n))), m + n - 2.0), (float(np.sqrt(welch)), freedom)

    @property
    def half(self) -> float:
        """Half width of the wider interval at :data:`CONFIDENCE`."""
        return max(float(student_quantile(0.5 + CONFIDENCE / 2, freedom) * error) for error, freedom in self.errors)

    @property
    def p_value(self) -> float:
        """Two-sided, the larger of the two."""
        if not self.value:
            return 1.0
        return max(student_beyond(self.value / error, freedom) if error > 0 else 0.0 for error, freedom in self.errors)

    def more_flights(self) -> int | None:
        """Flights to add to each side until a difference as large as seen is told; ``None`` beyond a season's worth."""
        m, n = self.old.size, self.new.size
        more = np.arange(1, MOST_FLIGHTS + 1)
        one = max(error for error, _ in self.errors) / np.sqrt(1 / m + 1 / n)
        need = student_quantile(1 - (1 - CONFIDENCE) / 4, m + n + 2 * more - 2)
        told = np.flatnonzero(need * one * np.sqrt(1 / (m + more) + 1 / (n + more)) < abs(self.value))
        return int(more[told[0]]) if told.size else None


def compare_bins(
    antenna: str, before: str, after: str, old: Sequence[DirectionBins], new: Sequence[DirectionBins]
) -> LayoutComparison:
    """Compare one antenna under two layouts from the flights' binned samples, one item a flight.

    Positive decibels mean that the later layout hears better; positive lost packets a minute that it loses more.
    """
    part = Part(f"link.{antenna}")
    label_db = say(LayoutCode.LEVEL, antenna=part, before=before, after=after)
    label_lost = say(LayoutCode.LOST, antenna=part, before=before, after=after)
    if min(len(old), len(new)) < FEWEST_FLIGHTS:
        gone = say(LayoutCode.NEEDS_FLIGHTS, fewest=FEWEST_FLIGHTS, before=len(old), after=len(new))
        return LayoutComparison(
            antenna=antenna,
            before=before,
            after=after,
            difference_db=Figure.unavailable(label_db, "dB", gone),
            difference_lost_per_min=Figure.unavailable(label_lost, "1/min", gone),
            sectors=(),
            verdict=say(LayoutCode.CANT_TELL_FEW, why=gone),
        )
    every = (*old, *new)
    calibrated = [b.calibrated for b in every]
    level: dict[int, Change] = {}
    if all(b.histogram.any() for b in every) and (all(calibrated) or not any(calibrated)):
        shift = _common_scale(every) if all(calibrated) else np.zeros(len(every))
        level = dict(_level_changes(old, new, shift))
    lost = dict(_lost_changes(old, new)) if all(b.counted for b in every) else {}
    how_db = say(LayoutCode.LEVEL_HOW, before=len(old), after=len(new), calibrated=all(calibrated))
    how_lost = say(LayoutCode.LOST_HOW, before=len(old), after=len(new))
    no_db, no_lost = say(LayoutCode.NEEDS_LEVEL), say(LayoutCode.NEEDS_COUNTER)
    main = level or lost
    unit, how, better = ("dB", how_db, 1.0) if level else ("1/min", how_lost, -1.0)
    sectors = tuple(
        _figure(say(LayoutCode.SECTOR, sector=say(SECTORS[k]), before=before, after=after), unit, main[k], how)
        for k in range(len(SECTORS))
        if k in main
    )
    verdict, more = _verdict(part, main, unit, better)
    return LayoutComparison(
        antenna,
        before,
        after,
        _figure(label_db, "dB", level.get(WHOLE), how_db, no_db),
        _figure(label_lost, "1/min", lost.get(WHOLE), how_lost, no_lost),
        sectors,
        verdict,
        more,
    )


def _figure(label: Text, unit: str, change: Change | None, how: Text, missing: Text = "") -> Figure:
    if change is None:
        return Figure.unavailable(label, unit, missing)
    v, h = change.value, change.half
    digits = 1 if unit == "dB" else 2
    return replace(Figure.within(label, v, h, unit, how=how, digits=digits), confidence=CONFIDENCE)


def _common_scale(bins: Sequence[DirectionBins]) -> FloatArray:
    """Each flight's own calibration starts from its own zero; shift them to one percent-to-dB curve, dB a flight."""
    low = max(float(b.calibration_signal[0]) for b in bins)
    high = min(float(b.calibration_signal[-1]) for b in bins)
    at = np.linspace(min(low, high), max(low, high), 21)
    curves = np.array([Calibration(b.calibration_signal, b.calibration_db).to_db(at) for b in bins])
    return np.asarray(np.median(np.median(curves, axis=0) - curves, axis=1))


WHOLE = -1
"""Stands for all directions together, beside the positions of :data:`analyser.link.sides.SECTORS`."""
# Cells of direction coarse enough that several flights meet in each: 3 × 2 bins of the map.
_CELLS = (AZIMUTHS // 3, ELEVATIONS // 2)


def _coarse(v: FloatArray) -> FloatArray:
    """Sum bins into comparison cells: (a, e, …) → (cells, …)."""
    a, e = _CELLS
    summed = v.reshape(a, 3, e, 2, *v.shape[2:]).sum(axis=(1, 3))
    return np.asarray(summed.reshape(a * e, *v.shape[2:]))


def _cell_sectors() -> npt.NDArray[np.intp]:
    """Which of :data:`SECTORS` each cell belongs to, shape (cells,)."""
    a, e = _CELLS
    azimuth = -180.0 + 360.0 / a * (np.arange(a) + 0.5)
    elevation = np.degrees(np.arcsin(-1.0 + 2.0 / e * (np.arange(e) + 0.5)))
    return sector_of(*np.meshgrid(azimuth, elevation, indexing="ij")).ravel()


def _shared(old_s: FloatArray, new_s: FloatArray, sector: npt.NDArray[np.intp]) -> Iterator[tuple[int, FloatArray]]:
    """Weights of the cells both layouts saw, all together and by sector, from the seconds of each flight in each."""
    both = np.minimum(old_s.sum(axis=0), new_s.sum(axis=0))
    met = np.minimum((old_s > 0).sum(axis=0), (new_s > 0).sum(axis=0))
    weight = np.where((both >= FEWEST_CELL_S) & (met >= SEEN_BY), both, 0.0)
    for k in (WHOLE, *range(len(SECTORS))):
        w = weight if k == WHOLE else np.where(sector == k, weight, 0.0)
        if w.sum() >= 4 * FEWEST_CELL_S:
            yield k, w


def _saying(seconds: FloatArray, weight: FloatArray) -> npt.NDArray[np.bool_]:
    """Flights that saw enough of the compared cells, shape (flights,)."""
    return np.asarray(((seconds > 0) * weight).sum(axis=1) >= SEEN_SHARE * weight.sum(), bool)


def _level_changes(
    old: Sequence[DirectionBins], new: Sequence[DirectionBins], shift_db: FloatArray
) -> Iterator[tuple[int, Change]]:
    level, seconds = [], []
    for b, shift in zip((*old, *new), shift_db, strict=True):
        histogram = _coarse(pool_histogram([b]))
        level.append(quantile_of_histogram(histogram, LEVEL_EDGES_DB, 0.5) + shift)
        seconds.append(np.where(histogram.any(axis=-1), _coarse(b.seconds), 0.0))
    (v0, v1), (s0, s1) = (np.split(np.array(x), [len(old)]) for x in (level, seconds))
    for k, weight in _shared(s0, s1, _cell_sectors()):
        use0, use1 = _saying(s0, weight), _saying(s1, weight)
        if min(use0.sum(), use1.sum()) >= FEWEST_FLIGHTS:
            yield (
                k,
                Change(
                    _flight_levels(v0[use0], s0[use0], weight),
                    _flight_levels(v1[use1], s1[use1], weight),
                    LEAST_SPREAD_DB,
                ),
            )


def _flight_levels(level_db: FloatArray, seconds: FloatArray, weight: FloatArray) -> FloatArray:
    """Each flight's level over the weighted cells; what it did not see is its day added to the layout's own level.

    Parameters
    ----------
    level_db, seconds : ndarray, shape (flights, cells)
        ``level_db`` may be NaN where ``seconds`` is 0.
    weight : ndarray, shape (cells,)

    Returns
    -------
    ndarray, shape (flights,)
    """
    trust = np.where(weight > 0, seconds / (seconds + SETTLED_S), 0.0)
    seen = np.where(trust > 0, level_db, 0.0)
    day = np.zeros(len(seen))
    cell = np.zeros(weight.size)
    # Level = cell + day, fitted in turn (weighted least squares of two crossed factors).
    for _ in range(15):
        cell = (trust * (seen - day[:, None])).sum(axis=0) / np.maximum(trust.sum(axis=0), 1e-9)
        day = (trust * weight * (seen - cell)).sum(axis=1) / np.maximum((trust * weight).sum(axis=1), 1e-9)
        day -= day.mean()
    filled = trust * seen + (1 - trust) * (cell + day[:, None])
    return np.asarray((filled * weight).sum(axis=1) / weight.sum())


def _lost_changes(old: Sequence[DirectionBins], new: Sequence[DirectionBins]) -> Iterator[tuple[int, Change]]:
    every = (*old, *new)
    seconds = np.array([_coarse(b.seconds_by_range).ravel() for b in every])
    lost = np.array([_coarse(b.lost_by_range).ravel() for b in every])
    (s0, s1), (n0, n1) = (np.split(x, [len(old)]) for x in (seconds, lost))
    ranges = every[0].seconds_by_range.shape[-1]
    for k, weight in _shared(s0, s1, np.repeat(_cell_sectors(), ranges)):
        use0, use1 = _saying(s0, weight), _saying(s1, weight)
        if min(use0.sum(), use1.sum()) >= FEWEST_FLIGHTS:
            counted = weight > 0
            # Nothing lost is not a rate of nothing: at least one packet's worth of chance for each side.
            least = 60.0 / float(min(s0[:, counted].sum(), s1[:, counted].sum()))
            yield k, Change(
                _flight_rates(n0[use0], s0[use0], weight), _flight_rates(n1[use1], s1[use1], weight),
                least * float(np.sqrt(min(use0.sum(), use1.sum()))),
            )  # fmt: skip


def _flight_rates(lost: FloatArray, seconds: FloatArray, weight: FloatArray) -> FloatArray:
    """Each flight's lost packets a minute over the weighted cells: the layout's rate times the flight's own factor.

    Rates multiply: the Poisson maximum-likelihood fit of two crossed factors, margin after margin.

    Parameters
    ----------
    lost, seconds : ndarray, shape (flights, cells)
    weight : ndarray, shape (cells,)

    Returns
    -------
    ndarray, shape (flights,)
    """
    lost, seconds = (x[:, weight > 0] for x in (lost, seconds))
    flight = np.ones(len(lost))
    rate = np.zeros(lost.shape[1])
    for _ in range(15):
        rate = lost.sum(axis=0) / np.maximum((seconds * flight[:, None]).sum(axis=0), 1e-9)
        expected = (seconds * rate).sum(axis=1)
        # Half a loss on either side keeps a flight of no losses from a factor of nothing.
        flight = (lost.sum(axis=1) + 0.5) / (expected + 0.5)
        flight /= flight.mean()
    shared = weight[weight > 0]
    return np.asarray(60.0 * flight * float((rate * shared).sum() / shared.sum()))


def _verdict(antenna: Part, changes: dict[int, Change], unit: str, better: float) -> tuple[Finding, int | None]:
    """One finding. Sectors share the error rate (Bonferroni), so that six looks don't make a find."""
    overall = changes.get(WHOLE)
    if overall is None:
        return say(LayoutCode.CANT_TELL_SIDES), None
    sectors = {k: c for k, c in changes.items() if k != WHOLE}
    sure = {k: c for k, c in sectors.items() if c.p_value < (1 - CONFIDENCE) / 2 / len(sectors)}
    # Half of the stated error rate goes to the whole, half to the sectors.
    whole = overall.p_value < (1 - CONFIDENCE) / 2
    helped = sorted((k for k, c in sure.items() if c.value * better > 0), key=lambda k: -abs(sure[k].value))
    hurt = sorted((k for k, c in sure.items() if c.value * better < 0), key=lambda k: -abs(sure[k].value))

    def change(c: Change, where: str = "") -> Finding:
        side = say(where) if where else ""
        return say(LayoutCode.CHANGE, where=side, value=c.value, half=c.half, decibels=unit == "dB")

    def said(keys: list[int]) -> tuple[Finding, ...]:
        return tuple(change(sectors[k], SECTORS[k]) for k in keys[:3])

    told: dict[str, Value] = {
        "antenna": antenna, "overall": change(overall), "better": said(helped), "worse": said(hurt),
    }  # fmt: skip
    if (whole and overall.value * better > 0) or (not whole and helped and not hurt):
        return Finding(LayoutCode.HELPED, told), None
    if whole or (hurt and not helped):
        return Finding(LayoutCode.WORSE, told), None
    if helped and hurt:
        return Finding(LayoutCode.TRADED, told), None
    more = overall.more_flights()
    wanted = say(LayoutCode.CANT_TELL_YET, antenna=antenna, overall=told["overall"], more=more or 0, most=MOST_FLIGHTS)
    return wanted, more
