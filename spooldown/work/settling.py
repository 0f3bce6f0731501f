"""One flight as the whole logbook shows it, reduced to what is kept of it: in whatever process, from what is kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from msgspec import Struct

from analyser.core.events import Level
from analyser.link.sphere import bin_centres
from analyser.programme.measures import rows_of
from analyser.programme.service import RUNS
from analyser.record import FlightRecord
from analyser.season.brief import brief
from analyser.season.teaching import Corrections, with_corrections
from analyser.season.totals import totals_of
from analyser.sense import believable
from reports.headlines import level_of
from spooldown.work import briefs, kept
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

    ``key`` changes with anything that its result, as shown, depends on. ``brief`` is there where it could not be kept.
    """

    key: str
    cells: dict[str, Any]
    tables: dict[str, list[dict[str, Any]]]
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
    there = kept.has(flight.cache, name, key) or kept.keep(flight.cache, name, key, briefs.encode(short.result))
    return Settled(key, _cells(record), {table: list(rows) for table, rows in _tidy(record)}, None if there else short)


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


def _tidy(record: FlightRecord) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
    rows = list(rows_of(record.result))
    yield "figures", ({name: getattr(row, name) for name in row.__struct_fields__} for row in rows)
    yield (
        "runs",
        (
            {"measure": row.measure, "part": row.part, "thing": row.thing, "value": row.value}
            for row in rows
            if row.measure in RUNS
        ),
    )
    yield (
        "events",
        (
            {
                "kind": e.kind,
                "subject": e.subject,
                "level": int(e.level),
                "start_s": e.start_s,
                "end_s": e.end_s,
                "depth": e.depth.value if e.depth else None,
                "depth_unit": e.depth.unit if e.depth else "",
            }
            for e in record.result.events()
            if e.level > Level.FINE
        ),
    )
    yield "antennas", _directions(record)


def _directions(record: FlightRecord) -> Iterator[dict[str, Any]]:
    """One row a direction that an antenna was seen from; the level is the mean after path loss, dB."""
    layout = record.context.layout.name if record.context.layout else ""
    azimuth, elevation = bin_centres()
    sine = np.sin(np.radians(elevation))
    for receiver in record.result.link.receivers:
        for antenna in receiver.antennas:
            bins = antenna.bins
            if bins is None:
                continue
            count = bins.histogram.sum(axis=-1)
            centres = (bins.residual_edges_db[:-1] + bins.residual_edges_db[1:]) / 2.0
            with np.errstate(invalid="ignore", divide="ignore"):
                level = (bins.histogram * centres).sum(axis=-1) / count
            for a, e in np.argwhere(bins.seconds > 0).tolist():  # directions, never samples
                yield {
                    "layout": layout,
                    "antenna": antenna.name,
                    "azimuth_deg": float(azimuth[a, e]),
                    "sin_elevation": float(sine[a, e]),
                    "seconds": float(bins.seconds[a, e]),
                    "lost": float(bins.lost[a, e]) if bins.counted else None,
                    "level_db": float(level[a, e]) if count[a, e] else None,
                }
