"""Invented flights made from a known circuit: what packs give, at any rate, chemistry, age and with planted faults."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa
from msgspec import Struct
from msgspec.structs import replace
from scipy.signal import lfilter

from analyser.core.aircraft import FlightContext, Pack, PackNote
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.engines.analysis import TurbineResult
from analyser.flight import FlightResult
from analyser.fuel.analysis import FuelResult
from analyser.link.analysis import LinkResult
from analyser.packs.analysis import PacksResult, analyse_packs
from analyser.packs.chemistry import CHARGE_PERCENT, PUBLISHED
from analyser.packs.reference_state import CHARGE_PERCENT as RESISTANCE_CHARGE_PERCENT
from analyser.packs.reference_state import OVER_HALF_CHARGE, coldness
from analyser.record import FlightRecord

GEAR_S = 200.0
RESISTANCE_MAKE = "NCA_Kim2011"
"""Whose resistance over charge the invented packs have."""


class Truth(Struct, frozen=True):
    """One pack on the day: resistance of the whole pack at 25 °C and half charge, capacity, how much lower its last
    cell lies, charge state; ``celsius`` is logged where it is known; ``curve`` a rest voltage of its own.
    """

    ohm: float = 0.040
    mah: float = 3000.0
    weak_v: float = 0.0
    charge_percent: float = 100.0
    cells: int = 2
    chemistry: str = "lipo"
    make: str = "Ramadass2004"
    celsius: float | None = 25.0
    energy_j_per_mol: float = 20_000.0
    curve: tuple[float, ...] = ()


def flown(
    truth: Truth | None = None, *, hz: float = 10.0, minutes: float = 8.0, seed: int = 1, gear_a: float = 14.0,
    role: str = "rx1", rest_s: float = 20.0,
) -> dict[str, np.ndarray]:  # fmt: skip
    """One flight: servo load, gear at 200 s for 2.5 s, rest at both ends; rest voltage by one make's own curve."""
    truth = truth or Truth()
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 60.0 * minutes, 1.0 / hz)
    second = np.floor(t).astype(int)
    held = rng.gamma(2.0, 1.5, int(60 * minutes) + 1)[second]
    current = np.where((t > 15) & (t < t[-1] - rest_s), 3.0 + held, 0.3)
    current = current + np.where((t >= GEAR_S) & (t < GEAR_S + 2.5), gear_a, 0.0)
    used = np.cumsum(current) / hz / 3.6
    keep = np.exp(-1.0 / hz / 15.0)
    slow = lfilter([1 - keep], [1, -keep], current)
    curve = truth.curve or PUBLISHED[truth.chemistry][truth.make]
    charge = truth.charge_percent - 100.0 * used / truth.mah
    ohm = truth.ohm * np.interp(charge, RESISTANCE_CHARGE_PERCENT, OVER_HALF_CHARGE[RESISTANCE_MAKE])
    ohm = ohm * np.exp(truth.energy_j_per_mol * coldness(25.0 if truth.celsius is None else truth.celsius))
    rest = np.interp(charge, CHARGE_PERCENT, curve)
    drop = ohm * (current + 0.3 * slow) / truth.cells
    low = np.r_[np.zeros(truth.cells - 1), truth.weak_v]
    cells = [rest - drop - x for x in low]
    height = np.where((t > 60) & (t < t[-1] - 60), 80.0, 0.0)
    return {
        "time_s": t,
        f"pack.{role}.voltage_v": np.round(np.sum(cells, axis=0), 2),
        f"pack.{role}.current_a": np.round(current, 2),
        **({} if truth.celsius is None else {f"pack.{role}.temperature_c": np.full(t.size, truth.celsius)}),
        **{f"pack.{role}.cell{n}_v": np.round(v, 3) for n, v in enumerate(cells, 1)},
        "control.gear": (t < GEAR_S).astype(float),
        "position.height_m": height,
        "position.ground_speed_m_s": np.where(height > 0, 40.0, 0.0),
    }


def true_mah(columns: dict[str, np.ndarray], role: str = "rx1") -> float:
    """Charge that really left the pack."""
    return float(np.trapezoid(columns[f"pack.{role}.current_a"], columns["time_s"])) / 3.6


def analysed(columns: dict[str, np.ndarray], **context: Any) -> PacksResult:
    """The packs' part of one flight's analysis."""
    telemetry = screen(Telemetry(pa.table(columns)))
    return analyse_packs(telemetry, find_phases(telemetry), FlightContext(**context))


def record(
    truth: Truth, pack: Pack, number: int, *, note: PackNote | None = None, every_days: float = 7.0, hz: float = 2.0,
    seed: int = 0, minutes: float = 8.0,
) -> FlightRecord:  # fmt: skip
    """One flight of a season with ``pack`` as rx1; ``number`` counts from 1."""
    context = FlightContext(
        flight_id=f"{pack.name}-{number}", packs={"rx1": pack}, air_temperature_c=20.0,
        pack_notes={"rx1": note} if note else {},
    )  # fmt: skip
    telemetry = screen(Telemetry(pa.table(flown(truth, seed=100 * seed + number, hz=hz, minutes=minutes))))
    phases = find_phases(telemetry)
    result = FlightResult(
        context.flight_id, telemetry.duration_s, phases, FuelResult.__new__(FuelResult),
        TurbineResult.__new__(TurbineResult), analyse_packs(telemetry, phases, context),
        LinkResult.__new__(LinkResult), (), (), (),
    )  # fmt: skip
    day = datetime(2020, 5, 1, tzinfo=UTC) + timedelta(days=every_days * number)
    return FlightRecord(context.flight_id, number, day, context, result)


def season(
    name: str, flights: int = 10, *, lost: float = 0.0, grown: float = 0.0, weak_v: float = 0.0, hz: float = 2.0,
    make: str = "Ramadass2004", pack: Pack | None = None, seed: int = 0,
) -> list[FlightRecord]:  # fmt: skip
    """Flights over which capacity falls by ``lost``, resistance grows by ``grown`` and the last cell sinks, evenly."""
    pack = replace(pack, name=name) if pack else Pack(name, "lipo", 2, 3000.0, brown_out_v=6.0)
    out = []
    for n in range(1, flights + 1):
        share = (n - 1) / max(flights - 1, 1)
        truth = Truth(0.040 * (1 + grown * share), 3000.0 * (1 - lost * share), weak_v * share, make=make)
        out.append(record(truth, pack, n, hz=hz, seed=seed))
    return out
