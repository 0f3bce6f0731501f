"""Small flights for the logbook's tests."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pyarrow as pa

from importers.model import FlightDraft
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.flight import Source

START = datetime(2031, 4, 5, 23, 50, tzinfo=UTC)


def draft(
    part: int = 1, *, rows: int = 500, utc_start: datetime | None = START, fail_after: int | None = None
) -> FlightDraft:
    schema = pa.schema(
        [
            ("time_s", pa.float64()),
            ("pack.rx1.voltage_v", pa.float64()),
            ("control.gear", pa.bool_()),
            ("extra.word", pa.string()),
        ]
    )

    def batches():
        for number, start in enumerate(range(0, rows, 100)):
            if number == fail_after:
                raise RuntimeError("the file broke off")
            time = np.arange(start, min(start + 100, rows)) / 10
            volts = pa.array(8 + np.sin(time), mask=np.arange(time.size) % 3 == 1)
            yield pa.record_batch([time, volts, time % 2 > 1, ["ä<b>"] * time.size], schema=schema)

    return FlightDraft(schema, batches(), utc_start, part, {"mapping": "made"}, ["one notice"])


def source(name: str = "heron.csv", digest: str = "00") -> Source:
    return Source(name, digest, 10)


def register_example(book: Logbook) -> None:
    data = register.EXAMPLE.encode()
    register.add(book, data, "heron.toml")
