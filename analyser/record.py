"""One analysed flight as the season sees it: when it was, what the owner noted, what the analysis said."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TypeAlias

from msgspec import Struct

from analyser.core.aircraft import FlightContext
from analyser.flight import FlightResult


class Flown(Struct, frozen=True):
    """One flight in a season; ``number`` counts an aircraft's flights from 1, oldest first."""

    flight_id: str
    number: int
    utc_start: datetime | None
    context: FlightContext

    @property
    def aircraft(self) -> str:
        """The aircraft's name, '' where the flight is not assigned to one."""
        return self.context.aircraft.name if self.context.aircraft else ""


class FlightRecord(Flown, frozen=True):
    """A flight and its result."""

    result: FlightResult

    def whole(self) -> FlightRecord:
        """The record with its result at hand."""
        return self

    def __repr__(self) -> str:
        when = f", {self.utc_start:%Y-%m-%d %H:%M} UTC" if self.utc_start else ""
        return f"FlightRecord({self.flight_id}, number {self.number}{when}, {self.result!r})"


class LaterRecord(Flown, frozen=True, eq=False):
    """A record whose result is read when it is first asked for, and not held: what is shown of most flights is less.

    Parameters
    ----------
    read : callable
        Gives the whole record.
    """

    read: Callable[[], FlightRecord]

    @property
    def result(self) -> FlightResult:
        """The result, read anew each time."""
        return self.read().result

    def whole(self) -> FlightRecord:
        """The record with its result, read once."""
        return FlightRecord(self.flight_id, self.number, self.utc_start, self.context, self.result)

    def __repr__(self) -> str:
        return f"LaterRecord({self.flight_id}, number {self.number})"


Record: TypeAlias = FlightRecord | LaterRecord
"""A flight with its result, whether it is at hand or read when it is asked for."""
