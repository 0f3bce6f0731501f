"""How the logs were written down: plain ways to put the same columns into a text file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
import numpy.typing as npt

from sample_logs.generator.path import STEP_HZ
from sample_logs.generator.sensors import Column, rate_of, rounded

TextArray = npt.NDArray[np.str_]
ROW_HZ = 3.125
LABEL = "invented data"
LEFT_OUT = ("Aileron", "Elevator", "Flap", "Track", "Acceleration Z", "Brake")


def write(dialect: str, start: datetime, columns: Sequence[Column], aircraft: str) -> str:
    """One flight's log as text."""
    if dialect == "long":
        return _long(start, columns)
    row_hz = STEP_HZ if dialect == "fast" else ROW_HZ
    time, cells = _rows(columns, row_hz)
    started = _preamble(start)
    if dialect == "plain":
        return _table(["Time (UTC)", *_headings(columns)], [_iso(start, time), *cells])
    if dialect == "german":
        head = ["Zeit [s]", *(f"{c.german} [{c.unit}]" if c.unit else c.german for c in columns)]
        comma = [np.char.replace(c, ".", ",") for c in (np.char.mod("%.2f", time), *cells)]
        return started + _table(head, comma, ";")
    if dialect == "clock":
        preamble = f"# Label: {LABEL}\n# Date: {start:%Y-%m-%d}\n# Clock: UTC\n# Aircraft: {aircraft}\n"
        of_day = np.array(start.hour * 3600 + start.minute * 60 + start.second + time) % 86_400.0
        return preamble + _table(["Clock", *_headings(columns)], [_clock(of_day), *cells])
    if dialect == "ticks":
        ticks = np.char.mod("%d", np.round(1000 * time + 41_250).astype(np.int64))
        return started + _table(["Time (ms)", *_headings(columns)], [ticks, *cells])
    if dialect == "unit_row":
        head = ["Time", *(c.english for c in columns)]
        units = ",".join(["s", *(c.unit or "-" for c in columns)])
        body = _table(head, [np.char.mod("%.2f", time), *cells])
        first, rest = body.split("\n", 1)
        return f"{started}{first}\n{units}\n{rest}"
    if dialect == "epoch":
        stamp = np.char.mod("%d", np.round(1000 * (start.timestamp() + time)).astype(np.int64))
        return _table(["Epoch (ms)", *_headings(columns)], [stamp, *cells], "\t")
    if dialect == "truncated":
        text = _table(["Time (UTC)", *_headings(columns)], [_iso(start, time), *cells])
        last = text.rstrip("\n").rfind("\n")
        return text[: last + 62]
    if dialect == "two":
        return _table(["Time (UTC)", *_headings(columns)], [_iso(start, time), *cells])
    if dialect == "fast":
        return started + _table(["Time (s)", *_headings(columns)], [np.char.mod("%.2f", time), *cells])
    raise ValueError(f"no dialect {dialect!r}")


def join_two(first: str, second: str) -> str:
    """Two flights in one file: the second's header is not repeated."""
    return first + second.split("\n", 1)[1]


def _headings(columns: Sequence[Column]) -> list[str]:
    return [f"{c.english} ({c.unit})" if c.unit else c.english for c in columns]


def _rows(columns: Sequence[Column], row_hz: float) -> tuple[npt.NDArray[np.float64], list[TextArray]]:
    """Cells of every column on the rows; blank where a slower sensor did not report."""
    stride = round(STEP_HZ / row_hz)
    at = np.arange(0, len(columns[0].values), stride)
    time = at / STEP_HZ
    out = []
    for k, column in enumerate(columns):
        every = max(round(row_hz / rate_of(column)), 1)
        text = _text(column, at)
        text[(np.arange(len(at)) + k) % every != 0] = ""
        out.append(text)
    return time, out


def _text(column: Column, at: npt.NDArray[np.int64]) -> TextArray:
    values = rounded(column)[at]
    return np.char.mod(f"%.{max(column.decimals, 0)}f", values)


def _table(head: list[str], cells: Sequence[TextArray], mark: str = ",") -> str:
    lines = cells[0]
    for c in cells[1:]:
        lines = np.char.add(np.char.add(lines, mark), c)
    return mark.join(head) + "\n" + "\n".join(lines.tolist()) + "\n"


def _iso(start: datetime, time: npt.NDArray[np.float64]) -> TextArray:
    base = np.datetime64(start.replace(tzinfo=None), "ms")
    stamps = base + np.round(1000 * time).astype("timedelta64[ms]")
    return np.char.add(np.datetime_as_string(stamps, unit="ms"), "Z")


def _clock(of_day: npt.NDArray[np.float64]) -> TextArray:
    stamps = np.datetime64("2000-01-01", "ms") + np.round(1000 * of_day).astype("timedelta64[ms]")
    return np.array([s[11:] for s in np.datetime_as_string(stamps, unit="ms").tolist()])


def _preamble(start: datetime) -> str:
    return f"# Label: {LABEL}\n# Start: {start:%Y-%m-%dT%H:%M:%SZ}\n"


def _long(start: datetime, columns: Sequence[Column]) -> str:
    """One row a reading: time, sensor, value, unit; slower and fewer, or the file would be far the largest."""
    stamps, sensors, values, units = [], [], [], []
    for column in columns:
        if column.english in LEFT_OUT or column.english.endswith(("Pump Voltage", "Failsafe")):
            continue
        stride = max(round(STEP_HZ / rate_of(column)), 50 if column.unit in ("V", "A", "°") else 100)
        at = np.arange(0, len(column.values), stride)
        stamps.append(at / STEP_HZ)
        sensors.append(np.full(len(at), column.english))
        values.append(_text(column, at))
        units.append(np.full(len(at), column.unit))
    time = np.concatenate(stamps)
    order = np.argsort(time, kind="stable")
    return _preamble(start) + _table(
        ["time_s", "sensor", "value", "unit"],
        [np.char.mod("%.2f", time[order]), *(np.concatenate(c)[order] for c in (sensors, values, units))],
    )
