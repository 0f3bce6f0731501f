"""Packs in one flight, put together: what each gave, how low it went, its resistance, and the bus they share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Chemistry, FlightContext
from analyser.core.coincidence import Causes
from analyser.core.events import Event
from analyser.core.figures import Figure, Missing
from analyser.core.findings import Finding, Part, say
from analyser.core.phases import Phases
from analyser.core.tables import Tabular
from analyser.core.telemetry import Series, Telemetry
from analyser.packs.bus.brown_outs import BusDip, bus_brown_outs, feeding
from analyser.packs.bus.member import BusPack
from analyser.packs.bus.redundancy import BusResult, set_bus, share_bus
from analyser.packs.capacity import (
    PackCapacity,
    capacity_by_charge,
    capacity_by_discharge,
    flights_left,
    impossible_charge,
    measured_capacity,
)
from analyser.packs.charge import (
    Drawn,
    PackCharge,
    airborne_rate,
    charge_counted,
    charge_integrated,
    charge_outside,
    charge_put_back,
    charge_used,
    charger_over_sensor,
    compare_routes,
    energy_used,
    phase_charges,
    set_charge,
    zero_se,
)
from analyser.packs.codes import PackCode
from analyser.packs.internal_resistance import (
    NORMAL_LOAD_A,
    PackResistance,
    at_half_charge_mohm,
    cell_resistances,
    fitted_resistance,
    lead_resistance,
    noted_resistance,
    pack_temperature,
    set_resistance,
    step_resistance,
)
from analyser.packs.readings import NOTHING, PackLog, read_pack_log
from analyser.packs.reference_state import makes_of
from analyser.packs.scale import CurrentScale, PackScale, scale_in_flight, unchecked_scale
from analyser.packs.state_of_charge import ChargeStates, PackState, by_rest_voltage, charge_left, charge_states
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


class PackResult(Struct, frozen=True):
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
    scale: PackScale


class PacksResult(Tabular, Struct, frozen=True):
    """All packs of one flight."""

    packs: tuple[PackResult, ...]
    buses: tuple[BusResult, ...]
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]
    bus_dips: tuple[BusDip, ...] = ()


class _Around(Struct, frozen=True):
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
    alone = {fed[0].role: (b, voltages[b]) for b, fed in feeds.items() if len(fed) == 1}
    around = _Around(telemetry.duration_s, context, causes)
    packs = [_pack(log, states[log.role], alone.get(log.role, ("", NOTHING)), around) for log in logs]
    scales = {p.name: p.scale.applied for p in packs}
    buses = share_bus(on_bus, bus_level, scales, shared[0] if shared else None, phases.take_off_s)
    return PacksResult(
        _with_paths(packs, buses),
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


def _with_paths(packs: Iterable[PackResult], buses: Iterable[BusResult]) -> tuple[PackResult, ...]:
    """Packs with the resistance of what leads to the bus they share, where that is known."""
    paths = {role: ohm for b in buses for role, ohm in b.path_resistance_mohm.items() if ohm.value is not None}
    return tuple(
        replace(p, resistance=replace(p.resistance, leads_mohm=paths[p.name])) if p.name in paths else p for p in packs
    )


def set_scales(packs: PacksResult, context: FlightContext, scales: Mapping[str, CurrentScale]) -> PacksResult:
    """Set a flight's packs right by what other flights teach of its current sensors; no telemetry is needed.

    Charge, energy and what follows from them, resistances, capacity, the flights left, and the bus: all of them move
    together, so that one quantity has one value.

    Parameters
    ----------
    packs : PacksResult
        From :func:`analyse_packs`, or set right before.
    context : FlightContext
        Of the same flight.
    scales : mapping of str to CurrentScale
        By the pack's place in the log; one that is not in it stands as it is.
    """
    right = [_set_scale(p, context, scales[p.name]) if p.name in scales else p for p in packs.packs]
    level = brown_out_level(context, None)
    buses = tuple(set_bus(b, {p.name: p.scale.applied for p in right}, level) for b in packs.buses)
    return replace(packs, packs=_with_paths(right, buses), buses=buses)


def _set_scale(pack: PackResult, context: FlightContext, scale: CurrentScale) -> PackResult:
    old = pack.scale.applied
    if scale == old:
        return pack
    fitted, charge = context.packs.get(pack.name), pack.charge
    prior = unchecked_scale(pack.name, context.aircraft)
    by_log = charge.integrated_mah.named(charge.used_mah.label)
    used = charge_used(
        by_log, charge.put_back_mah, pack.state.before_percent, prior=prior, applied=scale,
        chemistry=fitted.chemistry if fitted else "lipo",
    ).with_doubt(*charge.used_mah.doubts)  # fmt: skip
    after_label = pack.state.after_percent.label
    by_voltage = by_rest_voltage(after_label, fitted, pack.voltage.rest_after_v)
    left = charge_left(after_label, fitted, pack.state.before_percent, pack.voltage.rest_after_v, used)
    by_current = capacity_by_discharge(fitted, Part(f"pack.{pack.name}"), used, pack.state.before_percent, by_voltage)
    known = _of_use(pack.events, pack.capacity.measured_mah, by_current, pack.capacity.by_charge_mah)
    return replace(
        pack,
        scale=replace(pack.scale, applied=scale),
        charge=set_charge(charge, used),
        state=replace(pack.state, after_percent=left),
        resistance=set_resistance(
            pack.resistance,
            old,
            scale,
            before=pack.state.before_percent,
            after=left,
            temperature=pack.state.temperature_c,
            activation=makes_of(fitted.chemistry if fitted else "lipo"),
        ),
        capacity=replace(
            pack.capacity,
            by_discharge_mah=by_current,
            flights_left=flights_left(fitted, Part(f"pack.{pack.name}"), used, left, known),
        ),
    )


UNLIKE = (PackCode.ROUTES_DISAGREE, PackCode.CHARGE_TOO_MUCH, PackCode.CHARGE_TOO_LITTLE)
"""Remarks after which a flight's own capacities are no guide."""


def _of_use(events: Iterable[Event], measured: Figure, *told: Figure) -> tuple[Figure, ...]:
    """The capacities to go by: those told by charge and voltage only where no remark speaks against them."""
    said = {e.summary.code for e in events if isinstance(e.summary, Finding)}
    return (measured,) if said & set(UNLIKE) else (measured, *told)


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
    context, part, fitted = around.context, log.part, log.pack
    before, after = states.before_percent, states.after_percent
    prior = unchecked_scale(log.role, context.aircraft)
    put_back, integrated = charge_put_back(log), charge_integrated(log, prior)
    disagreement, unlike = compare_routes(log, put_back, states.full, before)
    # One wrong sensor is told once: where two routes to the charge differ, the third has nothing to add.
    unlike = unlike or impossible_charge(log, integrated, put_back, states)
    doubts = tuple(e.summary for e in unlike)
    integrated = integrated.with_doubt(*doubts)
    own, shared_se = charger_over_sensor(log, put_back, before, after)
    applied = scale_in_flight(prior, own)
    chemistry: Chemistry = fitted.chemistry if fitted else "lipo"
    used = charge_used(integrated, put_back, before, prior=prior, applied=applied, chemistry=chemistry).with_doubt(
        *doubts
    )
    left = charge_left(after.label, fitted, before, states.rest_after_v, used)
    measured = measured_capacity(log)
    by_current = capacity_by_discharge(fitted, part, used, before, after)
    by_charger = capacity_by_charge(log, put_back, states)
    as_read, makes = fitted_resistance(log), makes_of(chemistry)
    temperature = pack_temperature(log, context.air_temperature_c)
    reference = load_free(log)
    dips, deepest = sags(log, reference, around.causes)
    spread, weak = cell_spread(log, around.duration_s)
    unfit = tuple(e.summary for e in states.remarks)
    use, drawn = use_of(log.role, context), Drawn.of(log)
    # The level is the receivers': an engine's pack feeds none of them.
    level = brown_out_level(context, log.pack) if use.feeds == "receiver" else None
    browns = brown_outs(f"pack.{log.role}", log.voltage, level, around.causes)
    by_sensor = PackResistance(  # what follows from the reading is worked out where that is set right
        value_mohm=as_read.named(say(PackCode.RESISTANCE, pack=part)),
        as_read_mohm=as_read,
        by_steps_mohm=step_resistance(log),
        noted_mohm=noted_resistance(log),
        cells_mohm=cell_resistances(log),
        leads_mohm=lead_resistance(log, *own_bus),
        sag_at_load_v=as_read.named(say(PackCode.SAG_AT_LOAD, pack=part, load_a=NORMAL_LOAD_A)),
        by_sensor_mohm=at_half_charge_mohm(as_read, before, left),
    )
    return PackResult(
        name=log.role,
        pack=fitted.name if fitted else "",
        use=use,
        charge=PackCharge(
            used_mah=used,
            integrated_mah=integrated.named(say(PackCode.INTEGRATED, pack=part)),
            counted_mah=charge_counted(log).with_doubt(*doubts),
            put_back_mah=put_back,
            disagreement_percent=disagreement,
            used_wh=energy_used(log, used),
            airborne_mah_per_min=airborne_rate(log, drawn, used),
            phases=phase_charges(log, drawn, used),
        ),
        voltage=PackVoltage(
            lowest_v=lowest_voltage(log).with_doubt(*unfit),
            lowest_cell_v=lowest_cell(log).with_doubt(*unfit),
            cell_spread_v=spread.with_doubt(*unfit),
            weak_cell=weak,
            deepest_sag_v=deepest.with_doubt(*unfit),
            rest_before_v=states.rest_before_v,
            rest_after_v=states.rest_after_v,
            load_free=reference,
        ),
        state=PackState(before, left, temperature),
        resistance=set_resistance(
            by_sensor, None, applied, before=before, after=left, temperature=temperature, activation=makes
        ),
        capacity=PackCapacity(
            by_discharge_mah=by_current,
            by_charge_mah=by_charger,
            measured_mah=measured,
            flights_left=flights_left(fitted, part, used, left, _of_use(unlike, measured, by_current, by_charger)),
        ),
        events=(*log.remarks, *states.remarks, *unlike, *dips, *browns),
        scale=PackScale(own, applied, shared_se, charge_outside(log), zero_se(log) if log.given else 0.0),
    )
