"""What passes between the importer and its callers: the plan of a file, and the flights read by it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

import pyarrow as pa
from msgspec import Struct, field

from analyser.core.findings import Finding, Text
from analyser.core.telemetry import Telemetry
from importers.clock.model import Clock
from importers.clock.start import Anchor
from importers.meaning import units
from importers.table.dialect import Dialect
from importers.table.source import Source


class ColumnPlan(Struct, frozen=True):
    """One column of the file and what becomes of it.

    ``heading`` is the column's name: not as ``written`` where several columns have one heading.
    ``channel`` is a canonical name, an ``extra.<slug>``, ``time_s`` for clock columns, or '' where dropped (all-null).
    ``kind`` is ``number``, ``bool``, ``text`` or ``skip``; ``factor`` the exact arithmetic behind ``conversion``;
    ``ending`` a unit behind the number in every cell, ``endings`` several of
    them, each with how it becomes the first; ``only`` the receiver, pack or engine whose rows count;
    ``column`` the number in the file from 0, -1 in a long table; ``sign`` that of a column whose S or W makes it
    negative; ``antenna`` an antenna's name as written; ``rivals`` other channels it may be; ``evidence`` what the
    certainty rests on; ``settled`` whether a person has said what it is; ``degrees`` how
    :mod:`importers.meaning.degrees` reads it, '' for plain numbers.
    """

    heading: str
    channel: str
    unit_found: str
    conversion: str
    samples: tuple[str, ...]
    confidence: float
    reason: Text
    kind: str = "number"
    factor: units.Conversion = field(default_factory=units.Conversion)
    ending: str = ""
    endings: tuple[tuple[str, units.Conversion], ...] = ()
    only: str = ""
    column: int = -1
    sign: int = -1
    antenna: str = ""
    rivals: tuple[str, ...] = ()
    evidence: Mapping[str, float] = field(default_factory=dict)
    settled: bool = False
    degrees: str = ""
    written: str = ""

    @property
    def plain(self) -> str:
        """The heading as written."""
        return self.written or self.heading

    @property
    def empty(self) -> bool:
        """Whether the column holds no value at all."""
        return not self.channel and not self.samples


class Question(Struct, frozen=True):
    """Something the file does not settle: asked, never guessed.

    ``answers`` are what ``--answer KEY=…`` may say; ``columns`` the headings it is about.
    """

    key: str
    text: Finding
    answers: tuple[str, ...]
    columns: tuple[str, ...] = ()


class Long(Struct, frozen=True):
    """Columns of a long table, by number from 0; ``device`` that of the part whose ``sensor`` it is."""

    sensor: int
    value: int
    unit: int | None
    device: int | None = None


class Plan(Struct, frozen=True):
    """What will be read and how, before anything is written.

    In a long table ``columns`` are its sensors. ``answers`` are those given, the saved mapping's included. ``by`` is
    the column that says whose row it is, where there is one; ``witness`` a second clock that dates the first;
    ``in_blocks`` whether a long table gives one sensor after the other; ``time_ending`` a unit behind every time;
    ``unsettled`` the parts whose names are not those of the aircraft's file.
    """

    source: str
    fingerprint: str
    columns: tuple[ColumnPlan, ...]
    clock: Text
    dialect: Dialect
    time: Clock
    origin: Source
    questions: tuple[Question, ...] = ()
    notices: tuple[Text, ...] = ()
    long: Long | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    mapping: str = ""
    begin: Anchor = field(default_factory=Anchor)
    witness: Clock | None = None
    by: int | None = None
    in_blocks: bool = False
    time_ending: str = ""
    unsettled: tuple[str, ...] = ()

    @property
    def shape(self) -> str:
        """``long`` for one row a reading, ``wide`` for one column a sensor."""
        return "long" if self.long else "wide"

    @property
    def preamble(self) -> Mapping[str, str]:
        """What the lines above the header say."""
        return self.dialect.preamble


class FlightDraft(Struct):
    """One flight on its way to the logbook.

    ``batches`` can be read once, before the next draft is taken; afterwards they refuse. ``notices`` (what was
    dropped, spread or cut, and why) and ``metadata`` are complete only then. Batches carry ``time_s`` strictly
    increasing from 0 over the whole draft.
    """

    schema: pa.Schema
    batches: Iterator[pa.RecordBatch]
    utc_start: datetime | None
    part: int
    metadata: dict[str, str]
    notices: list[Text]

    def telemetry(self) -> Telemetry:
        """Collect the whole flight in memory.

        Raises
        ------
        RuntimeError
            If the batches have been read before.
        """
        table = pa.Table.from_batches(list(self.batches), schema=self.schema)
        if not table.num_rows:
            raise RuntimeError("this flight's rows have been read already")
        return Telemetry(table, self.utc_start, dict(self.metadata))
