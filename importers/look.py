"""What has been seen of a file's first rows, and what its columns are proposed to be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.channels import EXTRA, TIME, parse
from analyser.core.findings import Text, say
from importers.clock import pieces
from importers.clock.model import NO_COLUMN, Clock
from importers.codes import PlanCode
from importers.layout import (
    context,
    copies,
    endings,
    first_pass,
    mapping,
    positions,
    proposals,
    shapes,
)
from importers.meaning import columns, degrees
from importers.model import ColumnPlan, Long, Question
from importers.relations import either, together, unsaid
from importers.table.columns import Columns
from importers.table.dialect import Dialect
from importers.table.source import Source


class Look:
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
