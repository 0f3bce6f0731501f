"""What past flights would look like under other limits, before these are kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from analyser.core.events import Event, Level
from analyser.core.levels import Limits
from analyser.programme.limits import figures_passed, level_of
from analyser.programme.measures import rows_of
from analyser.record import FlightRecord


class Change(Struct, frozen=True):
    """One event of one flight that other limits judge otherwise; ``FINE`` where it is not there under one of them."""

    flight_id: str
    number: int
    event: Event
    before: Level
    after: Level


class Tally(Struct, frozen=True):
    """How often a limit spoke, and in how many flights, before and after."""

    limit: str
    before: int
    after: int
    flights_before: int
    flights_after: int


class Trial(Struct, frozen=True):
    """Every change, oldest flight first, and a tally of each limit that speaks otherwise."""

    flights: int
    changes: tuple[Change, ...]
    tallies: tuple[Tally, ...]


def try_limits(
    flights: Sequence[FlightRecord],
    limits: tuple[Limits, Limits],
    crossed: tuple[Mapping[str, Sequence[Event]], Mapping[str, Sequence[Event]]] = ({}, {}),
) -> Trial:
    """Judge flights twice, by the limits there are and by others.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Of one aircraft, oldest first, however they were judged.
    limits : (Limits, Limits)
        As they are, and as they would be.
    crossed : (mapping, mapping)
        By flight id, what its channels passed under each (:func:`analyser.programme.limits.crossings`).

    Returns
    -------
    Trial
        Its cost grows in proportion to the number of events and figures.
    """
    changes: list[Change] = []
    spoke: tuple[dict[str, list[str]], dict[str, list[str]]] = ({}, {})
    for flight in flights:
        rows = rows_of(flight.result)
        found: list[dict[tuple[str, str, str, float], Event]] = []
        for side in (0, 1):
            events = [level_of(e, limits[side], flight.result.phases) for e in flight.result.events() if not e.limit]
            events += figures_passed(rows, limits[side], flight.result.duration_s)
            events += crossed[side].get(flight.flight_id, ())
            found.append({_key(e): e for e in events if e.level > Level.FINE})
            for e in found[side].values():
                spoke[side].setdefault(_limit(e, limits[side]), []).append(flight.flight_id)
        before, after = found
        for key in dict.fromkeys([*before, *after]):
            was, is_ = (x[key].level if key in x else Level.FINE for x in found)
            if was is not is_:
                changes.append(Change(flight.flight_id, flight.number, (after.get(key) or before[key]), was, is_))
    names = sorted(set(spoke[0]) | set(spoke[1]))
    tallies = [Tally(n, *(len(s.get(n, ())) for s in spoke), *(len(set(s.get(n, ()))) for s in spoke)) for n in names]
    changed = {_limit(c.event, limits[side]) for c in changes for side in (0, 1)}
    return Trial(len(flights), tuple(changes), tuple(t for t in tallies if t.limit in changed))


def _key(event: Event) -> tuple[str, str, str, float]:
    return event.kind, event.subject, event.limit, round(event.start_s, 2)


def _limit(event: Event, limits: Limits) -> str:
    held = limits.find("event", event.kind, event.subject)
    return event.limit or (held.name if held else event.kind)


def nuisance_rates(marked: Iterable[tuple[str, str]]) -> dict[str, tuple[int, int]]:
    """How many of each limit's validated events were a nuisance or a sensor's fault.

    Parameters
    ----------
    marked : iterable of (str, str)
        Name of the limit and the verdict, for each event that a person validated.

    Returns
    -------
    dict
        By limit: (nuisance or sensor fault, validated).

    Examples
    --------
    >>> nuisance_rates([("sag", "real"), ("sag", "nuisance")])
    {'sag': (1, 2)}
    """
    out: dict[str, tuple[int, int]] = {}
    for limit, verdict in marked:
        wrong, every = out.get(limit, (0, 0))
        out[limit] = (wrong + (verdict != "real"), every + 1)
    return out
