"""What is known of each channel now: its last value, the last two minutes, the lowest and highest since the start.

Memory is fixed once the channels are known, however long it goes on.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct, field

from analyser.core.channels import parse
from analyser.core.figures import Figure, FloatArray
from analyser.core.findings import Finding, Text
from analyser.core.statistics.smoothing import bin_means, unwrap_counter
from analyser.core.statistics.trends import robust_trend

KEPT = 8192
"""Samples kept of a channel: two minutes and more at 60 Hz."""
WINDOW_S = 120.0
SAG_S = 10.0
"""Over how long the lowest voltage and the weakest signal are shown beside the present ones."""
BURN_S = 60.0
"""Over how long the burn is told."""
STEP_S = 60.0
"""A clock that moves on by more than this at once, or back by more than :data:`BACK_S`, has jumped."""
BACK_S = 2.0


class Ring:
    """The last samples of one channel, oldest first, in memory that does not grow."""

    def __init__(self, kept: int = KEPT) -> None:
        self._t, self._v = np.empty(2 * kept), np.empty(2 * kept)
        self._kept, self._end = kept, 0

    def push(self, t: FloatArray, v: FloatArray) -> None:
        """Add samples, shape (n,)."""
        t, v = t[-self._kept :], v[-self._kept :]
        if self._end + t.size > 2 * self._kept:
            keep = min(self._end, self._kept)
            for one in (self._t, self._v):
                one[:keep] = one[self._end - keep : self._end].copy()
            self._end = keep
        self._t[self._end : self._end + t.size], self._v[self._end : self._end + t.size] = t, v
        self._end += t.size

    def since(self, t: float) -> tuple[FloatArray, FloatArray]:
        """Samples from an instant on, of those kept."""
        start = max(0, self._end - self._kept)
        times = self._t[start : self._end]
        late = times >= t
        return times[late], self._v[start : self._end][late]


class Now(Struct):
    """One channel: ``last`` and when, the extremes since the start, and how many values no sensor can give."""

    name: str
    unit: str
    low: float
    high: float
    ring: Ring = field(default_factory=Ring)
    last: float = float("nan")
    last_s: float = float("-inf")
    lowest: float = float("inf")
    lowest_s: float = 0.0
    highest: float = float("-inf")
    highest_s: float = 0.0
    impossible: int = 0

    def push(self, t: FloatArray, v: FloatArray) -> None:
        """Add samples without gaps."""
        good = (v >= self.low) & (v <= self.high)
        if not good.all():
            self.impossible += int(v.size - good.sum())
            t, v = t[good], v[good]
        if not v.size:
            return
        self.ring.push(t, v)
        self.last, self.last_s = float(v[-1]), float(t[-1])
        at = int(v.argmin())
        if v[at] < self.lowest:
            self.lowest, self.lowest_s = float(v[at]), float(t[at])
        at = int(v.argmax())
        if v[at] > self.highest:
            self.highest, self.highest_s = float(v[at]), float(t[at])

    def lowest_of(self, seconds: float, now_s: float) -> float:
        """The lowest value of the last seconds; NaN where there is none."""
        _, values = self.ring.since(now_s - seconds)
        return float(values.min()) if values.size else float("nan")

    def traced(self, now_s: float, points: int = 120) -> FloatArray:
        """The lowest value of each of so many equal parts of the last two minutes, NaN where nothing came."""
        t, v = self.ring.since(now_s - WINDOW_S)
        out = np.full(points, np.inf)
        place = np.clip(((t - (now_s - WINDOW_S)) / WINDOW_S * points).astype(np.intp), 0, points - 1)
        np.minimum.at(out, place, v)
        out[np.isinf(out)] = np.nan
        return out


class State:
    """All channels of a stream on one clock that never falls back.

    Attributes
    ----------
    now_s : float
        Seconds since the first row, by the stream's own clock with its jumps taken out.
    rows : int
        Rows understood.
    jumps : list of (float, float)
        Jumps of the clock since they were last asked for: when, and by how many seconds.
    """

    def __init__(self) -> None:
        self.channels: dict[str, Now] = {}
        self.now_s, self.rows = 0.0, 0
        self.jumps: list[tuple[float, float]] = []
        self._last: float | None = None
        self._offset = 0.0
        self._step = 0.0

    def push(self, times: FloatArray, table: pa.Table) -> None:
        """Take rows, ``times`` of shape (n,) on the stream's clock."""
        t = self._smooth(times)
        self.rows += t.size
        for name, column in zip(table.column_names, table.columns, strict=True):
            known = parse(name)
            if known is None or not (pa.types.is_floating(column.type) or pa.types.is_boolean(column.type)):
                continue
            if column.null_count == len(column):
                continue
            values = pc.cast(column, pa.float64()).combine_chunks().to_numpy(zero_copy_only=False)
            there = np.isfinite(values)
            if name not in self.channels:
                c = known.channel
                self.channels[name] = Now(name, c.unit, c.low, c.high)
            self.channels[name].push(t[there], values[there])
        self.now_s = max(self.now_s, float(t.max()))

    def new_clock(self) -> None:
        """Say that what comes is on another zero; it goes on where this one is."""
        self._last = None

    def _smooth(self, times: FloatArray) -> FloatArray:
        """Times from 0 on, without the jumps of a clock."""
        if self._last is None:
            self._offset = self.now_s + self._step - float(times[0])
            self._last = float(times[0])
        d = np.diff(times, prepend=self._last)
        jumped = (d > STEP_S) | (d < -BACK_S)
        ahead = d[(d > 0) & ~jumped]
        if ahead.size:
            self._step = float(np.median(ahead))
        if jumped.any():
            moved = np.cumsum(np.where(jumped, self._step - d, 0.0))
            out = times + self._offset + moved
            for at in np.flatnonzero(jumped)[:10]:
                self.jumps.append((float(out[at]), float(d[at])))
            del self.jumps[:-20]
            self._offset += float(moved[-1])
        else:
            out = times + self._offset
        self._last = float(times[-1])
        return np.asarray(out)


def burn(state: State, tank: str, label: Text) -> Figure:
    """How fast a tank empties: its flow over the last seconds, else the fall of what is left, the rise of what is used.

    The slope is Theil–Sen over means of one second, with Sen's interval, as in the histories.

    Returns
    -------
    Figure
        In mL/min, or %/min where the sensor knows no volume; unavailable with too little to go by.
    """
    since = state.now_s - BURN_S
    for quantity, sign in (("flow_ml_per_min", 0.0), ("used_ml", 1.0), ("remaining_ml", -1.0),
                           ("remaining_percent", -1.0)):  # fmt: skip
        now = state.channels.get(f"fuel.{tank}.{quantity}")
        if now is None:
            continue
        t, v = now.ring.since(since)
        order = np.argsort(t, kind="stable")  # rows may come late
        t, v = t[order], v[order]
        if not sign:
            if v.size < 2:
                continue
            spread = 2.0 * float(np.std(v)) / np.sqrt(max(1.0, np.ptp(t)))
            return Figure.within(label, float(v.mean()), spread, now.unit, digits=0)
        if v.size < 2 or np.ptp(t) < 10.0:
            continue
        seconds, means = bin_means(t, unwrap_counter(v) if quantity == "used_ml" else v, 1.0)
        return robust_trend(
            seconds / 60.0, sign * means, now.unit, label, per="min", digits=0 if now.unit == "mL" else 1
        )
    return Figure.unavailable(label, "mL/min", Finding("core.not_available"))
