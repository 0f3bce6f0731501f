"""A plain table as text: its cells taken out of text, and written as text again."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from importers.table.codes import TableRefused

DELIMITERS = "\t;,|"


class Unread(Exception):
    """Why a file of a known form can't be rewritten."""

    def __init__(self, code: TableRefused, **values: Any) -> None:
        super().__init__(code)
        self.code, self.values = code, values


def delimiter_of(line: str) -> str:
    """What stands most often between the cells of a line."""
    return max(DELIMITERS, key=line.count)


def cells_of(body: str, delimiter: str, width: int) -> pa.Table:
    """The lines of a table that have as many cells as it has columns."""
    keys = [f"c{i}" for i in range(width)]
    lines = "\n".join(re.findall(rf"[^\n]*{re.escape(delimiter)}[^\n]*", body))
    if not lines:
        return pa.table({k: pa.nulls(0, pa.string()) for k in keys})
    return pa_csv.read_csv(
        pa.BufferReader(lines.encode()),
        pa_csv.ReadOptions(column_names=keys, use_threads=False),
        pa_csv.ParseOptions(delimiter=delimiter, invalid_row_handler=lambda _: "skip"),
        pa_csv.ConvertOptions(column_types=dict.fromkeys(keys, pa.string())),
    )


def written_plain(
    columns: Sequence[pa.Array | pa.ChunkedArray], names: Sequence[str], *, ended: bool, above: str = ""
) -> str:  # fmt: skip
    """A table as text between tabs, below the lines ``above`` it; of the cells only those that need it are quoted."""
    out = io.BytesIO()
    options = pa_csv.WriteOptions(include_header=False, delimiter="\t", quoting_style="needed")
    pa_csv.write_csv(pa.table(list(columns), names=list(names)), out, options)
    lines = [f"# {line.lstrip('#').strip()}\n" for line in above.split("\n") if line.strip()]
    text = "".join(lines) + "\t".join(n.replace("\t", " ") for n in names) + "\n" + out.getvalue().decode()
    return text if ended else text.removesuffix("\n")


def one_row_a_reading(
    pieces: Sequence[tuple[pa.ChunkedArray, str, pa.ChunkedArray]], clock: str, *, ended: bool, above: str
) -> str | None:
    """Times, a sensor's name and its values, for each sensor, as one row a reading, one sensor after the other."""
    tables = []
    for times, name, values in pieces:
        timed = pc.match_substring_regex(times, r"^\s*-?\d")
        there = pc.and_(timed, pc.not_equal(pc.utf8_trim_whitespace(values), ""))
        table = pa.table({"t": times, "v": values}).filter(there)
        tables.append(table.add_column(1, "n", pa.array([name] * len(table), pa.string())))
    whole = pa.concat_tables(tables)
    return written_plain(whole.columns, (clock, "Sensor", "Value"), ended=ended, above=above) if len(whole) else None
