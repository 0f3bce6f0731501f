"""A season from flight results to histories: the composition over flights."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Aircraft
from analyser.core.levels import COMMON_PRACTICE, Limits
from analyser.record import FlightRecord
from analyser.season.attention import Watched, rank_attention, watched
from analyser.season.counts import Totals, laid_out
from analyser.season.engines import turbine_history
from analyser.season.fuel.history import fuel_history
from analyser.season.lineup import Lineup, facts_of
from analyser.season.link.layouts import Keep, anew, follow_layouts, last_moved
from analyser.season.link.range_check import RangeCheck, analyse_range_checks
from analyser.season.packs.brown_outs import summed
from analyser.season.packs.history import PackHistory, WholeLife, by_urgency, pack_history
from analyser.season.packs.resistance import correct_resistance
from analyser.season.packs.uses import Charges, uses_of
from analyser.season.result import AircraftSeason, SeasonResult
from analyser.season.teaching import corrected
from analyser.season.totals import pack_counts, totals_of
from analyser.season.window import Windows, windows_of


def analyse_season(
    flights: Sequence[FlightRecord],
    aircraft: Sequence[Aircraft] = (),
    range_checks: Mapping[str, Sequence[RangeCheck]] | None = None,
    limits: Mapping[str, Limits] | None = None,
) -> SeasonResult:
    """Analyse all flights of a logbook.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first.
    aircraft : sequence of Aircraft
        Registered aircraft; one without flights still gets its planned antenna maps.
    range_checks : mapping of str to sequence of RangeCheck, optional
        Walked range checks by aircraft; they are laid beside the longest distance its flights went.
    limits : mapping of str to Limits, optional
        By aircraft; common practice for others.
    """
    flights = corrected(flights)
    windows = windows_of(_lineup(flights))
    by_id = {f.flight_id: f for f in flights}
    totals = {f.flight_id: totals_of(f) for f in flights}
    known = {f.context.aircraft.name: f.context.aircraft for f in flights if f.context.aircraft}
    known |= {a.name: a for a in aircraft}
    parts = {
        name: analyse_aircraft(
            known.get(name),
            by_id.__getitem__,
            laid_out([totals[i] for i in windows.flown.get(name, ())]),
            windows,
            (range_checks or {}).get(name, ()),
            (limits or {}).get(name, COMMON_PRACTICE),
        )
        for name in sorted({*known, *windows.flown})
    }
    return compose_season(parts.values(), _packs(by_id, windows), list(by_id), limits)


def _lineup(flights: Iterable[FlightRecord]) -> Lineup:
    return Lineup((f.flight_id, facts_of(f.context)) for f in flights)


def pack_histories(flights: Sequence[FlightRecord]) -> tuple[PackHistory, ...]:
    """Follow every pack over the flights it was fitted in; the one that needs attention most comes first.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first, of any aircraft: packs move.
    """
    flights = correct_resistance(flights)
    return by_urgency(_packs({f.flight_id: f for f in flights}, windows_of(_lineup(flights))))


def _packs(flights: Mapping[str, FlightRecord], windows: Windows) -> list[PackHistory]:
    found = (
        analyse_pack(name, [flights[i] for i in ids], laid_out([pack_counts(flights[i]) for i in windows.uses[name]]))
        for name, ids in windows.packs.items()
    )
    return [p for p in found if p is not None]


class AircraftPart(Struct, frozen=True):
    """What is said of one aircraft, and what of its newest flights may need attention.

    ``season`` is ``None`` for the flights that belong to no aircraft.
    """

    season: AircraftSeason | None
    watched: tuple[Watched, ...]


def analyse_aircraft(
    described: Aircraft | None,
    read: Callable[[str], FlightRecord],
    totals: Totals,
    windows: Windows,
    range_checks: Sequence[RangeCheck] = (),
    limits: Limits = COMMON_PRACTICE,
    keep: Keep = anew,
) -> AircraftPart:
    """Follow one aircraft over its flights.

    Parameters
    ----------
    described : Aircraft or None
        ``None`` for the flights that belong to none.
    read : callable
        Gives a flight that its histories rest on (:meth:`Windows.needed`) by its id, corrected; briefs will do.
    totals : Totals
        Of all its flights.
    keep : callable
        Keeps what is said of a layout, for which its flights need not be read again.
    """
    own = [read(i) for i in windows.aircraft.get(described.name if described else "", ())]
    noticed = tuple(watched(f) for f in own)
    if described is None:
        return AircraftPart(None, noticed)
    went = totals.farthest_m[np.isfinite(totals.farthest_m)]
    farthest = float(went.max()) if went.size else None
    season = AircraftSeason(
        aircraft=described,
        flight_ids=tuple(f.flight_id for f in own),
        fuel=fuel_history(own, limits),
        engines=turbine_history(own, limits, totals=totals),
        layouts=follow_layouts(windows.layouts.get(described.name, {}), read, described, keep),
        range=analyse_range_checks(range_checks, farthest, last_moved(described), limits),
        flights=len(totals),
    )
    return AircraftPart(season, noticed)


def analyse_pack(name: str, flights: Sequence[FlightRecord], totals: Totals) -> PackHistory | None:
    """Follow one pack; ``None`` where no log has anything of it.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Those that its trends rest on, oldest first, corrected; briefs will do.
    totals : Totals
        Of all flights it was fitted in, oldest first.
    """
    at, counted = totals.packs.of(name)
    if not at.size or not (uses := uses_of(flights, name)):
        return None
    ids = tuple(totals.flight_ids[n] for n in at.tolist())
    charges = Charges(totals.start_s[at], counted[:, :3], counted[:, 3:6])
    return pack_history(uses[0], WholeLife(ids, charges, summed(counted[:, 6:].astype(np.int64).tolist())))


def compose_season(
    parts: Iterable[AircraftPart],
    packs: Iterable[PackHistory],
    flight_ids: Sequence[str],
    limits: Mapping[str, Limits] | None = None,
) -> SeasonResult:
    """Put a season together; ``flight_ids`` are those of all flights, oldest first, ``limits`` by aircraft."""
    parts = list(parts)
    seasons = [p.season for p in parts if p.season is not None]
    place = {flight_id: at for at, flight_id in enumerate(flight_ids)}
    noticed = sorted((w for p in parts for w in p.watched), key=lambda w: place[w.flight_id])
    ordered = by_urgency(packs)
    return SeasonResult(tuple(seasons), ordered, rank_attention(noticed, seasons, ordered, limits))
