"""Every CSV we write: numbers stay numbers, and no text can act in the spreadsheet that opens it.

A spreadsheet takes a cell that begins with ``= + - @`` or a tab for a formula (OWASP, "CSV
Injection"; the full-width forms too): such a text gets an apostrophe in front. A number written as text is none.
Characters that hide or turn a line round are replaced by a visible one.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from reports.addresses import REPLACEMENT, UNSEEN, neutral

_ACTS = r"^[=+\-@\t\uff1d\uff0b\uff0d\uff20]"
_NUMBER = r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$"
_acts, _number = re.compile(_ACTS), re.compile(_NUMBER, re.ASCII)


def cell(value: Any) -> Any:
    """Make one value fit for a cell.

    >>> cell("=1+1"), cell("-3.5"), cell(-3.5)
    ("'=1+1", '-3.5', -3.5)
    """
    if not isinstance(value, str):
        return value
    text = neutral(value)
    return f"'{text}" if _acts.match(text) and not _number.match(text) else text


def as_written(text: str) -> str:
    """Take off the apostrophe that :func:`cell` put before a text; it may come back from a spreadsheet."""
    return text[1:] if text[:1] == "'" and _acts.match(text[1:]) else text


def encode_rows(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> str:
    """Write rows as CSV under these columns."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([cell(c) for c in columns])
    writer.writerows([cell(row.get(c)) for c in columns] for row in rows)
    return text.getvalue()


def encode_table(table: Any) -> bytes:
    """Write an Arrow table as CSV, column by column."""
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.csv

    unseen = re.sub(r"\\[uU]0*([0-9a-f]+)", r"\\x{\1}", UNSEEN.replace(r"\ud800-\udfff", ""))
    acts = re.sub(r"\\u([0-9a-f]+)", r"\\x{\1}", _ACTS)
    columns = []
    for column in table.columns:
        if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
            text = pc.replace_substring_regex(column, f"[{unseen}]", REPLACEMENT)
            formula = pc.and_not(pc.match_substring_regex(text, acts), pc.match_substring_regex(text, _NUMBER))
            columns.append(pc.if_else(formula, pc.binary_join_element_wise("'", text, ""), text))
        else:
            columns.append(column)
    sink = pa.BufferOutputStream()
    pyarrow.csv.write_csv(pa.table(columns, names=[cell(n) for n in table.column_names]), sink)
    return bytes(sink.getvalue().to_pybytes())
