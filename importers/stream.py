"""One pass over a planned file: text to batches of telemetry with growing times, in bounded memory."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from analyser.core.channels import TIME
from importers.clock import timeline as clocks
from importers.clock.instants import flat, merge, pivot
from importers.clock.timeline import FloatArray, Timeline
from importers.dating import witness_ns
from importers.meaning.units import Conversion
from importers.model import ColumnPlan, Plan
from importers.split import Begin
from importers.table.cells import CellNotes, Cells
from importers.table.rows import rows
from importers.table.text import TextNotes

_TYPES = {"number": pa.float64(), "bool": pa.bool_(), "text": pa.string()}


class Stream:
    """The flights of one file, as they come.

    Parameters
    ----------
    progress : callable or None
        Told the stored bytes read so far.

    Attributes
    ----------
    schema : Schema
        ``time_s`` and one field a channel.
    base_ns, first_s
        The instant 0 of the file's clock (ns since 1970 where it knows the date), and its first row in seconds.
    """

    def __init__(self, plan: Plan, progress: Callable[[int], None] | None = None) -> None:
        self.plan, self.progress = plan, progress
        self.text, self.cells = TextNotes(), CellNotes()
        self.untimed = self.merged = self.strangers = 0
        self.unread: dict[str, tuple[int, str]] = {}
        self.base_ns: int | None = None
        self.base = 0.0
        self.line = Timeline(plan.time.per_second if plan.time.form == "number" else 1, plan.time.wraps)
        self.kept = [c for c in plan.columns if c.channel and c.channel != TIME]
        self.schema = pa.schema(
            [pa.field(TIME, pa.float64(), nullable=False), *(pa.field(c.channel, _TYPES[c.kind]) for c in self.kept)]
        )
        self.fresh, self.why, self.resets = True, "", 0
        self.origin_s = self.last_s = 0.0
        self.first_s: float | None = None

    def items(self) -> Iterator[Begin | pa.RecordBatch]:
        """Starts of flights and their batches, in order."""
        reader = Cells(self.plan.dialect, self._kinds(), self.cells, self._endings())
        held_t: FloatArray = np.empty(0)
        held: pa.Table | None = None
        begun = False
        for block in rows(self.plan.origin, self.plan.dialect, self.text):
            table = reader.read(block)
            if self.progress:
                self.progress(self.text.bytes_read)
            raw, good = self._raw(table)
            if not good.all():
                self.untimed += int((~good).sum())
                table, raw = table.filter(pa.array(good)), raw[good]
            if not raw.size:
                continue
            times, cuts = self.line.feed(raw)
            shift = held_t.size
            if held is not None and shift:
                times, table = np.concatenate([held_t, times]), pa.concat_tables([held, table])
            edges = [0, *(at + shift for at, _ in cuts), times.size]
            whys = ["", *(why for _, why in cuts)]
            for n, (start, stop) in enumerate(itertools.pairwise(edges)):
                if n:
                    self.fresh, begun = True, False
                    self.why = whys[n]
                    self.resets += self.why == clocks.RESET
                if stop == start:
                    continue
                part_t, part = times[start:stop], table.slice(start, stop - start)
                if n == len(edges) - 2:  # the last stamps may go on in the next block
                    stamps = np.maximum.accumulate(part_t)
                    previous = np.searchsorted(stamps, stamps[-1])
                    cut = int(np.searchsorted(stamps, stamps[max(previous - 1, 0)]))
                    held_t, held = part_t[cut:], part.slice(cut)
                    yield from self._emit(part_t, part, cut, begun)
                    begun = begun or cut > 0
                else:
                    yield from self._emit(part_t, part, part_t.size, begun)
                    begun = True
        if held is not None and held_t.size:
            yield from self._emit(held_t, held, held_t.size, begun)

    def _kinds(self) -> list[str]:
        """How each column of the file is to be read."""
        plan, time, long = self.plan, self.plan.time, self.plan.long
        kinds = ["skip"] * len(plan.dialect.headings)
        if long:
            kinds[long.sensor] = "text"
            kinds[long.value] = "number" if all(c.kind == "number" for c in self.kept) else "text"
        for c in self.kept:
            if c.column >= 0:
                kinds[c.column] = c.kind
        for told in (time, plan.witness):
            if told:
                kinds[told.column] = "number" if told.form == "number" else "text"
        for named in (plan.by, time.date_column, *(c.sign for c in self.kept)):
            if named is not None and named >= 0:
                kinds[named] = "text"
        return kinds

    def _endings(self) -> dict[str, str]:
        return {f"c{c.column}": c.ending for c in self.kept if c.ending}

    def _raw(self, table: pa.Table) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        """Clock readings in native units from one common zero, and which rows have one."""
        clock = self.plan.time
        column = flat(table.column(f"c{clock.column}"))
        if clock.form == "number":
            values = np.asarray(column.to_numpy(zero_copy_only=False), float)
            good = np.isfinite(values)
            if clock.absolute and self.base_ns is None and good.any():
                self.base = float(np.floor(values[good][0]))
                self.base_ns = int(self.base) * (10**9 // int(clock.per_second))
            return values - self.base, good
        ns, good = clocks.read_text(column, clock.form, clock.order, clock.per_second)
        if clock.date_column is not None:
            days, dated = clocks.read_text(flat(table.column(f"c{clock.date_column}")), "date", clock.order)
            ns, good = ns + days, good & dated
        if self.base_ns is None and good.any():
            first = int(ns[good][0])
            self.base_ns = first - first % 10**9 if clock.absolute else 0
        return (ns - (self.base_ns or 0)) / 1e9, good

    def _emit(self, times: FloatArray, table: pa.Table, count: int, begun: bool) -> Iterator[Begin | pa.RecordBatch]:
        """The first ``count`` rows; those behind them only say where the next stamps are."""
        if not count:
            return
        witness = None
        if self.fresh and self.plan.witness:
            witness = witness_ns(self.plan.witness, times, flat(table.column(f"c{self.plan.witness.column}")))
        if self.plan.long:
            times, arrays = self._long(times[:count], table.slice(0, count))
        else:
            table = self._own(table.slice(0, count))
            merged = merge(times[:count], table)
            if merged is not None:
                self.merged += count - merged[0].size
                times, table = merged
            else:
                times = clocks.spread(times, int(begun))[:count]
            arrays = [_convert(table.column(n), c.factor) if c.kind == "number" else table.column(n)
                      for n, c in enumerate(self.kept)]  # fmt: skip
        if not times.size:
            return
        if self.fresh:
            self.fresh = False
            if self.first_s is None:
                self.first_s = float(times[0])
            self.origin_s, self.last_s = float(times[0]), -1.0
            yield Begin(self.origin_s, self.why, self.resets, witness)
        coarse = abs(self.origin_s) > 1e5 or (self.base > 1e8 and self.plan.time.per_second == 1)
        relative = np.round(times - self.origin_s, 6 if coarse else 9)  # no finer than the clock's own digits
        ahead = np.diff(relative, prepend=self.last_s)
        if (ahead <= 0).any():  # what is still out of order moves up by microseconds
            steps = 1e-6 * np.arange(relative.size)
            relative = np.maximum.accumulate(np.maximum(relative - steps, self.last_s + 1e-6)) + steps
        self.last_s = float(relative[-1])
        whole = pa.table([pa.array(relative), *arrays], schema=self.schema)
        yield from whole.combine_chunks().to_batches()

    def _own(self, table: pa.Table) -> pa.Table:
        """The kept columns, one for each channel, without the rows that are another's."""
        cells = [self._signed(table, c) for c in self.kept]
        if self.plan.by is not None:
            whose = table.column(f"c{self.plan.by}")
            mine = {o: pc.fill_null(pc.equal(whose, o), False) for o in dict.fromkeys(c.only for c in self.kept) if o}
            cells = [pc.if_else(mine[c.only], v, pa.scalar(None, v.type)) if c.only else v
                     for v, c in zip(cells, self.kept, strict=True)]  # fmt: skip
            self.strangers += len(table) - sum(int(pc.sum(m).as_py()) for m in mine.values()) if mine else 0
        return pa.Table.from_arrays(cells, names=[c.channel for c in self.kept])

    def _signed(self, table: pa.Table, column: ColumnPlan) -> pa.ChunkedArray:
        values = table.column(f"c{column.column}")
        if column.sign < 0:
            return values
        negative = pc.is_in(table.column(f"c{column.sign}"), pa.array(["S", "W"]))
        return pc.if_else(negative, pc.negate(values), values)

    def _long(self, times: FloatArray, table: pa.Table) -> tuple[FloatArray, list[pa.Array]]:
        """One row a stamp, and one column a sensor in the type and unit of its channel."""
        assert self.plan.long is not None
        names = pa.array([c.heading for c in self.kept], pa.string())
        codes = pc.fill_null(pc.index_in(table.column(f"c{self.plan.long.sensor}"), names), -1)
        values = flat(table.column(f"c{self.plan.long.value}"))
        stamps, columns = pivot(times, np.asarray(codes.to_numpy()), values, len(self.kept))
        out = []
        for column, (array, at) in zip(self.kept, columns, strict=bool(columns)):
            typed = self._typed(array, column).take(at)
            out.append(_convert(typed, column.factor) if column.kind == "number" else typed)
        return stamps, out

    def _typed(self, values: pa.Array, column: ColumnPlan) -> pa.Array:
        """Values of one sensor of a long table, in the type of its channel."""
        if pa.types.is_floating(values.type):
            return values
        notes = CellNotes()
        out = Cells(self.plan.dialect, [], notes).lenient(values, column.heading, column.kind)
        if column.heading in notes.unread:
            before, cell = self.unread.get(column.heading, (0, notes.unread_first[column.heading][0]))
            self.unread[column.heading] = (before + notes.unread[column.heading], cell)
        return out

    def notices(self) -> list[str]:
        """What was mended or left out so far, in words."""
        out = [f"{n} × {what}" for what, n in self.line.notes.items()]
        if self.cells.ragged:
            lines = sorted(self.cells.ragged_at)
            out.append(f"{self.cells.ragged} row(s) without the right number of fields left out (a cut line, or a "
                       f"remark): line {', '.join(map(str, lines))}"
                       + (" …" if self.cells.ragged > len(lines) else ""))  # fmt: skip
        if self.text.cut_line:
            out.append(f"the last line (line {self.text.cut_line}) has no line end and may be a cut line: left out")
        if self.merged:
            out.append(
                f"{self.merged} row(s) that share a stamp with the row before and fill other columns made one row"
            )
        if self.strangers:
            out.append(f"{self.strangers} row(s) of others than those the file begins with left out")
        if self.untimed:
            out.append(f"{self.untimed} row(s) without a readable time left out")
        headings = self.plan.dialect.headings
        for name, count in self.cells.unread.items():
            at = int(name[1:])
            if at != self.plan.time.column:
                heading = headings[at] if at < len(headings) else name
                cell, line = self.cells.unread_first[name]
                out.append(f"{count} cell(s) of column {heading!r} could not be read and are left empty"
                           f" (first: {cell!r} in line {line})")  # fmt: skip
        for sensor, (count, cell) in self.unread.items():
            out.append(f"{count} value(s) of {sensor!r} could not be read and are left empty (first: {cell!r})")
        if self.text.nul_bytes:
            out.append(f"{self.text.nul_bytes} zero byte(s) removed")
        if self.text.undecodable:
            out.append(f"{self.text.undecodable} character(s) could not be decoded")
        if self.text.cut_short:
            out.append("the compressed file is damaged; what could be expanded was read")
        return out


def _convert(column: pa.Array, factor: Conversion) -> pa.Array:
    """From the file's unit to the channel's: multiplied and divided by whole numbers where they are exact."""
    if factor.identity:
        return column
    exact = max(factor.num.numerator, factor.num.denominator) < 2**53
    if not exact:
        column = pc.multiply(column, float(factor.num))
    else:
        if factor.num.numerator != 1:
            column = pc.multiply(column, float(factor.num.numerator))
        if factor.num.denominator != 1:
            column = pc.divide(column, float(factor.num.denominator))
    return pc.add(column, float(factor.offset)) if factor.offset else column
