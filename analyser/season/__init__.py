"""Histories over flights: burn, packs, engines, antennas, and what needs attention. Start at :func:`analyse_season`."""

from analyser.season.analysis import analyse_season
from analyser.season.result import AircraftSeason, SeasonResult

__all__ = ["AircraftSeason", "SeasonResult", "analyse_season"]
