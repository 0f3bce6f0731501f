"""One analysed flight as the season sees it: when it was, what the owner noted, what the analysis said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

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

    def __repr__(self) -> str:
        when = f", {self.utc_start:%Y-%m-%d %H:%M} UTC" if self.utc_start else ""
        return f"FlightRecord({self.flight_id}, number {self.number}{when}, {self.result!r})"
