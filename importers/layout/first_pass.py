"""A quick pass over a long file for what its first lines do not show: names that come late, columns that fill late."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct, field

from importers.layout.codes import LayoutRefused
from importers.layout.shapes import with_devices
from importers.meaning import units
from importers.model import Long
from importers.refusal import Refusal
from importers.table.cells import CellNotes, Cells
from importers.table.dialect import Dialect
from importers.table.prefetch import side_by_side
from importers.table.rows import rows
from importers.table.source import Source
from importers.table.text import Block, TextNotes
from importers.table.values import NULLS

SAMPLES = 400
"""Values of one column or sensor that are enough to judge it by."""


class Sensor(Struct):
    """A sensor of a long table: its unit as written, and some of its values."""

    unit: str = ""
    values: list[str] = field(default_factory=list)


def sensors(
    origin: Source, dialect: Dialect, long: Long, head: Sequence[Sequence[str]], whole: bool
) -> dict[str, Sensor]:
    """Every sensor a long table names.

    Parameters
    ----------
    head : sequence of sequence of str
        The columns of the file's first rows; where they are the ``whole`` file it is not read again.

    Raises
    ------
    Refusal
        If one sensor comes in two units.
    """
    wanted = [long.sensor, long.value, *([] if long.unit is None else [long.unit])]
    found: dict[str, Sensor] = {}
    first = pa.table({f"c{i}": pa.array([c or None for c in head[i]], pa.string()) for i in wanted})
    _learn(found, first, origin, dialect, long)
    if not whole:
        if long.unit is None:
            for block, table in _pass(origin, dialect, _names(long), "name"):
                names = with_devices(table, long).column(f"c{long.sensor}")
                if any(n not in found for chunk in names.chunks for n in chunk.dictionary.to_pylist()):
                    full = with_devices(_read(dialect, _names(long), block), long)
                    _learn(found, full, origin, dialect, long, block)
            return found
        for block, table in _pass(origin, dialect, [*_names(long), long.unit]):
            _learn(found, with_devices(table, long), origin, dialect, long, block)
    return found


def _names(long: Long) -> list[int]:
    """The columns that name a row's sensor."""
    return [long.sensor] if long.device is None else [long.device, long.sensor]


def _learn(
    found: dict[str, Sensor], table: pa.Table, origin: Source, dialect: Dialect, long: Long, block: Block | None = None
) -> None:  # fmt: skip
    """Take up the sensors of some rows; ``block`` is read again for the values of new ones."""
    by = [f"c{long.sensor}", *([] if long.unit is None else [f"c{long.unit}"])]
    pairs = table.select(by).group_by(by, use_threads=False).aggregate([]).to_pydict()
    fresh = []
    for sensor, unit in zip(
        pairs[by[0]], pairs[by[-1]] if long.unit is not None else [None] * len(pairs[by[0]]), strict=True
    ):
        if sensor is None or (not sensor):
            continue
        if sensor not in found:
            found[sensor] = Sensor()
            fresh.append(sensor)
        known = found[sensor].unit
        if unit and known and not units.same(known, unit):
            raise Refusal(
                origin.name,
                LayoutRefused.TWO_UNITS,
                line=block.line if block else None,
                column=dialect.headings[long.unit or 0],
                sensor=sensor,
                units=(known, unit),
            )
        found[sensor].unit = known or unit or ""
    if fresh and block is not None:
        table = with_devices(_read(dialect, [*_names(long), long.value], block), long)
    for sensor in fresh:
        own = table.column(f"c{long.value}").filter(pc.equal(table.column(by[0]), sensor))
        found[sensor].values = pc.drop_null(own)[:SAMPLES].to_pylist()


def takers(origin: Source, dialect: Dialect, by: int) -> list[str]:
    """Every receiver, pack or engine that a column names, in order of appearance."""
    found: dict[str, None] = {}
    for _, table in _pass(origin, dialect, [by]):
        found |= dict.fromkeys(pc.drop_null(table.column(f"c{by}").unique()).to_pylist())
    return list(found)


def late(origin: Source, dialect: Dialect, empty: Sequence[int]) -> dict[int, list[str]]:
    """Some values of the columns that are ``empty`` in the first lines; none for those that are empty throughout."""
    found: dict[int, list[str]] = {i: [] for i in empty}
    for _, table in _pass(origin, dialect, list(empty)):
        for i, values in found.items():
            column = table.column(f"c{i}")
            if len(values) < SAMPLES and column.null_count < len(column):
                values += [v for v in pc.drop_null(column)[: SAMPLES - len(values)].to_pylist() if v not in NULLS]
        if all(len(v) >= SAMPLES for v in found.values()):
            break
    return found


def _pass(
    origin: Source, dialect: Dialect, columns: Sequence[int], kind: str = "text"
) -> Iterator[tuple[Block, pa.Table]]:
    def each(block: Block) -> tuple[Block, pa.Table]:
        return block, _read(dialect, columns, block, kind)

    return side_by_side(each, rows(origin, dialect, TextNotes()))


def _read(dialect: Dialect, columns: Sequence[int], block: Block, kind: str = "text") -> pa.Table:
    kinds = [kind if i in columns else "skip" for i in range(len(dialect.headings))]
    return Cells(dialect, kinds, CellNotes()).read(block)
