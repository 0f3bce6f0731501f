"""A long table that names several sensors alike: each gets a number."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import pyarrow as pa
import pyarrow.compute as pc

from analyser.core.findings import say
from importers.table.codes import TableCode
from importers.table.rewriting.plain import cells_of, delimiter_of, written_plain
from importers.table.rewriting.source import Rewritten, whole_text
from importers.table.source import Source


def numbered(
    origin: Source, written: Sequence[str], header: str, at: tuple[int, ...], names: Collection[str]
) -> Rewritten:
    """A long table whose ``names`` of sensors have a number each where they come several times at one time.

    Parameters
    ----------
    written : sequence of str
        The headings of its columns, as in the line ``header``.
    at : tuple of int
        The columns of the time, of the sensor, and perhaps of its device before that.
    """
    text = origin.text if isinstance(origin, Rewritten) else whole_text(origin)
    delimiter, start = delimiter_of(header), text.index(header)
    table = cells_of(text[start + len(header) :], delimiter, len(written))
    whose = [table.column(i) for i in at]
    nth = (
        pa.table(whose, names=[str(i) for i in at]).to_pandas().groupby([str(i) for i in at], sort=False).cumcount() + 1
    )
    full = pc.utf8_trim_whitespace(pc.binary_join_element_wise(*whose[2:], whose[1], " "))
    more = pc.binary_join_element_wise(whose[1], pa.array(nth.astype(str), pa.string()), " ")
    sensor = pc.if_else(pc.is_in(full, pa.array([*names], pa.string())), more, whose[1])
    table = table.set_column(at[1], f"c{at[1]}", sensor)
    made = written_plain(table.columns, written, ended=text.endswith("\n"), above=text[:start].replace(delimiter, "\t"))
    return Rewritten(origin, made, say(TableCode.NUMBERED, names=tuple(sorted(names))))
