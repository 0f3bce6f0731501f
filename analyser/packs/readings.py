"""One pack in one flight: its samples, set right where they are plainly wrong, and what is known beside them."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import FlightContext, Pack, PackNote
from analyser.core.events import Event, happened
from analyser.core.figures import Method
from analyser.core.findings import Finding, Part, Text, say
from analyser.core.phases import Phases
from analyser.core.statistics.robust import median
from analyser.core.statistics.smoothing import bin_means, integrate, unwrap_counter
from analyser.core.telemetry import Series, Telemetry
from analyser.packs.chemistry import PLAUSIBLE_REST_V
from analyser.packs.circuit import Circuit, Load, fit_circuit
from analyser.packs.codes import PackCode

QUIET_S = 10.0
"""Means over this long tell a standing current from noise."""
NEGATIVE_A = -0.2
ABOVE_FULL = 1.1
"""A voltage sensor that is merely off reads no more than so many times what a full pack rests at (common practice, no
source)."""
NOTHING = Series(np.empty(0), np.empty(0))


class ChargeLog(Struct, frozen=True, eq=False):
    """Charge given as the log tells it.

    ``series`` is the charge so far, mAh, by ``method`` and ``how``; ``counted_mah`` the sensor's own running count over
    the flight, ``None`` where there is none.
    """

    series: Series
    method: Method
    how: Text
    counted_mah: float | None

    def __bool__(self) -> bool:
        return bool(self.series)

    @property
    def total_mah(self) -> float:
        """Charge from the first sample to the last."""
        return float(self.series.values[-1] - self.series.values[0])


class PackLog(Struct, frozen=True, eq=False):
    """What every figure of one pack is made from.

    Parameters
    ----------
    role, pack, note
        Where it sits, which pack the owner says was fitted, and what was noted of it afterwards.
    voltage, current, temperature : Series
        The samples that are to be believed, discharge positive; empty where not logged.
    cells : dict of int to Series
        By cell number.
    given : ChargeLog
        Charge given, by current or running count.
    quiet_a : float
        The lowest mean current over ten seconds, A; nought where none is logged.
    circuit : Circuit or None
        Fitted where voltage and current show load steps.
    cell_circuits : tuple of (int, Circuit or None)
        The same of each cell, by its number, where the pack has one.
    remarks : tuple of Event
        What is wrong with the data themselves.
    doubts : tuple of Text
        The same and what the screening found: for the figures it touches.
    """

    role: str
    pack: Pack | None
    note: PackNote
    phases: Phases
    voltage: Series
    current: Series
    temperature: Series
    cells: dict[int, Series]
    given: ChargeLog
    quiet_a: float
    circuit: Circuit | None
    cell_circuits: tuple[tuple[int, Circuit | None], ...]
    remarks: tuple[Event, ...]
    doubts: tuple[Text, ...]

    @property
    def part(self) -> Part:
        """The pack as a thing of the aircraft."""
        return Part(f"pack.{self.role}")

    def remark(self, text: Text) -> Event:
        """Make an event at the trace's first sample of a remark on the data, so that no page can miss it."""
        return _remark(self.role, self.current or self.voltage or self.given.series, text)


def _remark(role: str, trace: Series, text: Text, *, mended: bool = False) -> Event:
    start = float(trace.time_s[0])
    return happened("pack_data", f"pack.{role}", (start, start), text, size=0.0 if mended else 1.0)


def read_pack_log(role: str, telemetry: Telemetry, phases: Phases, context: FlightContext) -> PackLog:
    """Gather one pack's samples and notes; a current of reversed sign is turned round and said."""
    prefix = f"pack.{role}"
    current = telemetry.series(f"{prefix}.current_a")
    pack = context.packs.get(role)
    numbers = telemetry.numbers("pack", role, "cell<n>_v")
    cells = {n: c for n in numbers if (c := telemetry.series(f"{prefix}.cell{n}_v"))}
    voltage = telemetry.series(f"{prefix}.voltage_v") or _sum_of(cells, pack.cells if pack else len(cells))
    voltage, remarks = _believed(voltage, pack, role)
    if current and _is_reversed(voltage, current):
        current = Series(current.time_s, -current.values)
        remarks.append(_remark(role, current, say(PackCode.REVERSED, pack=Part(prefix)), mended=True))
    low = _quietest(current) if current else 0.0
    if low < NEGATIVE_A:
        # A pack takes no charge in flight: a stretch of negative current is an offset of at least that much.
        text = say(PackCode.NEGATIVE, pack=Part(prefix), current_a=low, offset_a=-low)
        remarks.append(_remark(role, current, text))
    load = Load(*current)  # the terms it keeps are large, so that it ends here
    circuit = fit_circuit(voltage, load) if voltage and current else None
    circuit = circuit if circuit is not None and _is_a_pack(circuit) else None
    found = [s.note for s in telemetry.suspects if s.channel.startswith(f"{prefix}.")]
    return PackLog(
        role=role,
        pack=pack,
        note=context.pack_notes.get(role) or PackNote(),
        phases=phases,
        voltage=voltage,
        current=current,
        temperature=telemetry.series(f"{prefix}.temperature_c"),
        cells=cells,
        given=_charge(prefix, current, telemetry.series(f"{prefix}.used_mah")),
        quiet_a=low,
        circuit=circuit,
        cell_circuits=tuple((n, fit_circuit(c, load)) for n, c in cells.items()) if circuit is not None else (),
        remarks=tuple(remarks),
        doubts=tuple(dict.fromkeys((*found, *(e.summary for e in remarks)))),
    )


def _believed(voltage: Series, pack: Pack | None, role: str) -> tuple[Series, list[Event]]:
    """The voltage without the few samples that lie above what the fitted pack's cells can hold, and what to say."""
    if pack is None or not voltage:
        return voltage, []
    above = voltage.values > most_volts(pack)
    if not above.any() or above.mean() > 0.5:
        return voltage, []  # where most samples do, the sensor is not to blame but the pack's description
    worst = float(voltage.values.max())
    kept = Series(voltage.time_s[~above], voltage.values[~above])
    return kept, [_remark(role, voltage, above_cells(pack, role, int(above.sum()), worst, left_out=True))]


def most_volts(pack: Pack) -> float:
    """What no sensor reads off a pack of so many cells, V."""
    return ABOVE_FULL * PLAUSIBLE_REST_V[pack.chemistry][1] * pack.cells


def above_cells(pack: Pack, role: str, samples: int, worst: float, *, left_out: bool) -> Finding:
    """Say that a pack's voltage lies above what its cells can hold."""
    return say(
        PackCode.ABOVE_CELLS, pack=Part(f"pack.{role}"), name=pack.name, cells=pack.cells, samples=samples,
        worst_v=worst, most_v=most_volts(pack), left_out=left_out,
    )  # fmt: skip


def _charge(prefix: str, current: Series, counted: Series) -> ChargeLog:
    total = unwrap_counter(counted.values)
    count = float(total[-1] - total[0]) if counted else None
    if current:
        so_far = Series(current.time_s, integrate(current.time_s, current.values) / 3.6)
        how = say(PackCode.BY_CURRENT, channel=Part(f"{prefix}.current_a"))
        return ChargeLog(so_far, Method.INTEGRATED, how, count)
    if counted:
        how = say(PackCode.BY_COUNT, channel=Part(f"{prefix}.used_mah"))
        return ChargeLog(Series(counted.time_s, total - total[0]), Method.INTEGRATED, how, count)
    return ChargeLog(NOTHING, Method.NONE, "", None)


def _sum_of(cells: dict[int, Series], count: int) -> Series:
    """The pack's voltage where only its cells are logged: all of them, while all of them are."""
    if not cells or list(cells) != list(range(1, count + 1)):
        return NOTHING
    t = next(iter(cells.values())).time_s
    t = t[(t >= max(c.time_s[0] for c in cells.values())) & (t <= min(c.time_s[-1] for c in cells.values()))]
    return Series(t, np.sum([np.interp(t, *c) for c in cells.values()], axis=0))


def _is_a_pack(circuit: Circuit) -> bool:
    """Resistance and load-free voltage above nought throughout: else the two traces are not one pack's."""
    return circuit.one_second_ohm > 0 and float(circuit.reference_v.min()) > 0


def _is_reversed(voltage: Series, current: Series) -> bool:
    """Mostly negative, and the voltage falls when it grows more negative: the sensor is wired the other way round."""
    if median(current.values) >= 0 or not voltage:
        return False
    v = voltage.at(current.time_s)
    dv, di = np.diff(v), np.diff(current.values)
    return bool(np.dot(dv, di) > 0)


def _quietest(current: Series) -> float:
    return float(bin_means(current.time_s, current.values, QUIET_S)[1].min())
