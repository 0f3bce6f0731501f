"""What dropped files are taken for: one look for all files of a layout, each column with its picture."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

import numpy as np
import pyarrow as pa
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.channels import TIME, parse
from importers.layout.corrections import as_answers
from importers.meaning import units
from importers.model import ColumnPlan, FlightDraft, Plan, Question
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from spooldown.desk.incoming import Batch
from spooldown.desk.sparkline import sparkline
from spooldown.intake.adding import LogFile, already, likely_owner
from spooldown.logbook.book import Logbook
from spooldown.register import Register
from spooldown.sheets.field import is_sheet
from spooldown.sheets.range_checks import is_range_sheet

SURE = 0.9
"""Columns below this certainty are shown first."""
PREVIEW_ROWS = 4_000
OFFERED_UNITS = (
    "V", "mV", "0.1 V", "0.01 V", "A", "mA", "0.1 A", "mAh", "Ah", "°C", "°F", "K", "mL", "L", "fl oz", "mL/min", "L/h",
    "mL/s", "fl oz/min", "%", "fraction", "rpm", "krpm", "1000 rpm", "100 rpm", "10 rpm", "dBm", "counts", "m", "ft",
    "km", "cm", "m/s", "km/h", "kn", "mph", "ft/s", "ft/min", "cm/s", "m/s²", "g", "Pa", "hPa", "mbar", "psi", "°",
    "rad", "0.1 °",
)  # fmt: skip
"""Units that loggers write; of these, those that fit a column's channel are offered. Any other may be typed."""


class Column(Struct):
    """One column in the review: what it is taken for, its picture, and the units it may be in."""

    plan: ColumnPlan
    picture: str
    units: tuple[str, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Whether a person should look at it."""
        return bool(self.plan.channel) and not self.plan.channel.startswith("extra.") and self.plan.confidence < SURE


class Layout(Struct):
    """Files of one layout, reviewed once; ``again`` where flights are read again from them."""

    mark: str
    files: list[LogFile]
    plan: Plan
    columns: list[Column]
    questions: tuple[Question, ...]
    again: bool = False

    @property
    def unknown(self) -> bool:
        """Whether no channel was recognised: then a person says what the columns are, or the file is refused."""
        return not any(parse(c.plan.channel) for c in self.columns)

    @property
    def doubts(self) -> list[Column]:
        """Columns to look at first."""
        return [c for c in self.columns if c.doubtful]

    @property
    def kept(self) -> list[Column]:
        """Columns that are kept under their own name only."""
        return [c for c in self.columns if c.plan.channel.startswith("extra.")]

    @property
    def sure(self) -> list[Column]:
        """All other columns."""
        return [
            c for c in self.columns if not c.doubtful and not c.plan.channel.startswith("extra.") and c.plan.channel
        ]

    @property
    def left_out(self) -> list[Column]:
        """Columns that are left out."""
        return [c for c in self.columns if not c.plan.channel]


class Review(Struct):
    """Everything in a batch: layouts to settle, what is known already, what cannot be read."""

    layouts: list[Layout] = field(default_factory=list)
    known: list[tuple[int, str, list[str]]] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    sheets: list[tuple[str, str]] = field(default_factory=list)
    """Name and kind of what is no log, but is taken in too: see :func:`kind_of`."""

    @property
    def open(self) -> bool:
        """Whether something must be answered first."""
        return any(layout.questions for layout in self.layouts)


def look(batch: Batch, book: Logbook, register: Register) -> Review:
    """Plan every file of a batch and gather the files of one layout."""
    found = Review()
    saved = book.mapping_files()
    layouts: dict[str, Layout] = {}
    for n, file in enumerate(batch.logs()):
        try:
            if kind := kind_of(file):
                found.sheets.append((file.name, kind))
                continue
            origin = batch.origin(file)
            there = already(book, origin)
            if there and n not in batch.again:
                found.known.append((n, file.name, there))
                continue
            before = book.answers(there[0]) if there else {}
            proposed = planned(batch, file, saved, register, before)
        except Refusal as refusal:
            found.refused.append(refusal)
            continue
        mark = proposed.fingerprint
        if mark not in layouts:
            layouts[mark] = Layout(mark, [], proposed, _columns(proposed), proposed.questions, bool(there))
            found.layouts.append(layouts[mark])
        layout = layouts[mark]
        layout.files.append(file)
        asked = {q.key for q in layout.questions}
        layout.questions += tuple(q for q in proposed.questions if q.key not in asked)
    return found


def kind_of(file: LogFile) -> str:
    """Tell what is no log: an aircraft's file (``toml``), a field sheet (``sheet``), range checks (``checks``)."""
    if file.name.lower().endswith(".toml"):
        return "toml"
    with file.path.open("rb") as stream:
        head = stream.read(256)
    return "sheet" if is_sheet(head) else "checks" if is_range_sheet(head) else ""


def planned(
    batch: Batch, file: LogFile, saved: Iterable[Path], register: Register, before: Mapping[str, str] | None = None
) -> Plan:
    """Plan one file with what was said of its layout.

    Parameters
    ----------
    before : mapping of str to str, optional
        How it was answered when it was imported, where it was.
    """
    origin, saved = batch.origin(file), list(saved)
    owner = likely_owner(file, register, batch.aircraft)
    first = plan(origin, mappings=saved, answers=before or {}, aircraft=owner, bare=True)
    answers = answers_of(batch, first.fingerprint)
    if not answers:
        return first
    return plan(origin, mappings=saved, answers={**(before or {}), **answers}, aircraft=owner, bare=True)


def answers_of(batch: Batch, mark: str) -> dict[str, str]:
    """Everything that was said of one layout, as the importer takes it."""
    corrected = as_answers(batch.columns.get(mark, {}), batch.units.get(mark, {}))
    return {**batch.answers.get(mark, {}), **corrected}


def _columns(proposed: Plan) -> list[Column]:
    values = preview(proposed)[1]
    return [
        Column(c, sparkline(values[c.channel]) if c.channel in values else "", units_for(c.channel))
        for c in proposed.columns
        if c.channel != TIME and not c.empty
    ]


@cache
def units_for(channel: str) -> tuple[str, ...]:
    """Units that a column of this channel may be in."""
    known = parse(channel)
    if known is None:
        return ()
    read = {u: units.looks_up(u) for u in OFFERED_UNITS}
    return tuple(u for u, text in read.items() if text and units.conversion(text, known.channel.unit) is not None)


def preview(proposed: Plan) -> tuple[FlightDraft | None, dict[str, np.ndarray]]:
    """The first flight and the first rows of its columns, in their channels' units.

    Nothing where the file cannot be read so far.
    """
    try:
        draft = next(iter(read(replace(proposed, questions=()))), None)
        batch = next(draft.batches, None) if draft else None
    except (Refusal, RuntimeError, ValueError, KeyError):
        return None, {}
    if batch is None:
        return None, {}
    out = {}
    for name, column in zip(batch.schema.names, batch.columns, strict=True):
        if pa.types.is_floating(column.type) or pa.types.is_boolean(column.type):
            out[name] = np.asarray(
                column.slice(0, PREVIEW_ROWS).cast(pa.float64()).to_numpy(zero_copy_only=False), float
            )
    return draft, out
