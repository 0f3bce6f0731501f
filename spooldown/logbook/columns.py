"""Tables over all flights as Parquet files beside the logbook, extended flight by flight and never the only copy.

Each table is kept in a few files. New rows become a file of their own; a file that is not at least twice as large as
what follows it is put together with it, so that there are never more than a dozen, and a row is rewritten only as often
as the logbook doubles. ``index.json`` names the files that count and is replaced whole. A flight's newest rows stand
for it. What is missing or does not read is made again from the flights' results.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import time
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from analyser.core.tables import spare_pandas
from spooldown.logbook.plain import plain

spare_pandas()

IntArray = npt.NDArray[np.intp]

FOLDER = "columns"
ENDING = ".parquet"
INDEX = "index.json"
FORMAT = "spooldown columns 4"
FLIGHT = "flight"
"""Column that every table has: the flight's id."""
GROUP_ROWS = 1 << 14
"""Rows that are read together: a few flights out of ten thousand are found without reading the rest."""
STALE_S = 3600.0
"""A file that no index names may be another writer's; after so long it is nobody's."""

COUNTS: Mapping[str, Sequence[tuple[str, pa.DataType]]] = {
    "engines": [
        ("name", pa.string()),
        ("minutes", pa.float64()),
        *((name, pa.int32()) for name in ("starts", "failed_starts")),
    ],
    "packs": [
        ("name", pa.string()),
        *((f"{when}_{end}", pa.float64()) for when in ("before", "after") for end in ("low", "percent", "high")),
        *((name, pa.int32()) for name in ("own", "let_down", "carried", "untold", "packs", "judged", "bus_logged")),
    ],
    "counted": [("kind", pa.string()), ("subject", pa.string()), ("times", pa.int32())],
}
"""What a flight adds to the counts over engines', packs' and events' lives, a list of these a flight."""

SCHEMAS: Mapping[str, pa.Schema] = {
    # One row a flight: what its results were made from, and what counts over flights.
    "flights": pa.schema(
        [
            (FLIGHT, pa.string()),
            ("aircraft", pa.string()),
            ("utc_start", pa.timestamp("us", "UTC")),
            ("stamp", pa.binary(32)),
            ("facts", pa.string()),
            ("shown", pa.binary(16)),
            ("base", pa.binary(32)),
            ("own", pa.binary(32)),
            ("around", pa.binary(32)),
            ("result", pa.binary(32)),
            ("key", pa.binary(32)),
            ("level", pa.int8()),
            ("airborne_s", pa.float64()),
            ("burned_ml", pa.float64()),
            ("burn_ml_per_min", pa.float64()),
            ("lowest_v", pa.float64()),
            ("fades", pa.float64()),
            ("farthest_m", pa.float64()),
            *((name, pa.list_(pa.struct(cells))) for name, cells in COUNTS.items()),  # nested ones come last
        ]
    ),
    # One row a figure of a part in a flight (analyser.programme.measures).
    "figures": pa.schema(
        [
            (FLIGHT, pa.string()),
            ("aircraft", pa.string()),
            ("utc_start", pa.timestamp("us", "UTC")),
            ("measure", pa.string()),
            ("part", pa.string()),
            ("thing", pa.string()),
            ("value", pa.float64()),
            ("low", pa.float64()),
            ("high", pa.float64()),
            ("unit", pa.string()),
            ("method", pa.string()),
            ("doubtful", pa.bool_()),
        ]
    ),
    # Of those, what an engine, a pack or an airframe ran: counted over all flights.
    "runs": pa.schema(
        [
            (FLIGHT, pa.string()),
            ("aircraft", pa.string()),
            ("utc_start", pa.timestamp("us", "UTC")),
            ("measure", pa.string()),
            ("part", pa.string()),
            ("thing", pa.string()),
            ("value", pa.float64()),
        ]
    ),
    "events": pa.schema(
        [
            (FLIGHT, pa.string()),
            ("aircraft", pa.string()),
            ("utc_start", pa.timestamp("us", "UTC")),
            ("kind", pa.string()),
            ("subject", pa.string()),
            ("level", pa.int8()),
            ("start_s", pa.float64()),
            ("end_s", pa.float64()),
            ("depth", pa.float64()),
            ("depth_unit", pa.string()),
        ]
    ),
    # One row a direction that an antenna was seen from in a flight: 15° of azimuth, an eighth of the sphere's height.
    "antennas": pa.schema(
        [
            (FLIGHT, pa.string()),
            ("aircraft", pa.string()),
            ("utc_start", pa.timestamp("us", "UTC")),
            ("layout", pa.string()),
            ("antenna", pa.string()),
            ("azimuth_deg", pa.float32()),
            ("sin_elevation", pa.float32()),
            ("seconds", pa.float32()),
            ("lost", pa.float32()),
            ("level_db", pa.float32()),
        ]
    ),
}
"""Columns of each table."""

_AGAIN = {
    *("facts", "aircraft", "measure", "part", "thing", "unit", "kind", "subject", "depth_unit", "layout", "antenna"),
}
"""Columns of words that come again and again, as a flight's id does where it has many rows."""


def _coded(table: str) -> list[str]:
    """What is written coded of a table, and may be read so, as Parquet names it."""
    again = _AGAIN if table == "flights" else {FLIGHT, *_AGAIN}
    nested = [
        f"{name}.list.element.{cell}" for name, cells in COUNTS.items() for cell, kind in cells if kind == pa.string()
    ]
    return [name for name in SCHEMAS[table].names if name in again] + (nested if table == "flights" else [])


class Columns:
    """The tables of one logbook.

    Parameters
    ----------
    folder : Path
        The logbook's; the tables are in ``columns/`` in it.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder / FOLDER
        self._index = _index(self.folder)
        self._verified: set[str] = set()

    def read(
        self,
        table: str,
        columns: Collection[str] | None = None,
        *,
        where: Mapping[str, Collection[str]] | None = None,
        coded: bool = False,
    ) -> pa.Table:
        """Read a table, or some of its columns and rows.

        Parameters
        ----------
        table : str
            One of :data:`SCHEMAS`.
        columns : collection of str or None
            Only these, and the flight's id.
        where : mapping of str to collection of str
            Only rows whose column holds one of some values.
        coded : bool
            Words that come again and again stay numbers with a dictionary, as :func:`words_of` takes them: half the
            time and memory of texts.

        Raises
        ------
        OSError, ValueError
            If a file is missing or damaged: the tables are then to be made again.
        """
        schema = SCHEMAS[table]
        wanted = None if columns is None else list(dict.fromkeys([FLIGHT, *columns]))
        picked = schema if wanted is None else pa.schema([schema.field(name) for name in wanted])
        parts: list[pa.Table] = []
        newer = pa.array([], pa.string())
        names = self._index.get(table, [])
        for at, name in reversed(list(enumerate(names))):
            path = self.folder / name
            if table == "flights" and name not in self._verified:
                self.verify(name)  # what says whether all the rest is up to date
            found = _read(path, schema, wanted, where or {}, _coded(table) if coded else ())
            if len(newer) and pc.any(replaced := pc.is_in(found.column(FLIGHT), newer)).as_py():
                found = found.filter(pc.invert(replaced))
            parts.append(found.select(picked.names))
            if at:
                newer = pa.concat_arrays([newer, self._ids(path)])
        return pa.concat_tables(reversed(parts)) if parts else picked.empty_table()

    def extend(
        self,
        rows: Mapping[str, Iterable[Mapping[str, Any]] | pa.Table],
        keep: Collection[str] | None = None,
        whole: Collection[str] | None = None,
    ) -> None:
        """Add rows of flights to the tables; a flight's earlier rows no longer count.

        Parameters
        ----------
        rows : mapping of str to iterable of mapping, or to pyarrow.Table
            By table. Every flight that has rows in one table has its row in ``flights``.
        whole : collection of str or None
            Flights whose rows in the other tables are new too, all where ``None``; of the rest those stay.
        keep : collection of str or None
            Flights that there are; rows of others are left out where files are put together.

        Raises
        ------
        OSError, ValueError
            If the tables cannot be written, or those there do not read; they are then as they were.
        """
        made = {table: _table(rows.get(table, ()), schema) for table, schema in SCHEMAS.items()}
        self.folder.mkdir(exist_ok=True)  # never the logbook's own, which may have gone
        ids = _flat(made["flights"].column(FLIGHT))
        others = ids if whole is None else pa.array(sorted(whole), pa.string())
        index = {table: list(self._index.get(table, [])) for table in SCHEMAS}
        for table, new in made.items():
            # A flight that has no rows of this kind any more must not be spoken for by older ones: its id is stored.
            told = ids if table == "flights" else others
            if len(told):
                index[table] = self._extended(table, index[table], new, told, keep)
        told = {"format": FORMAT, **index, "sum": _sum(index)}
        _replace(self.folder / INDEX, json.dumps(told, indent=0).encode())
        self._index = index
        self._sweep()

    def verify(self, name: str) -> None:
        """Hold a file against the hash in its name.

        Raises
        ------
        OSError, ValueError
            If it is not there, or not what was written.
        """
        if _digest(self.folder / name) != name.removesuffix(ENDING).rpartition("-")[2]:
            raise ValueError(f"{name} is not what was written")
        self._verified.add(name)

    def files(self, table: str) -> tuple[str, ...]:
        """Names of the files that count, oldest first."""
        return tuple(self._index.get(table, ()))

    def forget(self) -> None:
        """Take all tables for missing: they do not read."""
        self._index = {}

    def _extended(
        self, table: str, names: list[str], new: pa.Table, told: pa.Array, keep: Collection[str] | None
    ) -> list[str]:
        size = len(new) + len(told)
        kept = pa.array(sorted(keep), pa.string()) if keep is not None else None
        while names:
            path = self.folder / names[-1]
            older = self._ids(path)
            if pq.read_metadata(path).num_rows + len(older) >= 2 * size:
                break
            old = _read(path, SCHEMAS[table], None, {})
            old = old.filter(pc.invert(pc.is_in(old.column(FLIGHT), told)))
            if kept is not None:
                old = old.filter(pc.is_in(old.column(FLIGHT), kept))
                older = older.filter(pc.is_in(older, kept))
            new = pa.concat_tables([old, new])
            told = pc.unique(pa.concat_arrays([older, told]))
            size = len(new) + len(told)
            names = names[:-1]
        # Sorted by aircraft, so that what one aircraft's statistics read lies together.
        new = new.sort_by([("aircraft", "ascending"), (FLIGHT, "ascending")])
        new = new.replace_schema_metadata({"flights": json.dumps(told.to_pylist())})
        part = self.folder / f"{table}-{secrets.token_hex(6)}.part"
        try:
            pq.write_table(
                new, part, compression="zstd", row_group_size=GROUP_ROWS, write_page_checksum=True, store_schema=True,
                use_dictionary=_coded(table),
            )  # fmt: skip
            name = f"{table}-{_digest(part)}{ENDING}"
            os.replace(part, self.folder / name)
        except BaseException:
            with suppress(OSError):
                part.unlink()
            raise
        self._verified.add(name)
        return [*names, name]

    def _ids(self, path: Path) -> pa.Array:
        """Every flight that a file speaks for, those without rows in it among them."""
        told = pq.read_schema(plain(path)).metadata[b"flights"]
        return pa.array(json.loads(told), pa.string())

    def _sweep(self) -> None:
        live = {name for names in self._index.values() for name in names} | {INDEX}
        for entry in os.scandir(self.folder):
            if entry.name not in live:
                with suppress(OSError):
                    if time.time() - entry.stat().st_mtime > STALE_S:
                        os.unlink(entry.path)


def _read(
    path: Path,
    schema: pa.Schema,
    columns: Sequence[str] | None,
    where: Mapping[str, Collection[str]],
    coded: Sequence[str] = (),
) -> pa.Table:
    """Read a file, or those of its rows whose columns hold one of some values.

    ``pyarrow.parquet.read_table`` with filters says the same and loads ``pyarrow.dataset`` with its file systems:
    every command would wait for it.

    Raises
    ------
    OSError, ValueError
        If it does not read, or holds other columns.
    """
    wanted = list(schema.names if columns is None else columns)
    sought = {name: (min(values, default=""), max(values, default="")) for name, values in where.items()}
    among = {name: pa.array(sorted(values), pa.string()) for name, values in where.items()}
    with pq.ParquetFile(plain(path), page_checksum_verification=True, read_dictionary=coded) as file:
        if file.schema_arrow.names != schema.names:
            raise ValueError(f"{path.name} holds other columns")
        # Coded words in lists are read by groups only: Arrow cannot put several groups' words together as it reads.
        parts = []
        for group in range(file.metadata.num_row_groups):
            found = file.metadata.row_group(group)
            ends = {name: found.column(schema.get_field_index(name)).statistics for name in sought}
            if any(e and e.has_min_max and (e.max < sought[n][0] or e.min > sought[n][1]) for n, e in ends.items()):
                continue
            # Files are sorted by aircraft: of most groups all rows are one's.
            alike = {n: e.min for n, e in ends.items() if e and e.has_min_max and not e.null_count and e.min == e.max}
            if any(word not in where[name] for name, word in alike.items()):
                continue
            asked = [name for name in among if name not in alike]
            rows = file.read_row_group(group, list(dict.fromkeys([*wanted, *asked])), use_threads=False)
            for name in asked:
                rows = rows.filter(pc.is_in(rows.column(name), among[name]))
            parts.append(rows.select(wanted))
        empty = pa.schema([file.schema_arrow.field(name) for name in wanted]).empty_table()
    return pa.concat_tables([empty, *(p.replace_schema_metadata(None) for p in parts)])


def words_of(cells: pa.Array | pa.ChunkedArray) -> tuple[list[str], IntArray]:
    """The different words of a column, read as texts or coded, and which of them each row has."""
    whole = cells.combine_chunks() if isinstance(cells, pa.ChunkedArray) else cells
    told = whole if pa.types.is_dictionary(whole.type) else whole.dictionary_encode()
    return told.dictionary.to_pylist(), told.indices.to_numpy().astype(np.intp)


def _table(rows: Iterable[Mapping[str, Any]] | pa.Table, schema: pa.Schema) -> pa.Table:
    return (
        rows.select(schema.names).cast(schema)
        if isinstance(rows, pa.Table)
        else pa.Table.from_pylist(list(rows), schema)
    )


def _digest(path: Path) -> str:
    """First half of a file's SHA-256."""
    with plain(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:32]


def _flat(ids: pa.Array | pa.ChunkedArray) -> pa.Array:
    found = pc.unique(ids)
    return found.combine_chunks() if isinstance(found, pa.ChunkedArray) else found


def _index(folder: Path) -> dict[str, list[str]]:
    try:
        found = json.loads(plain(folder / INDEX).read_text("utf-8"))
        if found.pop("format") != FORMAT or found.pop("sum", None) != _sum(found):
            return {}
        return {
            table: [name for name in found[table] if isinstance(name, str) and "/" not in name and "\\" not in name]
            for table in SCHEMAS
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}  # the tables are made again


def _sum(index: Mapping[str, Sequence[str]]) -> str:
    return hashlib.sha256(json.dumps(index, sort_keys=True).encode()).hexdigest()[:16]


def _replace(path: Path, data: bytes) -> None:
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(data)
        os.replace(part, path)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


def damaged(folder: Path) -> Sequence[str]:
    """Tables of a logbook whose files are missing or do not read back, by name."""
    columns = Columns(folder)
    index = columns.folder / INDEX
    out = [INDEX] if index.is_file() and not columns.files("flights") and not _of_another_version(index) else []
    for table in SCHEMAS:
        try:
            for name in columns.files(table):
                columns.verify(name)
        except (OSError, ValueError):
            out.append(table)
    return out


def _of_another_version(index: Path) -> bool:
    """Whether another version of this program wrote the tables: they are made again, and nothing is damaged."""
    with suppress(OSError, ValueError, AttributeError):
        said = str(json.loads(plain(index).read_text("utf-8")).get("format"))
        return said != FORMAT and said.startswith(FORMAT.rstrip("0123456789"))
    return False


def drop(folder: Path) -> None:
    """Take a logbook's tables out: they are made again from the flights' results."""
    with suppress(OSError):
        (folder / FOLDER / INDEX).unlink()
