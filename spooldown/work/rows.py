"""What is kept of every flight in one table: what its results were made from, and what lists and counts need of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import orjson
import pyarrow as pa
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import FloatArray
from analyser.programme.histories import kinds_in
from analyser.season import counts
from analyser.season.counts import FlightTotals, Totals
from analyser.season.lineup import Facts
from spooldown.logbook.columns import COUNTS, FLIGHT, SCHEMAS, Columns, words_of

Counts: TypeAlias = Sequence[Mapping[str, Any]]
"""What a flight adds to some count, by the names in :data:`~spooldown.logbook.columns.COUNTS`."""
COUNTED = ("farthest_m", *COUNTS)
DIGESTS = frozenset(cell.name for cell in SCHEMAS["flights"] if pa.types.is_fixed_size_binary(cell.type))
"""Cells that are a digest: bytes in the table, hexadecimal digits in a row."""
TOGETHER = 32
"""So many rows that follow each other are read at once: who asks for one asks for its neighbours."""


class Row(Struct, frozen=True):
    """One flight as the table holds it.

    ``stamp`` is the digest of all that is stored and registered of it, ``facts`` are what decides which flights it
    counts with, ``shown`` is the digest of what its page says besides its result. ``base`` is the digest of what its
    result depends on but for what others teach, ``own`` the same with its limits and marks, ``around`` that of all that
    may teach it, ``result`` the key of its result by itself and ``key`` that of the result as shown.
    The last four are its part in every count; the lists among them only :meth:`Rows.whole` reads.
    """

    stamp: str
    facts: str
    shown: str
    base: str
    own: str
    around: str
    result: str
    key: str
    level: int
    airborne_s: float
    burned_ml: float | None
    burn_ml_per_min: float | None
    lowest_v: float | None
    fades: float | None
    farthest_m: float | None
    engines: Counts = ()
    packs: Counts = ()
    counted: Counts = ()


class Rows(Mapping[str, Row]):
    """The table's rows by flight, each made when it is asked for.

    Parameters
    ----------
    columns : Columns
        Where its files do not read, there are no rows, and all tables are to be made again.
    """

    def __init__(self, columns: Columns) -> None:
        self._columns = columns
        names = [name for name in Row.__struct_fields__ if name not in COUNTS]
        try:
            self._table = columns.read("flights", names, coded=True)
        except (OSError, ValueError):
            columns.forget()
            self._table = columns.read("flights", names, coded=True)
        self._taken: dict[int, list[Row]] = {}
        self._asked: tuple[Sequence[str], npt.NDArray[np.intp]] | None = None
        self._lists: pa.Table | None = None
        self._ids = self._table.column(FLIGHT).to_pylist()
        self._at = {flight_id: at for at, flight_id in enumerate(self._ids)}

    def __len__(self) -> int:
        return len(self._at)

    def __iter__(self) -> Iterator[str]:
        return iter(self._at)

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self._at

    def __getitem__(self, flight_id: str) -> Row:
        block, at = divmod(self._at[flight_id], TOGETHER)
        if block not in self._taken:
            cells = self._table.slice(block * TOGETHER, TOGETHER)
            self._taken[block] = list(map(Row, *(_told(cells.column(name), name) for name in cells.column_names[1:])))
        return self._taken[block][at]

    def whole(self, flight_id: str) -> Row:
        """One row with its lists."""
        if self._lists is None:
            self._lists = self._columns.read("flights", COUNTS)
        at = self._at[flight_id]
        return replace(self[flight_id], **{name: self._lists.column(name)[at].as_py() for name in COUNTS})

    def let_go(self) -> None:
        """Forget the lists that :meth:`whole` read; to be called before the tables are extended."""
        self._lists = None

    def coded(self, flight_ids: Sequence[str], name: str) -> tuple[list[str], npt.NDArray[np.intp]]:
        """The different texts of a cell of some flights' rows, and which each has; the last one is '': of no row."""
        texts, which = words_of(self._table.column(name))
        return [*texts, ""], np.append(which, len(texts))[self._places(flight_ids)]

    def digests(self, flight_ids: Sequence[str], name: str) -> npt.NDArray[np.uint64]:
        """A digest of some flights' rows as numbers, one row a flight, noughts where there is no row."""
        cells = self._table.column(name).combine_chunks()
        wide = cells.type.byte_width // 8
        words = np.zeros((len(cells) + 1, wide), np.uint64)
        if len(cells):
            words[:-1] = np.frombuffer(cells.buffers()[1], "<u8").reshape(-1, wide)[cells.offset :][: len(cells)]
        return words[self._places(flight_ids)]

    def numbers(self, flight_ids: Sequence[str], name: str) -> FloatArray:
        """A number of some flights' rows, NaN where there is none."""
        values = self._table.column(name).combine_chunks()
        return np.append(_numbers(values), np.nan)[self._places(flight_ids)]

    def _places(self, flight_ids: Sequence[str]) -> npt.NDArray[np.intp]:
        """Each flight's row, −1 where there is none; who asks for one cell of them asks for others."""
        if self._asked is None or self._asked[0] is not flight_ids:
            at = self._at
            self._asked = flight_ids, np.array([at.get(i, -1) for i in flight_ids], np.intp)
        return self._asked[1]

    def totals(self, flight_ids: Sequence[str], made: Mapping[str, Row]) -> Totals:
        """What flights add to every count; nothing is said of when they began.

        Parameters
        ----------
        made : mapping of str to Row
            Rows that stand for the kept ones.
        """
        kept = self._columns.read("flights", COUNTED, coded=True)
        lines = [{FLIGHT: i, **{name: getattr(row, name) for name in COUNTED}} for i, row in made.items()]
        found = totals_in(pa.concat_tables([kept, pa.Table.from_pylist(lines, kept.schema)]))
        at = {flight_id: n for n, flight_id in enumerate(found.flight_ids)}
        return found.among(np.array([at[i] for i in flight_ids], np.intp))


class Cells(Mapping[str, str]):
    """One cell of many flights' rows, read when it is asked for; what is set stands for it.

    Parameters
    ----------
    flight_ids : sequence of str
        Flights that have it; those without a row only once it is set.
    """

    def __init__(self, rows: Rows, name: str, flight_ids: Sequence[str]) -> None:
        self._rows, self._name, self._ids = rows, name, flight_ids
        self._set: dict[str, str] = {}

    def __len__(self) -> int:
        return len(self._ids)

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids)

    def __getitem__(self, flight_id: str) -> str:
        found = self._set.get(flight_id)
        return str(getattr(self._rows[flight_id], self._name)) if found is None else found

    def __setitem__(self, flight_id: str, cell: str) -> None:
        self._set[flight_id] = cell

    def copy(self) -> Cells:
        """The same, to be set otherwise."""
        out = Cells(self._rows, self._name, self._ids)
        out._set |= self._set
        return out


def totals_in(table: pa.Table) -> Totals:
    """Read flights' parts in every count."""
    return Totals(
        table.column(FLIGHT).to_pylist(),
        np.full(len(table), np.nan),
        _numbers(table.column("farthest_m").combine_chunks()),
        *(_counts(table.column(name).combine_chunks(), name) for name in COUNTS),
    )


def cells_of(row: Row) -> dict[str, Any]:
    """A row as the table takes it."""
    cells = {name: getattr(row, name) for name in Row.__struct_fields__}
    return cells | {name: bytes.fromhex(cells[name]) for name in DIGESTS}


def counts_out(totals: FlightTotals) -> dict[str, Any]:
    """Write a flight's part in every count as it is kept."""
    names = {name: [cell for cell, _ in cells] for name, cells in COUNTS.items()}
    engines = [dict(zip(names["engines"], cells, strict=True)) for cells in totals.engines]
    packs = [
        dict(zip(names["packs"], (name, *before, *after, *map(int, counts)), strict=True))
        for name, before, after, counts in totals.packs
    ]
    counted = [dict(zip(names["counted"], cells, strict=True)) for cells in totals.events]
    return {"farthest_m": totals.farthest_m, "engines": engines, "packs": packs, "counted": counted}


def _told(cells: pa.ChunkedArray, name: str) -> list[Any]:
    found = cells.to_pylist()
    return [digest.hex() for digest in found] if name in DIGESTS else found


def _numbers(array: pa.Array) -> FloatArray:
    return np.asarray(array.cast(pa.float64()).to_numpy(zero_copy_only=False), float)


def _counts(lists: pa.ListArray, what: str) -> counts.Rows:
    flight = np.repeat(np.arange(len(lists)), np.diff(lists.offsets.to_numpy()))
    cells = lists.flatten()
    words = [name for name, kind in COUNTS[what] if pa.types.is_string(kind)]
    kinds, which = kinds_in([words_of(cells.field(name)) for name in words])
    names: list[Any] = [kind[0] for kind in kinds] if len(words) == 1 else list(kinds)
    numbers = [_numbers(cells.field(name)) for name, _ in COUNTS[what] if name not in words]
    return counts.Rows(flight, names, which, np.column_stack(numbers))


def facts_out(facts: Facts) -> str:
    """Write a flight's facts as they are kept."""
    return orjson.dumps(facts[:]).decode()


def facts_in(text: str) -> Facts:
    """Read what :func:`facts_out` wrote."""
    aircraft, layout, packs, noted, charged, learns = orjson.loads(text)
    return Facts(aircraft, layout, tuple(packs), tuple(noted), tuple(charged), learns)
