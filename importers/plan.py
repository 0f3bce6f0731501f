"""Look at a file and propose how to read it: dialect, clock, shape, columns, and what must be asked first."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from analyser.core.aircraft import Aircraft
from analyser.core.channels import EXTRA, TIME, parse
from analyser.core.findings import Finding, Text, say
from importers.clock import pieces
from importers.clock.codes import ClockCode
from importers.clock.forms import form_of, order_said, read_cells
from importers.clock.model import NO_COLUMN, Clock
from importers.clock.rates import by_rows, counted, counts_rows, with_rate
from importers.clock.start import find_begin, zone_named
from importers.clock.timeline import find_clock, standing, timely, zoned
from importers.codes import PlanCode, PlanRefused
from importers.layout import (
    antennas,
    context,
    copies,
    corrections,
    doubts,
    endings,
    first_pass,
    mapping,
    positions,
    proposals,
    reconcile,
    shapes,
)
from importers.layout.codes import LayoutCode
from importers.meaning import columns, degrees, legend, units
from importers.meaning.codes import MeaningCode
from importers.model import ColumnPlan, Long, Plan, Question
from importers.refusal import Refusal
from importers.relations import either, pairs, places, probes, together, unsaid
from importers.table import headers, twins
from importers.table.columns import Columns
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
    _refuse_split_headings(dialect, cells, origin)
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
    if time is None:
        raise _nothing(PlanRefused.NO_CLOCK, dialect, origin)
    _refuse_unreadable(time, cells, dialect, origin)
    _refuse_no_day(time, cells, dialect, origin)
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
    look = _Look(origin, dialect, headings, cells, floats, whole, said, forced, questions, names, aircraft)
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
    text_in = (c for c in proposed if c.kind == "text" and _about(c.reason, LayoutCode.HOLDS_TEXT))
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
        raise _nothing(PlanRefused.NO_CHANNEL, dialect, origin, [c.heading for c in proposed] if long else ())
    as_table = origin.told if isinstance(origin, Rewritten) else ()
    notices = (*as_table, *told_parts, *_notices(proposed, dialect.headings))
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


class _Look:
    """What has been seen of a file, from which its columns are proposed."""

    def __init__(
        self, origin: Source, dialect: Dialect, headings: Sequence[columns.Heading],
        cells: Columns, floats: proposals.Floats, whole: bool, said: Mapping[str, str],
        saved: mapping.Mapping, questions: list[Question], names: columns.Known, aircraft: Aircraft | None,
    ) -> None:  # fmt: skip
        self.origin, self.dialect, self.headings, self.cells, self.whole = origin, dialect, headings, cells, whole
        self.said, self.saved, self.questions = said, saved, questions
        self.names, self.aircraft = names, aircraft
        self.floats = floats
        self.newest_first = False

    def long(self, long: Long) -> list[ColumnPlan]:
        """The sensors of a long table."""
        found = first_pass.sensors(self.origin, self.dialect, long, self.cells, self.whole)
        values = [s.values[::-1] if self.newest_first else s.values for s in found.values()]
        headings = context.letters([columns.dissect(name, s.unit) for name, s in found.items()])
        copied = copies.find(headings, values, lambda i: proposals.floats(values[i], self.dialect), ())
        headings = copied.headings
        self.names = context.known(headings, self.aircraft)
        out = []
        for i, heading in enumerate(headings):
            plain, some, behind = endings.of_sensor(heading, values[i], self.dialect.decimal)
            why = say(copied.of[i][0], heading=headings[copied.of[i][1]].text) if i in copied.of else None
            column = self._aside(plain, some, why) if why else self._column(plain, some)
            out.append(replace(column, endings=behind if column.kind == "number" else ()))
        return out

    def wide(
        self, time: Clock, spare: Sequence[int], witness: Clock | None, by: int | None,
        asides: Mapping[int, Text],
    ) -> list[ColumnPlan]:  # fmt: skip
        """The columns of a wide table; one for each receiver, pack or engine where their rows take turns.

        ``asides`` says of columns that are no measurement of their own why they are kept aside.
        """
        roles: dict[int, Text] = dict.fromkeys(spare, say(PlanCode.OTHER_CLOCK))
        if witness:
            roles[witness.column] = say(PlanCode.DATING_CLOCK, clock=witness.why)
        roles |= dict.fromkeys((c for c, _ in time.pieces), say(PlanCode.PART_OF_TIME))
        roles |= dict.fromkeys(time.day_columns or (), say(PlanCode.DATE))
        if time.date_column is not None:
            roles[time.date_column] = say(PlanCode.DATE)
        if time.column != NO_COLUMN:
            roles[time.column] = time.why
        values = {i: self._sample(i) for i in range(len(self.headings)) if i != by and i not in roles}
        ids = list(dict.fromkeys(self.cells[by])) if by is not None else []
        if not self.whole:
            empty = [i for i, some in values.items() if not some]
            values |= first_pass.late(self.origin, self.dialect, empty) if empty else {}
            ids = first_pass.takers(self.origin, self.dialect, by) if by is not None else []
        written = positions.written({i: self.headings[i] for i in values}, values)
        out: list[ColumnPlan] = []

        def first(i: int) -> tuple[str, ...]:
            return tuple(self.cells.some(i, range(min(3, self.cells.rows))))

        for i, heading in enumerate(self.headings):
            if i == by:
                role = say(PlanCode.WHOSE_ROW, names=tuple(ids))
                out.append(ColumnPlan(heading.text, TIME, "", "", first(i), 0.9, role, "text"))
            elif i in roles:
                kind = "number" if time.form == "number" else "text"
                out.append(ColumnPlan(heading.text, TIME, heading.unit_text, "", first(i), 0.95, roles[i], kind))
            elif i in asides:
                out.append(replace(self._aside(heading, values[i], asides[i]), column=i))
            elif self.whole and i not in written and self.floats.plain(i):
                numbers = self.floats(i)[:: -1 if self.newest_first else 1]
                each = shapes.each(heading, self.headings[by], ids) if by is not None else [("", heading)]
                found = ((only, self._column(one, values[i], numbers)) for only, one in each)
                out += [replace(column, only=only, column=i) for only, column in found]
            elif degrees.is_pair(values[i]) and self.saved.columns.get(heading.text) == "":
                out.append(ColumnPlan(heading.text, "", "", "", first(i), 1.0, proposals.AS_SAID, "skip", column=i))
            elif degrees.is_pair(values[i]):
                out += [replace(c, column=i) for c in positions.pair(heading, values[i])]
                if thirds := degrees.thirds(values[i]):
                    out.append(replace(self._column(positions.third(heading), thirds), column=i, degrees="third"))
            else:
                plain, some, ending = endings.unit_in_cells(heading, values[i])
                behind: endings.Endings = ()
                if not ending and i not in written:
                    plain, some, behind = endings.mixed(heading, some, self.dialect.decimal)
                if i in written:
                    plain, some = positions.plain(heading, values[i], written[i], self.said, self.questions)
                    if written[i] in degrees.FORMS:
                        some = [v.replace(".", self.dialect.decimal or ".") for v in some]
                each = shapes.each(plain, self.headings[by], ids) if by is not None else [("", plain)]
                for only, one in each:
                    column = self._column(one, some)
                    if column.kind == "number":
                        column = replace(column, ending=ending, endings=behind)
                    if written.get(i) in degrees.FORMS and column.channel.startswith("position."):
                        column = replace(column, degrees=written[i], samples=first(i))
                    out.append(replace(column, only=only, column=i))
        return proposals.hemispheres(out, values)

    def heights(self, proposed: Sequence[ColumnPlan], time: Clock) -> list[ColumnPlan]:
        """Altitudes that begin on the ground at nought as heights."""
        may_be = positions.may_be_heights(proposed)
        count = self.cells.rows if may_be else 0
        rows = list(range(count))[:: -1 if time.backwards else 1]
        values = {i: self._floats(proposed[i], rows) for i in may_be if not proposed[i].only}
        return positions.from_the_ground(proposed, values)

    def middle(self, column: ColumnPlan) -> float:
        """A column's median in canonical units, by the first rows; NaN where it holds no plain numbers of its own."""
        if column.column < 0 or column.only or column.endings or column.kind != "number":
            return np.nan
        values = self._floats(column, range(self.cells.rows))
        good = values[np.isfinite(values)]
        return column.factor.apply(float(np.median(good))) if good.size else np.nan

    def _floats(self, column: ColumnPlan, rows: Sequence[int]) -> npt.NDArray[np.float64]:
        if not column.ending:
            return np.asarray(self.floats(column.column)[np.asarray(rows, int)])
        cells = [c.removesuffix(column.ending) for c in self.cells.some(column.column, rows)]
        return proposals.floats(cells, self.dialect)

    def unsaid(self, proposed: Sequence[ColumnPlan], time: Clock) -> list[ColumnPlan]:
        """Columns whose unit only the others tell, by the first rows."""
        if not any(q.key.startswith("unit.") for q in self.questions):
            return list(proposed)
        rows = list(range(self.cells.rows))[:: -1 if time.backwards else 1]
        values = {
            i: self._floats(c, rows)
            for i, c in enumerate(proposed)
            if c.kind == "number" and not c.only and not c.degrees and unsaid.speaks(c.channel)
        }
        return unsaid.settled(proposed, values, pieces.steady(pieces.seconds(time, self.cells, rows)), self.questions)

    def paced(self, proposed: Sequence[ColumnPlan], time: Clock) -> bool:
        """Whether other columns bear out how long the clock says that it takes."""
        rows = together.some_rows(self.cells.rows)
        rows = rows[::-1] if time.backwards else rows
        seconds = pieces.steady(pieces.seconds(time, self.cells, rows))
        values = {i: self._written(c, rows) for i, c in enumerate(proposed)
                  if c.kind == "number" and not c.only and parse(c.channel)}  # fmt: skip
        return together.bears_out_time(proposed, values, seconds)

    def together(self, proposed: Sequence[ColumnPlan], time: Clock, long: Long | None) -> list[ColumnPlan]:
        """Columns heard against each other, in some of the first rows."""
        count = self.cells.rows
        rows = list(range(count)) if long else together.some_rows(count)
        rows = rows[::-1] if time.backwards else rows
        seconds = pieces.steady(pieces.seconds(time, self.cells, rows))
        values = {}
        for i, c in enumerate(proposed):
            if c.kind != "number" or c.only or not parse(c.channel) or (long and c.degrees):
                continue
            if long:
                own = [v if s == c.heading else "" for s, v in
                       zip(self.cells[long.sensor], self.cells[long.value], strict=True)]  # fmt: skip
                own = endings.of_rows(own, c.endings) if c.endings else own
                values[i] = proposals.floats(own[::-1] if time.backwards else own, self.dialect)
            else:
                values[i] = self._written(c, rows)
        if long and (spans := [np.flatnonzero(np.isfinite(v)) for v in values.values()]):
            shared = min((s[-1] for s in spans if s.size), default=0) - max((s[0] for s in spans if s.size), default=0)
            if shared < 0.5 * len(seconds):  # one sensor after the other
                return list(proposed)
        gears = [(i, c) for i, c in enumerate(proposed) if c.channel == "control.gear" and not (c.only or long)]
        states = {i: proposals.states(self.cells.some(c.column, rows)) for i, c in gears}
        return together.witnessed(proposed, values, seconds, states)

    def either(self, proposed: Sequence[ColumnPlan], time: Clock) -> list[ColumnPlan]:
        """Columns whose headings say one of two things, by the first rows."""
        some = either.speak(proposed)
        rows = list(range(self.cells.rows if some else 0))[:: -1 if time.backwards else 1]
        values = {i: self._written(proposed[i], rows) for i in some}
        return either.doubted(proposed, values, pieces.seconds(time, self.cells, rows) if some else None)

    def _written(self, c: ColumnPlan, rows: Sequence[int]) -> npt.NDArray[np.float64]:
        """The numbers of a column in some rows, as it is proposed to read them but for their unit."""
        if c.degrees:
            signs = self.cells.some(c.sign, rows) if c.sign >= 0 else ()
            return degrees.values(self.cells.some(c.column, rows), c.degrees, signs)
        if c.endings:
            plain = endings.of_rows(self.cells.some(c.column, rows), c.endings)
            return proposals.floats(plain, self.dialect)
        return self._floats(c, rows)

    def _aside(self, heading: columns.Heading, values: Sequence[str], why: Text) -> ColumnPlan:
        """A column that is no measurement of its own, unless a person says what it is."""
        if heading.text in self.saved.columns:
            return self._column(heading, values)
        nameless = replace(heading, words=(), ideas=(), glued=(), unit=None)
        return replace(self._column(nameless, values), channel=f"{EXTRA}.{columns.slug(heading.text)}", reason=why)

    def _column(
        self, heading: columns.Heading, values: Sequence[str], numbers: npt.NDArray[np.float64] | None = None
    ) -> ColumnPlan:
        return proposals.column(
            heading, values, self.dialect, self.said, self.saved, self.questions, self.names, numbers
        )  # fmt: skip

    def _sample(self, i: int) -> Sequence[str]:
        """Values of a column in the file's first lines: all where these are the whole file."""
        some = self.cells.filled(i)
        some = some[::-1] if self.newest_first else some
        return some if self.whole else some[:: 1 + len(some) // first_pass.SAMPLES]


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


def _nothing(code: PlanRefused, dialect: Dialect, origin: Source, sensors: Sequence[str] = ()) -> Refusal:
    named = ", ".join(h for h in sensors or dialect.headings if h)[:120]
    return Refusal(origin.name, code, line=dialect.header_row, headings=named)


def _refuse_split_headings(dialect: Dialect, cells: Columns, origin: Source) -> None:
    """Refuse headings such as "Voltage, V" without quotes: each value would stand under another's heading.

    Raises
    ------
    Refusal
        If no row is as wide as the headings and some of these are units alone.
    """
    filled = [i for i in range(len(cells)) if cells.holds(i)]
    alone = [h for h in dialect.written if units.understand(h) is not None]
    if filled and filled[-1] + 1 < len(dialect.headings) and len(alone) > 1:
        raise Refusal(
            origin.name, PlanRefused.SPLIT_HEADINGS, line=dialect.header_row, headings=len(dialect.headings),
            values=filled[-1] + 1, units=tuple(alone[:3]), mark=dialect.delimiter,
        )  # fmt: skip


def _guessed(question: Question) -> bool:
    """Whether what a question leaves open is near enough known for columns to be heard against each other."""
    return isinstance(question.text, Finding) and question.text.code in (ClockCode.ASK_UNIT_SAID, ClockCode.ASK_PACE)


def _about(reason: Text, *codes: str) -> Finding | None:
    """What a reason says of this kind first; None where it says nothing of it."""
    return next((f for f in reason.findings() if f.code in codes), None) if isinstance(reason, Finding) else None


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


def _refuse_unreadable(
    time: Clock, cells: Sequence[Sequence[str]], dialect: Dialect, origin: Source
) -> None:  # fmt: skip
    """Refuse a file of which many times cannot be read: what is left would pass for the whole."""
    forms = [(time.column, time.form)] if time.form != "number" else []
    forms += [(time.date_column, "date")] if time.date_column is not None else []
    for column, form in forms:
        values = list(filter(None, cells[column]))
        _, good = read_cells(values, form, time.order, time.per_second)
        if good.mean() >= 0.9:
            continue
        odd = values[int((~good).argmax())]
        otherwise = any(read_cells([odd], form, order)[1].all() for order in ("ymd", "dmy", "mdy"))
        if form_of([odd], dates=True) == form and not (good.any() and otherwise):
            raise Refusal(origin.name, PlanRefused.NO_SUCH_TIME, column=dialect.headings[column], odd=odd,
                          dated=order_said([odd], time.order) if form != "hms" else "")  # fmt: skip
        if not good.any():
            raise Refusal(origin.name, PlanRefused.TIMES_UNREAD, column=dialect.headings[column], like=values[0])
        like = values[int(good.argmax())]
        raise Refusal(origin.name, PlanRefused.TIMES_DIFFER, column=dialect.headings[column], odd=odd, like=like)


def _refuse_no_day(time: Clock, cells: Sequence[Sequence[str]], dialect: Dialect, origin: Source) -> None:
    """Refuse years, months and days in columns of their own that are many times no day."""
    if not time.day_columns:
        return
    parts = [cells[c] for c in time.day_columns]
    bad = ~np.isfinite(pieces.days_s([pieces.numbers(p) for p in parts]))
    if bad.mean() > 0.1:
        odd = "-".join(p[int(bad.argmax())] for p in parts)
        column = dialect.headings[time.day_columns[0]]
        raise Refusal(origin.name, PlanRefused.NO_SUCH_TIME, column=column, odd=odd, dated="")


_WHY_EXTRA = (
    LayoutCode.HOLDS_TEXT, LayoutCode.SAME_VALUES, LayoutCode.OTHER_UNIT_OF, LayoutCode.EXTREME_OF,
    LayoutCode.SETTING_OF, LayoutCode.SMOOTHED_FROM, LayoutCode.GOODNESS_OF, LayoutCode.COUNTS_OF,
    LayoutCode.CORRECTED_FROM,
)  # fmt: skip


def _notices(proposed: Sequence[ColumnPlan], headings: Sequence[str]) -> tuple[Text, ...]:
    """What the proposal does that a reader may not expect."""
    out: list[Text] = [
        say(PlanCode.DROPPED if c.empty else PlanCode.LEFT_OUT, column=c.heading)
        for c in proposed
        if not c.channel and c.heading
    ]
    for c in proposed:
        if c.channel.startswith(f"{EXTRA}."):
            why = next((w for code in _WHY_EXTRA if (w := _about(c.reason, code))), "")
            out.append(
                say(PlanCode.KEPT_AS_EXTRA, column=c.heading, number=c.column + 1, why=why, channel=c.channel)
            )  # fmt: skip
        if c.sign >= 0:
            out.append(say(PlanCode.SIGNED_BY_LETTERS, column=c.heading, letters=headings[c.sign]))
    unsaid: dict[tuple[str, bool], list[str]] = {}
    for c in proposed:
        if of := _about(c.reason, MeaningCode.UNIT_TAKEN, MeaningCode.UNIT_TAKEN_BY_VALUES):
            by_values = of.code == MeaningCode.UNIT_TAKEN_BY_VALUES
            unsaid.setdefault((of.values["unit"], by_values), []).append(c.heading)
    out += [
        say(PlanCode.UNIT_TAKEN, columns=tuple(some), unit=unit, by_values=by_values)
        for (unit, by_values), some in unsaid.items()
    ]
    out += [say(PlanCode.SIGN_AS_LOGGED, column=c.heading) for c in proposed
            if c.channel == "motion.accel_z_m_s2" and "z" not in columns.dissect(c.plain).words]  # fmt: skip
    return tuple(out)
