"""One flight's canonical telemetry: a table of instants by channels, null where a sensor did not report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from difflib import get_close_matches
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.channels import EXTRA, TIME, Between, ChannelName, names_a_quantity, parse
from analyser.core.figures import FloatArray
from analyser.core.findings import Text
from analyser.core.statistics.sampling import longest_pause_s, usual_step_s
from analyser.core.tables import spare_pandas

if TYPE_CHECKING:
    import pandas as pd

spare_pandas()


class Series(NamedTuple):
    """The samples a sensor really gave: no nulls, no flagged samples.

    ``time_s`` and ``values`` have shape (n,); booleans come as 0.0 and 1.0.
    """

    time_s: FloatArray
    values: FloatArray

    def __bool__(self) -> bool:
        return self.time_s.size > 0

    def at(self, time_s: FloatArray) -> FloatArray:
        """Values at other instants, straight between samples, level beyond; its own, not to be changed, at its own."""
        return self.values if time_s is self.time_s else np.asarray(np.interp(time_s, *self), float)


class Suspect(NamedTuple):
    """Samples of one channel that are not to be believed; raw values stay in storage.

    ``kind`` is one of ``stuck``, ``spike``, ``impossible``, ``reset``, ``saturated``; ``samples`` is how many,
    first and last at ``start_s`` and ``end_s``; ``note`` says what is wrong with them. A ``reset`` or ``saturated``
    suspect may exclude nothing (``excluded`` false): it then only warns.
    """

    channel: str
    kind: str
    start_s: float
    end_s: float
    samples: int
    note: Text
    excluded: bool = True


class UnknownChannelError(KeyError):
    """A name that is no channel of the vocabulary and no column of this log; the message has the nearest ones."""

    def __str__(self) -> str:
        return str(self.args[0])


def _shared(array: FloatArray) -> FloatArray:
    """The array as one that nobody changes."""
    array.flags.writeable = False
    return array


class Telemetry(Struct, frozen=True, eq=False, dict=True):
    """One flight.

    Parameters
    ----------
    table : pyarrow.Table
        ``time_s`` (float64, strictly increasing from 0) and one column a channel: float64, or bool for
        states; ``extra.*`` columns may also be strings. Nulls where a sensor did not report at that instant.
    utc_start : datetime or None
        Time-zone-aware UTC of ``time_s = 0``, where the log knew it.
    metadata : mapping of str to str
        Source file, content hash, mapping used, what was dropped and why.
    masks : mapping of str to ndarray of bool, shape (rows,)
        Per channel, the rows that :mod:`analyser.core.quality` excluded; :meth:`series` leaves them out.
    suspects : tuple of Suspect
        The same, in words.

    Raises
    ------
    ValueError
        If ``time_s`` is missing, null anywhere or not strictly increasing.
    """

    table: pa.Table
    utc_start: datetime | None = None
    metadata: Mapping[str, str] = field(default_factory=dict)
    masks: Mapping[str, npt.NDArray[np.bool_]] = field(default_factory=dict)
    suspects: tuple[Suspect, ...] = ()

    @cached_property
    def _known(self) -> dict[Any, Any]:
        """Samples by channel, whether raw, and times by rows: nearly every analysis asks for the same again."""
        return {}

    def __post_init__(self) -> None:
        if TIME not in self.table.column_names:
            raise ValueError(f"telemetry needs a {TIME} column, got {self.table.column_names[:8]}")
        time = self.table.column(TIME)
        if time.null_count:
            raise ValueError(f"{TIME} must not be null ({time.null_count} nulls)")
        t = time.to_numpy()
        if t.size > 1 and not bool((np.diff(t) > 0).all()):
            row = int(np.flatnonzero(np.diff(t) <= 0)[0]) + 1
            raise ValueError(f"{TIME} must increase strictly; row {row} does not")

    @cached_property
    def time_s(self) -> FloatArray:
        """Every row's time, shape (rows,); read-only."""
        return _shared(np.asarray(self.table.column(TIME).to_numpy(), float))

    @property
    def duration_s(self) -> float:
        """First row to last row, s."""
        t = self.time_s
        return float(t[-1] - t[0]) if t.size else 0.0

    @cached_property
    def channels(self) -> tuple[str, ...]:
        """Known channels present with at least one value, in table order."""
        return tuple(c for c in self.table.column_names if parse(c) and self._filled(c))

    @property
    def extras(self) -> tuple[str, ...]:
        """Columns kept under their own name because no known channel fits."""
        return tuple(c for c in self.table.column_names if c.startswith(f"{EXTRA}."))

    def has(self, *names: str) -> bool:
        """Whether every named channel is present with at least one value."""
        known = self.channels
        return all(n in known or (self.table.schema.get_field_index(n) >= 0 and self._filled(n)) for n in names)

    @cached_property
    def _names(self) -> tuple[ChannelName, ...]:
        """The known channels' names taken apart."""
        return tuple(filter(None, map(parse, self.channels)))

    def instances(self, subject: str) -> tuple[str, ...]:
        """Instances of a subject, in table order: ``instances("pack")`` → ``("rx1", "rx2")``."""
        return tuple(dict.fromkeys(p.instance for p in self._names if p.channel.subject == subject))

    def numbers(self, subject: str, instance: str, quantity: str) -> tuple[int, ...]:
        """Numbers present of a numbered quantity: ``numbers("pack", "rx1", "cell<n>_v")`` → ``(1, 2)``."""
        return tuple(
            sorted(
                p.number
                for p in self._names
                if p.number is not None
                and (p.channel.subject, p.instance, p.channel.quantity) == (subject, instance, quantity)
            )
        )

    def series(self, name: str, *, raw: bool = False) -> Series:
        """Samples of one channel with nulls (and, unless ``raw``, excluded samples) left out.

        A channel of the vocabulary that is not logged gives an empty series, so that a caller asks once and tests
        its truth. The arrays are read-only: whoever asks again is given the same ones, and channels with samples at the
        same instants have one array of times.

        Raises
        ------
        UnknownChannelError
            If the name is no channel at all.
        """
        if not raw and name not in self.masks:
            raw = True  # nothing is excluded
        found: Series | None = self._known.get((name, raw))
        if found is None:
            if self.table.schema.get_field_index(name) < 0 and not names_a_quantity(name):
                raise UnknownChannelError(self._unknown(name))
            found = self._known[name, raw] = self._series(name, raw)
        return found

    def _series(self, name: str, raw: bool) -> Series:
        at = self.table.schema.get_field_index(name)
        if at < 0:
            return Series(np.empty(0), np.empty(0))
        column = self.table.column(at)
        if pa.types.is_boolean(column.type):
            column = pc.cast(column, pa.int8())
        if not pa.types.is_float64(column.type):
            column = pc.cast(column, pa.float64())
        # A whole column in one piece is looked at where it lies; any other is copied.
        whole = column.num_chunks == 1 and not column.null_count
        values = column.chunk(0).to_numpy() if whole else np.asarray(column.to_numpy(), float)
        good = np.isfinite(values)
        if not raw:
            good &= ~self.masks[name]
        if good.all():
            return Series(self.time_s, _shared(values))
        return Series(self._instants(good), _shared(values[good]))

    def _instants(self, good: npt.NDArray[np.bool_]) -> FloatArray:
        """Times of some rows: sensors that report together share one axis, so that it is worked through once."""
        key = "rows", np.packbits(good).tobytes()
        if key not in self._known:
            self._known[key] = _shared(self.time_s[good])
        found: FloatArray = self._known[key]
        return found

    def at(self, name: str, time_s: FloatArray, *, max_gap_s: float = np.inf) -> FloatArray:
        """Read a channel at given instants: interpolated or held, as its vocabulary entry says.

        Parameters
        ----------
        time_s : ndarray, shape (n,)
            Instants asked for.
        max_gap_s : float
            NaN where the samples on either side (continuous) or the last one (held) are further apart than this.

        Returns
        -------
        ndarray, shape (n,)
            NaN outside the channel's own first and last sample. Angles that wrap (unit ``°`` over 360) are
            interpolated along the shorter way.
        """
        t, v = self.series(name)
        time_s = np.asarray(time_s, float)
        if t.size == 0:
            return np.full(time_s.shape, np.nan)
        parsed = parse(name)
        wraps = parsed is not None and parsed.channel.unit == "°" and parsed.channel.high - parsed.channel.low >= 360.0
        if time_s is t and not (wraps and parsed is not None and parsed.channel.between is Between.CONTINUOUS):
            return v.copy()  # its own instants
        if parsed is None or parsed.channel.between is not Between.CONTINUOUS:
            left = np.maximum(np.searchsorted(t, time_s, side="right") - 1, 0)
            out = v[left]
            out[(time_s < t[0]) | (time_s - t[left] > max_gap_s)] = np.nan
            return out
        source = np.unwrap(v, period=360.0) if wraps else v
        out = np.interp(time_s, t, source)
        if wraps:
            low = parsed.channel.low if parsed.channel.low == -180.0 and parsed.channel.high == 180.0 else 0.0
            out = (out - low) % 360.0 + low
        out[(time_s < t[0]) | (time_s > t[-1])] = np.nan
        if t.size > 1 and longest_pause_s(t) > max_gap_s:
            right = np.searchsorted(t, time_s, side="right")
            left = np.maximum(right - 1, 0)
            gap = np.where(t[left] == time_s, 0.0, t[np.minimum(right, t.size - 1)] - t[left])
            out[gap > max_gap_s] = np.nan
        return out

    def rate_hz(self, name: str) -> float:
        """Median sample rate of a channel, Hz; NaN with fewer than two samples."""
        t = self.series(name).time_s
        return 1.0 / usual_step_s(t) if t.size > 1 else float("nan")

    @property
    def unsettled(self) -> tuple[str, ...]:
        """Parts (``fuel.aux``) of the log that the aircraft's file does not name: nothing may rest on them."""
        return tuple(n for n in self.metadata.get("unsettled", "").split("; ") if n)

    def without(self, parts: Iterable[str]) -> Telemetry:
        """The same flight without the channels of some parts, such as ``fuel.aux``."""
        starts = tuple(f"{p}." for p in parts)
        if not starts:
            return self
        kept = [c for c in self.table.column_names if not c.startswith(starts)]
        return replace(self, table=self.table.select(kept))

    def screened(self, masks: Mapping[str, npt.NDArray[np.bool_]], suspects: Iterable[Suspect]) -> Telemetry:
        """Return the same telemetry with these samples excluded and listed."""
        made = replace(self, masks=dict(masks), suspects=tuple(suspects))
        # The same table: what was read of it is read, but for what was excluded before.
        made.__dict__.update(self.__dict__, _known={k: v for k, v in self._known.items() if k[1] is not False})
        return made

    def to_frame(self) -> pd.DataFrame:
        """The table as a pandas frame, indexed by ``time_s``."""
        frame: pd.DataFrame = self.table.to_pandas().set_index(TIME)
        return frame

    def __repr__(self) -> str:
        since = f", from {self.utc_start:%Y-%m-%d %H:%M} UTC" if self.utc_start else ""
        size = f"{self.table.num_rows:,} rows, {self.duration_s / 60:.1f} min, {len(self.channels)} channels"
        return f"Telemetry({size}{since})"

    def _repr_html_(self) -> str:
        return str(self.to_frame().describe().T.to_html(float_format=lambda v: f"{v:.4g}"))

    def _unknown(self, name: str) -> str:
        near = get_close_matches(name, self.table.column_names, n=3, cutoff=0.6)
        hint = f"; the nearest here are {', '.join(near)}" if near else ""
        return f"{name!r} is no channel{hint}"

    def _filled(self, name: str) -> bool:
        column = self.table.column(name)
        return bool(column.null_count < len(column))
