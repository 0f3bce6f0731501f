"""One flight's telemetry file: written batch by batch in bounded memory, on the disk before anyone relies on it."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from datetime import datetime
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
from msgspec import Struct

from analyser.core.channels import TIME
from analyser.core.findings import Text, say
from analyser.core.telemetry import Telemetry
from spooldown.logbook import texts
from spooldown.logbook.flight import DamagedFile
from spooldown.logbook.plain import plain

if TYPE_CHECKING:
    from importers.model import FlightDraft
    from spooldown.logbook.flight import Source

CHUNK_BYTES = 16 << 20
"""Batches are gathered to about this size before they are written: one row group each. Twice as much at once takes a
fifth more memory on the way and saves a thirtieth of the file."""

FORMAT = "spooldown telemetry 1"


class Written(Struct, frozen=True):
    """What went into a telemetry file."""

    rows: int
    duration_s: float
    channels: tuple[str, ...]
    sha256: str


def _chunks(batches: Iterable[pa.RecordBatch], schema: pa.Schema) -> Iterator[pa.Table]:
    held: list[pa.RecordBatch] = []
    size = 0
    for batch in batches:
        held.append(batch)
        size += batch.nbytes
        if size >= CHUNK_BYTES:
            yield pa.Table.from_batches(held, schema)
            held, size = [], 0
    if held:
        yield pa.Table.from_batches(held, schema)


def write_flight(
    path: Path,
    draft: FlightDraft | EncodedDraft,
    *,
    flight_id: str,
    aircraft: str,
    sources: Sequence[Source],
    imported_at: str,
    more: Mapping[str, str],
) -> Written:
    """Stream a flight into a Parquet file (LZ4) that says all of it, and wait for the disk.

    Reading the next batches and compressing the last ones overlap in two threads; at most two chunks are held.
    """

    def metadata() -> dict[str, str]:  # complete once the batches have been read
        return file_metadata(
            flight_id=flight_id,
            aircraft=aircraft,
            utc_start=draft.utc_start,
            sources=sources,
            imported_at=imported_at,
            part=draft.part,
            notices=draft.notices,
            more={**more, **draft.metadata},
        )

    if isinstance(draft, EncodedDraft):
        return draft.write(path, metadata())
    writer = _Writer(path, draft.schema)
    try:
        writer.consume(draft.batches)
    except BaseException:
        writer.close({})
        path.unlink(missing_ok=True)
        raise
    writer.close(metadata())
    flush_file(path)
    return Written(writer.rows, writer.last_s, writer.channels(), file_sha256(path))


class EncodedDraft(Struct, frozen=True):
    """A flight on its way to the logbook whose telemetry file is there in memory, but for what its footer says of it.

    Any process can make it; only the one writer knows the flight's id. The other fields are those of a
    :class:`~importers.model.FlightDraft`.
    """

    body: bytes
    schema: pa.Schema
    rows: int
    duration_s: float
    channels: tuple[str, ...]
    utc_start: datetime | None
    part: int
    metadata: Mapping[str, str]
    notices: Sequence[Text]

    @classmethod
    def of(cls, draft: FlightDraft, batches: Iterable[pa.RecordBatch]) -> EncodedDraft:
        """Encode a draft whose batches have been read."""
        sink = pa.BufferOutputStream()
        writer = _Writer(sink, draft.schema)
        writer.consume(batches)
        writer.close({})
        return cls(
            sink.getvalue().to_pybytes(),
            writer.schema,
            writer.rows,
            writer.last_s,
            writer.channels(),
            draft.utc_start,
            draft.part,
            draft.metadata,
            draft.notices,
        )

    def write(self, path: Path, metadata: Mapping[str, str]) -> Written:
        """Write the file, byte for byte as it would have been streamed, and wait for the disk."""
        data = self._with_footer(metadata)
        with path.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        return Written(self.rows, self.duration_s, self.channels, hashlib.sha256(data).hexdigest())

    def _with_footer(self, metadata: Mapping[str, str]) -> bytes:
        # A Parquet file ends with its footer, the footer's length in four bytes and a mark of four (Apache Parquet,
        # "File Format"). The footer of a file without rows takes the row groups of this one over, where they stand.
        empty, whole = pa.BufferOutputStream(), pa.BufferOutputStream()
        _Writer(empty, self.schema).close(metadata)
        footer = pq.read_metadata(pa.BufferReader(empty.getvalue()))
        footer.append_row_groups(pq.read_metadata(pa.BufferReader(self.body)))
        footer.write_metadata_file(whole)
        length = int.from_bytes(self.body[-8:-4], "little")
        return b"".join([self.body[: -8 - length], memoryview(whole.getvalue())[len(b"PAR1") :]])


class _Writer:
    def __init__(self, sink: Path | pa.BufferOutputStream, schema: pa.Schema) -> None:
        self.schema = schema.remove_metadata()
        # Without the Arrow schema blob, pandas, duckdb and we all read the same plain key-value metadata.
        # LZ4 reads in a third of zstd's time, and writes in two thirds; files of short flights are a quarter larger.
        self._file = pq.ParquetWriter(sink, self.schema, compression="lz4", store_schema=False)
        self.rows = 0
        self.last_s = 0.0
        self.filled = np.zeros(len(schema), bool)

    def consume(self, batches: Iterable[pa.RecordBatch]) -> None:
        chunks = _chunks(batches, self.schema)
        first, second = next(chunks, None), next(chunks, None)
        if first is not None and second is None:  # as nearly every flight: a thread has nothing to overlap with
            self._note(first)
            self._file.write_table(first)
            return
        with ThreadPoolExecutor(1) as pool:
            pending: Future[None] | None = None
            for chunk in chain((c for c in (first, second) if c is not None), chunks):
                self._note(chunk)
                if pending is not None:
                    pending.result()
                pending = pool.submit(self._file.write_table, chunk)
            if pending is not None:
                pending.result()

    def _note(self, chunk: pa.Table) -> None:
        self.rows += len(chunk)
        if len(chunk):
            self.last_s = float(chunk.column(TIME)[-1].as_py())
        self.filled |= [column.null_count < len(column) for column in chunk.columns]

    def close(self, metadata: Mapping[str, str]) -> None:
        """Write the footer, with this metadata in it."""
        if metadata:
            self._file.add_key_value_metadata(dict(metadata))
        self._file.close()

    def channels(self) -> tuple[str, ...]:
        """Names of the columns that hold something."""
        return tuple(n for n, some in zip(self.schema.names, self.filled, strict=True) if some and n != TIME)


def flush_file(path: Path) -> None:
    """Wait until a file's bytes are on the disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def flush_folder(path: Path) -> None:
    """Wait until a folder's entries are on the disk, where the system has such a thing."""
    if os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_whole(path: Path, data: bytes) -> None:
    """Write a small file so that a crash leaves either the old one or the new one.

    A link is followed; what is no file (a pipe, a device) is written to, not replaced.
    """
    path = path.resolve()
    if path.exists() and not path.is_file() and not path.is_dir():
        path.write_bytes(data)
        return
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    flush_folder(path.parent)


class Described(Struct, frozen=True):
    """What a telemetry file says of itself: enough for its row in the catalogue."""

    metadata: Mapping[str, str]
    rows: int
    duration_s: float
    channels: tuple[str, ...]
    sha256: str

    @property
    def utc_start(self) -> datetime | None:
        """When it began, None where its file does not say."""
        start = self.metadata.get("utc_start", "")
        return datetime.fromisoformat(start) if start else None

    @property
    def local_start(self) -> str:
        """Day, or day and time, by the log's own clock."""
        return self.metadata.get("local_start") or self.metadata.get("local_day", "")

    @property
    def source(self) -> str:
        """Name of the log it came from."""
        return self.metadata.get("source", "")

    @property
    def part(self) -> int:
        """Which flight of its log it is, from 1."""
        text = self.metadata.get("part", "1")
        return int(text) if text.isdecimal() else 1

    @property
    def notices(self) -> list[Text]:
        """What the importer noted of it."""
        with suppress(ValueError, KeyError, TypeError):
            return list(texts.from_json(self.metadata.get("notices", "[]")))
        return []

    @property
    def sources(self) -> list[tuple[str, str, int]]:
        """Content hash, name and size of each log it was read from; size 0 where an older version did not say."""
        digests = self.metadata.get("source_sha256", "").split()
        names = [str(n) for n in _json_list(self.metadata.get("source_names", ""))]
        sizes = [s if isinstance(s, int) else 0 for s in _json_list(self.metadata.get("source_bytes", ""))]
        names += [self.source if not n else f"{self.source} (file {n + 1})" for n in range(len(names), len(digests))]
        sizes += [0] * (len(digests) - len(sizes))
        return list(zip(digests, names, sizes, strict=False))


def _json_list(text: str) -> list[object]:
    try:
        found = json.loads(text)
    except ValueError:
        return []
    return found if isinstance(found, list) else []


def describe(path: Path) -> Described:
    """Read what a telemetry file says of itself, and its hash.

    Raises
    ------
    OSError, ValueError
        If it does not read.
    """
    with pq.ParquetFile(plain(path)) as file:
        said = file.metadata
        filled = []
        for column in range(said.num_columns):
            groups = [said.row_group(g).column(column) for g in range(said.num_row_groups)]
            empty = sum(g.statistics.null_count or 0 for g in groups if g.statistics) if groups else 0
            if empty < said.num_rows:
                filled.append(groups[0].path_in_schema)
        groups_with_rows = [g for g in range(said.num_row_groups) if said.row_group(g).num_rows]
        times = file.read_row_group(groups_with_rows[-1], [TIME]).column(TIME) if groups_with_rows else None
        metadata = {k.decode(): v.decode() for k, v in (said.metadata or {}).items() if k != b"ARROW:schema"}
    return Described(
        metadata=metadata,
        rows=said.num_rows,
        duration_s=float(times[-1].as_py()) if times is not None else 0.0,
        channels=tuple(n for n in filled if n != TIME),
        sha256=file_sha256(path),
    )


def file_sha256(path: Path) -> str:
    """Hash of a file's bytes."""
    with plain(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


THREADS_FROM_BYTES = 4_000_000


def read_telemetry(place: Path | str, sha256: str) -> Telemetry:
    """Read a telemetry file back, after making sure that its bytes are the ones that were stored.

    Parameters
    ----------
    place : Path or str
        Its path, or its address on object storage.

    Raises
    ------
    OSError
        If it cannot be read.
    DamagedFile
        If its bytes hash to something else, or do not read.
    """
    if isinstance(place, str):
        from spooldown.addresses import read_bytes

        data = read_bytes(place)
    else:
        data = plain(place).read_bytes()
    # The very bytes that are hashed are read: no other file can slip in between.
    if hashlib.sha256(data).hexdigest() != sha256:
        raise DamagedFile(say("logbook.bytes_differ"))
    try:
        # Not `read_table`: it loads half of pyarrow first. Threads cost more than they save in all but long logs.
        table = pq.ParquetFile(pa.BufferReader(data)).read(use_threads=len(data) > THREADS_FROM_BYTES)
        metadata = {k.decode(): v.decode() for k, v in (table.schema.metadata or {}).items()}
        start = metadata.get("utc_start", "")
        return Telemetry(
            table.replace_schema_metadata(None), datetime.fromisoformat(start) if start else None, metadata
        )
    except (ValueError, OSError) as error:
        raise DamagedFile(str(error)) from error


FEWEST_ALIKE = 50
"""Rows that must be the same before one log is taken for a copy of another."""


def beginning(path: Path) -> dict[str, bytes]:
    """What a flight's first rows are, a digest a column; nothing where there are too few to tell by."""
    with pq.ParquetFile(plain(path)) as file:
        if file.metadata.num_rows <= FEWEST_ALIKE:
            return {}
        first = next(file.iter_batches(batch_size=FEWEST_ALIKE))
    return {
        name: hashlib.sha256(repr(column.to_pylist()).encode()).digest()
        for name, column in zip(first.schema.names, first.columns, strict=True)
    }


def same_beginning(one: Path, other: Path) -> bool:
    """Whether the shorter of two telemetry files holds what the longer one begins with.

    The times and every column of the shorter one are compared, but for the last row, half of which a copy cut off may
    have lost; something besides the clock must change in them, or nothing is told.
    """
    with pq.ParquetFile(plain(one)) as a, pq.ParquetFile(plain(other)) as b:
        rows = min(a.metadata.num_rows, b.metadata.num_rows) - 1
        short, long = (a, b) if a.metadata.num_rows <= b.metadata.num_rows else (b, a)
        shared = list(short.schema_arrow.names)
        if rows < FEWEST_ALIKE or TIME not in shared or not set(shared) <= set(long.schema_arrow.names):
            return False  # a column more is something new
        lively = False
        for name in (TIME, *(n for n in shared if n != TIME)):
            first, second = (f.read([name]).column(0).slice(0, rows).combine_chunks() for f in (a, b))
            if first.type != second.type or not first.equals(second):
                return False
            lively |= name != TIME and pc.count_distinct(first).as_py() > 5
    return lively


def file_metadata(
    *,
    flight_id: str,
    aircraft: str,
    utc_start: datetime | None,
    sources: Sequence[Source],
    imported_at: str,
    part: int,
    notices: Iterable[Text],
    more: Mapping[str, str],
) -> dict[str, str]:
    """Key-value metadata of a telemetry file, all plain text: enough to make its row in the catalogue again."""
    own = {
        "format": FORMAT,
        "flight_id": flight_id,
        "aircraft": aircraft,
        "utc_start": utc_start.isoformat() if utc_start else "",
        "source": sources[0].name,
        "source_sha256": " ".join(s.sha256 for s in sources),
        "source_names": json.dumps([s.name for s in sources], ensure_ascii=False),
        "source_bytes": json.dumps([s.size for s in sources]),
        "imported_at": imported_at,
        "part": str(part),
        "notices": texts.to_json(notices),
    }
    return {**{k: str(v) for k, v in more.items()}, **own}
