"""One analysed flight as the season sees it: when it was, what the owner noted, what the analysis said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from analyser.core.aircraft import FlightContext
from analyser.flight import FlightResult


@dataclass(frozen=True, slots=True, repr=False)
class FlightRecord:
    """One flight in a season; ``number`` counts an aircraft's flights from 1, oldest first."""

    flight_id: str
    number: int
    utc_start: datetime | None
    context: FlightContext
    result: FlightResult

    @property
    def aircraft(self) -> str:
        """The aircraft's name, '' where the flight is not assigned to one."""
        return self.context.aircraft.name if self.context.aircraft else ""

    def whole(self) -> FlightRecord:
        """The record with its result at hand."""
        return self

    def __repr__(self) -> str:
        when = f", {self.utc_start:%Y-%m-%d %H:%M} UTC" if self.utc_start else ""
        return f"FlightRecord({self.flight_id}, number {self.number}{when}, {self.result!r})"


class LaterRecord(FlightRecord):
    """A record whose result is read when it is first asked for, and not held: what is shown of most flights is less.

    Parameters
    ----------
    read : callable
        Gives the whole record.
    """

    __slots__ = ("_read",)
    _read: Callable[[], FlightRecord]

    def __init__(
        self,
        flight_id: str,
        number: int,
        utc_start: datetime | None,
        context: FlightContext,
        read: Callable[[], FlightRecord],
    ) -> None:
        for name, value in (
            ("flight_id", flight_id), ("number", number), ("utc_start", utc_start), ("context", context),
            ("_read", read),
        ):  # fmt: skip
            object.__setattr__(self, name, value)

    @property
    def result(self) -> FlightResult:
        """The result, read anew each time."""
        return self._read().result

    def whole(self) -> FlightRecord:
        """The record with its result, read once."""
        return FlightRecord(self.flight_id, self.number, self.utc_start, self.context, self.result)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pass to another process what reads the result, not the result."""
        return LaterRecord, (self.flight_id, self.number, self.utc_start, self.context, self._read)

    def __repr__(self) -> str:
        return f"LaterRecord({self.flight_id}, number {self.number})"
