"""Radio link in one flight: fades, lost frames and failsafe, per receiver and antenna."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.aircraft import FlightContext
from analyser.antenna import DirectionBins
from analyser.events import Event
from analyser.figures import Figure, Missing, Trace
from analyser.phases import Phases
from analyser.telemetry import Telemetry


@dataclass(frozen=True, slots=True)
class AntennaResult:
    """One antenna over one flight. ``name`` is ``<receiver>.antenna<n>``."""

    name: str
    receiver: str
    number: int
    unit: str
    median_signal: Figure
    lowest_signal: Figure
    lowest_margin_db: Figure
    lost_packets: Figure
    lost_per_min: Figure
    fades: Figure
    fade_seconds: Figure
    worst_direction: str
    residual: Trace | None
    bins: DirectionBins | None
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class ReceiverResult:
    """One receiver over one flight."""

    name: str
    lost_frames: Figure
    lost_frames_per_min: Figure
    failsafe_s: Figure
    fades_together: Figure
    fades_saved: Figure
    antennas: tuple[AntennaResult, ...]
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class LinkResult:
    """The radio link of one flight."""

    receivers: tuple[ReceiverResult, ...]
    max_range_m: Figure
    range_m: Trace | None
    directions_from: str
    downlink_gaps: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]


def analyse_link(telemetry: Telemetry, phases: Phases, context: FlightContext) -> LinkResult:
    """Work out one flight's radio-link story."""
    raise NotImplementedError
