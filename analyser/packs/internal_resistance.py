"""What a pack's resistance is in figures: by the fit and by load steps, carried to one state, by cell, its leads."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import Z95, Figure, Method
from analyser.core.findings import Part, Text, say
from analyser.core.statistics.robust import MEDIAN_SE, median, robust_sd
from analyser.core.telemetry import Series
from analyser.packs.circuit import Circuit, fit_circuit, step_resistances
from analyser.packs.codes import PackCode
from analyser.packs.readings import PackLog
from analyser.packs.reference_state import MAKES, Activation, over_half_charge, over_reference_temperature
from analyser.packs.scale import CurrentScale, rescaled

LOGGED_SE_K = 1.5
"""Error of a pack temperature sensor (common practice, no source)."""
WARMER_K = 5.0
"""How much warmer than the air a pack is taken to be where nobody measured it, and how unsure that is (assumed)."""
USUAL_C, USUAL_SE_K = 20.0, 8.0
"""The air of a flying day where nobody noted anything: 4 to 36 °C at 95 % (common practice, no source)."""
NORMAL_LOAD_A = 10.0
"""The load at which sag is compared over flights."""
USUAL_CHARGE_PERCENT = (100.0, 30.0)
"""The discharge a resistance is taken to be read over where the charge states are not known (assumed)."""
FEWEST_STEPS = 3
WIDEST = 2.0
"""A resistance known to a factor of seven (e²) either way is not carried anywhere."""


class PackResistance(Struct, frozen=True):
    """One pack's internal resistance.

    ``value_mohm`` is the one value of the flight, at 25 °C and half charge. ``as_read_mohm`` is what it is carried
    from, ``by_steps_mohm`` the same by single load steps, ``noted_mohm`` the owner's reading. ``sag_at_load_v`` is what
    a load of 10 A would take at the resistance as read. ``by_sensor_mohm`` is the resistance at half charge by the
    sensor as it reads, as warm as it was: from several flights of it a pack's own temperature law is learned.
    """

    value_mohm: Figure
    as_read_mohm: Figure
    by_steps_mohm: Figure
    noted_mohm: Figure
    cells_mohm: tuple[Figure, ...]
    leads_mohm: Figure
    sag_at_load_v: Figure
    by_sensor_mohm: float | None = None


def _one_second(label: Text, circuit: Circuit, how: Text) -> Figure:
    half = 1000.0 * Z95 * circuit.one_second_se
    return Figure.within(label, 1000.0 * circuit.one_second_ohm, half, "mΩ", how=how).at_least(0.0)


def fitted_resistance(log: PackLog) -> Figure:
    """The equivalent circuit's resistance one second after a step, as it was in this flight."""
    label = say(PackCode.RESISTANCE_AS_READ, pack=log.part)
    c = log.circuit
    if c is None:
        return Figure.unavailable(label, "mΩ", say(PackCode.NO_STEPS))
    how = say(PackCode.CIRCUIT_FIT, taus_s=(c.tau_s, c.tau2_s)[: c.pairs])
    return _one_second(label, c, how).with_doubt(*log.doubts)


def step_resistance(log: PackLog) -> Figure:
    """The d.c. form of IEC 61960-3 over the flight's load steps, brought to one second after a step.

    A step seen from one second to the next began anywhere in between, and voltage and current are seldom sampled
    together. The fit's own voltage, seen through the same seconds, tells what that takes from a step: the median ratio
    of measured to fitted steps, times the fit's resistance.
    """
    label = say(PackCode.RESISTANCE_BY_STEPS, pack=log.part)
    if log.circuit is None:
        return Figure.unavailable(label, "mΩ", say(PackCode.NO_STEPS))
    c = log.circuit
    measured = step_resistances((c.time_s, np.interp(c.time_s, *log.voltage)), log.current)
    fitted = step_resistances((c.time_s, c.fitted_v), log.current)
    known = fitted > 0.1 * c.one_second_ohm
    if known.sum() < FEWEST_STEPS:
        return Figure.unavailable(label, "mΩ", say(PackCode.FEW_STEPS, fewest=FEWEST_STEPS))
    ratios = measured[known] / fitted[known]
    middle = 1000.0 * c.one_second_ohm * median(ratios)
    if middle <= 0.0:
        return Figure.unavailable(label, "mΩ", say(PackCode.BELOW_NOUGHT, mohm=middle))
    own = MEDIAN_SE * robust_sd(ratios - median(ratios)) / float(np.sqrt(ratios.size)) * 1000.0 * c.one_second_ohm
    half = Z95 * float(np.hypot(own, 1000.0 * c.one_second_se))
    return Figure.within(label, middle, half, "mΩ", how=say(PackCode.STEPS, steps=int(ratios.size)))


def cell_resistances(log: PackLog) -> tuple[Figure, ...]:
    """One figure for every logged cell."""
    return tuple(_cell(say(PackCode.RESISTANCE_OF_CELL, pack=log.part, cell=n), c) for n, c in log.cell_circuits)


def _cell(label: Text, circuit: Circuit | None) -> Figure:
    if circuit is None:
        return Figure.unavailable(label, "mΩ", say(PackCode.NO_CELL_STEPS))
    if circuit.one_second_ohm <= 0.0:
        why = say(PackCode.BELOW_NOUGHT, mohm=1000.0 * circuit.one_second_ohm)
        return Figure.unavailable(label, "mΩ", why)
    return _one_second(label, circuit, say(PackCode.CELL_FIT))


def lead_resistance(log: PackLog, bus: str, bus_voltage: Series) -> Figure:
    """Leads, plugs and switch between a pack and the bus that it alone feeds."""
    label = say(PackCode.RESISTANCE_OF_LEADS, pack=log.part)
    if not bus_voltage or log.circuit is None:
        return Figure.unavailable(label, "mΩ", say(PackCode.NO_OWN_BUS, pack=log.part))
    c = fit_circuit(bus_voltage, log.current)
    if c is None:
        return Figure.unavailable(label, "mΩ", say(PackCode.NO_BUS_STEPS))
    how = say(PackCode.BUS_LESS_PACK, bus=Part(f"bus.{bus}"))
    leads = _one_second(label, c, how).minus(_one_second(label, log.circuit, how), label, how=how)
    if leads.high is not None and leads.high <= 0.0:
        return Figure.unavailable(label, "mΩ", say(PackCode.BELOW_NOUGHT, mohm=leads.value or 0.0))
    return leads.at_least(0.0)


def pack_temperature(log: PackLog, air_c: float | None) -> Figure:
    """The pack's temperature: as logged, as noted, guessed from the air's, or that of any flying day."""
    label = say(PackCode.TEMPERATURE, pack=log.part)

    def about(value: float, se_k: float, method: Method, how: Text) -> Figure:
        return replace(Figure.within(label, value, Z95 * se_k, "°C", how=how, digits=0), method=method)

    if log.temperature:
        middle = median(log.temperature.values)
        return about(middle, LOGGED_SE_K, Method.MEASURED, say(PackCode.MEDIAN_OF_FLIGHT))
    if log.note.temperature_c is not None:
        return about(log.note.temperature_c, LOGGED_SE_K, Method.ENTERED, say(PackCode.NOTED))
    if air_c is not None:
        return about(air_c + WARMER_K, WARMER_K, Method.ASSUMED, say(PackCode.AIR_PLUS, warmer_k=WARMER_K))
    how = say(PackCode.TEMPERATURE_ASSUMED, air_c=USUAL_C, warmer_k=WARMER_K)
    return about(USUAL_C + WARMER_K, float(np.hypot(USUAL_SE_K, WARMER_K)), Method.ASSUMED, how)


def at_half_charge_mohm(resistance: Figure, before: Figure, after: Figure) -> float | None:
    """A resistance as read carried to half charge alone, as warm as it was, mΩ; ``None`` where it is not known."""
    if resistance.value is None:
        return None
    known = before.value is not None and after.value is not None
    start, end = (before.value, after.value) if known else USUAL_CHARGE_PERCENT
    return resistance.value / over_half_charge(start or 0.0, end or 0.0)[0]


def at_reference(
    label: Text, resistance: Figure, temperature: Figure, before: Figure, after: Figure, activation: Activation = MAKES
) -> Figure:
    """A resistance carried to 25 °C and half charge, its interval widened by what carrying may be off.

    Parameters
    ----------
    resistance, temperature : Figure
        As read, mΩ, and what it was read at, °C.
    before, after : Figure
        States of charge at either end of the reading, percent.
    activation : Activation
        How the resistance follows temperature.
    """
    if resistance.value is None:
        return Figure.unavailable(label, "mΩ", resistance.missing)
    if temperature.value is None:
        return Figure.unavailable(label, "mΩ", temperature.missing)
    warmth, warmth_se = over_reference_temperature(temperature.value, temperature.half_width / Z95, activation)
    known = before.value is not None and after.value is not None
    start, end = (before.value, after.value) if known else USUAL_CHARGE_PERCENT
    charge, charge_se = over_half_charge(start or 0.0, end or 0.0)
    value = resistance.value / (warmth * charge)
    relative = np.hypot(
        resistance.half_width / resistance.value, Z95 * np.linalg.norm([warmth_se, charge_se, activation.charge_se])
    )
    how = say(
        PackCode.CARRIED, read=resistance, read_how=resistance.how, temperature=temperature,
        temperature_how=temperature.how, activation=activation.how, before_percent=float(start or 0.0),
        after_percent=float(end or 0.0), assumed=not known,
    )  # fmt: skip
    if relative > WIDEST:
        return Figure.unavailable(label, "mΩ", say(PackCode.RESISTANCE_UNSURE))
    factor = float(np.exp(relative))
    figure = Figure(label, value, "mΩ", Method.ESTIMATED, low=value / factor, high=value * factor, how=how)
    return figure.with_doubt(*resistance.doubts)


def set_resistance(
    own: PackResistance, old: CurrentScale | None, new: CurrentScale, *, before: Figure, after: Figure,
    temperature: Figure, activation: Activation,
) -> PackResistance:  # fmt: skip
    """The same resistances at another scale of the current sensor, ``None`` for none: volts over amperes.

    Parameters
    ----------
    before, after, temperature : Figure
        States of charge, percent, and the temperature that the one value is carried from, as ``activation`` says.
    """
    read = rescaled(own.as_read_mohm, old, new, -1)
    return replace(
        own,
        value_mohm=at_reference(own.value_mohm.label, read, temperature, before, after, activation),
        as_read_mohm=read,
        by_steps_mohm=rescaled(own.by_steps_mohm, old, new, -1),
        cells_mohm=tuple(rescaled(c, old, new, -1) for c in own.cells_mohm),
        leads_mohm=rescaled(own.leads_mohm, old, new, -1),
        sag_at_load_v=_times_load(own.sag_at_load_v.label, read),
    )


def noted_resistance(log: PackLog) -> Figure:
    """The reading the owner noted, of the pack or summed over its cells."""
    label = say(PackCode.RESISTANCE_NOTED, pack=log.part)
    note = log.note
    value = note.resistance_mohm if note.resistance_mohm is not None else sum(note.cell_resistance_mohm) or None
    if value is None:
        return Figure.unavailable(label, "mΩ", say(PackCode.NO_READING))
    return Figure(label, value, "mΩ", Method.ENTERED, how=say(PackCode.NOTED))


def _times_load(label: Text, resistance: Figure) -> Figure:
    """What a pack would sag, as it was in this flight, at one load that is the same for every flight."""
    k = NORMAL_LOAD_A / 1000.0
    return resistance.times(k, label, "V", how=say(PackCode.TIMES_LOAD), digits=2)
