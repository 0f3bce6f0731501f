"""Packs in one flight: charge and energy used, lowest voltage, sag, resistance, redundancy.

Sag events follow the dip rule of IEC 61000-4-30 (:func:`analyser.events.find_dips`): a dip begins below 90 % of a
load-free reference that follows the discharge, and ends 2 % above that. A brown-out event is absolute: a bus
below the level the owner states.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from analyser.aircraft import FlightContext, Pack, PackNote
from analyser.chemistry import FULL_V, PLAUSIBLE_REST_V, charge_percent, source_of
from analyser.events import Event, Level, find_dips
from analyser.figures import Figure, FloatArray, Method, Missing, Trace
from analyser.phases import PhaseName, Phases
from analyser.redundancy import BusResult, share_bus
from analyser.resistance import Circuit, at_reference, fit_circuit, step_resistances
from analyser.smoothing import Z95, bin_means, integrate, unwrap_counter
from analyser.telemetry import Series, Telemetry

SAG_SHARE = 0.90
HYSTERESIS_SHARE = 0.02
"""Dip threshold and hysteresis as shares of the reference: the usual setting of IEC 61000-4-30."""
BROWN_OUT_HYSTERESIS_V = 0.1
CAUSE_S = 0.5
HIGH_G_M_S2 = 30.0
REST_S = 10.0
LOGGED_SE_K = 1.5
"""Error of a pack temperature sensor (common practice, no source)."""
WARMER_K = 5.0
"""How much warmer than the air a pack is taken to be where nobody measured it, and how unsure that is (assumed)."""
NORMAL_LOAD_A = 10.0
"""The load at which sag is compared over flights."""
DISAGREE = 0.15
"""Two routes to one charge that differ by more than this share are named."""
LEAST_FALL_PERCENT = 15.0
WIDEST_CAPACITY = 0.5
"""A capacity is not stated where its interval reaches further than this share to either side."""
CAPACITY_KEPT = (1.05, 0.70)
"""What share of the label's capacity a pack in use may have (common practice, no source)."""
NEGATIVE_A = -0.2
LOW_CHARGE_PERCENT = 20.0
NOT_COUNTED = Figure.unavailable("Charge by the sensor's own count", "mAh", "no running count is logged")
NOT_COMPARED = Figure.unavailable("Disagreement of the charge routes", "%", "needs two routes to the charge")


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


@dataclass(frozen=True, slots=True)
class PacksResult:
    """All packs of one flight."""

    packs: tuple[PackResult, ...]
    buses: tuple[BusResult, ...]
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Traces:
    """One pack's samples, its charge so far and what is doubtful about them."""

    voltage: Series
    current: Series
    used: Series
    how: str
    method: Method
    doubts: tuple[str, ...]
    circuit: Circuit | None
    counted_mah: float | None
    remarks: tuple[tuple[Level, str], ...]


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
    packs: list[PackResult] = []
    missing: list[Missing] = []
    circuits: dict[str, tuple[Circuit, Series]] = {}
    voltages: dict[str, Series] = {}
    for role in telemetry.instances("pack"):
        pack = context.packs.get(role)
        traces, lacking = _traces(role, telemetry)
        missing.extend(lacking)
        if pack is None:
            cost = f"state of charge, capacity and history of the pack at {role}"
            missing.append(Missing(f"pack.{role}", "which pack was fitted", cost, "note the pack fitted at this role"))
        packs.append(_pack(role, pack, traces, telemetry, phases, context))
        if traces.circuit is not None:
            circuits[role] = (traces.circuit, traces.current)
            voltages[role] = traces.voltage
    if not packs:
        cost = "charge used, lowest voltage, sag and resistance"
        missing.append(Missing("packs", "any pack channel", cost, "log pack voltage and current"))
    brown = _brown_out_level(context, None)
    events = [
        e
        for bus in telemetry.instances("bus")
        for e in _brown_outs(f"bus.{bus}", telemetry.series(f"bus.{bus}.voltage_v"), telemetry, phases, brown)
    ]
    shared = [b for b in telemetry.instances("bus") if b not in circuits and telemetry.has(f"bus.{b}.voltage_v")]
    bus = telemetry.series(f"bus.{shared[0]}.voltage_v") if len(shared) == 1 else None
    buses = share_bus(circuits, brown, voltages, bus)
    paths = {role: ohm for b in buses for role, ohm in b.path_resistance_mohm.items() if ohm.value is not None}
    packs = [replace(p, lead_resistance_mohm=paths.get(p.name, p.lead_resistance_mohm)) for p in packs]
    return PacksResult(tuple(packs), buses, tuple(events), tuple(missing))


def _traces(role: str, telemetry: Telemetry) -> tuple[_Traces, list[Missing]]:
    prefix = f"pack.{role}"
    voltage, current = telemetry.series(f"{prefix}.voltage_v"), telemetry.series(f"{prefix}.current_a")
    counted = telemetry.series(f"{prefix}.used_mah")
    missing: list[Missing] = []
    remarks: list[tuple[Level, str]] = []
    numbers = telemetry.numbers("pack", role, "cell<n>_v")
    if not voltage and numbers:
        cells = [telemetry.series(f"{prefix}.cell{n}_v") for n in numbers]
        t = cells[0].time_s
        voltage = Series(t, np.sum([np.interp(t, *c) for c in cells], axis=0))
    if not voltage:
        cost = f"sag, resistance and state of charge of the pack at {role}"
        missing.append(Missing(prefix, "pack voltage", cost, "log the pack's voltage"))
    if current and _is_reversed(voltage, current):
        current = Series(current.time_s, -current.values)
        remarks.append((Level.NOTE, f"The current of {role} reads negative under load: taken as reversed sign."))
    counted_mah: float | None = None
    used, how, method = Series(np.empty(0), np.empty(0)), "", Method.INTEGRATED
    if counted:
        total = unwrap_counter(counted.values)
        counted_mah = float(total[-1] - total[0])
    if current:
        used = Series(current.time_s, integrate(current.time_s, current.values) / 3.6)
        how = f"from {prefix}.current_a, trapezoid"
        remarks.extend(_negative(role, current))
    elif counted:
        used, how = Series(counted.time_s, total - total[0]), f"from {prefix}.used_mah, a running count"
        method = Method.MEASURED
    else:
        cost = f"charge used and resistance of the pack at {role} from the log"
        missing.append(Missing(prefix, "pack current or used charge", cost, "log current, or note the mAh put back"))
    circuit = fit_circuit(voltage, current) if voltage and current else None
    if circuit is not None and not circuit.one_second_ohm > 0:
        circuit = None
    found = [s.note for s in telemetry.suspects if s.channel.startswith(f"{prefix}.")]
    doubts = tuple(dict.fromkeys((*found, *(text for _, text in remarks))))
    return _Traces(voltage, current, used, how, method, doubts, circuit, counted_mah, tuple(remarks)), missing


def _is_reversed(voltage: Series, current: Series) -> bool:
    """Mostly negative, and the voltage falls when it grows more negative: the sensor is wired the other way round."""
    if float(np.median(current.values)) >= 0 or not voltage:
        return False
    v = np.interp(current.time_s, *voltage)
    dv, di = np.diff(v), np.diff(current.values)
    return bool(np.dot(dv, di) > 0)


def _negative(role: str, current: Series) -> list[tuple[Level, str]]:
    """A pack takes no charge in flight: a stretch of negative current is an offset of at least that much."""
    _, means = bin_means(current.time_s, current.values, REST_S)
    low = float(means.min())
    if low >= NEGATIVE_A:
        return []
    text = (
        f"The current of {role} reads {low:.1f} A over its lowest ten seconds, yet no pack takes charge in flight: "
        f"an offset of at least {-low:.1f} A, which every charge and energy figure carries."
    )
    return [(Level.WATCH, text)]


def _compare(
    role: str, traces: _Traces, charged: float | None, started_full: bool | None
) -> tuple[Figure, list[tuple[Level, str]]]:
    """Set the integrated current against the sensor's own count and the charge put back; name the larger difference."""
    label = f"Disagreement of the charge routes, {role}"
    if not traces.current or not traces.used:
        return Figure.unavailable(label, "%", "needs logged current and a second route to the charge"), []
    integrated = float(traces.used.values[-1] - traces.used.values[0])
    routes: list[tuple[str, float]] = []
    if traces.counted_mah:
        routes.append(("the sensor's own count", traces.counted_mah))
    if charged and not (charged > integrated and started_full is False):
        routes.append(("the charge put back", charged))
    if not routes:
        why = "neither a running count nor a put-back noted"
        if charged:
            why = "the pack did not start full, so more was put back than this flight used"
        return Figure.unavailable(label, "%", f"needs a second route to the charge: {why}"), []
    what, other = max(routes, key=lambda r: abs(integrated - r[1]))
    percent = 100.0 * (integrated - other) / other
    how = f"integrated {integrated:.0f} mAh less {other:.0f} mAh by {what}, over the latter"
    figure = Figure(label, percent, "%", Method.INTEGRATED, how=how, digits=0)
    if abs(integrated - other) <= DISAGREE * max(other, integrated):
        return figure, []
    seconds = max(float(traces.current.time_s[-1] - traces.current.time_s[0]), 1.0)
    offset = 3.6 * (integrated - other) / seconds
    quiet = float(bin_means(traces.current.time_s, traces.current.values, REST_S)[1].min())
    text = (
        f"The integrated current of {role} gives {integrated:.0f} mAh but {what} gives {other:.0f} mAh: "
        f"a constant offset of {offset:+.2f} A would explain it"
    )
    if offset > 0 and quiet < 0.7 * offset:
        text += f", but the quietest ten seconds read only {quiet:.2f} A, so rather a scale error or a wrong note."
    else:
        text += f" (the quietest ten seconds read {quiet:.2f} A), or something not logged."
    return figure, [(Level.WATCH, text)]


def _pack(
    role: str,
    pack: Pack | None,
    traces: _Traces,
    telemetry: Telemetry,
    phases: Phases,
    context: FlightContext,
) -> PackResult:
    note = context.pack_notes.get(role) or PackNote()
    used = _used(role, traces)
    charged = (
        Figure(f"Put back by the charger, {role}", note.charged_mah, "mAh", Method.ENTERED, how="noted", digits=0)
        if note.charged_mah is not None
        else Figure.unavailable(f"Put back by the charger, {role}", "mAh", "not noted")
    )
    if used.value is None and charged.value is not None:
        used = replace(charged, label=f"Charge used, {role}", how="the charge put back; no current was logged")
    before, after = _rests(role, traces, phases)
    remarks = list(traces.remarks)
    full: bool | None = None
    if pack is not None and before.value is not None:
        low, high = PLAUSIBLE_REST_V[pack.chemistry]
        per_cell = before.value / pack.cells
        full = per_cell >= FULL_V[pack.chemistry]
        if not low <= per_cell <= high:
            full = None
            text = (
                f"{pack.name} rests at {per_cell:.2f} V a cell, which {pack.chemistry} never does: "
                "is its cell count or chemistry right?"
            )
            before, after = before.with_doubt(text), after.with_doubt(text)
            remarks.append((Level.WATCH, text))
    disagreement, unlike = _compare(role, traces, note.charged_mah, full)
    remarks += unlike
    used = used.with_doubt(*traces.doubts, *(text for _, text in unlike))
    soc_before = _charge_state(f"State of charge before, {role}", pack, before)
    soc_after = _charge_after(role, pack, after, soc_before, used)
    resistance, steps = _resistances(role, traces)
    temperature = _temperature(role, telemetry, context, note)
    reference = (
        Trace(
            f"Load-free voltage, {role}", "V", traces.circuit.time_s, traces.circuit.reference_v,
            how="equivalent-circuit fit without its load terms",
        )
        if traces.circuit is not None
        else _reference(role, traces.voltage)
    )  # fmt: skip
    resistance = _at_low_charge(resistance, soc_before, soc_after)
    events, worst = _sags(role, traces, reference, telemetry, phases, context, pack)
    return PackResult(
        name=role,
        pack=pack.name if pack else "",
        used_mah=used,
        charged_mah=charged,
        used_wh=_energy(role, traces),
        airborne_rate_mah_per_min=_airborne_rate(role, traces, phases),
        min_voltage_v=_lowest(f"Lowest voltage, {role}", traces.voltage, "no pack voltage"),
        min_cell_v=_lowest_cell(role, telemetry),
        cell_spread_v=(spread := _cell_spread(role, telemetry, phases))[0],
        weak_cell=spread[1],
        rest_before_v=before,
        rest_after_v=after,
        state_of_charge_before_percent=soc_before,
        state_of_charge_after_percent=soc_after,
        capacity_mah=_capacity(role, used, soc_before, after, pack),
        counted_mah=_counted(role, traces),
        charge_disagreement_percent=disagreement,
        capacity_put_back_mah=_capacity_put_back(role, charged, after, pack, full),
        resistance_mohm=resistance,
        resistance_steps_mohm=steps,
        resistance_normalised_mohm=_normalised(role, resistance, temperature),
        resistance_noted_mohm=_noted(role, note),
        cell_resistances_mohm=_cell_resistances(role, telemetry, traces),
        lead_resistance_mohm=_lead(role, telemetry, traces),
        worst_sag_v=worst,
        normal_sag_v=_normal_sag(role, resistance),
        flights_left=_flights_left(role, pack, used, soc_after),
        phases=_phase_charges(role, traces, phases),
        reference=reference,
        events=(*(_remark(role, traces, level, text) for level, text in remarks), *events),
    )


def _remark(role: str, traces: _Traces, level: Level, text: str) -> Event:
    """A remark on the data themselves as an event at the trace's first sample, so that no page can miss it."""
    start = float((traces.current or traces.voltage or traces.used).time_s[0])
    return Event("pack_data", f"pack.{role}", start, start, level, text)


def _counted(role: str, traces: _Traces) -> Figure:
    label = f"Charge by the sensor's own count, {role}"
    if traces.counted_mah is None:
        return Figure.unavailable(label, "mAh", "no running count is logged")
    return Figure(label, traces.counted_mah, "mAh", Method.MEASURED, how=f"from pack.{role}.used_mah", digits=0)


def _used(role: str, traces: _Traces) -> Figure:
    label = f"Charge used, {role}"
    if not traces.used:
        return Figure.unavailable(label, "mAh", "neither current nor used charge is logged, and no put-back is noted")
    value = float(traces.used.values[-1] - traces.used.values[0])
    return Figure(label, value, "mAh", traces.method, how=traces.how, digits=0)


def _energy(role: str, traces: _Traces) -> Figure:
    label = f"Energy used, {role}"
    if not traces.current or not traces.voltage:
        return Figure.unavailable(label, "Wh", "needs voltage and current")
    t = traces.current.time_s
    power = traces.current.values * np.interp(t, *traces.voltage)
    how = "voltage times current, trapezoid"
    return Figure(label, float(integrate(t, power)[-1] / 3600.0), "Wh", Method.INTEGRATED, how=how, digits=2)


def _airborne_rate(role: str, traces: _Traces, phases: Phases) -> Figure:
    label = f"Charge in flight, {role}"
    air = phases.airborne_span
    if not traces.used:
        return Figure.unavailable(label, "mAh/min", "neither current nor used charge is logged")
    if air is None:
        return Figure.unavailable(label, "mAh/min", "take-off and landing can't be told from this log")
    return _rate(label, traces, [air])


def _rate(label: str, traces: _Traces, spans: list[tuple[float, float]]) -> Figure:
    minutes = sum(b - a for a, b in spans) / 60.0
    if minutes <= 0.05:
        return Figure.unavailable(label, "mAh/min", "the phase is too short for a rate")
    ends = np.interp(np.array(spans).ravel(), *traces.used).reshape(-1, 2)
    value = float((ends[:, 1] - ends[:, 0]).sum() / minutes)
    return Figure(label, value, "mAh/min", traces.method, how=traces.how)


def _phase_charges(role: str, traces: _Traces, phases: Phases) -> tuple[PhaseCharge, ...]:
    if not traces.used:
        return ()
    out = []
    for phase in PhaseName:
        spans = list(phases.spans(phase))
        if not spans:
            continue
        ends = np.interp(np.array(spans).ravel(), *traces.used).reshape(-1, 2)
        value = float((ends[:, 1] - ends[:, 0]).sum())
        figure = Figure(f"Charge, {role}, {phase}", value, "mAh", traces.method, how=traces.how, digits=1)
        out.append(PhaseCharge(phase.value, figure, _rate(f"Charge a minute, {role}, {phase}", traces, spans)))
    return tuple(out)


def _lowest(label: str, series: Series, missing: str) -> Figure:
    if not series:
        return Figure.unavailable(label, "V", missing)
    return Figure(label, float(series.values.min()), "V", Method.MEASURED, how="lowest sample", digits=2)


def _lowest_cell(role: str, telemetry: Telemetry) -> Figure:
    label = f"Lowest cell, {role}"
    numbers = telemetry.numbers("pack", role, "cell<n>_v")
    cells = [(n, telemetry.series(f"pack.{role}.cell{n}_v")) for n in numbers]
    low = [(float(c.values.min()), n) for n, c in cells if c]
    if not low:
        return Figure.unavailable(label, "V", "no cell voltages are logged")
    value, number = min(low)
    return Figure(label, value, "V", Method.MEASURED, how=f"lowest sample, cell {number}", digits=2)


def _cell_spread(role: str, telemetry: Telemetry, phases: Phases) -> tuple[Figure, int | None]:
    """Highest less lowest cell, median over the last third of the flight: there a weak cell shows."""
    label = f"Cell spread late in flight, {role}"
    numbers = telemetry.numbers("pack", role, "cell<n>_v")
    if len(numbers) < 2:
        return Figure.unavailable(label, "V", "needs at least two logged cells"), None
    cells = [telemetry.series(f"pack.{role}.cell{n}_v") for n in numbers]
    air = phases.airborne_span or (0.0, telemetry.duration_s)
    late = air[1] - (air[1] - air[0]) / 3.0
    t = cells[0].time_s
    t = t[(t >= late) & (t <= air[1])]
    if t.size < 3:
        return Figure.unavailable(label, "V", "too few cell samples late in the flight"), None
    v = np.stack([np.interp(t, *c) for c in cells])
    spread = v.max(axis=0) - v.min(axis=0)
    weak = int(np.bincount(v.argmin(axis=0), minlength=len(numbers)).argmax())
    how = "median over the last third of the flight"
    return Figure(label, float(np.median(spread)), "V", Method.MEASURED, how=how, digits=3), numbers[weak]


def _rests(role: str, traces: _Traces, phases: Phases) -> tuple[Figure, Figure]:
    """Voltage at rest at either end: the quietest ten seconds, with the remaining load's drop added back."""
    labels = (f"Rest voltage before, {role}", f"Rest voltage after, {role}")
    if not traces.voltage:
        return tuple(Figure.unavailable(x, "V", "no pack voltage") for x in labels)  # type: ignore[return-value]
    t, v = traces.voltage
    load = np.interp(t, *traces.current) if traces.current else np.zeros(t.size)
    drops = np.zeros((2, t.size))
    if (c := traces.circuit) is not None:
        # Before, the standing load has long settled; after, the pairs are still relaxing, as the fit followed them.
        drops = np.stack([c.settled_ohm * load, np.interp(t, c.time_s, c.reference_v - c.fitted_v)])
    out = []
    for label, inside, dropped in zip(labels, (t <= t[0] + REST_S, t >= t[-1] - REST_S), drops, strict=True):
        drop = float(np.median(dropped[inside]))
        value = float(np.median(v[inside])) + drop
        busy = phases.airborne_span and inside.any() and _overlaps(phases.airborne_span, t[inside])
        if busy:
            out.append(Figure.unavailable(label, "V", "the log begins or ends in flight, not at rest"))
            continue
        half = 0.25 * abs(drop) + 0.005
        how = "median of ten seconds" + (f", {1000 * drop:.0f} mV of load drop added back" if drop else "")
        method = Method.ESTIMATED if drop else Method.MEASURED
        out.append(Figure(label, value, "V", method, value - half, value + half, how=how, digits=2))
    return out[0], out[1]


def _overlaps(span: tuple[float, float], t: FloatArray) -> bool:
    return bool(((t >= span[0]) & (t <= span[1])).any())


def _charge_state(label: str, pack: Pack | None, rest: Figure) -> Figure:
    if pack is None:
        return Figure.unavailable(label, "%", "which pack was fitted is not noted")
    if rest.value is None:
        return Figure.unavailable(label, "%", rest.missing)
    per_cell = rest.value / pack.cells
    value, low, high = charge_percent(pack.chemistry, per_cell, rest.half_width / pack.cells)
    how = f"{pack.chemistry} rest voltage of {per_cell:.2f} V a cell, {source_of(pack.chemistry)}"
    return Figure(label, value, "%", Method.ESTIMATED, low, high, how=how, digits=0).with_doubt(*rest.doubts)


def _charge_after(role: str, pack: Pack | None, rest: Figure, before: Figure, used: Figure) -> Figure:
    """By rest voltage or by charge used over the rated capacity, whichever is the surer of the two."""
    label = f"State of charge after, {role}"
    by_voltage = _charge_state(label, pack, rest)
    if pack is None or pack.rated_mah is None or used.value is None or before.value is None:
        return by_voltage
    spent = 100.0 * used.value / pack.rated_mah
    least, most = (spent / share for share in CAPACITY_KEPT)
    value = max(before.value - spent, 0.0)
    low, high = max((before.low or 0.0) - most, 0.0), max((before.high or 100.0) - least, 0.0)
    if by_voltage.value is not None and by_voltage.half_width <= (high - low) / 2.0:
        return by_voltage
    how = (
        f"state before less charge used over rated capacity, of which {100 * CAPACITY_KEPT[1]:.0f} to "
        f"{100 * CAPACITY_KEPT[0]:.0f} % is assumed to be left"
    )
    figure = Figure(label, value, "%", Method.ESTIMATED, min(low, value), max(high, value), how=how, digits=0)
    return figure.with_doubt(*rest.doubts, *used.doubts)


def _capacity(role: str, used: Figure, before: Figure, rest_after: Figure, pack: Pack | None) -> Figure:
    """Charge used over the fall of the state of charge: needs a fall worth measuring."""
    label = f"Capacity, {role}"
    after = _charge_state("", pack, rest_after) if pack else Figure.unavailable("", "%", "no pack noted")
    if used.value is None or before.value is None or after.value is None:
        return Figure.unavailable(label, "mAh", used.missing or before.missing or after.missing)
    fall = before.value - after.value
    half = float(np.hypot(before.half_width, after.half_width))
    how = f"charge used over a {fall:.0f} % fall of the rest-voltage charge state"
    return _over_fall(label, used, fall, half, how)


def _over_fall(label: str, charge: Figure, fall: float, half: float, how: str) -> Figure:
    """A charge over the share of the capacity it was, with the share's interval; not stated where that is too wide."""
    if charge.value is None or charge.value <= 0:
        return Figure.unavailable(label, "mAh", charge.missing or "no charge left the pack by this log")
    if fall < LEAST_FALL_PERCENT:
        why = f"the charge fell by only {fall:.0f} %; a capacity needs a fall of {LEAST_FALL_PERCENT:.0f} % or more"
        return Figure.unavailable(label, "mAh", why)
    if half > WIDEST_CAPACITY * fall:
        why = (
            f"the fall of the charge state, {fall:.0f} %, is uncertain by {half:.0f} % because makes differ in their "
            "rest voltage; a deeper discharge would supply it"
        )
        return Figure.unavailable(label, "mAh", why)
    value, low, high = (100.0 * charge.value / share for share in (fall, fall + half, fall - half))
    return Figure(label, value, "mAh", Method.ESTIMATED, low, high, how=how, digits=0).with_doubt(*charge.doubts)


def _capacity_put_back(role: str, charged: Figure, rest_after: Figure, pack: Pack | None, full: bool | None) -> Figure:
    """Charge put back over the share that was missing: free of the current sensor and of the curve's upper end."""
    label = f"Capacity by put-back, {role}"
    if charged.value is None or pack is None:
        why = "no put-back is noted" if charged.value is None else "which pack was fitted is not noted"
        return Figure.unavailable(label, "mAh", why)
    if pack.chemistry == "nimh":
        return Figure.unavailable(label, "mAh", "a nickel pack takes more charge than it stores")
    if not full:
        return Figure.unavailable(label, "mAh", "the pack did not start full, so it may not be charged full either")
    after = _charge_state("", pack, rest_after)
    if after.value is None:
        return Figure.unavailable(label, "mAh", after.missing)
    how = f"charge put back over the {100 - after.value:.0f} % missing after the flight, taken as charged to full"
    return _over_fall(label, charged, 100.0 - after.value, after.half_width, how)


def _at_low_charge(resistance: Figure, before: Figure, after: Figure) -> Figure:
    """Say over which charge a resistance was read: it is not carried to one state, as no source gives the factor."""
    if resistance.value is None or before.value is None or after.value is None:
        return resistance
    seen = replace(resistance, how=f"{resistance.how}; over {before.value:.0f} to {after.value:.0f} % charge")
    if after.value >= LOW_CHARGE_PERCENT:
        return seen
    return seen.with_doubt(
        f"Read partly below {LOW_CHARGE_PERCENT:.0f} % charge, where resistance rises: not one to compare with fuller "
        "flights."
    )


def _resistances(role: str, traces: _Traces) -> tuple[Figure, Figure]:
    label, step_label = f"Resistance, {role}", f"Resistance by load steps, {role}"
    why = "needs voltage and current with load steps"
    if traces.circuit is None:
        return Figure.unavailable(label, "mΩ", why), Figure.unavailable(step_label, "mΩ", why)
    c = traces.circuit
    value, half = 1000.0 * c.one_second_ohm, 1000.0 * Z95 * c.one_second_se
    taus = f"τ = {c.tau_s:.0f} s" + (f" and {c.tau2_s:.0f} s" if c.pairs == 2 else "")
    how = f"equivalent-circuit fit, one second after a step ({taus})"
    fitted = Figure(label, value, "mΩ", Method.ESTIMATED, value - half, value + half, how=how).with_doubt(
        *traces.doubts
    )
    steps = 1000.0 * step_resistances(traces.voltage, traces.current)
    if steps.size < 3:
        return fitted, Figure.unavailable(step_label, "mΩ", "fewer than three load steps of 1 A in a second")
    middle = float(np.median(steps))
    half = Z95 * 1.2533 * 1.4826 * float(np.median(np.abs(steps - middle))) / float(np.sqrt(steps.size))
    how = f"median of (U1 − U2)/(I2 − I1) over {steps.size} steps"
    return fitted, Figure(step_label, middle, "mΩ", Method.ESTIMATED, middle - half, middle + half, how=how)


def _cell_resistances(role: str, telemetry: Telemetry, traces: _Traces) -> tuple[Figure, ...]:
    if traces.circuit is None:
        return ()
    out = []
    for n in telemetry.numbers("pack", role, "cell<n>_v"):
        label = f"Resistance of cell {n}, {role}"
        c = fit_circuit(telemetry.series(f"pack.{role}.cell{n}_v"), traces.current)
        if c is None:
            out.append(Figure.unavailable(label, "mΩ", "the cell's samples show no load steps"))
            continue
        value, half = 1000.0 * c.one_second_ohm, 1000.0 * Z95 * c.one_second_se
        out.append(
            Figure(label, value, "mΩ", Method.ESTIMATED, value - half, value + half, how="equivalent-circuit fit")
        )
    return tuple(out)


def _lead(role: str, telemetry: Telemetry, traces: _Traces) -> Figure:
    """Leads, plugs and switch between pack and bus: where the bus voltage is logged and this pack alone feeds it.

    A bus of the pack's own role is its own; so is the only bus of a log with one receiver pack.
    """
    label = f"Lead and connector resistance, {role}"
    logged = [b for b in telemetry.instances("bus") if telemetry.has(f"bus.{b}.voltage_v")]
    receivers = [r for r in telemetry.instances("pack") if r.startswith("rx")]
    only = len(logged) == 1 and receivers == [role]
    bus = role if role in logged else logged[0] if only else None
    if bus is None or traces.circuit is None:
        return Figure.unavailable(label, "mΩ", f"needs a bus voltage for {role} alone beside the pack's own")
    c = fit_circuit(telemetry.series(f"bus.{bus}.voltage_v"), traces.current)
    if c is None:
        return Figure.unavailable(label, "mΩ", "the bus voltage shows no load steps")
    value = 1000.0 * (c.one_second_ohm - traces.circuit.one_second_ohm)
    half = 1000.0 * Z95 * float(np.hypot(c.one_second_se, traces.circuit.one_second_se))
    how = f"fit of the {bus} bus less the pack's own"
    return Figure(label, value, "mΩ", Method.ESTIMATED, value - half, value + half, how=how)


def _temperature(
    role: str, telemetry: Telemetry, context: FlightContext, note: PackNote
) -> tuple[float, float, str] | None:
    """The pack's temperature, °C, its standard error, K, and where it comes from."""
    logged = telemetry.series(f"pack.{role}.temperature_c")
    if logged:
        return float(np.median(logged.values)), LOGGED_SE_K, "logged pack temperature"
    if note.temperature_c is not None:
        return note.temperature_c, LOGGED_SE_K, "noted pack temperature"
    if context.air_temperature_c is not None:
        return context.air_temperature_c + WARMER_K, WARMER_K, f"air temperature plus an assumed {WARMER_K:.0f} K"
    return None


def _normalised(role: str, resistance: Figure, temperature: tuple[float, float, str] | None) -> Figure:
    label = f"Resistance at 25 °C, {role}"
    if resistance.value is None:
        return Figure.unavailable(label, "mΩ", resistance.missing)
    if temperature is None:
        return Figure.unavailable(label, "mΩ", "no pack or air temperature is known")
    celsius, celsius_se, how = temperature
    value, added = at_reference(resistance.value, celsius, celsius_se)
    half = float(np.hypot(resistance.half_width * value / resistance.value, Z95 * added))
    text = f"{resistance.how}; carried to 25 °C from {celsius:.0f} °C ({how})"
    return Figure(label, value, "mΩ", Method.ESTIMATED, value - half, value + half, how=text).with_doubt(
        *resistance.doubts
    )


def _noted(role: str, note: PackNote) -> Figure:
    label = f"Resistance reading, {role}"
    value = note.resistance_mohm if note.resistance_mohm is not None else sum(note.cell_resistance_mohm) or None
    if value is None:
        return Figure.unavailable(label, "mΩ", "no reading was noted")
    return Figure(label, value, "mΩ", Method.ENTERED, how="noted after the flight")


def _normal_sag(role: str, resistance: Figure) -> Figure:
    label = f"Sag at {NORMAL_LOAD_A:.0f} A, {role}"
    if resistance.value is None:
        return Figure.unavailable(label, "V", resistance.missing)
    k = NORMAL_LOAD_A / 1000.0
    half = k * resistance.half_width
    value = k * resistance.value
    return Figure(
        label, value, "V", Method.ESTIMATED, value - half, value + half, how="resistance times load", digits=2
    )


def _flights_left(role: str, pack: Pack | None, used: Figure, after: Figure) -> Figure:
    label = f"More flights like this one, {role}"
    if pack is None or pack.rated_mah is None:
        return Figure.unavailable(label, "", "the fitted pack and its rated capacity are not known")
    if used.value is None or used.value <= 0 or after.value is None:
        return Figure.unavailable(label, "", used.missing or after.missing or "no charge was used")
    share = 100.0 * used.value / pack.rated_mah
    at = [
        max(x - pack.reserve_percent, 0.0) / share for x in (after.value, after.low or 0.0, after.high or after.value)
    ]
    how = f"charge above the {pack.reserve_percent:.0f} % reserve over this flight's use"
    return Figure(label, at[0], "", Method.ESTIMATED, at[1], at[2], how=how)


def _reference(role: str, voltage: Series) -> Trace | None:
    """Without current: the upper edge of the voltage over half a minute, which load can only pull down."""
    if voltage.time_s.size < 10:
        return None
    t, v = bin_means(voltage.time_s, voltage.values, 1.0)
    upper = ndimage.percentile_filter(v, 90, size=min(31, v.size | 1), mode="nearest")
    smooth = ndimage.uniform_filter1d(upper, min(31, v.size | 1), mode="nearest")
    how = "90th percentile over half a minute; no current is logged"
    return Trace(f"Load-free voltage, {role}", "V", t, np.asarray(smooth, float), how=how)


def _brown_out_level(context: FlightContext, pack: Pack | None) -> float | None:
    """A pack's own level; for a bus the aircraft's, else the highest of its receiver packs'."""
    if pack is not None and pack.brown_out_v is not None:
        return pack.brown_out_v
    if context.aircraft is not None and context.aircraft.brown_out_v is not None:
        return context.aircraft.brown_out_v
    stated = [p.brown_out_v for role, p in context.packs.items() if role.startswith("rx") and p.brown_out_v]
    return max(stated, default=None)


def _sags(
    role: str,
    traces: _Traces,
    reference: Trace | None,
    telemetry: Telemetry,
    phases: Phases,
    context: FlightContext,
    pack: Pack | None,
) -> tuple[list[Event], Figure]:
    label = f"Deepest sag, {role}"
    if not traces.voltage or reference is None:
        return [], Figure.unavailable(label, "V", "no pack voltage")
    t, v = traces.voltage
    level = np.interp(t, reference.time_s, reference.values)
    gap = 5.0 * float(np.median(np.diff(t))) if t.size > 1 else 1.0
    events: list[Event] = []
    dips = find_dips(t, v, SAG_SHARE * level, HYSTERESIS_SHARE * float(np.median(level)), max_gap_s=max(gap, 2.0))
    for k in range(len(dips)):
        at = int(dips.lowest_index[k])
        depth = float(level[at] - v[at])
        causes = causes_near(telemetry, phases, float(dips.start_s[k]))
        figure = Figure("Depth below the load-free voltage", depth, "V", Method.ESTIMATED, how=reference.how, digits=2)
        why = f" ({', '.join(causes)})" if causes else ""
        energy = _dip_energy(traces, float(dips.start_s[k]), float(dips.end_s[k]))
        text = f"{role} sagged {depth:.2f} V to {v[at]:.2f} V for {dips.end_s[k] - dips.start_s[k]:.1f} s{energy}{why}."
        weight = Level.WATCH if depth > 0.15 * level[at] else Level.NOTE
        events.append(
            Event("sag", f"pack.{role}", float(dips.start_s[k]), float(dips.end_s[k]), weight, text, figure, causes)
        )
    if role.startswith("rx"):
        level_v = _brown_out_level(context, pack)
        events += _brown_outs(f"pack.{role}", traces.voltage, telemetry, phases, level_v)
    below = level - v
    at = int(below.argmax())
    spread = 2.0 * traces.circuit.scatter_v if traces.circuit else 0.05
    worst = float(below[at])
    text = f"load-free reference less voltage at {t[at]:.0f} s"
    return events, Figure(label, worst, "V", Method.ESTIMATED, worst - spread, worst + spread, how=text, digits=2)


def _dip_energy(traces: _Traces, start: float, end: float) -> str:
    if not traces.current:
        return ""
    t = traces.current.time_s
    inside = (t >= start) & (t <= end)
    if inside.sum() < 2:
        return ""
    power = traces.current.values[inside] * np.interp(t[inside], *traces.voltage)
    return f", {integrate(t[inside], power)[-1]:.0f} J drawn"


def _brown_outs(
    subject: str, voltage: Series, telemetry: Telemetry, phases: Phases, level: float | None
) -> list[Event]:
    """Dips of a bus or a receiver pack below the absolute level."""
    if level is None or not voltage:
        return []
    name = subject.partition(".")[2]
    what = f"The {name} bus" if subject.startswith("bus.") else name
    t, v = voltage
    dips = find_dips(t, v, level, BROWN_OUT_HYSTERESIS_V, max_gap_s=2.0)
    out = []
    for k in range(len(dips)):
        causes = causes_near(telemetry, phases, float(dips.start_s[k]))
        why = f" while {', '.join(causes)}" if causes else ""
        text = (
            f"{what} fell to {dips.residual[k]:.2f} V, below the {level:.2f} V brown-out level, "
            f"for {dips.end_s[k] - dips.start_s[k]:.1f} s{why}."
        )
        figure = Figure(
            "Depth below the brown-out level", float(dips.depth[k]), "V", Method.MEASURED, how="lowest sample", digits=2
        )
        start, end = float(dips.start_s[k]), float(dips.end_s[k])
        out.append(Event("brown_out", subject, start, end, Level.ACT, text, figure, causes))
    return out


def causes_near(telemetry: Telemetry, phases: Phases, at_s: float) -> tuple[str, ...]:
    """What else happened within half a second of an instant, in plain words; nothing logged gives nothing."""
    out: list[str] = []

    def around(name: str, margin: float = CAUSE_S) -> FloatArray:
        t, v = telemetry.series(name)
        a, b = np.searchsorted(t, [at_s - margin, at_s + margin])
        return v[max(a - 1, 0) : b + 1]

    gear = around("control.gear", 1.0 + CAUSE_S)
    if gear.size and np.ptp(gear) > 0:
        out.append("gear going down" if gear[-1] > gear[0] else "gear going up")
    brake = around("control.brake_percent")
    if brake.size and brake.max() > 20.0:
        out.append("brakes on")
    flap = around("control.flap_percent")
    if flap.size and np.ptp(flap) > 10.0:
        out.append("flaps moving")
    moved = sum(
        float(np.ptp(w)) for c in ("aileron", "elevator", "rudder") if (w := around(f"control.{c}_percent")).size
    )
    if moved > 80.0:
        out.append("surfaces working hard")
    if any(a - CAUSE_S <= at_s <= b + CAUSE_S for a, b in phases.spans(PhaseName.START)):
        out.append("engine start")
    load = around("motion.accel_z_m_s2")
    if load.size and np.abs(load).max() > HIGH_G_M_S2:
        out.append(f"{np.abs(load).max() / 9.80665:.0f} g")
    return tuple(out)
