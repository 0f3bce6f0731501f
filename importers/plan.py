"""Look at a file and propose how to read it: dialect, clock, shape, columns, and what must be asked first."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.channels import TIME, parse
from analyser.core.findings import Finding, say
from importers import checks
from importers.clock import pieces
from importers.clock.codes import ClockCode
from importers.clock.finding.headings import timely
from importers.clock.rates import by_rows, counted, counts_rows, with_rate
from importers.clock.start import find_begin, zone_named
from importers.clock.timeline import find_clock, standing, turning, zoned
from importers.codes import PlanCode, PlanRefused
from importers.layout import (
    antennas,
    context,
    copies,
    corrections,
    doubts,
    endings,
    mapping,
    proposals,
    reconcile,
    shapes,
)
from importers.layout.codes import LayoutCode
from importers.look import Look
from importers.meaning import columns, legend, units
from importers.model import Plan, Question
from importers.notices import about, notices_of
from importers.refusal import Refusal
from importers.relations import pairs, places, probes
from importers.table import headers, twins
from importers.table.dialect import Dialect, sniff
from importers.table.lines import LINES
from importers.table.rewriting import Rewritten, numbered, rewritten
from importers.table.source import Source
from importers.table.text import head
from importers.table.values import without_nulls


def plan(
    source: Path | BinaryIO | Source, *, name: str = "", mappings: Sequence[Path] = (),
    answers: Mapping[str, str] | None = None, aircraft: Aircraft | None = None,
    bare: bool = False,
) -> Plan:  # fmt: skip
    """Look at a file and propose how to read it.

    Parameters
    ----------
    source : Path, binary file or Source
    name : str
        What to call it in messages; its own name where empty.
    mappings : sequence of Path
        Saved mappings; the first made for these headings is used, or else the one that fits all but a few. Of those in
        :class:`importers.layout.mapping.Named` one must be used.
    answers : mapping of str to str, optional
        To what may be open, by :attr:`Question.key`.
    aircraft : Aircraft, optional
        Whose flights these are, where that is known: the names of its parts are understood in headings.
    bare : bool
        Plan a file too in which no channel is recognised, so that a person may say what its columns are.

    Raises
    ------
    importers.refusal.Refusal
        If the file can't be telemetry: empty, binary, no time column, no known channel …
    """
    said = dict(answers or {})
    origin = source if isinstance(source, Source) else Source(source, name, said.get("member", ""))
    text, encoding, whole = head(origin)
    if made := rewritten(origin, text, whole=whole):
        origin = made
        text, encoding, whole = head(origin)
    lines = text.count("\n")
    whole = whole and lines < LINES
    decimal = {"comma": ",", "point": "."}.get(said.get("decimal", ""), "")
    dialect, cells = sniff(text, encoding, origin.name, decimal=decimal)
    if other := headers.changed(text[_begin(text, dialect.first_row) :].encode(), dialect, dialect.first_row):
        raise Refusal(origin.name, PlanRefused.HEADER_CHANGES, line=other[0], header=other[1][:80])
    fingerprint = hashlib.sha256("\x1f".join(map(str.casefold, dialect.headings)).encode()).hexdigest()[:16]
    corrections.check(said)
    saved, differs = mapping.recognise(mappings, fingerprint, dialect.headings)
    if isinstance(mappings, mapping.Named) and saved is None:
        missing, _ = mapping.load(mappings[0]).against(dialect.headings)
        raise Refusal(origin.name, PlanRefused.OTHER_MAPPING, line=dialect.header_row, mapping=mappings[0].stem,
                      missing=tuple(missing[:6]))  # fmt: skip
    if saved:
        saved.check(dialect.headings)
        said = {**saved.answers, **said}
    forced = (saved or mapping.Mapping("", "")).corrected(said)
    if "zone" in said:
        said["zone"] = _zone(said["zone"], origin)
    questions = _decimal(dialect, cells, origin)
    if dialect.decimal == "." and not dialect.thousands:
        cells.read_numbers()
    for i in set(range(len(cells))) - cells.numbers.keys():  # among plain numbers no word says that there is none
        cells[i] = without_nulls(cells[i])
    unit_row = [*dialect.unit_row, *[""] * len(dialect.headings)]
    checks.refuse_split_headings(dialect, cells, origin)
    written_out = legend.explained(twins.as_exported(dialect.written), dialect.preamble)
    headings = [
        replace(columns.dissect(h, unit), text=name, written=h) if name != h else columns.dissect(h, unit)
        for h, name, unit in zip(written_out, dialect.headings, unit_row, strict=False)
    ]
    in_cells: dict[int, str] = {}
    for i, heading in enumerate(headings):
        if timely(heading) and (found := endings.unit_in_cells(heading, cells.filled(i)))[2]:
            headings[i], _, in_cells[i] = found
            cells[i] = [c.removesuffix(in_cells[i]).rstrip() for c in cells[i]]
        if dialect.thousands and timely(heading):
            cells[i] = [_ungrouped(c, dialect.thousands) for c in cells[i]]
    estimate = float(cells.rows) if whole else lines * max(1.0, origin.size / max(len(text), 1))
    time, asks, spare, witness = find_clock(headings, cells, estimate, said, cells.numbers)
    lines_above = with_rate(dialect.preamble, said.get("rate", ""))
    if time is None or (time.form == "number" and counts_rows(headings[time.column], cells[time.column])):
        by_number = counted(headings, cells, lines_above)
        time, asks = by_number or (by_rows(lines_above), [])
    if time is None and (still := standing(headings, cells)):
        raise Refusal(origin.name, PlanRefused.CLOCK_STANDS_STILL, line=dialect.first_row, column=still)
    if time is None and (turn := turning(headings, cells)):
        raise Refusal(origin.name, PlanRefused.CLOCK_TURNS, line=dialect.first_row + turn[1], column=turn[0])
    if time is None:
        raise checks.nothing(PlanRefused.NO_CLOCK, dialect, origin)
    checks.refuse_unreadable(time, cells, dialect, origin)
    checks.refuse_no_day(time, cells, dialect, origin)
    if len(time.columns) == 1 and pieces.sparse(cells[time.column]) and not time.backwards:
        time = replace(time, sparse=True, why=say(ClockCode.SPARSE, clock=time.why))
        cells[time.column] = pieces.carried(cells[time.column])
    timed = np.isfinite(pieces.seconds(time, cells))
    if not timed.all():  # remarks, sums below the table: they are not read, so they are no witness either
        cells.keep(timed)
    if (second := pieces.another(time, spare, dialect.written, cells)) is not None:
        raise Refusal(origin.name, PlanRefused.TWO_CLOCKS, line=dialect.header_row,
                      column=dialect.headings[time.column],
                      columns=(time.column + 1, second + 1))  # fmt: skip
    begin, more = find_begin(dialect.preamble, origin.name, said)
    if not (time.form == "number" and not time.absolute) and not time.zone and begin.zone != "row":
        time = replace(time, zone=begin.zone, why=zoned(time.why, begin.zone))
    if witness and witness.form != "number" and not witness.zone:
        witness = replace(witness, zone=begin.zone if begin.zone != "row" else "")
    if not time.absolute:
        asks += [a for a in more if a.key not in {b.key for b in asks}]
    questions += [Question(a.key, a.text, a.answers) for a in asks]
    headings = context.letters(headings)
    clocks = {*time.columns, *spare, *(witness.columns if witness else ())}
    long, by, in_blocks = shapes.long(headings, cells, time), None, False
    placed, asides = places.Places(headings), {}
    floats = proposals.Floats(cells, dialect)
    if not long:
        copied = copies.find(headings, cells, floats, clocks)
        headings = copied.headings
        placed = places.find(
            headings, floats, clocks,
            lambda: pieces.steady(pieces.seconds(time, cells)), aircraft,
        )  # fmt: skip
        headings = placed.headings
        asides = {i: say(code, heading=headings[j].text) for i, (code, j) in copied.of.items()} | {
            i: say(LayoutCode.OTHER_UNIT_OF if other else LayoutCode.SAME_VALUES, heading=headings[j].text)
            for i, (j, other) in placed.repeats.items()
        }
    names = context.known([h for i, h in enumerate(headings) if i not in clocks], aircraft)
    look = Look(origin, dialect, headings, cells, floats, whole, said, forced, questions, names, aircraft)
    look.newest_first = time.backwards
    if long:
        cells[long.sensor] = shapes.full_names(cells, long)
        seconds, value = pieces.seconds(time, cells), long.value
        try:
            several = shapes.at_once(cells[long.sensor], lambda: proposals.floats(cells[value], dialect), seconds)
        except shapes.SeveralAtOnceError as twice:
            raise Refusal(origin.name, PlanRefused.SENSOR_TWICE, line=dialect.first_row, sensor=str(twice)) from None
        if several:
            at = (time.column, long.sensor, *([] if long.device is None else [long.device]))
            again = numbered(origin, dialect.written, dialect.header, at, several)
            return plan(again, mappings=mappings, answers=answers, aircraft=aircraft, bare=bare)
        in_blocks = shapes.in_blocks(cells[long.sensor], seconds, whole=whole)
        proposed = look.long(long)
    else:
        by = shapes.told_apart(headings, cells, (*time.columns, *spare))
        if by is None and (of_kinds := shapes.kinds(headings, cells, (*time.columns, *spare))):
            raise Refusal(origin.name, PlanRefused.ROWS_OF_KINDS, line=dialect.first_row, kinds=of_kinds[0],
                          heading=of_kinds[1])  # fmt: skip
        proposed = places.remarked(look.wide(time, spare, witness, by, asides), placed)
    proposed = antennas.called_alike(proposed)
    proposed = probes.of_the_bus(probes.of_some_pack(probes.of_one_shaft(proposed), look.middle))
    proposed = antennas.number(proposals.meant(proposed, said, questions, look.names), aircraft)
    pace = next((q for q in questions if isinstance(q.text, Finding) and q.text.code == ClockCode.ASK_PACE), None)
    if pace and not long and look.paced(proposed, time):
        questions.remove(pace)
    if not any(q.key in ("decimal", "time_unit", "minutes") and not _guessed(q) for q in questions):
        by_time = not any(q.key == "rate" or q is pace for q in questions)  # else no law of time may settle a unit
        if not long:
            proposed = look.unsaid(proposed, time) if by_time else proposed
            proposed = look.either(look.heights(proposed, time), time)
        proposed = pairs.doubted(look.together(proposed, time, long))
    doubts.units_at_once(proposed, questions)
    proposed = doubts.settle(proposals.settle(proposed, said, questions), said, questions)
    proposed, unsettled, told_parts = reconcile.settle(proposed, aircraft, said)
    if not any(c.channel not in ("", TIME) for c in proposed):
        empty = tuple(c.heading for c in proposed if c.empty)[:6]
        raise Refusal(origin.name, PlanRefused.NO_VALUE, line=dialect.header_row, headings=empty)
    text_in = (c for c in proposed if c.kind == "text" and about(c.reason, LayoutCode.HOLDS_TEXT))
    words = next((c for c in text_in if _known(c.plain)), None)
    if words and not any(parse(c.channel) for c in proposed):
        raise Refusal(
            origin.name,
            PlanRefused.TEXT_FOR_NUMBERS,
            line=dialect.first_row,
            column=words.heading,
            samples=words.samples,
        )
    open_columns = any(q.key.startswith("column.") for q in questions)
    if not (bare or open_columns or any(parse(c.channel) for c in proposed)):
        if title := headers.title(text.split("\n"), dialect):
            raise Refusal(origin.name, PlanRefused.TITLED_TABLES, line=dialect.header_row, title=title[:80])
        raise checks.nothing(PlanRefused.NO_CHANNEL, dialect, origin, [c.heading for c in proposed] if long else ())
    as_table = origin.told if isinstance(origin, Rewritten) else ()
    notices = (*as_table, *told_parts, *notices_of(proposed, dialect.headings))
    if saved and not saved.fingerprint and differs:
        notices = (say(LayoutCode.MAPPING_DIFFERS, mapping=saved.name, differences=tuple(differs)), *notices)
    elif saved and saved.fingerprint not in ("", fingerprint):
        told = mapping.differences(saved, differs, proposed)
        notices = (told, *notices) if told else notices
    return Plan(
        source=origin.name, fingerprint=fingerprint, columns=tuple(proposed), clock=time.why, dialect=dialect,
        time=time, origin=origin, questions=tuple(questions), notices=notices,
        long=long, answers=said, mapping=saved.name if saved else "", begin=begin, witness=witness, by=by,
        in_blocks=in_blocks, time_ending=in_cells.get(time.column, ""),
        unsettled=tuple(unsettled),
    )  # fmt: skip


def _ungrouped(cell: str, mark: str) -> str:
    """A number without its marks between thousands; any other cell as it is."""
    grouped = re.fullmatch(rf"\d{{1,3}}({re.escape(mark)}\d{{3}})+([.,]\d+)?", cell)
    return cell.replace(mark, "") if grouped else cell


def _begin(text: str, line: int) -> int:
    """Where a line begins, by its number from 1."""
    at = 0
    for _ in range(line - 1):
        at = text.find("\n", at) + 1
    return at


def _guessed(question: Question) -> bool:
    """Whether what a question leaves open is near enough known for columns to be heard against each other."""
    return isinstance(question.text, Finding) and question.text.code in (ClockCode.ASK_UNIT_SAID, ClockCode.ASK_PACE)


def _zone(text: str, origin: Source) -> str:
    where = zone_named(text)
    if where is None:
        raise Refusal(origin.name, PlanRefused.UNKNOWN_ZONE, zone=text)
    return where


def _decimal(dialect: Dialect, cells: Sequence[Sequence[str]], origin: Source) -> list[Question]:
    """Ask what the mark in the numbers means, where neither they nor the limits of a channel settle it."""
    if dialect.thousands in (".", ",") and _impossible_grouped(replace(dialect, decimal=dialect.thousands), cells):
        raise Refusal(origin.name, PlanRefused.TWO_DECIMAL_MARKS, line=dialect.first_row)
    if not dialect.decimal_unsure or _impossible_grouped(dialect, cells):
        return []
    return [Question("decimal", say(PlanCode.ASK_DECIMAL, mark=dialect.decimal), ("comma", "point"))]


def _impossible_grouped(dialect: Dialect, cells: Sequence[Sequence[str]]) -> bool:
    """Whether values would be impossible if the marks grouped thousands: then they are decimal marks."""
    for i, text in enumerate(dialect.written):
        heading = columns.dissect(text, dialect.unit_row[i] if i < len(dialect.unit_row) else "")
        marked = [c.replace(dialect.decimal, "") for c in cells[i] if dialect.decimal in c]
        numbers = [float(v) for v in marked if v.lstrip("+-").isdecimal()]
        known = parse(columns.match(heading, 0.0, 1.0).channel) if heading.unit and numbers else None
        factor = units.conversion(heading.unit, known.channel.unit) if known and heading.unit else None
        if known and factor and not all(known.channel.low <= factor.apply(n) <= known.channel.high for n in numbers):
            return True
    return False


def _known(heading: str) -> bool:
    """Whether a heading alone is that of a channel."""
    return parse(columns.match(columns.dissect(heading), 0.0, 1.0).channel) is not None
