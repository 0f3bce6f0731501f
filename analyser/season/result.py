"""What the analyser says over flights: one aircraft's histories, every pack's, and what needs attention."""

from __future__ import annotations

from msgspec import Struct, field

from analyser.core.aircraft import Aircraft
from analyser.core.events import Attention
from analyser.core.tables import Tabular
from analyser.season.engines import EngineHistory
from analyser.season.fuel.history import FuelHistory
from analyser.season.link.layouts import LayoutsResult
from analyser.season.link.range_check import RangeCheckResult
from analyser.season.packs.history import PackHistory


class AircraftSeason(Tabular, Struct, frozen=True):
    """One aircraft over its flights, oldest first.

    ``flight_ids`` are the newest, which its histories rest on (:mod:`analyser.season.window`); ``flights`` is how many
    it has in all.
    """

    aircraft: Aircraft
    flight_ids: tuple[str, ...]
    fuel: FuelHistory
    engines: tuple[EngineHistory, ...]
    layouts: LayoutsResult
    range: RangeCheckResult = field(default_factory=lambda: RangeCheckResult((), ""))
    flights: int = 0


class SeasonResult(Tabular, Struct, frozen=True):
    """Everything the analyser says over flights."""

    aircraft: tuple[AircraftSeason, ...]
    packs: tuple[PackHistory, ...]
    attention: tuple[Attention, ...]

    def __repr__(self) -> str:
        def counted(count: int, noun: str) -> str:
            return f"{count} {noun}{'' if count == 1 else 's'}"

        flown = {a.aircraft.name: a.flights or len(a.flight_ids) for a in self.aircraft}
        names = ", ".join(f"{name}: {counted(flights, 'flight')}" for name, flights in flown.items())
        packs, open_matters = counted(len(self.packs), "pack"), counted(len(self.attention), "open matter")
        return f"SeasonResult({names or 'no aircraft'}; {packs}; {open_matters})"
