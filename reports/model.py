"""What the pages are made from. The application fills it; nothing here is computed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analyser.core.telemetry import Telemetry
from analyser.record import FlightRecord
from analyser.season.result import SeasonResult


@dataclass(frozen=True, slots=True)
class FlightPage:
    """One flight as pages need it.

    ``telemetry`` loads the screened telemetry when (and only when) the page is really built. ``fingerprint`` changes
    whenever anything the page shows changes. ``title`` is for people; ``notices`` is what the import recorded.
    """

    record: FlightRecord
    title: str
    source: str
    notices: tuple[str, ...]
    fingerprint: str
    telemetry: Callable[[], Telemetry]
    labelled: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """A whole logbook as pages need it; flights newest first. ``labelled`` is printed on every page (invented data)."""

    title: str
    flights: tuple[FlightPage, ...]
    season: SeasonResult
    generated: str
    labelled: str = ""
