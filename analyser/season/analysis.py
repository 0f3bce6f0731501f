"""A season from flight results to histories: the composition over flights."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analyser.core.aircraft import Aircraft
from analyser.core.levels import COMMON_PRACTICE, Limits
from analyser.record import FlightRecord
from analyser.season.attention import rank_attention
from analyser.season.engines import turbine_history
from analyser.season.fuel.history import fuel_history
from analyser.season.link.layouts import analyse_layouts, last_moved
from analyser.season.link.range_check import RangeCheck, analyse_range_checks
from analyser.season.packs.history import pack_histories
from analyser.season.result import AircraftSeason, SeasonResult
from analyser.season.teaching import corrected


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
    known = {f.context.aircraft.name: f.context.aircraft for f in flights if f.context.aircraft}
    known |= {a.name: a for a in aircraft}
    seasons = []
    for name, described in sorted(known.items()):
        own = [f for f in flights if f.aircraft == name]
        held = (limits or {}).get(name, COMMON_PRACTICE)
        seasons.append(
            AircraftSeason(
                aircraft=described,
                flight_ids=tuple(f.flight_id for f in own),
                fuel=fuel_history(own, held),
                engines=turbine_history(own, held),
                layouts=analyse_layouts(own, described),
                range=analyse_range_checks(
                    (range_checks or {}).get(name, ()), _farthest_m(own), last_moved(described), held
                ),
            )
        )
    packs = pack_histories(flights)
    return SeasonResult(tuple(seasons), packs, rank_attention(flights, seasons, packs, limits))


def _farthest_m(flights: Sequence[FlightRecord]) -> float | None:
    return max((v for f in flights if (v := f.result.link.max_range_m.value) is not None), default=None)
