"""The one entry: a CSV file in, flights of canonical telemetry out, first planned, then read in bounded memory."""

from __future__ import annotations

import hashlib
import itertools
import queue
import re
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from analyser.channels import EXTRA, TIME, parse
from analyser.telemetry import Telemetry
from importers import anchor as anchors
from importers import clock as clocks
from importers import columns, mapping, sniff, units
from importers.anchor import Anchor
from importers.cells import CellNotes, Cells
from importers.clock import Clock, FloatArray, Timeline
from importers.refusal import Refusal
from importers.source import Source
from importers.split import Begin, by_ground
from importers.text import Block, TextNotes, blocks, head

_ENDING = re.compile(r"(?<=[\d. ])\s*([^\W\d_]+[^\d\s]*|[%°][^\d\s]*)$")


@dataclass(frozen=True, slots=True)
class ColumnPlan:
    """One column of the file and what becomes of it.

    ``channel`` is a canonical name, an ``extra.<slug>``, ``time_s`` for clock columns, or '' where dropped (all-null).
    ``kind`` is ``number``, ``bool``, ``text`` or ``skip``; ``factor`` the exact arithmetic behind ``conversion``;
    ``ending`` a unit behind the number in every cell; ``only`` the receiver, pack or engine whose rows count;
    ``column`` the number in the file from 0, -1 in a long table.
    """

    heading: str
    channel: str
    unit_found: str
    conversion: str
    samples: tuple[str, ...]
    confidence: float
    reason: str
    kind: str = "number"
    factor: units.Conversion = field(default_factory=units.Conversion)
    ending: str = ""
    only: str = ""
    column: int = -1


@dataclass(frozen=True, slots=True)
class Question:
    """Something the file does not settle: asked, never guessed. ``answers`` are what ``--answer KEY=…`` may say."""

    key: str
    text: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Long:
    """Columns of a long table, by number from 0."""

    sensor: int
    value: int
    unit: int | None


@dataclass(frozen=True, slots=True)
class Plan:
    """What will be read and how, before anything is written.

    In a long table ``columns`` are its sensors. ``answers`` are those given, the saved mapping's included.
    """

    source: str
    fingerprint: str
    columns: tuple[ColumnPlan, ...]
    clock: str
    shape: str
    questions: tuple[Question, ...] = ()
    notices: tuple[str, ...] = ()
    preamble: Mapping[str, str] = field(default_factory=dict)
    dialect: sniff.Dialect | None = None
    time: Clock | None = None
    long: Long | None = None
    answers: Mapping[str, str] = field(default_factory=dict)
    mapping: str = ""
    begin: Anchor = field(default_factory=Anchor)
    witness: Clock | None = None
    by: int | None = None
    spool: Source | None = field(default=None, compare=False, repr=False)


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
    said = dict(answers or {})
    origin = Source(source, name, said.get("member", ""))
    text, encoding, whole = head(origin)
    dialect, rows = sniff.sniff(
        text, encoding, origin.name, decimal={"comma": ",", "point": "."}.get(said.get("decimal", ""), "")
    )
    fingerprint = hashlib.sha256("\x1f".join(map(str.casefold, dialect.headings)).encode()).hexdigest()[:16]
    saved = mapping.recognise(mappings, fingerprint)
    if saved:
        said = {**saved.answers, **said}
    if "zone" in said:
        where = anchors.zone(said["zone"])
        if where is None:
            raise Refusal(origin.name, found=f"the zone {said['zone']!r}", expected="UTC, +02:00 or Europe/Berlin",
                          remedy="answer zone= with one of these")  # fmt: skip
        said["zone"] = where
    questions: list[Question] = []
    if dialect.thousands in (".", ",") and _impossible_grouped(replace(dialect, decimal=dialect.thousands), rows):
        raise Refusal(
            origin.name, line=dialect.first_row,
            found="both commas and points as decimal marks, going by values that would else be impossible",
            expected="one decimal mark in the whole file", remedy="export the log with one decimal mark",
        )  # fmt: skip
    if dialect.decimal_unsure and not _impossible_grouped(dialect, rows):
        questions.append(Question("decimal", "is the mark in its numbers a decimal mark "
                         f"({dialect.decimal!r} before three digits), or does it group thousands?", ("comma", "point")))  # fmt: skip  # noqa: E501
    cells = [[r[i] for r in rows] for i in range(len(dialect.headings))]
    cells = [["" if c in sniff.NULLS else c for c in column] for column in cells]
    unit_row = [*dialect.unit_row, *[""] * len(dialect.headings)]
    headings = [columns.dissect(h, unit_row[i]) for i, h in enumerate(dialect.headings)]
    repeated = {
        h: at for h, at in columns.duplicates(dialect.headings).items() if f"duplicate.{columns.slug(h)}" not in said
    }
    if repeated:
        twice, at = next(iter(repeated.items()))
        numbers = " and ".join(map(str, at))
        raise Refusal(
            origin.name, line=dialect.header_row, column=dialect.headings[at[0] - 1],
            found=f"the same heading over columns {numbers}", expected="one heading for each column",
            remedy=f"rename one, or say which to believe with the answer duplicate.{columns.slug(twice)}={at[0]}",
        )  # fmt: skip
    estimate = len(rows) * max(1.0, origin.size / max(len(text), 1)) if not whole else float(len(rows))
    time, asks, spare, witness = clocks.find(headings, cells, estimate, said)
    if time is None:
        raise Refusal(
            origin.name, line=dialect.header_row,
            found="no column that tells the time (" + ", ".join(h for h in dialect.headings if h)[:120] + ")",
            expected="elapsed seconds or milliseconds, clock times, or dates with times",
            remedy="export the log with its time column",
        )  # fmt: skip
    begin, more = anchors.find(dialect.preamble, origin.name, said)
    if time.form != "number" and not time.zone and begin.zone != "row":
        time = replace(time, zone=begin.zone, why=time.why.replace("zone unknown", begin.zone or "zone unknown"))
    if witness and witness.form != "number" and not witness.zone:
        witness = replace(witness, zone=begin.zone if begin.zone != "row" else "")
    if not time.absolute:
        asks += [a for a in more if a.key not in {b.key for b in asks}]
    questions += [Question(a.key, a.text, a.answers) for a in asks]
    notices: list[str] = []
    long = _long(headings, cells, time)
    proposed: list[ColumnPlan] = []
    by: int | None = None
    if long:
        names = _sensors(origin, dialect, long, cells, whole)
        for sensor, unit in names.items():
            values = [v for s, v in zip(cells[long.sensor], cells[long.value], strict=True) if s == sensor and v]
            proposed.append(_column(columns.dissect(sensor, unit), values, whole, dialect, said, saved, questions))
    else:
        by = _told_apart(headings, cells, (time.column, time.date_column, *spare))
        for i, heading in enumerate(headings):
            if i == by:
                role = f"says whose row it is: {', '.join(dict.fromkeys(cells[i]))}"
                proposed.append(ColumnPlan(heading.text, TIME, "", "", tuple(cells[i][:3]), 0.9, role, "text"))
                continue
            if i in (time.column, time.date_column) or i in spare:
                role = time.why if i == time.column else "date" if i == time.date_column else "another clock, not used"
                role = f"another clock, dates the first one: {witness.why}" if witness and i == witness.column else role
                proposed.append(ColumnPlan(heading.text, TIME, heading.unit_text, "", tuple(cells[i][:3]), 0.95, role,
                                "text" if time.form != "number" else "number"))  # fmt: skip
                continue
            some = [c for c in cells[i] if c]
            some = some if whole else some[:: 1 + len(some) // 400]
            plain, values, ending = _unit_in_cells(heading, some)
            for only, one in _each(plain, headings[by], cells[by]) if by is not None else (("", plain),):
                column = _column(one, values, whole, dialect, said, saved, questions)
                column = replace(column, ending=ending) if ending and column.kind == "number" else column
                proposed.append(replace(column, only=only, column=i))
    proposed = _settle(_meant(proposed, said, questions), said, questions)
    notices += [f"column {c.heading!r} holds no value and is dropped" for c in proposed if not c.channel and c.heading]
    notices += [f"column {c.heading!r} is no known channel and is kept as {c.channel}" for c in proposed
                if c.channel.startswith(f"{EXTRA}.")]  # fmt: skip
    for unit in dict.fromkeys(c.reason.rpartition("no unit: ")[2] for c in proposed if "no unit: " in c.reason):
        unsaid = ", ".join(repr(c.heading) for c in proposed if c.reason.endswith(f"no unit: {unit}"))
        notices.append(f"no unit is said for {unsaid}: taken as {unit.removeprefix('taken as ')}")
    notices += [f"column {c.heading!r}: the sign is taken as logged, positive downwards" for c in proposed
                if c.channel == "motion.accel_z_m_s2" and "z" not in columns.dissect(c.heading).words]  # fmt: skip
    if not any(parse(c.channel) for c in proposed) and not any(q.key.startswith("column.") for q in questions):
        raise Refusal(
            origin.name, line=dialect.header_row,
            found="no column that is a known channel (" + ", ".join(h for h in dialect.headings if h)[:120] + ")",
            expected="voltages, temperatures, signal strengths, fuel, speeds or the like",
            remedy="name the channels in a mapping file",
        )  # fmt: skip
    return Plan(
        origin.name, fingerprint, tuple(proposed), time.why, "long" if long else "wide", tuple(questions), tuple(notices),  # noqa: E501
        dialect.preamble, dialect, time, long, said, saved.name if saved else "", begin, witness, by,
        None if isinstance(source, Path) else origin,
    )  # fmt: skip


def _impossible_grouped(dialect: sniff.Dialect, rows: Sequence[Sequence[str]]) -> bool:
    """Whether reading the marks as thousands would give a channel values that cannot be: then they are decimal marks."""  # noqa: E501
    for i, text in enumerate(dialect.headings):
        heading = columns.dissect(text, dialect.unit_row[i] if i < len(dialect.unit_row) else "")
        marked = [r[i].replace(dialect.decimal, "") for r in rows if dialect.decimal in r[i]]
        numbers = [float(v) for v in marked if v.lstrip("+-").isdigit()]
        known = parse(columns.match(heading, 0.0, 1.0).channel) if heading.unit and numbers else None
        factor = units.conversion(heading.unit, known.channel.unit) if known and heading.unit else None
        if known and factor and not all(known.channel.low <= factor.apply(n) <= known.channel.high for n in numbers):
            return True
    return False


def _column(
    heading: columns.Heading, values: Sequence[str], whole: bool, dialect: sniff.Dialect, said: Mapping[str, str],
    saved: mapping.Mapping | None, questions: list[Question],
) -> ColumnPlan:  # fmt: skip
    samples = tuple(values[:3])
    forced = saved.columns.get(heading.text) if saved else None
    if (not values and whole) or forced == "":
        return ColumnPlan(
            heading.text, "", heading.unit_text, "", samples, 1.0, "no value" if not values else "as you said", "skip"
        )
    numbers = [n for v in values if (n := _number(v, dialect)) is not None]
    flags = bool(values) and all(v in sniff.TRUE or v in sniff.FALSE for v in values)
    numeric = len(numbers) > 0.5 * len(values) or not values
    low, high = (min(numbers), max(numbers)) if numbers and numeric else (None, None)
    unit_key = f"unit.{columns.slug(heading.text)}"
    own = columns.dissect(heading.text)
    if own.unit and heading.unit and unit_key not in said:
        between = units.conversion(own.unit, heading.unit)
        if between is not None and not between.identity:  # of one kind, so not a letter that only looks like a unit
            text = f"in which unit is {heading.text!r}, beside whose values stands {heading.unit_text!r}?"
            questions.append(Question(unit_key, text, (own.unit_text, heading.unit_text)))
    if unit_key in said and (unit := units.understand(said[unit_key])):
        heading = replace(heading, unit=unit, unit_text=said[unit_key])
    if forced and (known := parse(forced)):
        factor = units.conversion(heading.unit, known.channel.unit) if heading.unit else units.Conversion()
        if factor is not None:
            kind = "bool" if known.channel.unit == "bool" else "number"
            return ColumnPlan(heading.text, forced, heading.unit_text, _said(factor, heading, known.channel.unit), samples, 1.0,  # noqa: E501
                              "as the mapping says", kind, factor)  # fmt: skip
    if not numeric and not flags:
        slug = f"{EXTRA}.{columns.slug(heading.text)}"
        return ColumnPlan(heading.text, slug, heading.unit_text, "", samples, 1.0, "text: kept as it is", "text")
    found = columns.match(heading, low, high, flags=flags)
    if found.ask and len(found.ask) > 1:
        questions.append(
            Question(unit_key, f"in which unit is {heading.text!r} (for example {', '.join(samples)})?", found.ask)
        )
    if found.channel.endswith(("used_mah", "used_ml")) and len(numbers) > 2 and _falls(numbers):
        slug = f"{EXTRA}.{columns.slug(heading.text)}"
        return ColumnPlan(heading.text, slug, heading.unit_text, "", samples, 0.6,
                          "it falls, so it counts no use: kept as it is")  # fmt: skip
    known = parse(found.channel)
    kind = found.kind if known else "bool" if flags and not numeric else "number"
    wanted = known.channel.unit if known else ""
    return ColumnPlan(heading.text, found.channel, heading.unit_text, _said(found.conversion, heading, wanted), samples,
                      found.confidence, found.reason, kind, found.conversion)  # fmt: skip


def _unit_in_cells(heading: columns.Heading, values: list[str]) -> tuple[columns.Heading, list[str], str]:
    """Heading with the unit that stands behind every number ("7.4 V"), the values without it, and the unit as written."""  # noqa: E501
    endings = {m.group(1) if (m := _ENDING.search(v)) else "" for v in values}
    ending = endings.pop() if len(endings) == 1 else ""
    unit = units.understand(ending) if ending else None
    if unit is None:
        return heading, values, ""
    return replace(heading, unit=unit, unit_text=ending), [v.removesuffix(ending).rstrip() for v in values], ending


def _meant(
    proposed: Sequence[ColumnPlan], said: Mapping[str, str], questions: list[Question]
) -> list[ColumnPlan]:  # fmt: skip
    """Ask what "left" means, a side or what remains, unless another column speaks of the right."""
    words = [columns.dissect(c.heading).words for c in proposed]
    sided = any("right" in w for w in words)
    out = list(proposed)
    for i, column in enumerate(proposed):
        quantity = column.channel.rpartition(".")[2]
        if "left" not in words[i] or sided or quantity not in _MAY_REMAIN or column.reason == "as the mapping says":
            continue
        key = f"meaning.{columns.slug(column.heading)}"
        if said.get(key) == "remaining":
            main = column.channel.replace(".left.", ".main.").replace("_left.", ".")
            kept = quantity.startswith("remaining")
            own = f"{EXTRA}.{columns.slug(column.heading)}"
            out[i] = replace(column, channel=main if kept else own, confidence=1.0, reason="what remains, as you said",
                             factor=column.factor if kept else units.Conversion())  # fmt: skip
        elif said.get(key) != "left-side":
            questions.append(Question(key, f"is {column.heading!r} of the left side, or what remains?",
                                      ("left-side", "remaining")))  # fmt: skip
    return out


_MAY_REMAIN = ("remaining_ml", "remaining_percent", "used_mah")


def _said(factor: units.Conversion, heading: columns.Heading, wanted: str) -> str:
    return "" if factor.identity or not heading.unit else f"{units.written(heading.unit)} → {wanted}"


def _falls(numbers: Sequence[float]) -> bool:
    steps = np.diff(np.array(numbers))
    return numbers[-1] < numbers[0] and int((steps < 0).sum()) > 2 * int((steps > 0).sum())


def _number(text: str, dialect: sniff.Dialect) -> float | None:
    if dialect.thousands:
        text = text.replace(dialect.thousands, "")
    try:
        return float(text.replace(dialect.decimal, ".").replace("\u2212", "-").rstrip("% "))
    except ValueError:
        return None


def _settle(proposed: list[ColumnPlan], said: Mapping[str, str], questions: list[Question]) -> list[ColumnPlan]:
    """Two columns for one channel are a question; extras get names of their own."""
    at: dict[str, list[int]] = {}
    for i, c in enumerate(proposed):
        if c.channel not in ("", TIME):
            at.setdefault(c.channel, []).append(i)
    out = list(proposed)
    taken = set(at)
    for channel, places in at.items():
        if len(places) == 1:
            continue
        keep = -1
        if not channel.startswith(f"{EXTRA}."):
            key = f"column.{channel}"
            names = tuple(proposed[i].heading for i in places)
            keep = next((i for i in places if proposed[i].heading == said.get(key)), -1)
            numbers = {v for k, v in said.items() if k.startswith("duplicate.")}
            keep = next((i for i in places if str(i + 1) in numbers), keep)
            if keep < 0 and said.get(key) != "none":
                questions.append(
                    Question(key, f"which column is {channel}: {' or '.join(map(repr, names))}?", (*names, "none"))
                )
        for i in places:
            if i == keep or (keep < 0 and i == places[0] and channel.startswith(f"{EXTRA}.")):
                continue
            base = f"{EXTRA}.{columns.slug(proposed[i].heading)}"
            name, n = base, 2
            while name in taken:
                name, n = f"{base}_{n}", n + 1
            taken.add(name)
            out[i] = replace(out[i], channel=name, factor=units.Conversion(), conversion="",
                             reason=f"another column stands for {channel}")  # fmt: skip
    return out


def _long(headings: Sequence[columns.Heading], cells: Sequence[Sequence[str]], time: Clock) -> Long | None:
    """Tell a long table: a column of sensor names beside a column of values."""
    used = {time.column, time.date_column}
    free = [i for i in range(len(headings)) if i not in used]
    if not 2 <= len(free) <= 3:
        return None
    values = [i for i in free if "value" in headings[i].ideas]
    text = [i for i in free if any(cells[i]) and sum(map(sniff.typed, cells[i])) < 0.3 * sum(map(bool, cells[i]))]
    named = [i for i in text if {"sensor", "name"} & set(headings[i].ideas)] or [i for i in text if i not in values]
    units_at = [i for i in free if "unit" in headings[i].ideas]
    named = [i for i in named if i not in units_at]
    if not named or len(set(cells[named[0]])) < 2 or len(set(cells[named[0]])) > 0.5 * len(cells[named[0]]) + 2:
        return None
    values = values or [i for i in free if i not in (named[0], *units_at)]
    return Long(named[0], values[0], units_at[0] if units_at else None) if values else None


_WHOSE = {"rx": "Rx", "pack": "Pack", "engine": "Engine", "tank": "Tank", "ecu": "ECU"}


def _told_apart(
    headings: Sequence[columns.Heading], cells: Sequence[Sequence[str]], clock: Sequence[int | None]
) -> int | None:
    """Find a column that says whose row it is: "receiver" with 1 and 2 taking turns."""
    for i, heading in enumerate(headings):
        ideas = [x for x in heading.ideas if x not in ("", "name", "sensor")]
        ids = [c for c in cells[i] if c]
        if i in clock or heading.unit or len(ideas) != 1 or ideas[0] not in _WHOSE or len(ids) < len(cells[i]):
            continue
        changes = sum(a != b for a, b in itertools.pairwise(ids))
        short = all((c.isdigit() and len(c) < 3) or not sniff.typed(c) for c in ids)
        if not short or not 2 <= len(set(ids)) <= 8 or changes < 0.3 * len(ids):
            continue
        others = [h for n, h in enumerate(headings) if n != i and n not in clock]
        if any(
            whose and parse(columns.match(one, 0.0, 1.0).channel)
            for h in others
            for whose, one in _each(h, heading, ids)
        ):
            return i
    return None


def _each(
    plain: columns.Heading, by: columns.Heading, ids: Sequence[str]
) -> list[tuple[str, columns.Heading]]:  # fmt: skip
    """One heading for each receiver, pack or engine whose rows take turns; one for all where none has its own."""
    known = parse(columns.match(plain, 0.0, 1.0).channel)
    if not plain.words or (known and (not known.channel.has_instance or known.instance != "main")):
        return [("", plain)]
    word = next(_WHOSE[x] for x in by.ideas if x in _WHOSE)
    out = []
    for whose in sorted(set(ids)):
        name = whose if _WHOSE.keys() & set(columns.dissect(whose).ideas) else f"{word} {whose}"
        out.append(
            (whose, replace(columns.dissect(f"{name} {plain.text}"), unit=plain.unit, unit_text=plain.unit_text))
        )
    return out


def _sensors(
    origin: Source, dialect: sniff.Dialect, long: Long, cells: Sequence[Sequence[str]], whole: bool
) -> dict[str, str]:
    """Every sensor a long table names, with its unit: seen over the whole file, for one may report late."""
    pairs: dict[str, str] = {}
    unit_cells = cells[long.unit] if long.unit is not None else [""] * len(cells[long.sensor])
    for sensor, unit in dict.fromkeys(zip(cells[long.sensor], unit_cells, strict=True)):
        if unit and pairs.get(sensor) and units.understand(pairs[sensor]) != units.understand(unit):
            raise Refusal(
                origin.name, column=dialect.headings[long.unit or 0],
                found=f"{sensor!r} in two units, {pairs[sensor]!r} and {unit!r}", expected="one unit for each sensor",
                remedy="give the two different names, or export them in one unit",
            )  # fmt: skip
        if sensor:
            pairs[sensor] = pairs.get(sensor) or unit
    if whole:
        return pairs
    pairs.clear()
    kinds = ["text" if i in (long.sensor, long.unit) else "skip" for i in range(len(dialect.headings))]
    reader = Cells(dialect, kinds, CellNotes())
    for block in _rows(origin, dialect, TextNotes()):
        table = reader.read(block)
        names = table.column(f"c{long.sensor}")
        for sensor in pc.drop_null(names.unique()).to_pylist():
            if sensor and not pairs.get(sensor):
                pairs[sensor] = ""
                if long.unit is not None:
                    said = pc.drop_null(table.column(f"c{long.unit}").filter(pc.equal(names, sensor)))
                    pairs[sensor] = str(said[0].as_py()) if len(said) else ""
    return pairs


def _rows(origin: Source, dialect: sniff.Dialect, notes: TextNotes) -> Iterator[Block]:
    """Blocks of lines from the first row of data on; a last line that may be cut is left out."""
    before = b""
    for block in _from_first_row(origin, dialect, notes):
        if notes.unended and _may_be_cut(before + block.text, dialect):
            at = block.text.rfind(b"\n", 0, -1) + 1
            notes.cut_line = block.line + block.text.count(b"\n") - 1
            if at:
                yield Block(block.text[:at], block.line)
            return
        before = block.text[-8192:]
        yield block


def _may_be_cut(text: bytes, dialect: sniff.Dialect) -> bool:
    """Whether a last line without a line end lacks fields, or its last cell could be longer going by those above it.

    Those above are the rows with the same texts, so that in a long table a sensor is compared with itself.
    """
    lines = text[-65536:].decode("utf-8", "replace").split("\n")[-200:-1]
    if lines[-1].endswith("\ufffd") or (not dialect.quoted_breaks and lines[-1].count('"') % 2):
        return True
    rows = [sniff.split_line(line, dialect.delimiter) for line in lines if line.strip()]
    if len(rows) < 3:
        return False
    *above, last = rows
    if len(last) < max(len(dialect.headings), min(map(len, above[1:]))):
        return True
    if not last[-1]:
        return False
    texts = [c for c in last[:-1] if not sniff.typed(c)]
    cells = [r[-1] for r in above[1:] if len(r) == len(last) and r[-1] and all(c in r for c in texts)][-40:]
    tails = {len(c.partition(dialect.decimal)[2]) for c in cells}
    if len(tails) == 1 and tails != {0}:
        return tails != {len(last[-1].partition(dialect.decimal)[2])}
    return len(last[-1]) < max(map(len, cells), default=len(last[-1]) + 1)


def _from_first_row(origin: Source, dialect: sniff.Dialect, notes: TextNotes) -> Iterator[Block]:
    for block in blocks(origin, dialect.encoding, notes, quoted_breaks=dialect.quoted_breaks):
        if block.line < dialect.first_row:
            skip, at = dialect.first_row - block.line, 0
            for _ in range(skip):
                at = block.text.find(b"\n", at) + 1
                if not at:
                    break
            if not at or at >= len(block.text):
                continue
            yield Block(block.text[at:], dialect.first_row)
        else:
            yield block


_SINCE_NS = 946_684_800 * 10**9
"""2000-01-01: a receiver of time signals that has none yet may say 1980."""


@dataclass(slots=True)
class _End:
    """Nothing more; or an error to raise where the reading is awaited."""

    error: BaseException | None = None


class _Reading:
    """One pass over a file: text to timed batches, in a thread of its own so that writing overlaps with it."""

    def __init__(self, origin: Source, plan: Plan, progress: Callable[[int], None] | None) -> None:
        assert plan.dialect is not None
        assert plan.time is not None
        self.origin, self.plan, self.progress = origin, plan, progress
        self.dialect, self.time = plan.dialect, plan.time
        self.text, self.cells = TextNotes(), CellNotes()
        self.untimed = self.merged = self.strangers = 0
        self.unread: dict[str, tuple[int, str]] = {}
        self.base_ns: int | None = None
        self.base = 0.0
        self.line = Timeline(self.time.per_second if self.time.form == "number" else 1, self.time.wraps)
        self.kept = [
            (c.column if c.column >= 0 else i, c) for i, c in enumerate(plan.columns) if c.channel and c.channel != TIME
        ]
        fields = [pa.field(TIME, pa.float64(), nullable=False)]
        fields += [
            pa.field(c.channel, {"bool": pa.bool_(), "text": pa.string()}.get(c.kind, pa.float64()))
            for _, c in self.kept
        ]
        self.schema = pa.schema(fields)
        self.fresh, self.why, self.resets = True, "", 0
        self.origin_s = self.last_s = 0.0
        self.first_s: float | None = None

    def items(self) -> Iterator[Begin | pa.RecordBatch]:
        """Starts of flights and their batches, in order."""
        clock, long = self.time, self.plan.long
        text_clock = clock.form != "number"
        kinds = ["skip"] * len(self.dialect.headings)
        if long:
            kinds[long.sensor] = "text"
            kinds[long.value] = "number" if all(c.kind == "number" for _, c in self.kept) else "text"
        else:
            for i, column in self.kept:
                kinds[i] = column.kind
            if self.plan.by is not None:
                kinds[self.plan.by] = "text"
        kinds[clock.column] = "text" if text_clock else "number"
        if clock.date_column is not None:
            kinds[clock.date_column] = "text"
        if self.plan.witness:
            kinds[self.plan.witness.column] = "number" if self.plan.witness.form == "number" else "text"
        endings = {} if long else {f"c{i}": c.ending for i, c in self.kept if c.ending}
        reader = Cells(self.dialect, kinds, self.cells, endings)
        held_t: FloatArray = np.empty(0)
        held: pa.Table | None = None
        begun = False
        for block in _rows(self.origin, self.dialect, self.text):
            table = reader.read(block)
            if self.progress:
                self.progress(self.text.bytes_read)
            raw, good = self._raw(table)
            if not good.all():
                self.untimed += int((~good).sum())
                table, raw = table.filter(pa.array(good)), raw[good]
            if not raw.size:
                continue
            times, cuts = self.line.feed(raw)
            shift = held_t.size
            if held is not None and shift:
                times, table = np.concatenate([held_t, times]), pa.concat_tables([held, table])
            edges = [0, *(at + shift for at, _ in cuts), times.size]
            whys = ["", *(why for _, why in cuts)]
            for n, (start, stop) in enumerate(itertools.pairwise(edges)):
                if n:
                    self.fresh, begun = True, False
                    self.why = whys[n]
                    self.resets += self.why == clocks.RESET
                if stop == start:
                    continue
                part_t, part = times[start:stop], table.slice(start, stop - start)
                if n == len(edges) - 2:  # the last stamps may go on in the next block
                    stamps = np.maximum.accumulate(part_t)
                    previous = np.searchsorted(stamps, stamps[-1])
                    cut = int(np.searchsorted(stamps, stamps[max(previous - 1, 0)]))
                    held_t, held = part_t[cut:], part.slice(cut)
                    yield from self._emit(part_t, part, cut, begun)
                    begun = begun or cut > 0
                else:
                    yield from self._emit(part_t, part, part_t.size, begun)
                    begun = True
        if held is not None and held_t.size:
            yield from self._emit(held_t, held, held_t.size, begun)

    def _raw(self, table: pa.Table) -> tuple[FloatArray, Any]:
        """Clock readings in native units from one common zero, and which rows have one."""
        clock = self.time
        column = table.column(f"c{clock.column}").combine_chunks()
        if clock.form == "number":
            values = np.asarray(column.to_numpy(zero_copy_only=False), float)
            good = np.isfinite(values)
            if clock.absolute and self.base_ns is None and good.any():
                self.base = float(np.floor(values[good][0]))
                self.base_ns = int(self.base) * (10**9 // clock.per_second)
            return values - self.base, good
        if isinstance(column, pa.ChunkedArray):
            column = pa.concat_arrays(column.chunks)
        ns, good = clocks.read_text(column, clock.form, clock.order, clock.per_second)
        if clock.date_column is not None:
            date = table.column(f"c{clock.date_column}").combine_chunks()
            days, dated = clocks.read_text(date, "date", clock.order)
            ns, good = ns + days, good & dated
        if self.base_ns is None and good.any():
            first = int(ns[good][0])
            self.base_ns = first - first % 10**9 if clock.absolute else 0
        return (ns - (self.base_ns or 0)) / 1e9, good

    def _emit(self, times: FloatArray, table: pa.Table, count: int, begun: bool) -> Iterator[Begin | pa.RecordBatch]:
        if not count:
            return
        witness_ns = self._witness(times, table) if self.fresh and self.plan.witness else None
        if self.plan.long:
            times, arrays = self._pivot(times[:count], table.slice(0, count))
        else:
            table = self._own(table.slice(0, count))
            merged = _merge(times[:count], table)
            if merged is not None:
                self.merged += count - merged[0].size
                times, table = merged
            else:
                times = clocks.spread(times, int(begun))[:count]
            arrays = [self._convert(table.column(n), c) for n, (_, c) in enumerate(self.kept)]
        if not times.size:
            return
        if self.fresh:
            self.fresh = False
            if self.first_s is None:
                self.first_s = float(times[0])
            self.origin_s, self.last_s = float(times[0]), -1.0
            yield Begin(self.origin_s, self.why, self.resets, witness_ns)
        coarse = abs(self.origin_s) > 1e5 or (self.base > 1e8 and self.time.per_second == 1)
        relative = np.round(times - self.origin_s, 6 if coarse else 9)  # no finer than the clock's own digits
        ahead = np.diff(relative, prepend=self.last_s)
        if (ahead <= 0).any():  # what is still out of order moves up by microseconds
            steps = 1e-6 * np.arange(relative.size)
            relative = np.maximum.accumulate(np.maximum(relative - steps, self.last_s + 1e-6)) + steps
        self.last_s = float(relative[-1])
        whole = pa.table([pa.array(relative), *arrays], schema=self.schema)
        yield from whole.combine_chunks().to_batches()

    def _own(self, table: pa.Table) -> pa.Table:
        """The kept columns, one for each channel, without the rows that are another's."""
        cells = [table.column(f"c{i}") for i, _ in self.kept]
        if self.plan.by is not None:
            whose = table.column(f"c{self.plan.by}")
            mine = {
                o: pc.fill_null(pc.equal(whose, o), False) for o in dict.fromkeys(c.only for _, c in self.kept) if o
            }
            cells = [pc.if_else(mine[c.only], v, pa.scalar(None, v.type)) if c.only else v
                     for v, (_, c) in zip(cells, self.kept, strict=True)]  # fmt: skip
            self.strangers += len(table) - sum(int(pc.sum(m).as_py()) for m in mine.values()) if mine else 0
        return pa.Table.from_arrays(cells, names=[c.channel for _, c in self.kept])

    def _witness(self, times: FloatArray, table: pa.Table) -> int | None:
        """What the second clock says of the instant 0 of the first, ns since 1970."""
        clock = self.plan.witness
        assert clock is not None
        column = table.column(f"c{clock.column}").combine_chunks()
        if clock.form == "number":
            seconds = np.asarray(pc.fill_null(column, 0).to_numpy(zero_copy_only=False)) / clock.per_second
            ns, good = np.asarray(seconds * 1e9).astype(np.int64), np.asarray(column.is_valid())
        else:
            ns, good = clocks.read_text(column, clock.form, clock.order)
        good = good & (ns > _SINCE_NS)
        if not good.any():
            return None
        stamps = ns[good]
        late = 5e8 if not (stamps % 10**9).any() and np.ptp(stamps) else 0.0  # whole seconds are cut, not rounded
        since = stamps - stamps[0] - (times[good] - times[0]) * 1e9 + late
        return int(stamps[0] + np.median(since) - times[0] * 1e9)

    def _convert(self, column: pa.ChunkedArray, target: ColumnPlan) -> pa.ChunkedArray:
        factor = target.factor
        if factor.identity or target.kind != "number":
            return column
        if factor.num.numerator != 1:
            column = pc.multiply(
                column, float(factor.num.numerator) if factor.num.numerator < 2**53 else float(factor.num)
            )
        if factor.num.denominator != 1 and factor.num.numerator < 2**53:
            column = pc.divide(column, float(factor.num.denominator))
        return pc.add(column, float(factor.offset)) if factor.offset else column

    def _pivot(self, times: FloatArray, table: pa.Table) -> tuple[FloatArray, list[Any]]:
        """One row a stamp from rows of (time, sensor, value)."""
        long = self.plan.long
        assert long is not None
        wanted = [c.heading for _, c in self.kept]
        code = pc.index_in(table.column(f"c{long.sensor}"), pa.array(wanted, pa.string()))
        codes = np.asarray(pc.fill_null(code, -1).to_numpy())
        values = table.column(f"c{long.value}").combine_chunks()
        use = np.flatnonzero((codes >= 0) & np.asarray(values.is_valid()))
        times, codes = np.maximum.accumulate(times)[use], codes[use]
        if use.size < len(values):
            values = values.take(pa.array(use))
        if not times.size:
            return times, []
        stamps, group = np.unique(times, return_inverse=True)
        key = group * (len(wanted) + 1) + codes
        order = np.argsort(key, kind="stable")
        ordered = key[order]
        first = np.concatenate([[True], np.diff(ordered) > 0])
        begins = np.flatnonzero(first)
        counts = np.diff(np.concatenate([begins, [ordered.size]]))
        if counts.max() > 1:  # a sensor reported several times within one stamp
            rank = np.empty(times.size)
            rank[order] = (np.arange(times.size) - np.repeat(begins, counts)) / np.repeat(counts, counts)
            gaps = np.diff(stamps)
            usual = float(np.median(gaps)) if gaps.size else 1.0
            times = times + rank * np.minimum(np.append(gaps, usual), usual)[group]
            stamps, group = np.unique(times, return_inverse=True)
        arrays: list[Any] = []
        for n, (_, column) in enumerate(self.kept):
            mine = np.flatnonzero(codes == n)
            at = np.full(stamps.size, -1)
            at[group[mine]] = np.arange(mine.size)
            array = self._typed(values.take(pa.array(mine)), column).take(pa.array(at, mask=at < 0))
            arrays.append(self._convert(pa.chunked_array([array]), column))
        return stamps, arrays

    def _typed(self, values: pa.Array, column: ColumnPlan) -> pa.Array:
        """Values of one sensor of a long table, in the type of its channel."""
        if pa.types.is_floating(values.type):
            return values
        notes = CellNotes()
        out = Cells(self.dialect, [], notes).lenient(values, column.heading, column.kind)
        if column.heading in notes.unread:
            before, cell = self.unread.get(column.heading, (0, notes.unread_first[column.heading][0]))
            self.unread[column.heading] = (before + notes.unread[column.heading], cell)
        return out

    def when(self, start: Begin) -> tuple[datetime | None, dict[str, str]]:
        """UTC of a flight's first row where it is known, and what else is: where from, or the local time."""
        clock, begin = self.time, self.plan.begin
        base = self.base_ns or 0
        if clock.absolute:
            how = "the clock column"
        elif start.witness_ns is not None and self.plan.witness:
            zone, how = self.plan.witness.zone, f"the column {self.dialect.headings[self.plan.witness.column]!r}"
            known = anchors.to_utc(start.witness_ns, start.absolute_s, zone)
            return known, self._said(known, clocks.utc(start.witness_ns, start.absolute_s), how)
        elif begin.ns is None or start.resets:
            return None, {}
        elif clock.form == "hms" and (clock.zone or not begin.utc()):
            base, how = base + begin.ns // anchors.DAY_NS * anchors.DAY_NS, f"clock column, {begin.why}"
        elif begin.timed:
            first = start.absolute_s - (self.first_s or 0.0)
            known = anchors.to_utc(begin.ns, first, begin.zone)
            local = clocks.utc(begin.ns, first)
            return known, self._said(known, local, f"{begin.why}, as the time of the first row")
        else:
            day = clocks.utc(begin.ns, 0.0)
            return None, {"local_day": f"{day:%Y-%m-%d}", "local_day_from": begin.why} if day else {}
        known = anchors.to_utc(base, start.absolute_s, clock.zone)
        return known, self._said(known, clocks.utc(base, start.absolute_s), how)

    def _said(self, known: datetime | None, local: datetime | None, how: str) -> dict[str, str]:
        if known is not None:
            return {"utc_from": how}
        return {"local_start": local.replace(tzinfo=None).isoformat(), "local_start_from": f"{how}; zone unknown"} \
            if local else {}  # fmt: skip

    def notices(self) -> list[str]:
        """What was mended or left out so far, in words."""
        out = [f"{n} × {what}" for what, n in self.line.notes.items()]
        if self.cells.ragged:
            lines = sorted(self.cells.ragged_at)
            out.append(f"{self.cells.ragged} row(s) without the right number of fields left out (a cut line, or a "
                       f"remark): line {', '.join(map(str, lines))}"
                       + (" …" if self.cells.ragged > len(lines) else ""))  # fmt: skip
        if self.text.cut_line:
            out.append(f"the last line (line {self.text.cut_line}) has no line end and may be a cut line: left out")
        if self.merged:
            out.append(
                f"{self.merged} row(s) that share a stamp with the row before and fill other columns made one row"
            )
        if self.strangers:
            out.append(f"{self.strangers} row(s) of others than those the file begins with left out")
        if self.untimed:
            out.append(f"{self.untimed} row(s) without a readable time left out")
        for name, count in self.cells.unread.items():
            if name != f"c{self.time.column}":
                at = int(name[1:])
                heading = self.dialect.headings[at] if at < len(self.dialect.headings) else name
                cell, line = self.cells.unread_first[name]
                out.append(f"{count} cell(s) of column {heading!r} could not be read and are left empty"
                           f" (first: {cell!r} in line {line})")  # fmt: skip
        for sensor, (count, cell) in self.unread.items():
            out.append(f"{count} value(s) of {sensor!r} could not be read and are left empty (first: {cell!r})")
        if self.text.nul_bytes:
            out.append(f"{self.text.nul_bytes} zero byte(s) removed")
        if self.text.undecodable:
            out.append(f"{self.text.undecodable} character(s) could not be decoded")
        if self.text.cut_short:
            out.append("the compressed file is damaged; what could be expanded was read")
        return out


def read(
    source: Path | BinaryIO, plan: Plan, *, progress: Callable[[int], None] | None = None
) -> Iterator[FlightDraft]:
    """Read a planned file, flight by flight, batch by batch; ``progress`` is told bytes read so far.

    Raises
    ------
    importers.refusal.Refusal
        If the plan still has questions, or the file turns out unreadable on the way.
    """
    if plan.questions:
        first = plan.questions[0]
        raise Refusal(plan.source, found=f"an open question ({first.text})", expected="an answer",
                      remedy=f"answer {first.key}={' or '.join(first.answers)}")  # fmt: skip
    origin = plan.spool or Source(source, plan.source, plan.answers.get("member", ""))
    reading = _Reading(origin, plan, progress)
    items = _ahead(by_ground(reading.items(), reading.schema))
    common = {
        "source": plan.source, "content_sha256": origin.sha256(), "clock": plan.clock, "shape": plan.shape,
        "dialect": reading.dialect.describe(), "mapping": plan.mapping or "proposed", "fingerprint": plan.fingerprint,
        "columns": "; ".join(f"{c.heading} → {c.channel or 'dropped'}" + (f" ({c.conversion})" if c.conversion else "")
                             for c in plan.columns),
        **{f"preamble.{k}": v for k, v in plan.preamble.items()},
    }  # fmt: skip
    part, item = 0, next(items, None)
    try:
        while item is not None:
            assert isinstance(item, Begin)
            part += 1
            notices = list(plan.notices)
            if item.why:
                notices.append(f"a new flight begins here: {item.why}")
            ended: list[Any] = []
            known, more = reading.when(item)
            notices += [f"no zone is known for its local time {more['local_start']}: UTC stays open; the answer zone=… "
                        "settles it"] if "local_start" in more else []  # fmt: skip
            draft = FlightDraft(reading.schema, iter(()), known, part, {**common, **more}, notices)

            def batches(draft: FlightDraft = draft, ended: list[Any] = ended) -> Iterator[pa.RecordBatch]:
                for following in items:
                    if isinstance(following, Begin):
                        ended.append(following)
                        break
                    yield following
                draft.notices += [n for n in reading.notices() if n not in draft.notices]
                draft.metadata["dropped"] = "; ".join(draft.notices)

            draft.batches = batches()
            yield draft
            for _ in draft.batches:  # what the caller left
                pass
            item = ended[0] if ended else None
    finally:
        items.close()
    if not part:
        raise Refusal(plan.source, found="no row with a readable time and values", expected="rows of telemetry",
                      remedy="check that the log holds more than its header")  # fmt: skip


def _merge(times: FloatArray, table: pa.Table) -> tuple[FloatArray, pa.Table] | None:
    """Make rows that share a stamp one row, where they fill different columns; None where any two fill the same."""
    times = np.maximum.accumulate(times)
    fresh = np.concatenate([[True], np.diff(times) > 0])
    starts = np.flatnonzero(fresh)
    if starts.size == times.size or all(not c.null_count for c in table.columns):
        return None
    group = np.cumsum(fresh) - 1
    taken: dict[str, Any] = {}
    for name in table.column_names:
        column = table.column(name).combine_chunks()
        if isinstance(column, pa.ChunkedArray):
            column = pa.concat_arrays(column.chunks)
        filled = np.flatnonzero(np.asarray(column.is_valid()))
        owner = group[filled]
        if owner.size > 1 and (np.diff(owner) == 0).any():
            return None
        at = np.full(starts.size, -1)
        at[owner] = filled
        taken[name] = column.take(pa.array(at, mask=at < 0))
    return times[starts], pa.table(taken)


def _ahead(items: Iterator[Any], depth: int = 2) -> Any:
    """Let a generator run ahead in a thread; bounded by ``depth`` items; ends with its consumer."""
    ready: queue.Queue[Any] = queue.Queue(depth)
    stop = threading.Event()

    def put(item: Any) -> bool:
        while not stop.is_set():
            try:
                ready.put(item, timeout=0.1)
                return True
            except queue.Full:
                continue
        return False

    def run() -> None:
        error: BaseException | None = None
        try:
            for item in items:
                if not put(item):
                    return
        except BaseException as caught:  # handed to whoever waits
            error = caught
        put(_End(error))

    def consume() -> Iterator[Any]:
        thread = threading.Thread(target=run, name="reading", daemon=True)
        thread.start()
        try:
            while True:
                item = ready.get()
                if isinstance(item, _End):
                    if item.error is not None:
                        raise item.error
                    return
                yield item
        finally:
            stop.set()
            thread.join()

    return consume()
