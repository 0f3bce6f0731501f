"""Packs in one flight, put together: what each gave, how low it went, its resistance, and the bus they share."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyser.core.aircraft import FlightContext
from analyser.core.coincidence import Causes
from analyser.core.events import Event
from analyser.core.figures import Figure, Missing
from analyser.core.findings import say
from analyser.core.phases import Phases
from analyser.core.tables import Tabular
from analyser.core.telemetry import Series, Telemetry
from analyser.packs.bus.brown_outs import BusDip, bus_brown_outs, feeding
from analyser.packs.bus.redundancy import BusPack, BusResult, share_bus
from analyser.packs.capacity import (
    PackCapacity,
    capacity_by_charge,
    capacity_by_discharge,
    flights_left,
    impossible_charge,
    measured_capacity,
)
from analyser.packs.charge import (
    PackCharge,
    airborne_rate,
    charge_counted,
    charge_integrated,
    charge_put_back,
    charge_used,
    compare_routes,
    energy_used,
    phase_charges,
)
from analyser.packs.codes import PackCode
from analyser.packs.internal_resistance import (
    PackResistance,
    at_reference,
    cell_resistances,
    fitted_resistance,
    lead_resistance,
    noted_resistance,
    pack_temperature,
    sag_at_load,
    step_resistance,
)
from analyser.packs.readings import NOTHING, PackLog, read_pack_log
from analyser.packs.state_of_charge import ChargeStates, PackState, charge_left, charge_states
from analyser.packs.use import Use, receiver_roles, use_of
from analyser.packs.voltage import (
    PackVoltage,
    brown_out_level,
    brown_outs,
    cell_spread,
    load_free,
    lowest_cell,
    lowest_voltage,
    sags,
)


@dataclass(frozen=True, slots=True)
class PackResult:
    """One pack over one flight.

    ``name`` is its role in the log, ``pack`` the fitted pack's own name (or ''), ``use`` what it feeds.
    """

    name: str
    pack: str
    use: Use
    charge: PackCharge
    voltage: PackVoltage
    state: PackState
    resistance: PackResistance
    capacity: PackCapacity
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True, repr=False)
class PacksResult(Tabular):
    """All packs of one flight."""

    packs: tuple[PackResult, ...]
    buses: tuple[BusResult, ...]
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]
    bus_dips: tuple[BusDip, ...] = ()


@dataclass(frozen=True, slots=True)
class _Around:
    """What a pack's figures need beside its own log: the flight, its context, and what went on."""

    duration_s: float
    context: FlightContext
    causes: Causes


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
    receivers = receiver_roles(roles, context)
    missing = [m for log in logs for m in _missing(log)]
    if not logs:
        missing.append(
            Missing("packs", say(PackCode.NO_PACK), say(PackCode.NO_PACK_COST), say(PackCode.NO_PACK_REMEDY))
        )
    bus_level = brown_out_level(context, None)
    voltages = {b: v for b in telemetry.instances("bus") if (v := telemetry.series(f"bus.{b}.voltage_v"))}
    feeds = {b: [log for log in logs if log.role in feeding(b, voltages, roles, receivers)] for b in voltages}
    browns = [bus_brown_outs(b, v, bus_level, causes, feeds[b]) for b, v in voltages.items()]
    shared = [v for b, v in voltages.items() if len(feeds[b]) > 1]
    states = {log.role: charge_states(log) for log in logs}
    on_bus = {log.role: p for log in logs if log.role in receivers and (p := _on_bus(log, states[log.role], context))}
    buses = share_bus(on_bus, bus_level, shared[0] if shared else None, phases.take_off_s)
    paths = {role: ohm for b in buses for role, ohm in b.path_resistance_mohm.items() if ohm.value is not None}
    alone = {fed[0].role: (b, voltages[b]) for b, fed in feeds.items() if len(fed) == 1}
    around = _Around(telemetry.duration_s, context, causes)
    packs = [_pack(log, states[log.role], alone.get(log.role, ("", NOTHING)), around) for log in logs]
    return PacksResult(
        tuple(_with_path(p, paths.get(p.name)) for p in packs),
        buses,
        tuple(e for events, _ in browns for e in events),
        tuple(missing),
        tuple(d for _, dips in browns for d in dips),
    )


def _on_bus(log: PackLog, states: ChargeStates, context: FlightContext) -> BusPack | None:
    if log.circuit is None:
        return None
    rests = (None, None) if states.remarks else (states.rest_before_v.value, states.rest_after_v.value)
    return BusPack(
        log.circuit,
        log.current,
        log.voltage,
        log.pack,
        rest_before_v=rests[0],
        rest_after_v=rests[1],
        declared=use_of(log.role, context).declared,
    )


def _with_path(pack: PackResult, ohm: Figure | None) -> PackResult:
    return pack if ohm is None else replace(pack, resistance=replace(pack.resistance, leads_mohm=ohm))


def _missing(log: PackLog) -> list[Missing]:
    subject = f"pack.{log.role}"

    def lacking(what: PackCode, cost: PackCode, remedy: PackCode) -> Missing:
        return Missing(subject, say(what), say(cost, pack=log.part), say(remedy))

    out = []
    if not log.voltage:
        out.append(lacking(PackCode.VOLTAGE_LACKING, PackCode.VOLTAGE_COST, PackCode.VOLTAGE_REMEDY))
    if not log.given:
        out.append(lacking(PackCode.CHARGE_LACKING, PackCode.CHARGE_COST, PackCode.CHARGE_REMEDY))
    if log.pack is None:
        out.append(lacking(PackCode.FITTED_LACKING, PackCode.FITTED_COST, PackCode.FITTED_REMEDY))
    return out


def _pack(log: PackLog, states: ChargeStates, own_bus: tuple[str, Series], around: _Around) -> PackResult:
    context = around.context
    put_back, integrated = charge_put_back(log), charge_integrated(log)
    disagreement, unlike = compare_routes(log, put_back, states.full)
    # One wrong sensor is told once: where two routes to the charge differ, the third has nothing to add.
    unlike = unlike or impossible_charge(log, integrated, put_back, states)
    doubts = tuple(e.summary for e in unlike)
    integrated = integrated.with_doubt(*doubts)
    used = charge_used(log, integrated, put_back, states.before_percent).with_doubt(*doubts)
    left = charge_left(log, states, used)
    measured = measured_capacity(log)
    by_current, by_charger = capacity_by_discharge(log, used, states), capacity_by_charge(log, put_back, states)
    as_read = fitted_resistance(log)
    temperature = pack_temperature(log, context.air_temperature_c)
    label = say(PackCode.RESISTANCE, pack=log.part)
    reference = load_free(log)
    dips, deepest = sags(log, reference, around.causes)
    spread, weak = cell_spread(log, around.duration_s)
    use = use_of(log.role, context)
    # The level is the receivers': an engine's pack feeds none of them.
    level = brown_out_level(context, log.pack) if use.feeds == "receiver" else None
    browns = brown_outs(f"pack.{log.role}", log.voltage, level, around.causes)
    return PackResult(
        name=log.role,
        pack=log.pack.name if log.pack else "",
        use=use,
        charge=PackCharge(
            used_mah=used,
            integrated_mah=integrated.named(say(PackCode.INTEGRATED, pack=log.part)),
            counted_mah=charge_counted(log),
            put_back_mah=put_back,
            disagreement_percent=disagreement,
            used_wh=energy_used(log, used),
            airborne_mah_per_min=airborne_rate(log, used),
            phases=phase_charges(log, used),
        ),
        voltage=PackVoltage(
            lowest_v=lowest_voltage(log),
            lowest_cell_v=lowest_cell(log),
            cell_spread_v=spread,
            weak_cell=weak,
            deepest_sag_v=deepest,
            rest_before_v=states.rest_before_v,
            rest_after_v=states.rest_after_v,
            load_free=reference,
        ),
        state=PackState(states.before_percent, left, temperature),
        resistance=PackResistance(
            value_mohm=at_reference(label, as_read, temperature, states.before_percent, left),
            as_read_mohm=as_read,
            by_steps_mohm=step_resistance(log),
            noted_mohm=noted_resistance(log),
            cells_mohm=cell_resistances(log),
            leads_mohm=lead_resistance(log, *own_bus),
            sag_at_load_v=sag_at_load(log, as_read),
        ),
        capacity=PackCapacity(
            by_discharge_mah=by_current,
            by_charge_mah=by_charger,
            measured_mah=measured,
            flights_left=flights_left(log, used, left, (measured,) if unlike else (measured, by_current, by_charger)),
        ),
        events=(*log.remarks, *states.remarks, *unlike, *dips, *browns),
    )
