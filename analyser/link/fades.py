"""Fades of one antenna and of several together: where the signal stays below expectation, and from which side.

A fade is a span in which the signal stays below what distance lets expect (dip rule with hysteresis of
:func:`analyser.core.events.find_dips`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.events import Event, find_dips, happened, runs_of
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, Part, Text, say
from analyser.core.geometry import Seen
from analyser.link.codes import LinkCode
from analyser.link.sides import name_directions
from analyser.link.signal_level import SignalLevel, hole_s, slim
from analyser.link.sphere import AZIMUTHS, ELEVATIONS, bin_centres, bins_of

FADE_DB = 12.0
"""A fade is this far below expectation …"""
FADE_HYSTERESIS_DB = 3.0
"""… and over once it has come back this far (both common practice, no source)."""
FADE_PERCENT_OF_USUAL = 50.0
FADE_PERCENT_HYSTERESIS = 10.0
LOW_MARGIN_DB = 10.0


class Fades(Struct, frozen=True, eq=False):
    """Every fade of one antenna.

    ``azimuth_deg`` and ``elevation_deg``, shape (fades,), say from where in body axes the transmitter was seen at the
    bottom of each; NaN where no direction is trusted. ``judged`` is the share of samples held against an expectation.
    """

    events: tuple[Event, ...]
    how: Text
    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    judged: float

    def figures(self) -> tuple[Figure, Figure]:
        """How many fades, and how long together."""
        if self.judged <= 0:
            nothing = Figure.unavailable
            return nothing(say(LinkCode.FADES), "", self.how), nothing(say(LinkCode.TIME_FADED), "s", self.how)
        seconds = sum(e.duration_s for e in self.events)
        return (
            Figure(say(LinkCode.FADES), float(len(self.events)), "", Method.ESTIMATED, how=self.how, digits=0),
            Figure(say(LinkCode.TIME_FADED), float(seconds), "s", Method.ESTIMATED, how=self.how),
        )


def find_fades(level: SignalLevel, subject: str) -> Fades:
    """Find the fades of one antenna, ``link.rx1.antenna2``."""
    ok = np.isfinite(level.residual)
    if not ok.any():
        return Fades((), level.how, np.empty(0), np.empty(0), 0.0)
    if level.residual_unit == "dB":
        threshold, hysteresis, unit = -FADE_DB, FADE_HYSTERESIS_DB, "dB"
        how = say(LinkCode.FADE_RULE_DB, depth=FADE_DB, hysteresis=FADE_HYSTERESIS_DB, how=level.how)
    else:
        threshold, hysteresis, unit = FADE_PERCENT_OF_USUAL, FADE_PERCENT_HYSTERESIS, "% of usual"
        how = say(LinkCode.FADE_RULE_PERCENT, share=FADE_PERCENT_OF_USUAL, how=level.how)
    judged = float(ok.mean())
    if judged < 0.95:
        how = say(LinkCode.PARTLY_JUDGED, how=how, judged=judged)
    time_s = level.time_s
    dips = find_dips(time_s[ok], level.residual[ok], threshold, hysteresis, max_gap_s=hole_s(time_s))
    lowest = np.flatnonzero(ok)[dips.lowest_index]
    sides = _directions(level.seen, lowest)
    depth_label = say(LinkCode.FADE_DEPTH)
    events = []
    code, part = LinkCode.FADED if unit == "dB" else LinkCode.FADED_TO_SHARE, Part(subject)
    spans = zip(dips.start_s.tolist(), dips.end_s.tolist(), dips.residual.tolist(), sides, strict=True)
    for start, end, residual, side in spans:
        below = -residual if unit == "dB" else residual
        events.append(
            happened(
                "fade", subject, (start, end),
                say(code, antenna=part, seconds=end - start, below=below, side=side),
                size=below,
                depth=Figure(depth_label, below, unit, Method.ESTIMATED, how=level.how),
            )
        )  # fmt: skip
    unknown = np.full(lowest.size, np.nan)
    seen = level.seen
    return Fades(
        tuple(events),
        how,
        slim(seen.body_azimuth_deg[lowest], 0) if seen else unknown,
        slim(seen.body_elevation_deg[lowest], 0) if seen else unknown,
        judged,
    )


def _directions(seen: Seen | None, at: npt.NDArray[np.intp]) -> list[Text]:
    if seen is None:
        return [""] * at.size
    azimuth, elevation = seen.body_azimuth_deg[at], seen.body_elevation_deg[at]
    known = np.isfinite(azimuth + elevation)
    names = iter(name_directions(azimuth[known], elevation[known]))
    return [next(names) if told else "" for told in known.tolist()]


def find_low_margin(level: SignalLevel, sensitivity_dbm: float | None, subject: str) -> tuple[Figure, list[Event]]:
    """Lowest margin above the receiver's stated sensitivity, and the spans in which it was thin."""
    label = say(LinkCode.LOWEST_MARGIN)
    if level.unit != "dBm":
        return Figure.unavailable(label, "dB", say(LinkCode.MARGIN_NEEDS_DBM, unit=level.unit)), []
    if sensitivity_dbm is None:
        return Figure.unavailable(label, "dB", say(LinkCode.NO_SENSITIVITY)), []
    over = level.values - sensitivity_dbm
    how, of_margin, part = say(LinkCode.ABOVE_SENSITIVITY, dbm=sensitivity_dbm), say(LinkCode.MARGIN), Part(subject)
    figure = Figure(label, float(over.min()), "dB", Method.INTEGRATED, how=how)
    dips = find_dips(level.time_s, over, LOW_MARGIN_DB, FADE_HYSTERESIS_DB, max_gap_s=hole_s(level.time_s))
    events = [
        happened(
            "low_margin", subject, (start, end),
            say(
                LinkCode.THIN_MARGIN if lowest > -SHOWN_DB else LinkCode.UNDER_SENSITIVITY, antenna=part,
                margin=abs(lowest),
            ),
            size=lowest,
            depth=Figure(of_margin, lowest, "dB", Method.INTEGRATED, how=how),
        )
        for start, end, lowest in zip(dips.start_s.tolist(), dips.end_s.tolist(), dips.residual.tolist(), strict=True)
    ]  # fmt: skip
    return figure, events


def worst_direction(events: Sequence[Event], level: SignalLevel) -> Text:
    """Find the direction most of the faded time points at; '' where none is known."""
    if level.seen is None or not events:
        return ""
    t = level.time_s
    # The sample from which on each is counted, and the one from which on it no longer is.
    began = np.bincount(np.searchsorted(t, [e.start_s for e in events]), minlength=t.size)
    ended = np.bincount(np.searchsorted(t, [e.end_s for e in events]), minlength=t.size)
    told, where = bins_of(level.seen)
    inside = (np.cumsum(began - ended)[: t.size] > 0) & told
    if not inside.any():
        return ""
    flat = np.bincount(where[inside[told]], minlength=AZIMUTHS * ELEVATIONS)
    some = np.flatnonzero(flat)
    azimuth, elevation = (c.ravel()[some] for c in bin_centres())
    names: dict[str, tuple[int, Finding]] = {}
    for samples, direction in zip(flat[some].tolist(), name_directions(azimuth, elevation), strict=True):
        key = repr(direction)
        names[key] = (names.get(key, (0,))[0] + samples, direction)
    return max(names.values(), key=lambda one: one[0])[1]


class Together(Struct, frozen=True):
    """Spans in which any of several antennas fades, how many saw all fade at one instant, and those instants' spans."""

    clusters: int
    shared: int
    spans: tuple[tuple[float, float], ...]


def fades_together(antennas: Sequence[Sequence[Event]]) -> Together:
    """Lay the fades (or, without signal, the bursts of lost packets) of several antennas over each other.

    A fade that begins in the instant in which another's is over overlaps it in no instant.
    """
    spans = [[(e.start_s, e.end_s) for e in events if e.kind in ("fade", "lost_frames")] for events in antennas]
    flat = np.array([span for one in spans for span in one], float).reshape(-1, 2)
    if not flat.size:
        return Together(0, 0, ())
    edges = np.r_[flat[:, 0], np.maximum(flat[:, 1], flat[:, 0] + 1e-6)]
    change = np.repeat([1.0, -1.0], len(flat))
    owner = np.tile(np.repeat(np.arange(len(spans)), [len(one) for one in spans]), 2)
    order = np.lexsort((change, edges))
    depth = np.zeros((len(antennas), order.size))
    depth[owner[order], np.arange(order.size)] = change[order]
    faded = (np.cumsum(depth, axis=1) > 0).sum(axis=0)
    at = np.r_[edges[order], edges[order[-1]]]
    clusters = runs_of(faded > 0)
    if len(antennas) < 2:
        return Together(len(clusters), 0, ())
    all_of = faded == len(antennas)
    heads = np.array([a for a, _ in clusters], np.intp)  # between clusters nothing fades, so to the next head will do
    shared = int(np.logical_or.reduceat(all_of, heads).sum())
    return Together(len(clusters), shared, tuple((float(at[a]), float(at[b])) for a, b in runs_of(all_of)))


SHOWN_DB = 0.05
"""Half of the last digit a margin is shown with."""
