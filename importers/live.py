"""A stream of lines understood while it arrives: the same columns, clock and units that the import will find.

Nothing is shown until the importer is sure of the layout; columns it asks about stay out until somebody answers.
"""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pyarrow as pa
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from importers.clock.order import FloatArray
from importers.model import Plan, Question
from importers.plan import plan
from importers.refusal import Refusal
from importers.stream import Stream
from importers.table.rewriting import Rewritten
from importers.table.text import Block

LONGEST_LINE = 64 * 2**10
"""Bytes without a line end beyond which they are no line of telemetry."""
HEAD_BYTES = 512 * 2**10
"""The most that is looked at to tell the layout."""
FIRST_LOOK_BYTES = 256
_ONE_DAY_ONLY = ("date_order", "zone")
"""Questions about the date: what is seen while it arrives needs seconds only."""


class Seen(Struct, frozen=True):
    """Rows as they came: ``times_s``, shape (n,), on the clock of the stream, and a column a channel."""

    times_s: FloatArray
    table: pa.Table


class Live:
    """Understands one stream.

    Parameters
    ----------
    name : str
        What to call it in messages.
    mappings : sequence of Path
        Saved mappings, of which the fitting one is used.
    answers : mapping of str to str, optional
        To what the layout leaves open.
    aircraft : Aircraft or None
        Whose names of parts may be in the headings.
    headings : str
        A line of headings, where the stream has none.

    Attributes
    ----------
    plan : Plan or None
        How the stream is read; None until it is understood.
    why : Refusal or None
        Why it is not understood yet.
    asks : tuple of Question
        What has to be answered before all of it can be read.
    long_lines : int
        Lines left out because they never ended.
    from_start : bool
        Whether the last change of the plan made all of the stream be read again, rather than what comes after.
    """

    def __init__(
        self, name: str, *, mappings: Sequence[Path] = (), answers: Mapping[str, str] | None = None,
        aircraft: Aircraft | None = None, headings: str = "",
    ) -> None:  # fmt: skip
        self.name, self.mappings, self.aircraft = name, mappings, aircraft
        self.answers = dict(answers or {})
        self.plan: Plan | None = None
        self.why: Refusal | None = None
        self.asks: tuple[Question, ...] = ()
        self.long_lines = 0
        self.from_start = True
        self._head = (headings.strip() + "\n").encode() if headings.strip() else b""
        self._next_look = len(self._head) + FIRST_LOOK_BYTES
        self._stream: Stream | None = None
        self._decoder: codecs.IncrementalDecoder | None = None
        self._rest = b""
        self._skipping = False
        self._late_cr = False
        self._read_bytes, self._next_later, self._later = 0, 2 * HEAD_BYTES, b""

    @property
    def ragged(self) -> int:
        """Rows left out because they have not as many fields as there are headings."""
        return self._stream.cells.ragged if self._stream else 0

    @property
    def untimed(self) -> int:
        """Rows left out because their time can't be read."""
        return self._stream.untimed if self._stream else 0

    def feed(self, data: bytes) -> Iterator[Seen]:
        """Take what arrived; gives the rows in it that are whole and understood."""
        room = HEAD_BYTES - len(self._head)
        if room > 0:
            self._head += data[:room]
            if len(self._head) >= self._next_look and self._look():
                yield from self._again()
                data = data[room:]
        elif self.plan is None:
            self._restart(data)
        if self._stream is not None and data:
            lines = self._lines(data)
            yield from self._rows(lines)
            self._look_later(lines)

    def broken(self) -> None:
        """Say that a hole is here: what is half is no row, and neither is the rest of the next line."""
        if self.plan is None:
            if self._head and not self._head.endswith(b"\n"):
                self._head += b"\n"
            return
        self._rest, self._skipping = b"", True
        if self._decoder:
            self._decoder.reset()

    def _look(self) -> bool:
        """Look at all there is from the start; returns whether more is understood than before."""
        self._next_look = 2 * len(self._head)
        wide = 0 in self._head[:64]
        cut = len(self._head) if wide else max(self._head.rfind(b"\n"), self._head.rfind(b"\r")) + 1
        found = self._plan(self._head[:cut]) if cut else None
        if found is None or (self.plan is not None and _layout(found) == _layout(self.plan)):
            return False
        self.plan, self.why, self.from_start = found, None, True
        return True

    def _plan(self, head: bytes) -> Plan | None:
        """How these lines would be read, without the columns that are asked about; None where that is open."""
        try:
            found = plan(io.BytesIO(head), name=self.name, mappings=self.mappings,
                         answers=self.answers, aircraft=self.aircraft)  # fmt: skip
        except Refusal as refusal:
            if self.plan is None:
                self.why = refusal
            return None
        if isinstance(found.origin, Rewritten):
            return None  # what comes later would be read as it is
        dates = {q.key: q.answers[0] for q in found.questions if q.key in _ONE_DAY_ONLY and q.answers}
        if dates and not dates.keys() <= self.answers.keys():
            self.answers |= dates
            return self._plan(head)
        self.asks = found.questions
        if any(not q.columns for q in found.questions):  # what concerns every column
            return None
        asked = {h for q in found.questions for h in q.columns}
        return replace(found, columns=tuple(
            replace(c, channel="", kind="skip") if c.heading in asked else c for c in found.columns
        ))  # fmt: skip

    def _look_later(self, lines: bytes) -> None:
        """Look again, each time after twice as much, for columns that began to report after the head."""
        self._read_bytes += len(lines)
        if self._read_bytes < self._next_later or self.plan is None:
            return
        self._later += lines[:HEAD_BYTES]
        if len(self._later) < HEAD_BYTES // 4:
            return
        above = self._head[self.plan.dialect.encoding.mark :].splitlines(keepends=True)
        head = b"".join(above[: self.plan.dialect.first_row - 1]) + self._later
        self._later, self._next_later = b"", 2 * self._read_bytes
        asks, plain = self.asks, self.plan.dialect.encoding.name in ("utf-8", "ascii")
        found = self._plan(head) if plain else None
        shown = {c.heading for c in self.plan.columns if c.channel}
        fresh = tuple(q for q in self.asks if q.columns and not shown & set(q.columns))
        self.asks = asks + tuple(q for q in fresh if q not in asks)
        if found is None or not _adds(found, self.plan):
            return
        self.plan, self.from_start = found, False
        self._stream = Stream(found)

    def _again(self) -> Iterator[Seen]:
        """Read from the start with the new plan: a column it lacked has begun to report."""
        assert self.plan is not None
        self._stream = Stream(self.plan)
        encoding = self.plan.dialect.encoding
        plain = encoding.name in ("utf-8", "ascii")
        self._decoder = None if plain else codecs.getincrementaldecoder(encoding.name)(errors="replace")
        self._rest, self._skipping, self._late_cr = b"", False, False
        lines = self._lines(self._head[encoding.mark :])
        for _ in range(self.plan.dialect.first_row - 1):
            lines = lines[lines.find(b"\n") + 1 :]
        yield from self._rows(lines)

    def _restart(self, data: bytes) -> None:
        """So much came and nothing of it was understood: begin with what comes now."""
        at = data.find(b"\n") + 1
        self._head, self._next_look = data[at:][:HEAD_BYTES], FIRST_LOOK_BYTES

    def _lines(self, data: bytes) -> bytes:
        """What arrived as whole lines of UTF-8, each ended by a line feed; the rest is kept for the next time."""
        if self._decoder is not None:
            data = self._decoder.decode(data).encode("utf-8", "replace")
        data = data.replace(b"\0", b"")
        if self._late_cr and data[:1] == b"\n":
            data = data[1:]
        self._late_cr = (self._late_cr and not data) or data.endswith(b"\r")
        if b"\r" in data:
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        if self._skipping:
            at = data.find(b"\n") + 1
            if not at:
                return b""
            data, self._skipping = data[at:], False
        data = self._rest + data
        cut = data.rfind(b"\n") + 1
        lines, self._rest = data[:cut], data[cut:]
        if len(self._rest) > LONGEST_LINE:
            self._rest, self._skipping = b"", True
            self.long_lines += 1
        return lines if lines.isascii() else lines.decode("utf-8", "replace").encode()

    def _rows(self, lines: bytes) -> Iterator[Seen]:
        assert self._stream is not None
        if not lines.strip():
            return
        times, table = self._stream.at_once(Block(lines, 1))
        if times.size:
            yield Seen(times, table)


def _adds(found: Plan, before: Plan) -> bool:
    """Whether a plan reads columns that the one before could not, and all others as it did."""
    known = {c.column: c for c in before.columns if c.channel}
    now = {c.column: c for c in found.columns if c.channel}
    same = all(n in now and (now[n].channel, now[n].factor) == (c.channel, c.factor) for n, c in known.items())
    return same and len(now) > len(known) and not found.long and found.time.form == before.time.form


def _layout(found: Plan) -> tuple[object, ...]:
    return (found.time, found.dialect, found.long, *((c.channel, c.column, c.factor, c.kind) for c in found.columns))
