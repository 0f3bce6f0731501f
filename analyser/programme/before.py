"""Before the next flight of an aircraft: what the logbook knows that its owner should have in mind.

It reports and never says that an aircraft may fly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.core.findings import Text, say
from analyser.programme.histories import History
from analyser.programme.service import ServiceState
from analyser.programme.snags import SnagState
from analyser.programme.unusual import usual_of

PACK_FIGURES = ("pack.state_after", "pack.lowest_voltage", "pack.deepest_sag", "pack.resistance")
FUEL_FIGURES = ("tank.at_start", "tank.burn_rate", "tank.margin")


class Expected(Struct, frozen=True):
    """What a part usually shows after a flight, and what it showed last; ``None`` where too few flights tell it."""

    part: str
    thing: str
    measure: str
    usual: Figure | None
    last: Figure
    flights: int


class BeforeFlight(Struct, frozen=True):
    """Everything to have in mind before an aircraft's next flight.

    ``passed`` are events of its last flight that deserved attention, gravest first; ``timer`` and ``packs`` are what
    the season says, ``asks`` what its packs' owner is asked to measure.
    """

    aircraft: str
    last_flight: str
    last_day: date | None
    packs: tuple[Expected, ...]
    fuel: tuple[Expected, ...]
    timer: Text
    snags: tuple[SnagState, ...]
    passed: tuple[Event, ...]
    service: tuple[ServiceState, ...]
    asks: tuple[Text, ...] = ()


def expected(
    past: Mapping[tuple[str, str], History], measures: Sequence[str], last_flight: str
) -> tuple[Expected, ...]:
    """Lay out what the parts of the last flight usually show.

    Parameters
    ----------
    measures : sequence of str
        Ids of figures.
    last_flight : str
        Parts that were not in it are left out: they are in another aircraft or on the shelf.
    """
    there = {h.thing or h.part for h in past.values() if last_flight in h.flight_ids}
    out = []
    for measure in measures:
        for history in past.values():
            if history.measure.id == measure and (history.thing or history.part) in there and len(history):
                last = Figure(
                    say(history.measure.code), float(history.values[-1]), history.unit, Method.ESTIMATED,
                    digits=history.measure.digits,
                )  # fmt: skip
                out.append(
                    Expected(history.part, history.thing, measure, usual_of(history), last, len(history))
                )  # fmt: skip
    return tuple(out)


def gravest(events: Sequence[Event]) -> tuple[Event, ...]:
    """Keep what deserved attention, gravest and earliest first."""
    return tuple(sorted((e for e in events if e.level >= Level.WATCH), key=lambda e: (-e.level, e.start_s)))
