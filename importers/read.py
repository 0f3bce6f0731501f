"""A planned file to flights of canonical telemetry, batch by batch."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pyarrow as pa

from analyser.core.findings import Text, coded, say
from importers.codes import ReadCode, ReadRefused
from importers.dating import when
from importers.layout.antennas import names
from importers.model import FlightDraft, Plan
from importers.refusal import Refusal
from importers.split import Begin, by_ground
from importers.stream import Stream
from importers.table.prefetch import prefetched


def read(plan: Plan, *, progress: Callable[[int], None] | None = None) -> Iterator[FlightDraft]:
    """Read a planned file, flight by flight; ``progress`` is told bytes read so far.

    Each flight's batches must be read before the next flight is taken; what is left of them is skipped then. A flight
    may outlive the iterator it came from.

    Raises
    ------
    importers.refusal.Refusal
        If the plan still has questions, or, on the way, if the file turns out unreadable.
    """
    if plan.questions:
        first = plan.questions[0]
        raise Refusal(plan.source, ReadRefused.OPEN_QUESTION, key=first.key, question=first.text, answers=first.answers)
    return _Flights(plan, progress)


class _Flights(Iterator[FlightDraft]):
    """The flights of one file. Flights hold on to this, so that reading ends only when the last of both is let go."""

    def __init__(self, plan: Plan, progress: Callable[[int], None] | None) -> None:
        self.plan, self.stream = plan, Stream(plan, progress)
        plan.origin.hash_ahead()
        self.common = _common(plan)
        items = by_ground(self.stream.items(), self.stream.schema)
        self.items = items if plan.origin.small else prefetched(items)
        self.part = 0
        self.begin: Begin | None = None
        self.notices: list[Text] = []
        self.metadata: dict[str, str] = {}

    def __next__(self) -> FlightDraft:
        while self.part and self.batch() is not None:  # what the caller left of the flight before
            pass
        begin = self.begin if self.part else next(self.items, None)
        if begin is None and not self.part:
            if self.stream.alone:
                raise Refusal(self.plan.source, ReadRefused.LONE_ROWS, seconds=self.stream.line.gap_s)
            raise Refusal(self.plan.source, ReadRefused.NO_ROW)
        if begin is None:
            raise StopIteration
        assert isinstance(begin, Begin)
        self.part, self.begin = self.part + 1, None
        self.notices = list(self.plan.notices)
        if begin.why:
            self.notices.append(say(ReadCode.NEW_FLIGHT, why=begin.why))
        known, more = when(self.plan, begin, self.stream.base_ns or 0, self.stream.first_s or 0.0)
        if "local_start" in more:
            self.notices.append(say(ReadCode.NO_ZONE, local=more["local_start"]))
        self.metadata = {**self.common, **more}
        return FlightDraft(self.stream.schema, _batches(self, self.part), known, self.part, self.metadata, self.notices)

    def batch(self) -> pa.RecordBatch | None:
        """The next rows of the flight last taken; None at its end."""
        item = None if self.begin else next(self.items, None)
        if isinstance(item, pa.RecordBatch):
            return item
        self.begin = self.begin or item
        self.notices += [n for n in self.stream.notices() if n not in self.notices]
        self.metadata["content_sha256"] = self.plan.origin.content_sha256()
        self.metadata["dropped"] = "; ".join(map(coded, self.notices))
        return None


def _batches(flights: _Flights, part: int) -> Iterator[pa.RecordBatch]:
    """Rows of one flight, refused once the next has been taken: they would be missing without a word."""
    while True:
        if flights.part != part:
            raise RuntimeError(f"flight {part} must be read before the next one is taken from its file")
        batch = flights.batch()
        if batch is None:
            return
        yield batch


def _common(plan: Plan) -> dict[str, str]:
    """Metadata that all flights of a file share."""
    columns = (f"{c.heading} → {c.channel or 'dropped'}" + (f" ({c.conversion})" if c.conversion else "")
               for c in plan.columns)  # fmt: skip
    return {
        "source": plan.source,
        "content_sha256": "",  # known at the end
        "clock": coded(plan.clock),
        "shape": plan.shape,
        "dialect": plan.dialect.describe(),
        "mapping": plan.mapping or "proposed",
        "fingerprint": plan.fingerprint,
        "columns": "; ".join(columns),
        **names(plan.columns),
        **({"unsettled": "; ".join(plan.unsettled)} if plan.unsettled else {}),
        **{f"preamble.{k}": v for k, v in plan.preamble.items()},
    }
