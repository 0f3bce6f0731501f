"""Radio link in one flight: fades, lost frames and failsafe, per receiver and antenna, and from which side.

A fade is a span in which the signal stays below what distance lets expect (dip rule with hysteresis of
:func:`analyser.events.find_dips`). Free-space loss is ITU-R P.525; what is left after it is what the installation does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import cast

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analyser.aircraft import FlightContext
from analyser.antenna import (
    AZIMUTHS,
    EDGES_AZIMUTH_DEG,
    EDGES_SIN_ELEVATION,
    ELEVATIONS,
    LEVEL_EDGES_DB,
    RANGE_EDGES_M,
    DirectionBins,
    antenna_key,
    bin_centres,
    bin_of,
    name_direction,
    trim_levels,
)
from analyser.count_rate import counter_map
from analyser.events import Event, Level, find_dips, runs_of
from analyser.figures import Figure, FloatArray, Method, Missing, Trace
from analyser.geometry import EYE_HEIGHT_M, Geometry, Seen, locate
from analyser.phases import Phases
from analyser.propagation import DEFAULT_MHZ, DistanceFit, fit_distance, free_space_loss_db, two_ray_gain_db
from analyser.signal_scale import Calibration, learn_scale
from analyser.smoothing import unwrap_counter
from analyser.telemetry import Series, Telemetry

FADE_DB = 12.0
"""A fade is this far below expectation …"""
FADE_HYSTERESIS_DB = 3.0
"""… and over once it has come back this far (both common practice, no source)."""
FADE_PERCENT_OF_USUAL = 50.0
LOW_MARGIN_DB = 10.0
MAX_GAP_S = 2.0
RUNNING_MEDIAN_S = 30.0
BURST_GAP_S = 0.5
TOGETHER_S = 0.5
BURST_FRAMES = 5
DOWNLINK_GAP_S = 1.0
BLOCK_S = 10.0
FIT_SAMPLES = 3000
HEIGHT_ERRORS_M = (0.3, 1.0, 3.0)
"""A satellite or barometric height over a flight is good to about this (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class AntennaResult:
    """One antenna over one flight. ``name`` is ``<receiver>.antenna<n>``, or the receiver where it reports one for all.

    ``distance_exponent`` is the fitted fall with distance (2 in free space); ``lost_bursts`` counts bursts of lost
    packets, for antennas that report no signal strength. ``fade_azimuth_deg`` and ``fade_elevation_deg``, shape
    (fades,), say from where in body axes the transmitter was seen at the bottom of each fade; NaN where no direction
    is trusted.
    """

    name: str
    receiver: str
    number: int
    unit: str
    median_signal: Figure
    lowest_signal: Figure
    lowest_margin_db: Figure
    lost_packets: Figure
    lost_per_min: Figure
    fades: Figure
    fade_seconds: Figure
    worst_direction: str
    residual: Trace | None
    bins: DirectionBins | None
    events: tuple[Event, ...]
    distance_exponent: Figure | None = None
    lost_bursts: Figure | None = None
    fade_azimuth_deg: FloatArray | None = None
    fade_elevation_deg: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class ReceiverResult:
    """One receiver over one flight."""

    name: str
    lost_frames: Figure
    lost_frames_per_min: Figure
    failsafe_s: Figure
    fades_together: Figure
    fades_saved: Figure
    antennas: tuple[AntennaResult, ...]
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class LinkResult:
    """The radio link of one flight.

    ``directions_from`` says how the transmitter's direction in body axes was found ('' where it wasn't),
    ``pilot_from`` how the pilot's place was; ``directions_left_out_s`` is airborne time without a trusted direction.
    """

    receivers: tuple[ReceiverResult, ...]
    max_range_m: Figure
    range_m: Trace | None
    directions_from: str
    downlink_gaps: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]
    pilot_from: str = ""
    directions_left_out_s: Figure | None = None
    left_out: dict[str, float] = field(default_factory=dict)
    fades_on_all_receivers: Figure | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Flight:
    """What every antenna of the flight is judged with."""

    telemetry: Telemetry
    geometry: Geometry | None
    air: tuple[float, float]
    mhz: float
    mhz_is_assumed: bool
    _seen: list[tuple[FloatArray, Seen]] = field(default_factory=list)

    def seen_at(self, time_s: FloatArray) -> Seen | None:
        """The geometry at a sensor's samples; antennas of one log mostly share their instants, so it is kept."""
        if self.geometry is None:
            return None
        for known, seen in self._seen:
            if np.array_equal(known, time_s):
                return seen
        self._seen.append((time_s, self.geometry.seen_at(time_s)))
        return self._seen[-1][1]

    @property
    def minutes(self) -> float:
        return (self.air[1] - self.air[0]) / 60.0

    def inside(self, s: Series) -> Series:
        keep = (s.time_s >= self.air[0]) & (s.time_s <= self.air[1])
        return Series(s.time_s[keep], s.values[keep])


def analyse_link(telemetry: Telemetry, phases: Phases, context: FlightContext) -> LinkResult:
    """Work out one flight's radio-link story.

    Figures cover the airborne span, or the whole log where lift-off can't be told. What the log lacks (position,
    attitude, signal, counters) costs only the figures that need it and is listed in :attr:`LinkResult.missing`.
    """
    receivers = telemetry.instances("link")
    if not receivers and not telemetry.instances("downlink"):
        gone = "no radio-link channel in the log; log signal strength or lost packets per antenna"
        return LinkResult(
            (), Figure.unavailable("Longest range", "m", gone), None, "",
            Figure.unavailable("Gaps in the telemetry downlink", "", gone), (),
            (Missing("link", "radio link", "nothing can be said of fades or antennas", "log signal or lost packets"),),
        )  # fmt: skip
    geometry = locate(telemetry, phases, context)
    mhz = context.aircraft.radio_mhz if context.aircraft and context.aircraft.radio_mhz else None
    flight = _Flight(
        telemetry, geometry, phases.airborne_span or (0.0, telemetry.duration_s), mhz or DEFAULT_MHZ, mhz is None
    )
    results = tuple(_receiver(name, flight, context) for name in receivers)
    max_range, range_trace = _range(flight)
    gaps, gap_events = _downlink(flight)
    everywhere = [a for r in results for a in r.antennas]
    _, all_faded, _ = _together(everywhere)
    left = sum(geometry.left_out.values()) if geometry else 0.0
    lost_s = (
        Figure(
            "Airborne time without a trusted direction", min(left, geometry.airborne_s), "s", Method.ESTIMATED,
            how=", ".join(f"{why} {s:.0f} s" for why, s in geometry.left_out.items()) or "none left out", digits=0,
        )
        if geometry and geometry.directions_from
        else Figure.unavailable(
            "Airborne time without a trusted direction", "s", "no direction at all: log position, better with attitude"
        )
    )  # fmt: skip
    return LinkResult(
        receivers=results,
        max_range_m=max_range,
        range_m=range_trace,
        directions_from=geometry.directions_from if geometry else "",
        downlink_gaps=gaps,
        events=gap_events,
        missing=_missing(flight, results),
        pilot_from=geometry.pilot_from if geometry else "",
        directions_left_out_s=lost_s,
        left_out=geometry.left_out if geometry else {},
        fades_on_all_receivers=_count(
            "Fades on every antenna of every receiver at once", all_faded, "spans at the same instant"
        )
        if len(results) > 1 and len(everywhere) > 1
        else None,
    )


def _missing(flight: _Flight, results: tuple[ReceiverResult, ...]) -> tuple[Missing, ...]:
    out = []
    g = flight.geometry
    if g is None:
        out.append(
            Missing(
                "link",
                "position",
                "fades can't be told from distance, nor from which side they come",
                "log GPS position",
            )
        )
    elif g.directions_from != "logged attitude":
        out.append(
            Missing(
                "link", "attitude",
                f"directions are derived from the path, good to about {g.uncertainty_deg:.0f}°, and left out where "
                "the aircraft rolls, loops or flies slowly", "log roll, pitch and heading",
            )
        )  # fmt: skip
    if g is not None and g.pilot_from != "entered":
        out.append(Missing("link", "pilot's place", g.pilot_from, "enter where the pilot stands"))
    if flight.mhz_is_assumed and any(a.unit == "dBm" for r in results for a in r.antennas):
        out.append(
            Missing(
                "link", "radio frequency", f"{flight.mhz:.0f} MHz assumed; it shifts all levels alike", "set radio_mhz"
            )
        )
    if results and not any(a.number for r in results for a in r.antennas):
        out.append(
            Missing(
                "link", "signal or lost packets per antenna", "antennas can't be told apart", "log them per antenna"
            )
        )
    return tuple(out)


def _range(flight: _Flight) -> tuple[Figure, Trace | None]:
    g = flight.geometry
    if g is None:
        return Figure.unavailable("Longest range", "m", "no position in the log; log GPS position"), None
    distance = np.sqrt(g.east_m**2 + g.north_m**2 + g.up_m**2)
    shown = distance[g.airborne & np.isfinite(distance)]
    trace = Trace(
        "Range from the pilot",
        "m",
        _slim(g.time_s, 4),
        _slim(distance, 1),
        method=Method.ESTIMATED,
        how=f"slant range; pilot: {g.pilot_from}",
    )
    if not shown.size:
        return Figure.unavailable("Longest range", "m", "no position while airborne"), trace
    far = float(shown.max())
    off = 5.0 if g.pilot_from == "entered" else 30.0
    figure = Figure(
        "Longest range", far, "m", Method.ESTIMATED, max(far - off, 0.0), far + off,
        how=f"slant range from position; pilot: {g.pilot_from}", digits=0,
    )  # fmt: skip
    return figure, trace


def _downlink(flight: _Flight) -> tuple[Figure, tuple[Event, ...]]:
    """Holes in the record while airborne: nobody saw the control link then, which says nothing against it."""
    t = flight.telemetry.time_s
    t = t[(t >= flight.air[0]) & (t <= flight.air[1])]
    if t.size < 3:
        return Figure.unavailable("Gaps in the telemetry downlink", "", "too few rows while airborne"), ()
    step = np.diff(t)
    limit = max(DOWNLINK_GAP_S, 5 * float(np.median(step)))
    at = np.flatnonzero(step > limit)
    events = tuple(
        Event(
            "downlink_gap", "downlink", float(t[i]), float(t[i + 1]), Level.NOTE,
            f"No telemetry for {step[i]:.1f} s; what the control link did meanwhile is not known.",
        )
        for i in at
    )  # fmt: skip
    how = f"holes longer than {limit:.1f} s between rows while airborne; told apart from fades of the control link"
    return _count("Gaps in the telemetry downlink", at.size, how), events


def _count(label: str, value: float, how: str, method: Method = Method.MEASURED) -> Figure:
    return Figure(label, float(value), "", method, how=how, digits=0)


def _receiver(name: str, flight: _Flight, context: FlightContext) -> ReceiverResult:
    telemetry = flight.telemetry
    numbers = sorted(
        {
            n
            for q in ("antenna<n>_rssi_dbm", "antenna<n>_signal_percent", "antenna<n>_signal_counts", "antenna<n>_lost")
            for n in telemetry.numbers("link", name, q)
        }
    )
    if not numbers and any(telemetry.has(f"link.{name}.{q}") for q in ("rssi_dbm", "signal_percent", "signal_counts")):
        numbers = [0]
    antennas = tuple(_antenna(name, n, flight, context) for n in numbers)
    events: list[Event] = []
    frames, per_min, bursts = _losses(f"link.{name}.lost_frames", f"link.{name}", "Lost frames", "frames", flight)
    events += bursts
    failsafe, spans = _failsafe(name, flight)
    events += spans
    clusters, shared, together = _together(antennas)
    events += [
        Event(
            "fade_together", f"link.{name}", a, b, Level.WATCH if b - a > TOGETHER_S else Level.NOTE,
            f"All antennas of {name} faded together for {b - a:.1f} s: nothing was left to choose from.",
        )
        for a, b in together
    ]  # fmt: skip
    heard = sum(1 for a in antennas if a.residual is not None or a.fades.value is not None)
    if heard >= 2:
        how = "spans of fading, antennas compared at the same instant"
        all_of = _count("Fades on all antennas at once", shared, how, Method.ESTIMATED)
        saved = _count("Fades another antenna bridged", clusters - shared, how, Method.ESTIMATED)
    else:
        gone = "needs signal from two antennas of this receiver"
        all_of = Figure.unavailable("Fades on all antennas at once", "", gone)
        saved = Figure.unavailable("Fades another antenna bridged", "", gone)
    return ReceiverResult(
        name, frames, per_min, failsafe, all_of, saved, antennas, tuple(sorted(events, key=lambda e: e.start_s))
    )


def _together(antennas: Sequence[AntennaResult]) -> tuple[int, int, list[tuple[float, float]]]:
    """Spans in which any antenna fades; how many of them saw all fade at one instant; and those instants' spans."""
    spans = [[(e.start_s, e.end_s) for e in a.events if e.kind in ("fade", "lost_frames")] for a in antennas]
    flat = [(s, e) for one in spans for s, e in one]
    if not flat:
        return 0, 0, []
    edges = np.array([x for s, e in flat for x in ((s, 1), (max(e, s + 1e-6), -1))], float)
    owner = np.repeat([k for k, one in enumerate(spans) for _ in one], 2)
    order = np.lexsort((-edges[:, 1], edges[:, 0]))
    depth = np.zeros((len(antennas), order.size))
    depth[owner[order], np.arange(order.size)] = edges[order, 1]
    faded = (np.cumsum(depth, axis=1) > 0).sum(axis=0)
    at = np.r_[edges[order, 0], edges[order[-1], 0]]
    clusters = runs_of(faded > 0)
    if len(antennas) < 2:
        return len(clusters), 0, []
    all_of = faded == len(antennas)
    shared = sum(1 for a, b in clusters if all_of[a:b].any())
    return len(clusters), shared, [(float(at[a]), float(at[b])) for a, b in runs_of(all_of)]


def _failsafe(name: str, flight: _Flight) -> tuple[Figure, list[Event]]:
    t, v = flight.telemetry.series(f"link.{name}.failsafe")
    label = "Failsafe, total"
    if t.size < 2:
        return Figure.unavailable(label, "s", "the receiver's failsafe state is not logged"), []
    # A state holds until its next sample; the last one until the end of the log.
    runs = runs_of(v > 0.5)
    end = np.r_[t[1:], t[-1]]
    airborne = flight.air if flight.geometry is not None or flight.minutes else (0.0, np.inf)
    events = [
        Event(
            "failsafe", f"link.{name}", float(t[a]), float(end[b - 1]),
            Level.ACT if t[a] < airborne[1] and end[b - 1] > airborne[0] else Level.NOTE,
            f"Receiver {name} in failsafe for {end[b - 1] - t[a]:.1f} s.",
        )
        for a, b in runs
    ]  # fmt: skip
    total = sum(min(e.end_s, airborne[1]) - max(e.start_s, airborne[0]) for e in events if e.level == Level.ACT)
    return Figure(
        label, float(total), "s", Method.MEASURED, how="time the receiver reported failsafe in flight"
    ), events


def _losses(channel: str, subject: str, label: str, what: str, flight: _Flight) -> tuple[Figure, Figure, list[Event]]:
    """A counter's total in flight, per minute, and its bursts."""
    t, v = flight.inside(flight.telemetry.series(channel))
    if t.size < 2:
        gone = f"no counter of lost {what} ({channel})"
        return Figure.unavailable(label, "", gone), Figure.unavailable(f"{label} a minute", "1/min", gone), []
    total = unwrap_counter(v)
    total = total - total[0]
    lost = float(total[-1])
    seen_min = float((t[-1] - t[0]) / 60.0)
    how = f"from {channel}, counted while airborne"
    count = Figure(label, lost, "", Method.INTEGRATED, how=how, digits=0)
    # Losses come in bursts: the interval is a Poisson count's, widened by the variance of 10 s blocks.
    block = np.diff(np.interp(np.arange(t[0], t[-1] + 1e-9, BLOCK_S), t, total))
    phi = max(1.0, float(block.var(ddof=1) / block.mean())) if block.size > 3 and block.mean() > 0 else 1.0
    half = 1.96 * np.sqrt(max(lost, 1.0) * phi)
    per_min = Figure(
        f"{label} a minute", lost / seen_min, "1/min", Method.ESTIMATED, max(lost - half, 0.0) / seen_min,
        (lost + half) / seen_min, how=f"{how}; interval allows for bursts (dispersion {phi:.1f})", digits=2,
    )  # fmt: skip
    return count, per_min, _bursts(t, total, subject, what)


def _bursts(t: FloatArray, total: FloatArray, subject: str, what: str) -> list[Event]:
    step = np.diff(total)
    hit = np.flatnonzero(step > 0)
    if not hit.size:
        return []
    gap = max(BURST_GAP_S, 1.5 * float(np.median(np.diff(t))))
    group = np.r_[0, np.cumsum(t[hit[1:]] - t[hit[:-1] + 1] > gap)]
    frames = np.bincount(group, step[hit])
    first = np.unique(group, return_index=True)[1]
    last = np.r_[first[1:], hit.size] - 1
    out = []
    for k in np.flatnonzero(frames >= BURST_FRAMES):
        a, b = float(t[hit[first[k]]]), float(t[hit[last[k]] + 1])
        level = Level.WATCH if frames[k] >= 4 * BURST_FRAMES else Level.NOTE
        depth = Figure(f"Lost {what}", float(frames[k]), "", Method.INTEGRATED, how="counter", digits=0)
        out.append(
            Event("lost_frames", subject, a, b, level, f"{frames[k]:.0f} {what} lost within {b - a:.1f} s.", depth)
        )
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Level:
    """One antenna's signal turned into a level against expectation, at its own samples.

    ``level_db`` (n,) is the signal plus free-space loss (NaN without range); ``residual`` (n,) what is left against
    expectation, in dB or, where no dB can be had, percent of the usual.
    """

    time_s: FloatArray
    values: FloatArray
    unit: str
    level_db: FloatArray
    residual: FloatArray
    residual_unit: str
    how: str
    seen: Seen | None
    calibration: Calibration | None
    fit: DistanceFit | None


def _signal(receiver: str, number: int, flight: _Flight) -> tuple[Series, str]:
    stem = f"link.{receiver}." + (f"antenna{number}_" if number else "")
    for quantity, unit in (("rssi_dbm", "dBm"), ("signal_percent", "%"), ("signal_counts", "counts")):
        found = flight.inside(flight.telemetry.series(f"{stem}{quantity}"))
        if found.time_s.size > 1:
            return found, unit
    return Series(np.empty(0), np.empty(0)), ""


def _level(signal: Series, unit: str, flight: _Flight) -> _Level:
    t, v = signal
    seen = flight.seen_at(t)
    nan = np.full(t.size, np.nan)
    calibration = None
    fit = None
    if seen is not None and np.isfinite(seen.range_m).sum() > 50:
        known = np.isfinite(seen.range_m)
        loss = free_space_loss_db(np.where(known, seen.range_m, 100.0), flight.mhz)
        db = v
        if unit != "dBm":
            calibration = learn_scale(v[known], loss[known])
            db = calibration.to_db(v) if calibration else nan
        if np.isfinite(db).any():
            level = np.where(known, db + loss, np.nan)
            fit = _fit(t, level, seen, flight) if unit == "dBm" else None
            if fit is not None and fit.two_ray_shows:
                level = level - min(fit.two_ray_gain, 1.0) * np.nan_to_num(_two_ray(seen, flight, fit.height_error_m))
            expected = np.full(t.size, float(np.nanmedian(level)))
            if fit is not None and not fit.low <= 2.0 <= fit.high and 1.0 < fit.exponent < 5.0:
                slope = 10 * (2.0 - fit.exponent) * np.log10(np.maximum(np.where(known, seen.range_m, 100.0), 3.0))
                expected = slope + float(np.nanmedian(level - slope))
            how = (
                "signal less what distance lets expect (ITU-R P.525"
                + (f", exponent {fit.exponent:.2f} fitted" if fit else "")
                + (", ground-reflected ray taken off" if fit and fit.two_ray_shows else "")
                + ")"
            )
            if calibration:
                how += "; dB through a calibration learned from distance, estimated"
            return _Level(t, v, unit, level, level - expected, "dB", how, seen, calibration, fit)
    if unit == "dBm":
        width = max(3, round(RUNNING_MEDIAN_S / max(float(np.median(np.diff(t))), 1e-3)))
        width = min(width | 1, 2 * (t.size // 2) + 1, 601)
        usual = ndimage.median_filter(v, size=width, mode="nearest")
        return _Level(
            t, v, unit, nan, v - usual, "dB", "signal less its running median; distance not known", seen, None, None
        )
    usual_level = max(float(np.median(v)), 1e-9)
    how = f"share of the flight's median in {unit}; not dB"
    return _Level(t, v, unit, nan, 100.0 * v / usual_level, "% of usual", how, seen, None, None)


def _two_ray(
    seen: Seen, flight: _Flight, height_error_m: float, at: npt.NDArray[np.intp] | slice = slice(None)
) -> FloatArray:
    ground, height = seen.ground_range_m[at], seen.height_m[at] + EYE_HEIGHT_M
    return two_ray_gain_db(ground, height, EYE_HEIGHT_M, flight.mhz, height_error_m=height_error_m)


def _fit(t: FloatArray, level: FloatArray, seen: Seen, flight: _Flight) -> DistanceFit | None:
    ok = np.flatnonzero(np.isfinite(level) & np.isfinite(seen.body_azimuth_deg))
    if ok.size < 200:
        return None
    # Neighbouring samples repeat each other: a few thousand tell the slope as well as all of them.
    ok = ok[:: max(1, ok.size // FIT_SAMPLES)]
    where = np.unique(bin_of(seen.body_azimuth_deg[ok], seen.body_elevation_deg[ok]), return_inverse=True)[1]
    block = (t[ok] // BLOCK_S).astype(np.intp)
    # How well the height is known is not: the prediction that leaves least is taken, if the ground shows in it at all.
    tried = []
    for error_m in HEIGHT_ERRORS_M:
        two_ray = _two_ray(seen, flight, error_m, ok)
        fit = fit_distance(level[ok], seen.range_m[ok], where, block, two_ray)
        if fit is not None and fit.two_ray_shows:
            tried.append(replace(fit, height_error_m=error_m))
    if tried:
        return min(tried, key=lambda fit: fit.left_db)
    return fit_distance(level[ok], seen.range_m[ok], where, block)


def _antenna(receiver: str, number: int, flight: _Flight, context: FlightContext) -> AntennaResult:
    key = antenna_key(receiver, number)
    subject = f"link.{key}"
    counter = f"link.{receiver}.antenna{number}_lost" if number else f"link.{receiver}.lost_frames"
    lost, per_min, bursts = _losses(counter, subject, "Lost packets", "packets", flight)
    signal, unit = _signal(receiver, number, flight)
    if not signal:
        gone = f"no signal strength for {key}; only its counter is logged"
        none = Figure.unavailable
        bins = _bins(None, counter, flight)
        return AntennaResult(
            key, receiver, number, "lost", none("Median signal", "dBm", gone), none("Lowest signal", "dBm", gone),
            none("Lowest margin", "dB", gone), lost, per_min, none("Fades", "", gone), none("Time faded", "s", gone),
            _worst_by_counter(bins), None, bins, tuple(bursts), None,
            _count("Bursts of lost packets", len(bursts), f"{BURST_FRAMES} or more packets close together"),
        )  # fmt: skip
    level = _level(signal, unit, flight)
    events, fade_how, faded_from = _fades(level, subject, key)
    described = context.aircraft.receiver(receiver) if context.aircraft else None
    margin, margin_events = _margin(level, described.sensitivity_dbm if described else None, subject, key)
    seconds = sum(e.duration_s for e in events)
    bins = _bins(level, counter, flight)
    trace = None
    if level.residual_unit:
        trace = Trace(
            f"{key}, signal against expectation", level.residual_unit, _slim(level.time_s, 4), _slim(level.residual, 1),
            how=level.how,
        )  # fmt: skip
    exponent = (
        Figure(
            "Fall with distance, exponent", level.fit.exponent, "", Method.ESTIMATED, level.fit.low, level.fit.high,
            how="fitted with direction held equal; 2 in free space"
            + ("; the ground-reflected ray shows and is taken off" if level.fit.two_ray_shows else ""), digits=2,
        )
        if level.fit
        else Figure.unavailable(
            "Fall with distance, exponent", "", "needs dBm, position, directions and a spread of ranges"
        )
    )  # fmt: skip
    return AntennaResult(
        name=key,
        receiver=receiver,
        number=number,
        unit=unit,
        median_signal=Figure(
            "Median signal", float(np.median(level.values)), unit, Method.MEASURED, how="while airborne", digits=0
        ),
        lowest_signal=Figure(
            "Lowest signal", float(level.values.min()), unit, Method.MEASURED, how="while airborne", digits=0
        ),
        lowest_margin_db=margin,
        lost_packets=lost,
        lost_per_min=per_min,
        fades=_count("Fades", len(events), fade_how, Method.ESTIMATED),
        fade_seconds=Figure("Time faded", float(seconds), "s", Method.ESTIMATED, how=fade_how),
        worst_direction=_worst(events, level) or _worst_by_counter(bins),
        residual=trace,
        bins=bins,
        events=(*events, *margin_events),
        distance_exponent=exponent,
        fade_azimuth_deg=faded_from[0],
        fade_elevation_deg=faded_from[1],
    )


def _slim(v: FloatArray, digits: int) -> FloatArray:
    """Round a curve that is only drawn, and keep it in half the bytes."""
    return cast(FloatArray, np.round(v, digits).astype(np.float32))


def _fades(level: _Level, subject: str, key: str) -> tuple[list[Event], str, tuple[FloatArray, FloatArray]]:
    """Fades as events, how they were told, and the body azimuth and elevation at the bottom of each."""
    ok = np.isfinite(level.residual)
    t, r = level.time_s[ok], level.residual[ok]
    if level.residual_unit == "dB":
        threshold, hysteresis, unit = -FADE_DB, FADE_HYSTERESIS_DB, "dB"
        how = f"below expectation by {FADE_DB:.0f} dB, until back by {FADE_HYSTERESIS_DB:.0f} dB; {level.how}"
    else:
        threshold, hysteresis, unit = FADE_PERCENT_OF_USUAL, 10.0, "% of usual"
        how = f"below {FADE_PERCENT_OF_USUAL:.0f} % of the flight's median; {level.how}"
    dips = find_dips(t, r, threshold, hysteresis, max_gap_s=MAX_GAP_S)
    low = np.flatnonzero(ok)[dips.lowest_index]
    sides = _directions(level.seen, low)
    events = []
    for k in range(len(dips)):
        below = -float(dips.residual[k]) if unit == "dB" else float(dips.residual[k])
        said = f"{below:.0f} dB below expectation" if unit == "dB" else f"down to {below:.0f} % of its usual"
        long = float(dips.end_s[k] - dips.start_s[k])
        events.append(
            Event(
                "fade", subject, float(dips.start_s[k]), float(dips.end_s[k]),
                Level.NOTE,  # one antenna's fade is what the others are there for; see fade_together
                f"{key} faded for {long:.1f} s, {said}" + (f", transmitter seen {sides[k]}" if sides[k] else "") + ".",
                Figure("Fade depth", below, unit, Method.ESTIMATED, how=level.how),
            )
        )  # fmt: skip
    seen = level.seen
    unknown = np.full(low.size, np.nan)
    faded_from = (
        (_slim(seen.body_azimuth_deg[low], 0), _slim(seen.body_elevation_deg[low], 0)) if seen else (unknown, unknown)
    )
    return events, how, faded_from


def _directions(seen: Seen | None, at: npt.NDArray[np.intp]) -> list[str]:
    if seen is None:
        return [""] * at.size
    pairs = zip(seen.body_azimuth_deg[at], seen.body_elevation_deg[at], strict=True)
    return [name_direction(float(a), float(e)) if np.isfinite(a + e) else "" for a, e in pairs]


def _margin(level: _Level, sensitivity: float | None, subject: str, key: str) -> tuple[Figure, list[Event]]:
    label = "Lowest margin"
    if level.unit != "dBm":
        return Figure.unavailable(label, "dB", f"signal is in {level.unit}, a margin needs dBm"), []
    if sensitivity is None:
        return Figure.unavailable(
            label, "dB", "the receiver's sensitivity (dBm) is not entered; its data sheet has it"
        ), []
    over = level.values - sensitivity
    figure = Figure(
        label, float(over.min()), "dB", Method.MEASURED, how=f"above the stated sensitivity, {sensitivity:g} dBm"
    )
    dips = find_dips(level.time_s, over, LOW_MARGIN_DB, FADE_HYSTERESIS_DB, max_gap_s=MAX_GAP_S)
    events = [
        Event(
            "low_margin", subject, float(dips.start_s[k]), float(dips.end_s[k]),
            Level.NOTE,  # the other antennas are there for this; fade_together tells when they were not
            f"{key} was within {max(float(dips.residual[k]), 0):.0f} dB of the receiver's stated sensitivity.",
            Figure("Margin", float(dips.residual[k]), "dB", Method.MEASURED, how="above the stated sensitivity"),
        )
        for k in range(len(dips))
    ]  # fmt: skip
    return figure, events


def _worst(events: list[Event], level: _Level) -> str:
    """The direction most of the faded time points at."""
    if level.seen is None or not events:
        return ""
    t = level.time_s
    inside = np.zeros(t.size, bool)
    for e in events:
        inside[np.searchsorted(t, e.start_s) : np.searchsorted(t, e.end_s)] = True
    inside &= np.isfinite(level.seen.body_azimuth_deg)
    if not inside.any():
        return ""
    flat = np.bincount(
        bin_of(level.seen.body_azimuth_deg[inside], level.seen.body_elevation_deg[inside]),
        minlength=AZIMUTHS * ELEVATIONS,
    )
    azimuth, elevation = (c.ravel() for c in bin_centres())
    names: dict[str, int] = {}
    for k in np.flatnonzero(flat):
        word = name_direction(float(azimuth[k]), float(elevation[k]))
        names[word] = names.get(word, 0) + int(flat[k])
    return max(names, key=lambda w: names[w])


def _worst_by_counter(bins: DirectionBins | None) -> str:
    """Where most is lost a second, if some direction stands out against the flight's usual."""
    made = counter_map("", "", [bins]) if bins is not None and bins.counted and bins.lost.sum() >= 10 else None
    return made.nulls[0].partition(":")[0] if made and made.nulls else ""


def _bins(level: _Level | None, counter: str, flight: _Flight) -> DirectionBins | None:
    """Sort samples and losses into body directions; ``None`` where no direction is known."""
    g = flight.geometry
    if g is None or not g.directions_from:
        return None
    shape = (AZIMUTHS, ELEVATIONS)
    steps, ranges = LEVEL_EDGES_DB.size - 1, RANGE_EDGES_M.size - 1
    histogram = np.zeros((*shape, steps), np.int32)
    by_range = np.zeros((*shape, ranges))
    lost_by_range = np.zeros((*shape, ranges))
    t, total = flight.inside(flight.telemetry.series(counter))
    counted = t.size > 1
    if level is not None:
        ok = np.isfinite(level.level_db) & np.isfinite(level.seen.body_azimuth_deg) if level.seen else np.zeros(0, bool)
        if ok.any() and level.seen is not None:
            flat = bin_of(level.seen.body_azimuth_deg[ok], level.seen.body_elevation_deg[ok])
            height = np.clip((level.level_db[ok] - LEVEL_EDGES_DB[0]).astype(np.intp), 0, steps - 1)
            histogram += (
                np.bincount(flat * steps + height, minlength=histogram.size).reshape(histogram.shape).astype(np.int32)
            )
            if not counted:
                held = np.minimum(np.diff(level.time_s, append=level.time_s[-1]), MAX_GAP_S)[ok]
                cell = flat * ranges + np.digitize(level.seen.range_m[ok], RANGE_EDGES_M[1:-1])
                by_range += np.bincount(cell, held, by_range.size).reshape(by_range.shape)
    if counted:
        middle = (t[:-1] + t[1:]) / 2
        seen = flight.seen_at(middle) or g.seen_at(middle)
        step = np.diff(t)
        ok = np.isfinite(seen.body_azimuth_deg) & (step <= MAX_GAP_S)
        flat = bin_of(seen.body_azimuth_deg[ok], seen.body_elevation_deg[ok])
        cell = flat * ranges + np.digitize(seen.range_m[ok], RANGE_EDGES_M[1:-1])
        by_range += np.bincount(cell, step[ok], by_range.size).reshape(by_range.shape)
        lost_by_range += np.bincount(cell, np.diff(unwrap_counter(total))[ok], by_range.size).reshape(by_range.shape)
    if not by_range.any():
        return None
    calibration = level.calibration if level else None
    empty = np.empty(0)
    seen_levels, edges = trim_levels(histogram)
    return DirectionBins(
        EDGES_AZIMUTH_DEG,
        EDGES_SIN_ELEVATION,
        edges,
        seen_levels,
        by_range.sum(axis=-1),
        lost_by_range.sum(axis=-1),
        uncertainty_deg=g.uncertainty_deg,
        seconds_by_range=by_range,
        lost_by_range=lost_by_range,
        counted=counted,
        calibrated=calibration is not None,
        calibration_signal=calibration.signal if calibration else empty,
        calibration_db=calibration.level_db if calibration else empty,
    )
