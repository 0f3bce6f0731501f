"""Packs in one flight: charge and energy used, lowest voltage, sag, resistance, redundancy."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.aircraft import FlightContext
from analyser.events import Event
from analyser.figures import Figure, Missing, Trace
from analyser.phases import Phases
from analyser.telemetry import Telemetry


@dataclass(frozen=True, slots=True)
class PhaseCharge:
    """Charge one pack gave in one phase."""

    name: str
    used_mah: Figure
    rate_mah_per_min: Figure


@dataclass(frozen=True, slots=True)
class PackResult:
    """One pack over one flight. ``name`` is its role in the log, ``pack`` the fitted pack's own name (or '')."""

    name: str
    pack: str
    used_mah: Figure
    charged_mah: Figure
    used_wh: Figure
    airborne_rate_mah_per_min: Figure
    min_voltage_v: Figure
    min_cell_v: Figure
    cell_spread_v: Figure
    rest_before_v: Figure
    rest_after_v: Figure
    state_of_charge_after_percent: Figure
    resistance_mohm: Figure
    resistance_normalised_mohm: Figure
    worst_sag_v: Figure
    flights_left: Figure
    phases: tuple[PhaseCharge, ...]
    reference: Trace | None
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class BusResult:
    """Packs sharing one bus: who carried the load, and could either have carried it alone."""

    name: str
    packs: tuple[str, ...]
    share_percent: dict[str, Figure]
    worst_load_a: Figure
    alone_v: dict[str, Figure]
    sentence: str


@dataclass(frozen=True, slots=True)
class PacksResult:
    """All packs of one flight."""

    packs: tuple[PackResult, ...]
    buses: tuple[BusResult, ...]
    missing: tuple[Missing, ...]


def analyse_packs(telemetry: Telemetry, phases: Phases, context: FlightContext) -> PacksResult:
    """Work out one flight's battery story."""
    raise NotImplementedError
