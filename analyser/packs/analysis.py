"""Packs in one flight, put together: what each gave, how low it went, its resistance, and the bus they share."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyser.core.aircraft import FlightContext
from analyser.core.coincidence import Causes
from analyser.core.events import Event
from analyser.core.figures import Figure, Missing, Trace
from analyser.core.phases import Phases
from analyser.core.tables import Tabular
from analyser.core.telemetry import Series, Telemetry
from analyser.packs.bus import BusDip, bus_brown_outs, feeding
from analyser.packs.capacity import capacity, capacity_put_back, flights_left, impossible_charge, noted_capacity
from analyser.packs.charge import (
    PhaseCharge,
    airborne_rate,
    charge_counted,
    charge_put_back,
    charge_used,
    compare_routes,
    energy_used,
    phase_charges,
)
from analyser.packs.internal_resistance import (
    at_reference,
    cell_resistances,
    fitted_resistance,
    lead_resistance,
    normal_sag,
    noted_resistance,
    pack_temperature,
    step_resistance,
)
from analyser.packs.readings import NOTHING, PackLog, read_pack_log
from analyser.packs.redundancy import BusResult, share_bus
from analyser.packs.state_of_charge import charge_left, charge_states
from analyser.packs.voltage import (
    brown_out_level,
    brown_outs,
    cell_spread,
    load_free,
    lowest_cell,
    lowest_voltage,
    sags,
)

NOT_COUNTED = Figure.unavailable("Charge by the sensor's own count", "mAh", "no running count is logged")
NOT_NOTED = Figure.unavailable("Capacity measured", "mAh", "no capacity measured by a charger is noted")
NO_TEMPERATURE = Figure.unavailable("Pack temperature", "°C", "not worked out")
NOT_COMPARED = Figure.unavailable("Disagreement of the charge routes", "%", "needs two routes to the charge")


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
    weak_cell: int | None
    rest_before_v: Figure
    rest_after_v: Figure
    state_of_charge_before_percent: Figure
    state_of_charge_after_percent: Figure
    capacity_mah: Figure
    resistance_mohm: Figure
    resistance_steps_mohm: Figure
    resistance_normalised_mohm: Figure
    resistance_noted_mohm: Figure
    cell_resistances_mohm: tuple[Figure, ...]
    lead_resistance_mohm: Figure
    worst_sag_v: Figure
    normal_sag_v: Figure
    flights_left: Figure
    phases: tuple[PhaseCharge, ...]
    reference: Trace | None
    events: tuple[Event, ...]
    counted_mah: Figure = NOT_COUNTED
    charge_disagreement_percent: Figure = NOT_COMPARED
    capacity_put_back_mah: Figure = NOT_COMPARED
    temperature_c: Figure = NO_TEMPERATURE
    capacity_noted_mah: Figure = NOT_NOTED


@dataclass(frozen=True, slots=True, repr=False)
class PacksResult(Tabular):
    """All packs of one flight."""

    packs: tuple[PackResult, ...]
    buses: tuple[BusResult, ...]
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]
    bus_dips: tuple[BusDip, ...] = ()


def analyse_packs(telemetry: Telemetry, phases: Phases, context: FlightContext) -> PacksResult:
    """Work out one flight's battery story.

    Parameters
    ----------
    telemetry : Telemetry
        Screened.
    phases : Phases
        Of the same telemetry.
    context : FlightContext
        Packs fitted by role, notes of charge put back, resistance readings, temperature, brown-out level.
    """
    causes = Causes.of(telemetry, phases)
    logs = [read_pack_log(role, telemetry, phases, context) for role in telemetry.instances("pack")]
    roles = [log.role for log in logs]
    missing = [m for log in logs for m in _missing(log)]
    if not logs:
        cost = "charge used, lowest voltage, sag and resistance"
        missing.append(Missing("packs", "any pack channel", cost, "log pack voltage and current"))
    bus_level = brown_out_level(context, None)
    voltages = {b: v for b in telemetry.instances("bus") if (v := telemetry.series(f"bus.{b}.voltage_v"))}
    feeds = {b: [log for log in logs if log.role in feeding(b, voltages, roles)] for b in voltages}
    browns = [bus_brown_outs(b, v, bus_level, causes, feeds[b]) for b, v in voltages.items()]
    fitted = {log.role: log for log in logs if log.circuit is not None}
    shared = [v for b, v in voltages.items() if len(feeds[b]) > 1]
    buses = share_bus(
        {role: (log.circuit, log.current) for role, log in fitted.items() if log.circuit is not None},
        bus_level,
        {role: log.voltage for role, log in fitted.items()},
        shared[0] if shared else None,
    )
    paths = {role: ohm for b in buses for role, ohm in b.path_resistance_mohm.items() if ohm.value is not None}
    alone = {fed[0].role: (b, voltages[b]) for b, fed in feeds.items() if len(fed) == 1}
    packs = [_pack(log, alone.get(log.role, ("", NOTHING)), telemetry.duration_s, context, causes) for log in logs]
    packs = [replace(p, lead_resistance_mohm=paths.get(p.name, p.lead_resistance_mohm)) for p in packs]
    return PacksResult(
        tuple(packs),
        buses,
        tuple(e for events, _ in browns for e in events),
        tuple(missing),
        tuple(d for _, dips in browns for d in dips),
    )


def _missing(log: PackLog) -> list[Missing]:
    role, subject = log.role, f"pack.{log.role}"
    out = []
    if not log.voltage:
        cost = f"sag, resistance and state of charge of the pack at {role}"
        out.append(Missing(subject, "pack voltage", cost, "log the pack's voltage"))
    if not log.used:
        cost = f"charge used and resistance of the pack at {role} from the log"
        out.append(Missing(subject, "pack current or used charge", cost, "log current, or note the mAh put back"))
    if log.pack is None:
        cost = f"state of charge, capacity and history of the pack at {role}"
        out.append(Missing(subject, "which pack was fitted", cost, "note the pack fitted at this role"))
    return out


def _pack(
    log: PackLog, own_bus: tuple[str, Series], duration_s: float, context: FlightContext, causes: Causes
) -> PackResult:
    put_back = charge_put_back(log)
    states = charge_states(log)
    disagreement, unlike = compare_routes(log, put_back, states.full)
    used = charge_used(log, put_back)
    # One wrong sensor is told once: where two routes to the charge differ, the third has nothing to add.
    unlike = unlike or impossible_charge(log, used, put_back, states)
    used = used.with_doubt(*(e.summary for e in unlike))
    left = charge_left(log, states, used)
    measured = noted_capacity(log)
    by_current, by_charger = capacity(log, used, states), capacity_put_back(log, put_back, states)
    resistance = fitted_resistance(log)
    temperature = pack_temperature(log, context.air_temperature_c)
    label = f"Resistance at 25 °C and half charge, {log.role}"
    reference = load_free(log)
    dips, worst = sags(log, reference, causes)
    spread, weak = cell_spread(log, duration_s)
    # The level is the receivers': an engine's pack feeds none of them.
    level = brown_out_level(context, log.pack) if log.role.startswith("rx") else None
    browns = brown_outs(f"pack.{log.role}", log.voltage, level, causes)
    return PackResult(
        name=log.role,
        pack=log.pack.name if log.pack else "",
        used_mah=used,
        charged_mah=put_back,
        used_wh=energy_used(log),
        airborne_rate_mah_per_min=airborne_rate(log),
        min_voltage_v=lowest_voltage(log),
        min_cell_v=lowest_cell(log),
        cell_spread_v=spread,
        weak_cell=weak,
        rest_before_v=states.rest_before_v,
        rest_after_v=states.rest_after_v,
        state_of_charge_before_percent=states.before_percent,
        state_of_charge_after_percent=left,
        capacity_mah=by_current,
        resistance_mohm=resistance,
        resistance_steps_mohm=step_resistance(log),
        resistance_normalised_mohm=at_reference(label, resistance, temperature, states.before_percent, left),
        resistance_noted_mohm=noted_resistance(log),
        cell_resistances_mohm=cell_resistances(log),
        lead_resistance_mohm=lead_resistance(log, *own_bus),
        worst_sag_v=worst,
        normal_sag_v=normal_sag(log, resistance),
        flights_left=flights_left(log, used, left, (measured,) if unlike else (measured, by_current, by_charger)),
        phases=phase_charges(log),
        reference=reference,
        events=(*log.remarks, *states.remarks, *unlike, *dips, *browns),
        counted_mah=charge_counted(log),
        charge_disagreement_percent=disagreement,
        capacity_put_back_mah=by_charger,
        temperature_c=temperature,
        capacity_noted_mah=measured,
    )
