"""Several logs of one flight on one clock: by UTC where both know it, else by a shared or linked channel."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa
from msgspec import Struct
from scipy import signal

from analyser.core.channels import TIME, parse
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, coded, say
from analyser.core.telemetry import Telemetry
from importers.codes import ReadCode

STEP_S = 0.1
"""Grid of the cross-correlation, s; the offset is refined below it by a parabola through the peak."""
LINKED: tuple[tuple[str, str], ...] = (
    ("control.throttle_percent", "engine.*.throttle_percent"),
    ("control.throttle_percent", "engine.*.speed_rpm"),
    ("engine.*.throttle_percent", "engine.*.speed_rpm"),
    ("position.ground_speed_m_s", "motion.airspeed_m_s"),
    ("position.altitude_m", "motion.pressure_altitude_m"),
    ("position.height_m", "motion.pressure_altitude_m"),
    ("position.altitude_m", "position.height_m"),
)
"""Pairs of channels that rise and fall together, best first."""


class Offset(Struct, frozen=True):
    """Seconds to add to a log's ``time_s`` to put it on the first log's clock.

    ``confidence`` is 1 for UTC or an entered offset; else the peak's correlation, weighted by overlap, less that of
    the best rival peak beyond 2 s, between 0 and 1. ``how`` says where it is from.
    """

    seconds: float
    confidence: float
    how: Finding


def offset(first: Telemetry, other: Telemetry, *, entered_s: float | None = None) -> Offset | None:
    """Find the offset between two logs of one flight; None where nothing links them.

    Parameters
    ----------
    entered_s : float or None
        The user's own offset, which overrules.
    """
    if entered_s is not None:
        return Offset(entered_s, 1.0, say(ReadCode.OFFSET_ENTERED))
    if first.utc_start is not None and other.utc_start is not None:
        return Offset((other.utc_start - first.utc_start).total_seconds(), 1.0, say(ReadCode.OFFSET_BY_UTC))
    found = [o for a, b in shared_or_linked(first, other) if (o := _correlate(first, other, a, b))]
    return max(found, key=lambda o: o.confidence, default=None)


def join(first: Telemetry, others: Sequence[tuple[Telemetry, Offset]]) -> Telemetry:
    """Put several logs into one table.

    Channels that the earlier logs already have are kept from the first and left out of the later ones, and the
    metadata says so.

    Returns
    -------
    Telemetry
        Rows of all logs in time order; nulls where a log has no row.
    """
    tables, dropped, metadata = [first.table], [], dict(first.metadata)
    have = set(first.table.column_names)
    for n, (other, shift) in enumerate(others, 2):
        time = pa.array(other.time_s + shift.seconds)
        table = other.table.set_column(other.table.column_names.index(TIME), TIME, time)
        again = [c for c in table.column_names if c != TIME and c in have]
        dropped += again
        tables.append(table.drop_columns(again))
        have |= set(table.column_names)
        metadata[f"joined.{n}"] = (
            f"{other.metadata.get('source', 'log')}: offset {shift.seconds:.3f} s, confidence {shift.confidence:.2f}, "
            f"{coded(shift.how)}" + (f"; already there: {', '.join(again)}" if again else "")
        )
    whole = pa.concat_tables(tables, promote_options="default").sort_by(TIME)
    time_s = np.asarray(whole.column(TIME).to_numpy(), float)
    starts = np.concatenate([[True], np.diff(time_s) > 1e-6])
    if not starts.all():  # rows of one instant become one row
        whole = _merge(whole, starts)
        time_s = time_s[starts]
    zero = float(time_s[0])
    whole = whole.set_column(whole.column_names.index(TIME), TIME, pa.array(np.round(time_s - zero, 9)))
    start = first.utc_start
    if start is not None:
        from datetime import timedelta

        start += timedelta(seconds=zero)
    return Telemetry(whole, start, metadata)


def _merge(table: pa.Table, starts: np.ndarray) -> pa.Table:
    group = np.cumsum(starts) - 1
    columns = {}
    for name in table.column_names:
        column = table.column(name).combine_chunks()
        if isinstance(column, pa.ChunkedArray):
            column = pa.concat_arrays(column.chunks)
        filled = np.flatnonzero(np.asarray(column.is_valid()))
        at = np.full(int(group[-1]) + 1, -1)
        at[group[filled[::-1]]] = filled[::-1]  # the first of several stands
        columns[name] = column.take(pa.array(at, mask=at < 0))
    return pa.table(columns)


def shared_or_linked(first: Telemetry, other: Telemetry) -> list[tuple[str, str]]:
    """Pairs of channels, of the first log and of the other, that rise and fall together; best first, at most 12."""
    shared = [(c, c) for c in first.channels if c in other.channels and parse(c)]
    linked = []
    for left, right in LINKED:
        for a, b in ((left, right), (right, left)):
            linked += [(x, y) for x in first.channels if _like(x, a) for y in other.channels if _like(y, b)]
    return list(dict.fromkeys(shared + linked))[:12]


def _like(name: str, pattern: str) -> bool:
    parts, wanted = name.split("."), pattern.split(".")
    return len(parts) == len(wanted) and all(w in ("*", p) for p, w in zip(parts, wanted, strict=True))


def _pearson(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Pearson's correlation of the overlap at every lag, and the overlap's share of the shorter record.

    Ends that do not overlap must not pull the peak. Lags that overlap by less than a third of the shorter
    record score 0.
    """

    def sums(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(signal.correlate(a, b, "full", method="fft"), float)

    here, there = np.ones_like(x), np.ones_like(y)
    n = np.maximum(np.rint(sums(here, there)), 1.0)
    sx, sy = sums(x, there), sums(here, y)
    spread = (sums(x * x, there) - sx * sx / n) * (sums(here, y * y) - sy * sy / n)
    floor = 1e-9 * float((x * x).sum() * (y * y).sum())
    enough = (n >= min(x.size, y.size) / 3) & (spread > floor)
    score = np.where(enough, (sums(x, y) - sx * sy / n) / np.sqrt(np.where(enough, spread, 1.0)), 0.0)
    return score, n / min(x.size, y.size)


def _correlate(first: Telemetry, other: Telemetry, a: str, b: str) -> Offset | None:
    """Offset from the peak of the normalised cross-correlation of two channels on one grid."""
    one, two = first.series(a), other.series(b)
    if min(one.time_s.size, two.time_s.size) < 20:
        return None
    x, y = (np.interp(np.arange(s.time_s[0], s.time_s[-1], STEP_S), s.time_s, s.values) for s in (one, two))
    if min(x.size, y.size) < 50 or np.ptp(x) == 0 or np.ptp(y) == 0:
        return None
    lags = signal.correlation_lags(x.size, y.size, "full")
    score, overlap = _pearson(x - x.mean(), y - y.mean())
    # A short overlap agrees by chance more easily (standard error of a correlation: 1/√n), so it counts for less.
    evidence = score * np.sqrt(overlap)
    peak = int(np.argmax(evidence))
    peaks = signal.find_peaks(evidence)[0]  # the shoulders of the highest are no rivals
    rival = evidence[peaks[np.abs(peaks - peak) > 2.0 / STEP_S]]
    confidence = float(np.clip(evidence[peak] - max(rival.max(initial=0.0), 0.0), 0.0, 1.0))
    fine = 0.0
    if 0 < peak < score.size - 1:
        low, mid, high = score[peak - 1 : peak + 2]
        bend = low - 2 * mid + high
        fine = float(0.5 * (low - high) / bend) if bend < 0 else 0.0
    seconds = (lags[peak] + fine) * STEP_S + one.time_s[0] - two.time_s[0]
    return Offset(
        float(seconds), confidence, say(ReadCode.OFFSET_BY_CHANNELS, first=a, other=b, correlation=float(score[peak]))
    )
