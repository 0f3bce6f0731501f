"""Trying a changed limits file on all past flights before it is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analyser.core.events import Event
from analyser.core.levels import COMMON_PRACTICE
from analyser.programme.trial import Trial, try_limits
from spooldown.judging.files import limits_of, parse_limits
from spooldown.judging.flights import crossed_by, on_channels
from spooldown.logbook.book import Logbook
from spooldown.register import Register
from spooldown.work.results import analysed


def try_text(book: Logbook, register: Register, aircraft: str, text: str, name: str) -> Trial:
    """Judge all past flights of an aircraft by a changed limits file and say what would change; nothing is kept.

    Raises
    ------
    Refusal
        If the changed file is wrong.
    """
    after = COMMON_PRACTICE.with_own(parse_limits(text, name, aircraft))
    before = limits_of(book, aircraft)
    wanted = [f.flight_id for f in book.flights() if f.aircraft == aircraft]
    flights = [one.record for one in analysed(book, register, only=wanted, failures=[])] if wanted else []
    flights = [f for f in flights if f.flight_id in set(wanted)]
    crossed = tuple(crossed_by(book, flights, on_channels(side)) for side in (before, after))
    sides: tuple[Mapping[str, Sequence[Event]], Mapping[str, Sequence[Event]]] = (crossed[0], crossed[1])
    return try_limits(flights, (before, after), sides)
