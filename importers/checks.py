"""Files that can't be read whole: refused before anything is proposed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from importers.clock import pieces
from importers.clock.forms import form_of, order_said, read_cells
from importers.clock.model import Clock
from importers.codes import PlanRefused
from importers.meaning import units
from importers.refusal import Refusal
from importers.table.columns import Columns
from importers.table.dialect import Dialect
from importers.table.source import Source


def nothing(code: PlanRefused, dialect: Dialect, origin: Source, sensors: Sequence[str] = ()) -> Refusal:
    """The refusal of a file in which there is nothing of a kind, with its headings."""
    named = ", ".join(h for h in sensors or dialect.headings if h)[:120]
    return Refusal(origin.name, code, line=dialect.header_row, headings=named)


def refuse_split_headings(dialect: Dialect, cells: Columns, origin: Source) -> None:
    """Refuse headings such as "Voltage, V" without quotes: each value would stand under another's heading.

    Raises
    ------
    Refusal
        If no row is as wide as the headings and some of these are units alone.
    """
    filled = next((i + 1 for i in reversed(range(len(cells))) if cells.holds(i)), 0)
    alone = [h for h in dialect.written if units.understand(h) is not None]
    if 0 < filled < len(dialect.headings) and len(alone) > 1:
        raise Refusal(
            origin.name, PlanRefused.SPLIT_HEADINGS, line=dialect.header_row, headings=len(dialect.headings),
            values=filled, units=tuple(alone[:3]), mark=dialect.delimiter,
        )  # fmt: skip


def refuse_unreadable(time: Clock, cells: Sequence[Sequence[str]], dialect: Dialect, origin: Source) -> None:
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


def refuse_no_day(time: Clock, cells: Sequence[Sequence[str]], dialect: Dialect, origin: Source) -> None:
    """Refuse years, months and days in columns of their own that are many times no day."""
    if not time.day_columns:
        return
    parts = [cells[c] for c in time.day_columns]
    bad = ~np.isfinite(pieces.days_s([pieces.numbers(p) for p in parts]))
    if bad.mean() > 0.1:
        odd = "-".join(p[int(bad.argmax())] for p in parts)
        column = dialect.headings[time.day_columns[0]]
        raise Refusal(origin.name, PlanRefused.NO_SUCH_TIME, column=column, odd=odd, dated="")
