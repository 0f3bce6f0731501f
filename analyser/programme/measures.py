"""The fixed list of figures kept of every flight, and how they are read from its result.

One row holds one figure of one part of the aircraft: tidy, so that a spreadsheet, pandas or a database follows any
figure over any number of flights without reading the flights again. An id is stored and never changes; a figure that
is no longer wanted stays in the list, a new one is added at its end.

Figures are the flight's own, before other flights teach anything of its sensors: a row once written stays true.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, TypeAlias

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure
from analyser.core.phases import PhaseName
from analyser.engines.analysis import EngineResult
from analyser.flight import FlightResult
from analyser.fuel.tank import TankResult
from analyser.link.analysis import AntennaResult
from analyser.packs.bus.survivor import Survivor
from analyser.programme.codes import MeasureCode as M

Of: TypeAlias = Literal["flight", "tank", "engine", "pack", "bus", "receiver", "antenna"]
"""What a figure is of."""
Worse: TypeAlias = Literal["high", "low", ""]
"""Which way is the worse one; ``""`` where neither is."""
Read: TypeAlias = Callable[[Any], Figure | float | None]


class Measure(Struct, frozen=True):
    """One figure of the list.

    Parameters
    ----------
    code : MeasureCode
        Its name's code; :attr:`id` is what follows ``measure.``.
    of : str
        What it is of; a flight has one row for each part of that kind.
    unit : str
        As printed; ``""`` for a count, a ratio, or a signal strength, whose unit stands in the row.
    digits : int
        Decimals worth printing.
    worse : str
        ``high``, ``low`` or ``""``.
    read : callable
        From the part's result to the figure.
    """

    code: M
    of: Of
    unit: str
    digits: int
    worse: Worse
    read: Read

    @property
    def id(self) -> str:
        """The stored name: ``tank.burn_rate``."""
        return str(self.code).removeprefix("measure.")

    def __repr__(self) -> str:
        return f"Measure({self.id}, {self.unit or 'no unit'})"


class Row(Struct, frozen=True):
    """One figure of one part in one flight.

    Parameters
    ----------
    measure : str
        Id in :data:`MEASURES`.
    part : str
        ``fuel.left``, ``engine.right``, ``pack.rx1``, ``bus.main``, ``link.rx1``, ``link.rx1.antenna2``; ``""`` for the
        whole flight.
    thing : str
        Name of the pack that was fitted, which outlives its place; ``""`` for everything else.
    value, low, high : float or None
        In ``unit``; the interval is at 95 %, both ``None`` where there is none. All ``None`` where the log cannot
        support the figure.
    unit : str
        As printed.
    method : str
        How it was obtained (:class:`analyser.core.figures.Method`).
    doubtful : bool
        Whether a remark on the data touches it.
    """

    measure: str
    part: str
    thing: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    method: str
    doubtful: bool


def rows_of(result: FlightResult) -> tuple[Row, ...]:
    """Read every figure of the list from one flight's result, in the order of the list.

    Returns
    -------
    tuple of Row
        A row for each measure and part of its kind; of a part that the log does not have there is none.
    """
    parts: dict[Of, list[tuple[str, str, Any]]] = {
        "flight": [("", "", result)],
        "tank": [(f"fuel.{t.name}", "", t) for t in result.fuel.tanks],
        "engine": [(f"engine.{e.name}", "", e) for e in result.turbine.engines],
        "pack": [(f"pack.{p.name}", p.pack, _Fitted(p, result)) for p in result.packs.packs],
        "bus": [(f"bus.{name}", "", _Bus(name, result)) for name in _buses(result)],
        "receiver": [(f"link.{r.name}", "", r) for r in result.link.receivers],
        "antenna": [(f"link.{a.name}", "", a) for r in result.link.receivers for a in r.antennas],
    }
    return tuple(_row(m, part, thing, m.read(found)) for m in MEASURES for part, thing, found in parts[m.of])


def _row(measure: Measure, part: str, thing: str, read: Figure | float | None) -> Row:
    if not isinstance(read, Figure):
        value = None if read is None else float(read)
        return Row(measure.id, part, thing, value, None, None, measure.unit, "integrated", doubtful=False)
    ends = (read.value, read.low, read.high)
    # A number that is none is not kept as one: every reader of the table would have to know of it.
    known = all(x is None or np.isfinite(x) for x in ends)
    value, low, high = ends if known else (None, None, None)
    return Row(
        measure.id, part, thing, value, low, high, read.unit, read.method.value, doubtful=bool(read.doubts) or not known
    )


class _Fitted(Struct, frozen=True):
    """A pack, and the flight around it."""

    pack: Any
    flight: FlightResult

    def share(self) -> Figure | None:
        """Its share of the load of the bus it fed."""
        return next((s for b in self.flight.packs.buses if (s := b.share_percent.get(self.pack.name))), None)

    def alone(self) -> Figure | None:
        """The lowest voltage had every other pack of its bus failed."""
        found = (b.alone.get(self.pack.name) for b in self.flight.packs.buses)
        return next((_lower(one) for one in found if one is not None), None)


class _Bus(Struct, frozen=True):
    name: str
    flight: FlightResult

    def brown_outs(self) -> float:
        """How often its voltage fell below the level."""
        return _count(self.flight.packs.events, "brown_out", f"bus.{self.name}")

    def worst_load(self) -> Figure | None:
        """The highest load."""
        return next((b.worst_load_a for b in self.flight.packs.buses if b.name == self.name), None)


def _buses(result: FlightResult) -> list[str]:
    logged = (c.split(".")[1] for c in result.channels if c.startswith("bus.") and c.count(".") >= 2)
    return list(dict.fromkeys([*logged, *(b.name for b in result.packs.buses)]))


def _lower(one: Survivor) -> Figure:
    known = [f for f in (one.failed_now_v, one.failed_before_v) if f.value is not None]
    return min(known, key=lambda f: f.value or 0.0, default=one.failed_now_v)


def _count(events: Any, kind: str, subject: str = "") -> float:
    return float(sum(e.kind == kind and subject in ("", e.subject) for e in events))


def _first_start(name: str) -> Read:
    def read(engine: EngineResult) -> Figure | None:
        good = next((s for s in engine.starts if s.succeeded), None)
        return getattr(good, name) if good else None

    return read


def _landings(result: FlightResult) -> float | None:
    phases = result.phases
    if phases.airborne_span is None:
        return None
    return float(len(phases.spans(PhaseName.LANDING)))


def _airborne(result: FlightResult) -> float | None:
    return result.phases.airborne_s / 60.0 if result.phases.airborne_span else None


def _rate_by_sensor(tank: TankResult) -> Figure | None:
    return tank.by_sensor.rate if tank.measured else None


def _capacity(fitted: _Fitted) -> Figure:
    told: Figure = fitted.pack.capacity.told_mah
    return told


def _level(antenna: AntennaResult) -> float | None:
    """Median over the flight of the signal with free-space loss taken out, dB above 1 mW."""
    bins = antenna.bins
    if bins is None or not (counts := bins.histogram.sum(axis=(0, 1))).any():
        return None
    edges, gone = bins.residual_edges_db, np.r_[0.0, np.cumsum(counts)]
    return float(np.interp(gone[-1] / 2.0, gone, edges))


MEASURES: tuple[Measure, ...] = (
    Measure(M.FLIGHT_DURATION, "flight", "min", 1, "", lambda r: r.duration_s / 60.0),
    Measure(M.FLIGHT_AIRBORNE, "flight", "min", 1, "", _airborne),
    Measure(M.FLIGHT_LANDINGS, "flight", "", 0, "", _landings),
    Measure(M.FLIGHT_LONGEST_RANGE, "flight", "m", 0, "", lambda r: r.link.max_range_m),
    Measure(M.FLIGHT_DOUBTFUL_SPANS, "flight", "", 0, "high", lambda r: len(r.suspects)),
    Measure(M.FLIGHT_FUEL_BURNED, "flight", "mL", 0, "", lambda r: r.fuel.burned),
    Measure(M.FLIGHT_FUEL_MASS, "flight", "kg", 2, "", lambda r: r.fuel.mass),
    Measure(M.FLIGHT_BURN_RATE, "flight", "mL/min", 0, "high", lambda r: r.fuel.rate),
    Measure(M.FLIGHT_IMBALANCE, "flight", "%", 1, "", lambda r: r.fuel.imbalance),
    Measure(M.FLIGHT_ENDURANCE, "flight", "min", 1, "low", lambda r: r.fuel.endurance),
    Measure(M.FLIGHT_DOWNLINK_GAPS, "flight", "", 0, "high", lambda r: r.link.downlink_gaps),
    Measure(M.FLIGHT_FADES_EVERYWHERE, "flight", "", 0, "high", lambda r: r.link.fades_on_all_receivers),
    Measure(M.TANK_BURNED, "tank", "mL", 0, "", lambda t: t.burn.burned),
    Measure(M.TANK_BURNED_BEFORE_TAKE_OFF, "tank", "mL", 0, "", lambda t: t.burn.before_take_off),
    Measure(M.TANK_BURNED_AIRBORNE, "tank", "mL", 0, "", lambda t: t.burn.airborne),
    Measure(M.TANK_BURN_RATE, "tank", "mL/min", 0, "high", lambda t: t.burn.rate),
    Measure(M.TANK_BURN_RATE_BY_SENSOR, "tank", "mL/min", 0, "high", _rate_by_sensor),
    Measure(M.TANK_AT_START, "tank", "mL", 0, "", lambda t: t.content.start),
    Measure(M.TANK_LEFT, "tank", "mL", 0, "low", lambda t: t.content.left),
    Measure(M.TANK_MARGIN, "tank", "mL", 0, "low", lambda t: t.content.margin),
    Measure(M.TANK_ENDURANCE, "tank", "min", 1, "low", lambda t: t.content.endurance),
    Measure(M.TANK_SCALE, "tank", "×", 3, "", lambda t: t.scale.own),
    Measure(M.ENGINE_RUN_TIME, "engine", "min", 1, "", lambda e: e.run_min),
    Measure(M.ENGINE_STARTS, "engine", "", 0, "", lambda e: sum(s.succeeded for s in e.starts)),
    Measure(M.ENGINE_FAILED_STARTS, "engine", "", 0, "high", lambda e: sum(not s.succeeded for s in e.starts)),
    Measure(M.ENGINE_START_TIME, "engine", "s", 1, "high", _first_start("duration_s")),
    Measure(M.ENGINE_START_EGT, "engine", "°C", 0, "high", _first_start("peak_egt_c")),
    Measure(M.ENGINE_IDLE_SPEED, "engine", "rpm", 0, "", lambda e: e.idle_rpm),
    Measure(M.ENGINE_IDLE_SPREAD, "engine", "rpm", 0, "high", lambda e: e.idle_spread_rpm),
    Measure(M.ENGINE_HIGHEST_SPEED, "engine", "rpm", 0, "", lambda e: e.max_rpm),
    Measure(M.ENGINE_FULL_SPEED_SPREAD, "engine", "rpm", 0, "high", lambda e: e.max_rpm_spread_rpm),
    Measure(M.ENGINE_HIGHEST_EGT, "engine", "°C", 0, "high", lambda e: e.max_egt_c),
    Measure(M.ENGINE_COOL_DOWN, "engine", "s", 0, "low", lambda e: e.cool_down_s),
    Measure(M.ENGINE_CHARGE_PER_START, "engine", "mAh", 0, "high", lambda e: e.mah_per_start),
    Measure(M.ENGINE_FLAME_OUTS, "engine", "", 0, "high", lambda e: _count(e.events, "flame_out")),
    Measure(M.PACK_CHARGE_USED, "pack", "mAh", 0, "", lambda f: f.pack.charge.used_mah),
    Measure(M.PACK_CHARGE_PUT_BACK, "pack", "mAh", 0, "", lambda f: f.pack.charge.put_back_mah),
    Measure(M.PACK_ENERGY_USED, "pack", "Wh", 1, "", lambda f: f.pack.charge.used_wh),
    Measure(M.PACK_CHARGE_RATE, "pack", "mAh/min", 1, "high", lambda f: f.pack.charge.airborne_mah_per_min),
    Measure(M.PACK_ROUTES_DIFFER, "pack", "%", 1, "", lambda f: f.pack.charge.disagreement_percent),
    Measure(M.PACK_LOWEST_VOLTAGE, "pack", "V", 2, "low", lambda f: f.pack.voltage.lowest_v),
    Measure(M.PACK_LOWEST_CELL, "pack", "V", 2, "low", lambda f: f.pack.voltage.lowest_cell_v),
    Measure(M.PACK_CELL_SPREAD, "pack", "V", 3, "high", lambda f: f.pack.voltage.cell_spread_v),
    Measure(M.PACK_DEEPEST_SAG, "pack", "V", 2, "high", lambda f: f.pack.voltage.deepest_sag_v),
    Measure(M.PACK_SAGS, "pack", "", 0, "high", lambda f: _count(f.pack.events, "sag")),
    Measure(M.PACK_REST_BEFORE, "pack", "V", 2, "", lambda f: f.pack.voltage.rest_before_v),
    Measure(M.PACK_REST_AFTER, "pack", "V", 2, "low", lambda f: f.pack.voltage.rest_after_v),
    Measure(M.PACK_STATE_BEFORE, "pack", "%", 0, "", lambda f: f.pack.state.before_percent),
    Measure(M.PACK_STATE_AFTER, "pack", "%", 0, "low", lambda f: f.pack.state.after_percent),
    Measure(M.PACK_TEMPERATURE, "pack", "°C", 0, "high", lambda f: f.pack.state.temperature_c),
    Measure(M.PACK_RESISTANCE, "pack", "mΩ", 1, "high", lambda f: f.pack.resistance.value_mohm),
    Measure(M.PACK_RESISTANCE_AS_READ, "pack", "mΩ", 1, "high", lambda f: f.pack.resistance.as_read_mohm),
    Measure(M.PACK_RESISTANCE_NOTED, "pack", "mΩ", 1, "high", lambda f: f.pack.resistance.noted_mohm),
    Measure(M.PACK_LEAD_RESISTANCE, "pack", "mΩ", 1, "high", lambda f: f.pack.resistance.leads_mohm),
    Measure(M.PACK_CAPACITY, "pack", "mAh", 0, "low", _capacity),
    Measure(M.PACK_BUS_SHARE, "pack", "%", 0, "", lambda f: f.share()),
    Measure(M.PACK_LOWEST_ALONE, "pack", "V", 2, "low", lambda f: f.alone()),
    Measure(M.BUS_BROWN_OUTS, "bus", "", 0, "high", lambda b: b.brown_outs()),
    Measure(M.BUS_WORST_LOAD, "bus", "A", 1, "high", lambda b: b.worst_load()),
    Measure(M.RECEIVER_MISSED_FRAMES, "receiver", "", 0, "high", lambda r: r.lost_frames),
    Measure(M.RECEIVER_MISSED_FRAMES_RATE, "receiver", "1/min", 2, "high", lambda r: r.lost_frames_per_min),
    Measure(M.RECEIVER_FAILSAFE, "receiver", "s", 1, "high", lambda r: r.failsafe_s),
    Measure(M.RECEIVER_LOWEST_QUALITY, "receiver", "%", 0, "low", lambda r: r.lowest_quality_percent),
    Measure(M.RECEIVER_FADES_TOGETHER, "receiver", "", 0, "high", lambda r: r.fades_together),
    Measure(M.ANTENNA_MEDIAN_SIGNAL, "antenna", "", 0, "low", lambda a: a.median_signal),
    Measure(M.ANTENNA_LOWEST_SIGNAL, "antenna", "", 0, "low", lambda a: a.lowest_signal),
    Measure(M.ANTENNA_LOWEST_MARGIN, "antenna", "dB", 1, "low", lambda a: a.lowest_margin_db),
    Measure(M.ANTENNA_LEVEL, "antenna", "dB", 1, "low", _level),
    Measure(M.ANTENNA_MISSED_PACKETS_RATE, "antenna", "1/min", 2, "high", lambda a: a.lost_per_min),
    Measure(M.ANTENNA_FADES, "antenna", "", 0, "high", lambda a: a.fades),
    Measure(M.ANTENNA_FADE_TIME, "antenna", "s", 1, "high", lambda a: a.fade_seconds),
)  # fmt: skip
"""The list, in its order."""

BY_ID = {m.id: m for m in MEASURES}
