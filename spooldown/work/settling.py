"""One flight as the whole logbook shows it, reduced to what is kept of it: in whatever process, from what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pyarrow as pa
from msgspec import Struct

from analyser.core.events import Level
from analyser.core.figures import FloatArray
from analyser.link.directions import DirectionBins
from analyser.link.sphere import bin_centres
from analyser.programme.measures import rows_of
from analyser.programme.service import RUNS
from analyser.record import FlightRecord
from analyser.season.brief import brief
from analyser.season.teaching import Corrections, with_corrections
from analyser.season.totals import totals_of
from analyser.sense import believable
from reports.headlines import level_of
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.columns import FLIGHT, SCHEMAS
from spooldown.work import kept
from spooldown.work.elsewhere import KeptFlight
from spooldown.work.prepared import judged
from spooldown.work.rows import counts_out


class Task(Struct, frozen=True):
    """What a process needs: where the flight's own result is, and what others teach it; ``key`` tells both."""

    flight: KeptFlight
    corrections: Corrections
    key: str


class Settled(Struct, frozen=True):
    """What a flight came to: cells of its row, and its rows of the tables that are kept for reading by others.

    ``key`` changes with anything that its result, as shown, depends on. ``tables`` holds the rows of each table in
    Arrow's form for passing on, to be read by :func:`rows_in`. ``brief`` is there where it could not be kept.
    """

    key: str
    cells: dict[str, Any]
    tables: dict[str, pa.Buffer]
    brief: FlightRecord | None


def settle(task: Task) -> Settled:
    """Read one flight's own result, and settle what is shown of it.

    Raises
    ------
    NotKept
        If it is not kept, or does not read.
    """
    return settled(task.flight.alone(), task)


def settled(alone: FlightRecord, task: Task) -> Settled:
    """The same with the flight's own result at hand."""
    flight = task.flight
    record, key = judged(with_corrections(alone, task.corrections), task.key, flight.limits, flight.marks)
    short, name = brief(record), alone.flight_id + kept.BRIEF
    there = kept.has(flight.cache, name, key) or kept.keep(flight.cache, name, key, to_bytes(short.result))
    return Settled(key, _cells(record), _tables(record), None if there else short)


def rows_in(table: str, passed: pa.Buffer) -> pa.RecordBatch:
    """Rows of a table as :class:`Settled` holds them."""
    return pa.ipc.read_record_batch(passed, SCHEMAS[table])


def _cells(record: FlightRecord) -> dict[str, Any]:
    result = record.result
    low = [v for p in result.packs.packs if (v := believable(p.voltage.lowest_v)) is not None]
    fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
    return {
        "level": int(level_of(record)),
        "airborne_s": float(result.phases.airborne_s),
        "burned_ml": believable(result.fuel.burned),
        "burn_ml_per_min": believable(result.fuel.rate),
        "lowest_v": min(low, default=None),
        "fades": float(sum(fades)) if fades else None,
        **counts_out(totals_of(record)),
    }


def _tables(record: FlightRecord) -> dict[str, pa.Buffer]:
    result = record.result
    figures = rows_of(result)
    cells: dict[str, Mapping[str, Any]] = {
        table: {name: [getattr(row, name) for row in rows] for name in SCHEMAS[table].names if name not in _HEAD}
        for table, rows in (("figures", figures), ("runs", [row for row in figures if row.measure in RUNS]))
    }
    events = [e for e in result.events() if e.level > Level.FINE]
    cells["events"] = {
        "kind": [e.kind for e in events],
        "subject": [e.subject for e in events],
        "level": [int(e.level) for e in events],
        "start_s": [e.start_s for e in events],
        "end_s": [e.end_s for e in events],
        "depth": [e.depth.value if e.depth else None for e in events],
        "depth_unit": [e.depth.unit if e.depth else "" for e in events],
    }
    cells["antennas"] = _directions(record)
    head = dict(zip(_HEAD, (record.flight_id, record.aircraft, record.utc_start), strict=True))
    head["layout"] = record.context.layout.name if record.context.layout else ""
    return {table: _batch(SCHEMAS[table], head, own).serialize() for table, own in cells.items()}


_HEAD = (FLIGHT, "aircraft", "utc_start")
"""Columns of every table in which all rows of a flight are alike."""


def _batch(schema: pa.Schema, head: Mapping[str, Any], cells: Mapping[str, Any]) -> pa.RecordBatch:
    count = len(next(iter(cells.values())))
    columns = [
        pa.repeat(pa.scalar(head[f.name], f.type), count) if f.name in head else _column(cells[f.name], f.type)
        for f in schema
    ]
    return pa.record_batch(columns, schema)


def _column(cells: Any, kind: pa.DataType) -> pa.Array:
    """A column; what an array holds NaN for is null in it."""
    return pa.array(cells, kind, from_pandas=isinstance(cells, np.ndarray))


def _directions(record: FlightRecord) -> dict[str, Any]:
    """Columns with a row a direction that an antenna was seen from; the level is the mean after path loss, dB."""
    antennas = [a for r in record.result.link.receivers for a in r.antennas]
    seen = [(a.name, _seen(a.bins)) for a in antennas if a.bins is not None]
    names = [name for name, cells in seen for _ in range(cells.shape[1])]
    cells = np.concatenate([np.empty((len(_SEEN), 0)), *(cells for _, cells in seen)], axis=1)
    return {"antenna": names, **dict(zip(_SEEN, cells, strict=True))}


_SEEN = ("azimuth_deg", "sin_elevation", "seconds", "lost", "level_db")


def _seen(bins: DirectionBins) -> FloatArray:
    """Those columns for one antenna, shape (5, directions); NaN where nothing was counted."""
    azimuth, elevation = bin_centres()
    count = bins.histogram.sum(axis=-1)
    centres = (bins.residual_edges_db[:-1] + bins.residual_edges_db[1:]) / 2.0
    with np.errstate(invalid="ignore", divide="ignore"):
        level = (bins.histogram * centres).sum(axis=-1) / count
    lost = bins.lost if bins.counted else np.full(count.shape, np.nan)
    every = azimuth, np.sin(np.radians(elevation)), bins.seconds, lost, np.where(count > 0, level, np.nan)
    at = bins.seconds > 0
    return np.stack([np.asarray(column, float)[at] for column in every])
