"""The same flight read by sensors as far off as the figures say that sensors may be.

An interval may be wide because something stated is wide: a scale nobody checked lies within 10 %, a voltmeter within
half a percent, a filling repeats to a percent. The simulators draw some of these nearer to the truth. So each flight is
read a second time, with errors on top that bring every sensor to what is stated (one standard deviation each):
where an interval then holds as often as it promises, its width is the stated one; where it still holds more, it is not.
"""

from __future__ import annotations

import re

import numpy as np
import pyarrow as pa
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import Z95
from analyser.fuel.scale import FILLING_SE
from analyser.fuel.scale import PRIOR_PERCENT as FUEL_PERCENT
from analyser.packs.internal_resistance import LOGGED_SE_K
from analyser.packs.scale import CHARGER_SE, SENSOR_SCALE_SE
from analyser.packs.state_of_charge import VOLTAGE_SCALE
from tests.simulators.flight import FloatArray, FuelNote, PackNote, Simulated, Telemetry

OFFSET_A = 0.03
"""Standard error of a current sensor at nought (``analyser/packs/charge.py``: 0.06 A at 95 %)."""


class Drawn(Struct, frozen=True):
    """What a simulator draws of its own, one standard deviation each: scales of fuel and current sensors, fillings,
    voltmeters, charges noted (relative), amperes at nought and kelvins."""

    fuel: float
    current: float
    filling: float
    voltage: float = 0.0
    charge: float = 0.01
    offset_a: float = 0.01
    celsius: float = 0.5


OF_MAKER = {
    "kinematic": Drawn(fuel=0.041, current=0.015, filling=0.007, voltage=0.002),
    "event": Drawn(fuel=0.051, current=0.02, filling=0.007),
    "stepwise": Drawn(fuel=0.045, current=0.018, filling=0.008, offset_a=0.02),
}


def _more(stated: float, drawn: float) -> float:
    """What is missing of a standard deviation."""
    return float(np.sqrt(max(stated**2 - drawn**2, 0.0)))


def as_stated(flown: Simulated, maker: str, rng: np.random.Generator) -> Simulated:
    """The flight with every sensor, and every note, as far off as is stated."""
    own = OF_MAKER[maker]
    table = flown.telemetry.table
    columns = {name: table.column(name).to_numpy(zero_copy_only=False).astype(float) for name in table.column_names}
    figures = dict(flown.truth.figures)
    factors: dict[tuple[str, str], float] = {}

    def factor(subject: str, quantity: str, stated: float, drawn: float) -> float:
        key = subject, quantity
        if key not in factors:
            factors[key] = float(rng.normal(1.0, _more(stated, drawn)))
        return factors[key]

    for name, values in columns.items():
        if found := re.fullmatch(r"fuel\.(\w+)\.(used_ml|flow_ml_per_min|remaining_ml|remaining_percent)", name):
            k = factor(found[1], "fuel", FUEL_PERCENT / 100.0 / Z95, own.fuel)
            columns[name] = _gauge(values, k, rng) if found[2].startswith("remaining") else k * values
        elif found := re.fullmatch(r"pack\.(\w+)\.current_a", name):
            k = factor(found[1], "current", SENSOR_SCALE_SE, own.current)
            columns[name] = k * values + float(rng.normal(0.0, _more(OFFSET_A, own.offset_a)))
        elif re.fullmatch(r"(pack|bus)\.\w+\.(voltage_v|cell_?\w*_v)", name):
            subject = name.rpartition(".")[0]
            columns[name] = factor(subject, "voltage", VOLTAGE_SCALE / Z95, own.voltage) * values
        elif re.fullmatch(r"pack\.\w+\.temperature_c", name):
            columns[name] = values + float(rng.normal(0.0, _more(LOGGED_SE_K, own.celsius)))
    for (tank, what), k in factors.items():
        if what == "fuel" and f"fuel.tanks.{tank}.scale.own" in figures:
            figures[f"fuel.tanks.{tank}.scale.own"] /= k
    filling, charging = _more(FILLING_SE, own.filling), _more(CHARGER_SE, own.charge)
    context = replace(
        flown.context,
        fuel_notes={t: _filled(n, filling, rng) for t, n in flown.context.fuel_notes.items()},
        pack_notes={r: _charged(n, charging, rng) for r, n in flown.context.pack_notes.items()},
    )
    telemetry = Telemetry(pa.table({k: pa.array(v, from_pandas=True) for k, v in columns.items()}))
    return Simulated(telemetry, context, replace(flown.truth, figures=figures))


def _gauge(values: FloatArray, factor: float, rng: np.random.Generator) -> FloatArray:
    """A gauge whose millilitre is off, right when empty or at the start."""
    first = float(values[np.isfinite(values)][0])
    empty = factor * values
    return empty if rng.random() < 0.5 and factor <= 1.0 else first - factor * (first - values)


def _filled(note: FuelNote, sd: float, rng: np.random.Generator) -> FuelNote:
    before, put_in = (None if v is None else v * float(rng.normal(1.0, sd)) for v in (note.before_ml, note.put_in_ml))
    return replace(note, before_ml=before, put_in_ml=put_in)


def _charged(note: PackNote, sd: float, rng: np.random.Generator) -> PackNote:
    return (
        note if note.charged_mah is None else replace(note, charged_mah=note.charged_mah * float(rng.normal(1.0, sd)))
    )
