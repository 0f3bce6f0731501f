"""An aircraft's flights as the programme follows them: analysed, judged, with their figures laid out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from analyser.programme.histories import WINDOW, Flown, History, histories
from analyser.programme.measures import rows_of
from analyser.record import FlightRecord
from spooldown.logbook.book import Logbook
from spooldown.register import Register
from spooldown.work.results import Analysed, analysed


@dataclass(frozen=True)
class Followed:
    """The newest flights of one aircraft, oldest first; ``of_all`` is how many it has."""

    aircraft: str
    flights: tuple[Analysed, ...]
    of_all: int
    failed: int = field(default=0)

    @cached_property
    def records(self) -> tuple[FlightRecord, ...]:
        """Records of these flights."""
        return tuple(one.record for one in self.flights)

    @cached_property
    def flown(self) -> tuple[Flown, ...]:
        """These flights with their figures."""
        return tuple(flown_of(one) for one in self.flights)

    @cached_property
    def past(self) -> Mapping[tuple[str, str], History]:
        """Their figures by figure and part."""
        return histories(self.flown)


def flown_of(one: Analysed) -> Flown:
    """One flight with its figures."""
    return Flown(one.flight.flight_id, one.record.number, one.flight.day, rows_of(one.record.result))


def follow(book: Logbook, register: Register, aircraft: str, newest: int = WINDOW) -> Followed:
    """Analyse the newest flights of an aircraft; what is kept is not analysed again.

    Parameters
    ----------
    newest : int
        How many at most.
    """
    own = [f.flight_id for f in book.flights() if f.aircraft == aircraft]
    wanted = own[-newest:]
    if not wanted:
        return Followed(aircraft, (), 0)
    failures: list[object] = []
    found = analysed(book, register, only=wanted, failures=failures)  # type: ignore[arg-type]
    there = set(wanted)
    return Followed(
        aircraft, tuple(one for one in found if one.flight.flight_id in there), len(own), len(failures)
    )  # fmt: skip
