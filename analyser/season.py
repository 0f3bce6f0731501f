"""A season from flight results to histories: the composition over flights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.aircraft import Aircraft
from analyser.attention import rank_attention
from analyser.events import Attention
from analyser.fuel_history import FuelHistory, fuel_history
from analyser.layouts import LayoutsResult, analyse_layouts
from analyser.pack_history import PackHistory, pack_histories
from analyser.record import FlightRecord
from analyser.turbine_history import EngineHistory, turbine_history


@dataclass(frozen=True, slots=True)
class AircraftSeason:
    """One aircraft over its flights, oldest first."""

    aircraft: Aircraft
    flight_ids: tuple[str, ...]
    fuel: FuelHistory
    engines: tuple[EngineHistory, ...]
    layouts: LayoutsResult


@dataclass(frozen=True, slots=True)
class SeasonResult:
    """Everything the analyser says over flights."""

    aircraft: tuple[AircraftSeason, ...]
    packs: tuple[PackHistory, ...]
    attention: tuple[Attention, ...]


def analyse_season(flights: Sequence[FlightRecord], aircraft: Sequence[Aircraft] = ()) -> SeasonResult:
    """Analyse all flights of a logbook.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first.
    aircraft : sequence of Aircraft
        Registered aircraft; one without flights still gets its planned antenna maps.
    """
    known = {f.context.aircraft.name: f.context.aircraft for f in flights if f.context.aircraft}
    known |= {a.name: a for a in aircraft}
    seasons = []
    for name, described in sorted(known.items()):
        own = [f for f in flights if f.aircraft == name]
        seasons.append(
            AircraftSeason(
                aircraft=described,
                flight_ids=tuple(f.flight_id for f in own),
                fuel=fuel_history(own),
                engines=turbine_history(own),
                layouts=analyse_layouts(own, described),
            )
        )
    packs = pack_histories(flights)
    return SeasonResult(tuple(seasons), packs, rank_attention(flights, seasons, packs))
