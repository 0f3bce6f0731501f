"""One pass over a planned file: text to batches of telemetry with growing times, in bounded memory."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from analyser.core.channels import TIME, parse
from analyser.core.findings import Finding, Text, say
from importers.clock.beside import Beside
from importers.clock.blocks import Blocks
from importers.clock.codes import ClockCode
from importers.clock.forms import read_text
from importers.clock.gps import WEEK_S
from importers.clock.instants import codes_of, flat, merge, pivot
from importers.clock.model import NO_COLUMN
from importers.clock.order import RESET, FloatArray, Order, Rows, spread
from importers.clock.pieces import days_s
from importers.clock.setting import KNOWN_FROM_NS, KNOWN_TO_NS, YEAR_S
from importers.codes import PlanRefused, ReadCode, ReadRefused
from importers.dating import witness_ns
from importers.layout.shapes import with_devices
from importers.meaning import degrees
from importers.meaning.units import Conversion
from importers.model import ColumnPlan, Plan
from importers.refusal import Refusal
from importers.split import Begin
from importers.table.cells import CellNotes, Cells
from importers.table.headers import changed
from importers.table.rows import backwards, rows
from importers.table.sorting import in_order
from importers.table.text import Block, TextNotes

LONGEST_FLIGHT_S = 24 * 3600.0
"""A log that says more has another unit of time, or a clock gone wrong."""
SENSE_S = 1e10
"""No clock counts more seconds than this."""
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
        self.counted = 0
        """Rows so far, where these are the clock."""
        self.untimed = self.merged = self.strangers = self.alone = 0
        self.unread: dict[str, tuple[int, str]] = {}
        self.base_ns: int | None = None
        self.base, self.above = 0.0, np.nan
        """The reading of the last row with a time, for rows that have none."""
        time = plan.time
        local = time.form in ("hms", "stamp") and time.zone not in ("UTC", "row")
        wall = time.form in ("hms", "stamp") or time.absolute
        self.line = Order(time.per_second if time.form == "number" else 1, time.wraps, local, time.laps, wall,
                          of_day=time.form == "hms" and not time.absolute)  # fmt: skip
        in_order = time.beside is not None and not plan.in_blocks
        self.beside = Beside(time.form == "hms" and not time.absolute, time.beside_even) if in_order else None
        self.kept = [c for c in plan.columns if c.channel and c.channel != TIME]
        self.schema = pa.schema(
            [pa.field(TIME, pa.float64(), nullable=False), *(pa.field(c.channel, _TYPES[c.kind]) for c in self.kept)]
        )
        self.fresh, self.resets = True, 0
        self.why: Finding | None = None
        self.origin_s = self.last_s = 0.0
        self.first_s: float | None = None
        self._live: Cells | None = None

    def items(self) -> Iterator[Begin | pa.RecordBatch]:
        """Starts of flights and their batches, in order.

        Raises
        ------
        Refusal
            If a flight would last longer than any.
        """
        reader = self._reader()
        held_t: FloatArray = np.empty(0)
        held: pa.Table | None = None
        begun = False
        for block in itertools.chain(self._tables(reader), [None]):
            final = block is None
            times, table = held_t, held
            if block is not None:
                raw, good = self._raw(block)
                whole = bool(good.all())
                fresh = block if whole else block.filter(pa.array(good))
                self.untimed += good.size - len(fresh)
                if not len(fresh):
                    continue
                times = np.concatenate([held_t, self.line.unwrap(raw if whole else raw[good])])
                table = fresh if held is None else pa.concat_tables([held, fresh])
            if table is None or not times.size:
                continue
            settled = self.line.settle(times, partial(_content, self._readings(table)), begun=begun, final=final)
            for n, part in enumerate(settled.parts):
                if part.why:
                    self.fresh, begun = True, False
                    self.why = part.why
                    self.resets += part.why == RESET
                last = n == len(settled.parts) - 1
                rows = table if settled.plain else table.take(pa.array(part.rows))
                count = settled.ripe if last else part.times.size
                if final or not last:
                    if not begun and part.times[0] == part.times[-1]:
                        self.alone += part.times.size
                        continue
                    yield from self._emit(part.times, rows, part.times.size, begun)
                    begun = True
                else:
                    yield from self._emit(part.times, rows, count, begun)
                    begun = begun or count > 0
                    held_t, held = part.times[count:], rows.slice(count)
            if settled.held.size:
                tail = table.take(pa.array(settled.held))
                held_t = np.concatenate([held_t, settled.held_times]) if settled.parts else settled.held_times
                held = pa.concat_tables([held, tail]) if settled.parts and held is not None else tail

    def at_once(self, block: Block) -> tuple[FloatArray, pa.Table]:
        """Rows of a block as they came, for who looks on: nothing is put in order, merged or held back.

        Returns
        -------
        times : ndarray, shape (n,)
            Seconds on the clock's own line; those of a late row are smaller than the ones before.
        table : Table
            One column a channel.
        """
        self._live = self._live or self._reader()
        table = self._live.read(block)
        table = with_devices(table, self.plan.long) if self.plan.long else table
        if not len(table):
            return np.empty(0), self.schema.remove(0).empty_table()
        raw, good = self._raw(table)
        self.untimed += good.size - int(good.sum())
        if not good.all():
            table = table.filter(pa.array(good))
        times = self.line.unwrap(raw[good])
        arrays: list[pa.Array] = []
        if self.plan.long and times.size:
            times, arrays = self._long(times, table)
        elif times.size:
            arrays = self._converted(self._own(table))
        if not times.size:
            return times, self.schema.remove(0).empty_table()
        return times, pa.table(arrays, schema=self.schema.remove(0))

    def _reader(self) -> Cells:
        return Cells(self.plan.dialect, self._kinds(), self.cells, self._endings())

    def _converted(self, table: pa.Table) -> list[pa.Array]:
        return [_convert(table.column(n), c.factor) if c.kind == "number" else table.column(n)
                for n, c in enumerate(self.kept)]  # fmt: skip

    def _readings(self, table: pa.Table) -> pa.Table:
        """What rows measured: neither their clock nor what a receiver counts or adds as they come."""
        long, by = self.plan.long, self.plan.by
        if long:
            return table.select([f"c{long.sensor}", f"c{long.value}"])
        own = {c.column for c in self.kept if parse(c.channel)} or {c.column for c in self.kept}
        own |= {by} if by is not None else set()
        return table.select([f"c{n}" for n in sorted(own)])

    def _tables(self, reader: Cells) -> Iterator[pa.Table]:
        """The file's rows in blocks, oldest first."""
        turned = self.plan.time.backwards
        if self.plan.in_blocks:
            yield from self._by_time(reader)
            return
        blocks = (backwards if turned else rows)(self.plan.origin, self.plan.dialect, self.text)
        # To write a wide table takes about as long as to read it; a long one becomes little.
        for table in reader.read_all(map(self._of_one_kind, blocks), beside=0 if self.plan.long else 1):
            if self.progress:
                self.progress(self.text.bytes_read)
            full = with_devices(table, self.plan.long) if self.plan.long else table
            yield full.take(pa.array(np.arange(len(full))[::-1])) if turned else full

    def _of_one_kind(self, block: Block) -> Block:
        """The same block, refused where another header stands in it."""
        if other := changed(block.text, self.plan.dialect, block.line):
            raise Refusal(self.plan.source, PlanRefused.HEADER_CHANGES, line=other[0], header=other[1][:80])
        return block

    def _by_time(self, reader: Cells) -> Iterator[pa.Table]:
        """Rows of a table that gives one sensor after the other, in order of time, flight by flight."""
        long = self.plan.long
        assert long is not None
        name = f"c{long.sensor}"
        line = Blocks(self.plan.time.wraps, self.plan.time.per_second if self.plan.time.form == "number" else 1)

        def with_keys() -> Iterator[tuple[pa.Table, FloatArray]]:
            for plain in reader.read_all(rows(self.plan.origin, self.plan.dialect, self.text)):
                if self.progress:
                    self.progress(self.text.bytes_read)
                table = with_devices(plain, long)
                raw, good = self._raw(table)
                keys = line.keys(np.where(good, raw, np.nan), flat(table.column(name).unify_dictionaries()))
                yield table, np.where(np.isnan(keys), np.inf, keys)

        return in_order(with_keys())

    def _kinds(self) -> list[str]:
        """How each column of the file is to be read."""
        plan, time, long = self.plan, self.plan.time, self.plan.long
        kinds = ["skip"] * len(plan.dialect.headings)
        if long:
            kinds[long.sensor] = "name"
            if long.device is not None:
                kinds[long.device] = "name"
            plain = all(c.kind == "number" and not c.endings for c in self.kept)
            kinds[long.value] = "number" if plain else "text"
        for c in self.kept:
            if c.column >= 0:
                kinds[c.column] = "text" if c.degrees or c.endings else c.kind
        for told in (time, plan.witness):
            if told:
                for n in told.columns:
                    kinds[n] = "number"
                if told.column != NO_COLUMN:
                    kinds[told.column] = "number" if told.form == "number" else "text"
        if time.beside is not None:
            kinds[time.beside] = "number"
        for named in (plan.by, time.date_column, *(c.sign for c in self.kept)):
            if named is not None and named >= 0:
                kinds[named] = "text"
        return kinds

    def _endings(self) -> dict[str, str]:
        time = {f"c{self.plan.time.column}": self.plan.time_ending} if self.plan.time_ending else {}
        return time | {f"c{c.column}": c.ending for c in self.kept if c.ending}

    def _raw(self, table: pa.Table) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        """Clock readings in native units from one common zero, and which rows have one."""
        raw, good = self._read_clock(table)
        if self.beside is not None:
            raw = self._heard(table, raw, good)
        if not self.plan.time.sparse or good.all():
            return raw, good
        own = np.asarray(table.column(f"c{self.plan.time.column}").is_null())
        above = np.maximum.accumulate(np.where(good, np.arange(1, raw.size + 1), 0))  # the last row with a time, from 1
        filled = np.concatenate([[self.above], raw])[above]
        if good.any():
            self.above = float(raw[good][-1])
        return np.where(good, raw, filled), good | (own & np.isfinite(filled))

    def _heard(self, table: pa.Table, raw: FloatArray, good: npt.NDArray[np.bool_]) -> FloatArray:
        """Readings without the leaps of a clock that is set, going by the one beside it."""
        assert self.beside is not None
        clock = self.plan.time
        unit = float(clock.per_second) if clock.form == "number" else 1.0
        count = np.asarray(flat(table.column(f"c{clock.beside}")).to_numpy(zero_copy_only=False), float)
        settled = self.beside.settled(np.where(good, raw / unit, np.nan), count / clock.beside_per_second)
        self.line.note(ClockCode.LEAPT, self.beside.mended)
        self.beside.mended = 0
        return np.where(good, settled * unit, raw)

    def _read_clock(self, table: pa.Table) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        """What the clock's columns say."""
        clock = self.plan.time
        if clock.column == NO_COLUMN:
            raw = np.arange(self.counted, self.counted + len(table), dtype=float)
            self.counted, self.base_ns = self.counted + len(table), 0
            return raw, np.ones(raw.size, bool)
        column = flat(table.column(f"c{clock.column}"))
        if clock.form == "number":
            values = np.asarray(column.to_numpy(zero_copy_only=False), float)
            if clock.week_column is not None:
                weeks = flat(table.column(f"c{clock.week_column}")).to_numpy(zero_copy_only=False)
                values = values + np.asarray(weeks, float) * (WEEK_S * clock.per_second)
            if isinstance(beside := self._beside(table), np.ndarray):
                values = values + beside * clock.per_second
            if self.base_ns is None and (good := np.isfinite(values)).any():
                self.base = float(np.floor(values[good][0])) if clock.absolute else 0.0
                self.base_ns = clock.zero_ns + int(int(self.base) * clock.unit_ns) if clock.absolute else 0
                self._known(float(clock.unit_ns))
            values = values - self.base if self.base else values
            return values, np.abs(values) < SENSE_S * clock.per_second
        ns, good = read_text(column, clock.form, clock.order, clock.per_second)
        if clock.date_column is not None:
            days, dated = read_text(flat(table.column(f"c{clock.date_column}")), "date", clock.order)
            ns, good = ns + days, good & dated
        if clock.pieces or clock.day_columns:
            beside = self._beside(table)
            good = good & np.isfinite(beside)
            ns = ns + np.rint(np.nan_to_num(beside) * 1e9).astype(np.int64)
        if self.base_ns is None and good.any():
            first = int(ns[good][0])
            self.base_ns = first - first % 10**9 if clock.absolute else 0
            self.line.phase_s = float(self.base_ns // 10**9 % 3600)
            self._known(1e9)
        return (ns - (self.base_ns or 0)) / 1e9, good

    def _beside(self, table: pa.Table) -> FloatArray | float:
        """Seconds that columns beside the clock's own add to it."""
        clock = self.plan.time

        def numbers(column: int) -> FloatArray:
            return np.asarray(flat(table.column(f"c{column}")).to_numpy(zero_copy_only=False), float)

        out: FloatArray | float = 0.0
        for column, each in clock.pieces:
            out = out + numbers(column) * each
        if clock.day_columns:
            out = out + days_s([numbers(c) for c in clock.day_columns])
        if clock.form == "number" and clock.date_column is not None:
            days, dated = read_text(flat(table.column(f"c{clock.date_column}")), "date", clock.order)
            out = out + np.where(dated, days / 1e9, np.nan)
        return out

    def _known(self, unit_ns: float) -> None:
        """Tell the line which readings are of a clock that has been set."""
        setting = self.line.setting
        if self.plan.time.absolute:
            assert self.base_ns is not None
            setting.low, setting.high = ((ns - self.base_ns) / unit_ns for ns in (KNOWN_FROM_NS, KNOWN_TO_NS))
        else:
            setting.high = YEAR_S * 1e9 / unit_ns

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
                times = spread(times, int(begun))[:count]
            arrays = self._converted(table)
        if not times.size:
            return
        if self.fresh:
            self.fresh = False
            if self.first_s is None:
                self.first_s = float(times[0])
            self.origin_s, self.last_s = float(times[0]), -1.0
            yield Begin(self.origin_s, self.why, self.resets, witness, self.line.moved_s(self.origin_s))
        coarse = abs(self.origin_s) > 1e5 or (self.base > 1e4 and self.plan.time.per_second <= 1)
        relative = np.round(times - self.origin_s, 6 if coarse else 9)  # no finer than the clock's own digits
        ahead = np.diff(relative, prepend=self.last_s)
        if (ahead <= 0).any():  # what is still out of order moves up by microseconds
            steps = 1e-6 * np.arange(relative.size)
            relative = np.maximum.accumulate(np.maximum(relative - steps, self.last_s + 1e-6)) + steps
        self.last_s = float(relative[-1])
        if self.last_s > LONGEST_FLIGHT_S:
            raise Refusal(
                self.plan.source,
                ReadRefused.TOO_LONG,
                column=self._clock_heading(),
                hours=self.last_s / 3600,
            )
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
        if column.degrees:
            values = pa.chunked_array([degrees.read(flat(values), column.degrees)])
        if column.endings:
            values = pa.chunked_array([self._in_units(flat(values), f"c{column.column}", column, self.cells)])
        if column.sign < 0:
            return values
        negative = pc.is_in(table.column(f"c{column.sign}"), pa.array(["S", "W"]))
        return pc.if_else(negative, pc.negate(values), values)

    def _long(self, times: FloatArray, table: pa.Table) -> tuple[FloatArray, list[pa.Array]]:
        """One row a stamp, and one column a sensor in the type and unit of its channel."""
        assert self.plan.long is not None
        names = pa.array([c.heading for c in self.kept], pa.string())
        codes = [codes_of(chunk, names) for chunk in table.column(f"c{self.plan.long.sensor}").chunks]
        values = flat(table.column(f"c{self.plan.long.value}"))
        stamps, columns = pivot(times, np.concatenate(codes), values, len(self.kept))
        out = []
        for column, (array, at) in zip(self.kept, columns, strict=bool(columns)):
            typed = self._typed(array, column)
            typed = typed if at is None else typed.take(at)
            out.append(_convert(typed, column.factor) if column.kind == "number" else typed)
        return stamps, out

    def _typed(self, values: pa.Array, column: ColumnPlan) -> pa.Array:
        """Values of one sensor of a long table, in the type of its channel."""
        if pa.types.is_floating(values.type):
            return values
        notes = CellNotes()
        if column.endings:
            out = self._in_units(values, column.heading, column, notes)
        else:
            out = Cells(self.plan.dialect, [], notes).lenient(values, column.heading, column.kind)
        if column.heading in notes.unread:
            before, cell = self.unread.get(column.heading, (0, notes.unread_first[column.heading][0]))
            self.unread[column.heading] = (before + notes.unread[column.heading], cell)
        return out

    def _in_units(self, values: pa.Array, name: str, column: ColumnPlan, notes: CellNotes) -> pa.Array:
        """Numbers with units of one kind behind them, in the first of these units."""
        out, left = pa.nulls(len(values), pa.float64()), values
        for unit, factor in column.endings:
            mine = pc.fill_null(pc.match_substring_regex(left, rf"[\d.,]\s*{re.escape(unit)}\s*$"), False)
            own = pc.if_else(mine, left, pa.scalar(None, pa.string()))
            read = Cells(self.plan.dialect, [], notes, {name: unit}).lenient(own, name, "number")
            out = pc.coalesce(out, _convert(read, factor))
            left = pc.if_else(mine, pa.scalar(None, pa.string()), left)
        left = Cells(self.plan.dialect, [], notes).lenient(left, name, "text")
        notes.count(left, pc.is_valid(left), name)
        return out

    def _clock_heading(self) -> str | None:
        column = self.plan.time.column
        return None if column == NO_COLUMN else self.plan.dialect.headings[column]

    def notices(self) -> list[Text]:
        """What was mended or left out so far."""
        out: list[Text] = [say(what, rows=n) for what, n in self.line.notes.items()]
        if self.cells.ragged:
            lines = tuple(sorted(self.cells.ragged_at))
            out.append(say(ReadCode.RAGGED, rows=self.cells.ragged, lines=lines))
        if self.text.cut_line:
            out.append(say(ReadCode.CUT_LINE, line=self.text.cut_line))
        counts = {ReadCode.MERGED: self.merged, ReadCode.OF_OTHERS: self.strangers}
        out += [say(code, rows=rows) for code, rows in counts.items() if rows]
        if self.alone:
            out.append(say(ReadCode.ALONE, rows=self.alone, seconds=self.line.gap_s))
        if self.untimed:
            out.append(say(ReadCode.UNTIMED, rows=self.untimed))
        headings = self.plan.dialect.headings
        for name, count in self.cells.unread.items():
            at = int(name[1:])
            if at != self.plan.time.column:
                heading = headings[at] if at < len(headings) else name
                cell, line = self.cells.unread_first[name]
                out.append(say(ReadCode.UNREAD_CELLS, cells=count, column=heading, first=cell, line=line))
        for sensor, (count, cell) in self.unread.items():
            out.append(say(ReadCode.UNREAD_VALUES, cells=count, sensor=sensor, first=cell))
        if self.text.nul_bytes:
            out.append(say(ReadCode.ZERO_BYTES, bytes=self.text.nul_bytes))
        if self.text.undecodable:
            out.append(say(ReadCode.UNDECODED, characters=self.text.undecodable))
        if self.text.cut_short:
            out.append(say(ReadCode.DAMAGED_ARCHIVE))
        return out


def _content(table: pa.Table, rows: Rows) -> npt.NDArray[np.uint64]:
    """A number for the content of each of some rows."""
    import pandas as pd

    return np.asarray(pd.util.hash_pandas_object(table.take(pa.array(rows)).to_pandas(), index=False), np.uint64)


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
