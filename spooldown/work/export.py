"""Results out of the logbook as plain tables: CSV, Parquet or JSON."""

from __future__ import annotations

import io
import json
import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from analyser.core.events import Event
from analyser.core.figures import Figure, figures_of
from analyser.gathering import gathered
from analyser.season.link.range_check import RangeCheck, RangeCheckResult
from reports.addresses import escaped
from reports.words.catalogue import text as worded
from reports.words.names import names_in_flight, naming
from spooldown.sheets import cells
from spooldown.work.results import Analysed

What = Literal["figures", "events", "flights"]
Row = dict[str, Any]


def rows_of(flights: Sequence[Analysed], what: What, *, together: bool = False) -> list[Row]:
    """One row a figure, an event or a flight; every row has the same keys.

    ``together`` makes one row of the events that the list of a flight's page tells in one line. Labels name packs and
    antennas as the pages do.
    """
    makers = {"figures": _figures, "events": _gathered_events if together else _events, "flights": _flights}
    rows: list[Row] = []
    for one in flights:
        with naming(names_in_flight(one.record.context)):
            rows += makers[what](one)
    return rows


def range_rows(checks: Sequence[tuple[int, str, RangeCheck]], results: Mapping[str, RangeCheckResult]) -> list[Row]:
    """One row a walked check; how its antenna stands now is on the latest check of each line."""
    lines = {(who, x.antenna, x.orientation): x for who, r in results.items() for x in r.lines}
    latest = {
        (who, c.antenna, c.orientation): number
        for number, who, c in sorted(checks, key=lambda row: (row[2].day, row[0]))
    }
    out = []
    for number, who, c in checks:
        key = (who, c.antenna, c.orientation)
        line = lines.get(key) if latest[key] == number else None
        row: Row = {
            "number": number,
            "aircraft": who,
            "day": c.day.isoformat(),
            "antenna": c.antenna,
            "orientation": c.orientation,
            "distance_m": c.distance_m,
            "reduction_db": c.reduction_db,
            "implied_m": c.implied_m,
            "cautious_m": c.cautious_m,
        }
        named = (
            ("earlier", line and line.earlier_db),
            ("moved", line and line.moved_db),
            ("trend", line and line.trend_percent),
        )
        for name, figure in named:
            unit = "db_per_year" if name == "trend" else "db"
            row |= {
                f"{name}_{unit}": figure.value if figure else None,
                f"{name}_low_{unit}": figure.low if figure else None,
                f"{name}_high_{unit}": figure.high if figure else None,
            }
        out.append(
            row | {"level": line.level.name.lower() if line else None, "said": worded(line.fell) if line else None}
        )
        out[-1]["remarks"] = c.note
    return out


_HEAD = ("flight", "aircraft", "utc_start")
HEADINGS: Mapping[str, tuple[str, ...]] = {
    "figures": (
        *_HEAD, "figure", "label", "value", "unit", "low", "high", "confidence", "method", "how", "missing", "doubts",
    ),
    "events": (
        *_HEAD, "kind", "subject", "start_s", "end_s", "times", "level", "depth", "depth_unit", "causes", "summary",
    ),
    "flights": (
        *_HEAD, "number", "source", "part", "duration_s", "airborne_s", "rows", "layout", "packs", "remarks",
        "channels",
    ),
}  # fmt: skip
"""Columns of each table, also where it has no row."""


def encode(rows: Sequence[Row], form: str, columns: Sequence[str] = ()) -> bytes:
    """Write rows as ``csv``, ``json`` or ``parquet``, under these columns where there is no row."""
    if form == "json":
        return (escaped(json.dumps(list(rows), ensure_ascii=False, indent=1)) + "\n").encode()
    if form == "parquet":
        import pyarrow as pa
        import pyarrow.parquet as pq

        sink = io.BytesIO()
        table = pa.Table.from_pylist(list(rows)) if rows else pa.table({c: pa.array([], pa.string()) for c in columns})
        pq.write_table(table, sink, compression="zstd")
        return sink.getvalue()
    return cells.encode_rows(list(rows[0]) if rows else columns, rows).encode()


def form_of(path: Path | None, given: str) -> str:
    """The format as given, else by the file's ending, else CSV."""
    return given or (path.suffix.lower().lstrip(".") if path else "") or "csv"


def _head(one: Analysed) -> Row:
    start = one.flight.utc_start
    return {
        "flight": one.flight.flight_id,
        "aircraft": one.record.aircraft,
        "utc_start": start.isoformat() if start else None,
    }


def identifier(path: str) -> str:
    """A figure's place in the result as a stable identifier: ASCII letters, digits, underscores and dots.

    Examples
    --------
    >>> identifier("fuel.tanks.left.phases.before start.burned")
    'fuel.tanks.left.phases.before_start.burned'
    """
    return re.sub(r"[^A-Za-z0-9_.]+", "_", path)


def rounded(value: float | None, figure: Figure) -> float | None:
    """Round to what the figure can mean: two digits of its half width, else one digit more than pages show.

    Two digits are the most that an uncertainty should be given with (JCGM 100:2008, 7.2.6).

    Examples
    --------
    >>> rounded(1859.8731, Figure.within("burned", 1859.8731, 0.04312, "mL"))
    1859.873
    """
    if value is None or not math.isfinite(value):
        return value
    places = figure.digits + 1
    if figure.low is not None and figure.high is not None and 0 < figure.high - figure.low < math.inf:
        half = (figure.high - figure.low) / 2
        places = max(figure.digits, 1 - math.floor(math.log10(half)))
    return round(value, places)


def _figures(one: Analysed) -> list[Row]:
    return [
        {
            **_head(one),
            "figure": identifier(path),
            "label": worded(f.label),
            "value": rounded(f.value, f),
            "unit": f.unit,
            "low": rounded(f.low, f),
            "high": rounded(f.high, f),
            "confidence": f.confidence if f.low is not None else None,
            "method": str(f.method),
            "how": worded(f.how),
            "missing": worded(f.missing),
            "doubts": "; ".join(map(worded, f.doubts)),
        }
        for path, f in figures_of(one.record.result)
    ]


def _gathered_events(one: Analysed) -> list[Row]:
    result = one.record.result
    alone, groups = gathered(tuple(result.events()), result.link.bridging)
    rows = [(e, 1) for _, e in alone] + [(g.as_one(), len(g.events)) for g in groups]
    return [_event_row(one, e, times) for e, times in sorted(rows, key=lambda row: row[0].start_s)]


def _events(one: Analysed) -> list[Row]:
    return [_event_row(one, e) for e in one.record.result.events()]


def _event_row(one: Analysed, e: Event, times: int = 1) -> Row:
    return {
        **_head(one),
        "kind": e.kind,
        "subject": e.subject,
        "start_s": round(e.start_s, 3),
        "end_s": round(e.end_s, 3),
        "times": times,
        "level": e.level.name.lower(),
        "depth": rounded(e.depth.value, e.depth) if e.depth else None,
        "depth_unit": e.depth.unit if e.depth else None,
        "causes": "; ".join(map(worded, e.causes)),
        "summary": worded(e.summary),
    }


def _flights(one: Analysed) -> list[Row]:
    return [
        {
            **_head(one),
            "number": one.record.number,
            "source": one.flight.source,
            "part": one.flight.part,
            "duration_s": round(one.flight.duration_s, 3),
            "airborne_s": round(one.record.result.phases.airborne_s, 3),
            "rows": one.flight.rows,
            "layout": one.record.context.layout.name if one.record.context.layout else None,
            "packs": "; ".join(f"{r}={p.name}" for r, p in sorted(one.record.context.packs.items())),
            "remarks": one.record.context.remarks,
            "channels": " ".join(one.flight.channels),
        }
    ]


def encode_table(table: Any, form: str) -> bytes:
    """Write an Arrow table as ``csv``, ``json`` (rows) or ``parquet``."""
    if form == "json":
        return encode(table.to_pylist(), "json")
    if form == "csv":
        return cells.encode_table(table)
    import pyarrow as pa
    import pyarrow.parquet as pq

    sink = pa.BufferOutputStream()
    pq.write_table(table, sink, compression="zstd")
    return bytes(sink.getvalue().to_pybytes())
