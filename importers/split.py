"""One file, several flights: cut where an aircraft stood still, engines off, between two spans in the air.

Silences and clocks that start anew are cut by :class:`importers.clock.order.Order`; this looks at what the log
says. It streams: what may belong to the next flight is held back until that flight leaves the ground, or the file ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.channels import TIME, parse
from analyser.core.findings import Finding, say
from importers.clock.order import FloatArray
from importers.codes import ReadCode

STILL_S = 60.0
"""A standstill this long, engines off, may lie between two flights; its first minute stays with the earlier one."""
STILL_UNSEEN_S = 180.0
"""The same where no engine is logged."""
HOLD_BYTES = 128 * 2**20
"""Held back at most; a standstill that fills it ends a flight without waiting for the next."""
BIN_S = 5.0
AIRBORNE_BINS = 3
FLYING_M_S, STANDING_M_S = 12.0, 2.5
OFF_RPM = 5000.0
RISEN_M, LEVEL_M = 15.0, 10.0

_SPEEDS = ("position.ground_speed_m_s", "motion.airspeed_m_s")
_HEIGHTS = ("position.height_m", "position.altitude_m", "motion.pressure_altitude_m")


class Begin(Struct, frozen=True):
    """A flight begins.

    ``absolute_s`` is on the file's own clock, ``why`` it begins here, ``resets`` how often that clock had started anew,
    ``witness_ns`` what a second clock says of the instant 0 of the file's own: nanoseconds since 1970; ``moved_s`` by
    how much ``absolute_s`` was moved because summer time began or ended.
    """

    absolute_s: float
    why: Finding | None
    resets: int = 0
    witness_ns: int | None = None
    moved_s: float = 0.0


Item: TypeAlias = Begin | pa.RecordBatch


def by_ground(items: Iterator[Item], schema: pa.Schema) -> Iterator[Item]:
    """Cut flights at standstills.

    Parameters
    ----------
    items : iterator
        A :class:`Begin`, then the record batches of that flight, and so on.
    schema : Schema
        Of the batches.

    Yields
    ------
    Begin or RecordBatch
        The same rows, with more beginnings; each flight's ``time_s`` from 0.
    """
    watch = _Watch(schema.names)
    if not watch.able:
        yield from items
        return
    begin = Begin(0.0, None)
    held: list[pa.RecordBatch] = []
    zero = 0.0

    def rest() -> Iterator[Item]:
        yield from (_shift(b, zero) for b in held)
        held.clear()

    for item in items:
        if isinstance(item, Begin):
            yield from rest()
            begin, zero = item, 0.0
            watch.start()
            yield item
            continue
        flown, still_at = watch.feed(item)
        held.append(item)
        full = sum(b.nbytes for b in held) > HOLD_BYTES
        for cut in flown:
            before, after = _cut(held, cut)
            yield from (_shift(b, zero) for b in before)
            held, zero = after, cut
            why = say(ReadCode.STANDSTILL_ENGINES_OFF if watch.engines else ReadCode.STANDSTILL)
            yield replace(begin, absolute_s=begin.absolute_s + cut, why=why)
        if still_at is None:
            yield from rest()
        else:
            before, held = _cut(held, still_at)
            yield from (_shift(b, zero) for b in before)
            if full and held:
                zero = still_at
                watch.decided()
                yield replace(begin, absolute_s=begin.absolute_s + zero, why=say(ReadCode.LONG_STANDSTILL))
                yield from rest()
    yield from rest()


def _cut(batches: list[pa.RecordBatch], at: float) -> tuple[list[pa.RecordBatch], list[pa.RecordBatch]]:
    before: list[pa.RecordBatch] = []
    after: list[pa.RecordBatch] = []
    for batch in batches:
        n = int(np.searchsorted(batch.column(0).to_numpy(), at))
        before += [batch.slice(0, n)] if n else []
        after += [batch.slice(n)] if n < len(batch) else []
    return before, after


def _shift(batch: pa.RecordBatch, zero: float) -> pa.RecordBatch:
    if not zero:
        return batch
    time = pa.array(np.round(batch.column(0).to_numpy() - zero, 9))
    return pa.RecordBatch.from_arrays([time, *batch.columns[1:]], schema=batch.schema)


class _Watch:
    """What the aircraft does, five seconds at a time, remembered from batch to batch."""

    def __init__(self, names: list[str]) -> None:
        self.speeds = [n for n in _SPEEDS if n in names]
        self.heights = [n for n in _HEIGHTS if n in names][:1]
        self.engines = [n for n in names if n.startswith("engine.") and n.endswith(".speed_rpm")]
        self.able = TIME in names and bool(self.speeds or (self.heights and self.engines))
        self.need = int(np.ceil((STILL_S if self.engines else STILL_UNSEEN_S) / BIN_S))
        self.level: float | None = None
        self.start()

    def start(self) -> None:
        """Begin a flight."""
        self.airborne = self.still = 0
        self.flew = False
        self.still_at: float | None = None
        self.last = [np.nan, np.nan, np.nan]

    def decided(self) -> None:
        """A cut was made at the standstill."""
        self.airborne, self.still, self.flew, self.still_at = 0, 0, False, None

    def feed(self, batch: pa.RecordBatch) -> tuple[list[float], float | None]:
        """Tell where flights begin that have now left the ground, and where the next may begin."""
        cuts: list[float] = []
        bins, air, still = self._states(batch)
        edges = np.flatnonzero(np.concatenate([[True], (np.diff(air) != 0) | (np.diff(still) != 0)]))
        for start, stop in zip(edges, [*edges[1:], bins.size], strict=True):  # runs of one state, not samples
            length = int(bins[stop - 1] - bins[start]) + 1
            if still[start]:
                if not self.still:
                    self.began = int(bins[start])
                self.still = int(bins[stop - 1]) - self.began + 1
                if self.flew and self.still_at is None and self.still >= self.need:
                    self.still_at = (self.began + self.need) * BIN_S
                    self.airborne = 0
                continue
            self.still = 0
            self.airborne = self.airborne + length if air[start] else self.airborne
            if self.airborne >= AIRBORNE_BINS:
                if self.still_at is not None:
                    cuts.append(self.still_at)
                self.flew, self.still_at = True, None
        return cuts, self.still_at

    def _states(self, batch: pa.RecordBatch) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        bin_of = (batch.column(0).to_numpy() / BIN_S).astype(np.int64)
        bins = np.unique(bin_of) if bin_of.size else bin_of
        speed = self._means(batch, self.speeds, bin_of, bins, 0)
        rpm = self._means(batch, self.engines, bin_of, bins, 1)
        height = self._means(batch, self.heights, bin_of, bins, 2)
        off = rpm < OFF_RPM if self.engines else np.full(bins.size, True)
        if self.speeds:
            return bins, speed > FLYING_M_S, (speed < STANDING_M_S) & off
        if self.level is None and np.isfinite(height).any():
            self.level = float(height[np.isfinite(height)][0])
        risen = height - (self.level or 0.0)
        return bins, risen > RISEN_M, (np.abs(risen) < LEVEL_M) & off

    def _means(
        self, batch: pa.RecordBatch, names: list[str], bin_of: np.ndarray, bins: np.ndarray, n: int
    ) -> FloatArray:
        """Mean of each bin, the largest of several channels; the last one known where a bin has no sample."""
        out = np.full(bins.size, np.nan)
        for name in names:
            known = parse(name)
            column = batch.column(batch.schema.get_field_index(name))
            good = np.flatnonzero(np.asarray(column.is_valid()))
            values = np.asarray(pc.drop_null(column).to_numpy(), float)
            if known is not None:
                fair = (values >= known.channel.low) & (values <= known.channel.high)
                good, values = good[fair], values[fair]
            if not good.size:
                continue
            starts = np.flatnonzero(np.concatenate([[True], np.diff(bin_of[good]) > 0]))
            counts = np.diff(np.concatenate([starts, [good.size]]))
            means = np.add.reduceat(values, starts) / counts
            at = np.searchsorted(bins, bin_of[good][starts])
            out[at] = np.fmax(out[at], means)
        if out.size:
            whole = np.concatenate([[self.last[n]], out])
            filled = np.maximum.accumulate(np.where(np.isnan(whole), 0, np.arange(whole.size)))
            out = whole[filled][1:]
            self.last[n] = float(out[-1])
        return out
