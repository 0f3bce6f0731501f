"""Flight logs of turbine model jets: read them, analyse them, keep them. The names here are the public library.

Examples
--------
>>> import spooldown
>>> flight, = spooldown.read_log("sample_logs/tern/tern-2026-04-18.csv")
>>> flight
Telemetry(1,950 rows, 10.4 min, 50 channels, from 2026-04-18 10:12 UTC)
>>> result = spooldown.analyse_flight(flight)
>>> result
FlightResult(10.4 min, 2 tanks, 4 packs, 2 receivers, 2 engines)
>>> result.fuel.to_frame().loc["burned", "unit"]
'mL'
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyser.compare import CompareResult, compare_flights
    from analyser.core.aircraft import Aircraft, FlightContext, Pack
    from analyser.core.events import Event, Level
    from analyser.core.figures import Figure, Method
    from analyser.core.findings import Finding
    from analyser.core.telemetry import Telemetry, UnknownChannelError
    from analyser.flight import FlightResult
    from analyser.record import FlightRecord
    from analyser.season import SeasonResult, analyse_season
    from importers.model import Plan
    from importers.refusal import Refusal
    from spooldown.library import (
        analyse_flight,
        analyse_logbook,
        channels,
        figures,
        in_words,
        look_at,
        read_log,
        read_register,
    )
    from spooldown.logbook.book import Logbook

__version__ = "0.1.0"

_HOMES = {
    "Aircraft": "analyser.core.aircraft",
    "CompareResult": "analyser.compare",
    "Event": "analyser.core.events",
    "Figure": "analyser.core.figures",
    "Finding": "analyser.core.findings",
    "FlightContext": "analyser.core.aircraft",
    "FlightRecord": "analyser.record",
    "FlightResult": "analyser.flight",
    "Level": "analyser.core.events",
    "Logbook": "spooldown.logbook.book",
    "Method": "analyser.core.figures",
    "Pack": "analyser.core.aircraft",
    "Plan": "importers.model",
    "Refusal": "importers.refusal",
    "SeasonResult": "analyser.season",
    "Telemetry": "analyser.core.telemetry",
    "UnknownChannelError": "analyser.core.telemetry",
    "analyse_flight": "spooldown.library",
    "analyse_logbook": "spooldown.library",
    "analyse_season": "analyser.season",
    "channels": "spooldown.library",
    "compare_flights": "analyser.compare",
    "figures": "spooldown.library",
    "in_words": "spooldown.library",
    "look_at": "spooldown.library",
    "read_log": "spooldown.library",
    "read_register": "spooldown.library",
}
"""Where each public name lives. It is imported when it is first asked for, so that the command starts at once."""

__all__ = [
    "Aircraft",
    "CompareResult",
    "Event",
    "Figure",
    "Finding",
    "FlightContext",
    "FlightRecord",
    "FlightResult",
    "Level",
    "Logbook",
    "Method",
    "Pack",
    "Plan",
    "Refusal",
    "SeasonResult",
    "Telemetry",
    "UnknownChannelError",
    "analyse_flight",
    "analyse_logbook",
    "analyse_season",
    "channels",
    "compare_flights",
    "figures",
    "in_words",
    "look_at",
    "read_log",
    "read_register",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
