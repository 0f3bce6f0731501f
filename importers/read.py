"""The one entry: a CSV file in, flights of canonical telemetry out, first planned, then read in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

import pyarrow as pa

from analyser.telemetry import Telemetry


@dataclass(frozen=True, slots=True)
class ColumnPlan:
    """One column of the file and what becomes of it.

    ``channel`` is a canonical name, an ``extra.<slug>``, ``time_s`` for clock columns, or '' where dropped (all-null).
    """

    heading: str
    channel: str
    unit_found: str
    conversion: str
    samples: tuple[str, ...]
    confidence: float
    reason: str


@dataclass(frozen=True, slots=True)
class Question:
    """Something the file does not settle: asked, never guessed. ``answers`` are what ``--answer KEY=…`` may say."""

    key: str
    text: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What will be read and how, before anything is written. More fields (dialect, clock, shape) as needed."""

    source: str
    fingerprint: str
    columns: tuple[ColumnPlan, ...]
    clock: str
    shape: str
    questions: tuple[Question, ...] = ()
    notices: tuple[str, ...] = ()
    preamble: Mapping[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class FlightDraft:
    """One flight on its way to the logbook.

    ``batches`` must be consumed before the next draft is taken from the iterator; ``notices`` (what was dropped, spread
    or cut, and why) is complete only then. Batches carry ``time_s`` strictly increasing from 0 over the whole draft.
    """

    schema: pa.Schema
    batches: Iterator[pa.RecordBatch]
    utc_start: datetime | None
    part: int
    metadata: dict[str, str]
    notices: list[str]

    def telemetry(self) -> Telemetry:
        """Collect the whole flight in memory."""
        table = pa.Table.from_batches(list(self.batches), schema=self.schema)
        return Telemetry(table, self.utc_start, dict(self.metadata))


def plan(
    source: Path | BinaryIO, *, name: str = "", mappings: Sequence[Path] = (), answers: Mapping[str, str] | None = None
) -> Plan:
    """Look at a file and propose how to read it.

    Raises
    ------
    importers.refusal.Refusal
        If the file can't be telemetry: empty, binary, no time column, no known channel …
    """
    raise NotImplementedError


def read(
    source: Path | BinaryIO, plan: Plan, *, progress: Callable[[int], None] | None = None
) -> Iterator[FlightDraft]:
    """Read a planned file, flight by flight, batch by batch; ``progress`` is told bytes read so far."""
    raise NotImplementedError
