"""What a simulated flight is: a log, what the owner would have noted, and the truth that only a simulator knows.

The makers, :mod:`tests.simulators.kinematic`, :mod:`tests.simulators.event` and :mod:`tests.simulators.stepwise`, share
this plumbing and no physics.
Everything the simulators take from the analyser is imported here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from msgspec import Struct, field

from analyser.core.aircraft import (
    Aircraft,
    Antenna,
    AntennaLayout,
    Engine,
    FlightContext,
    Fuel,
    FuelNote,
    Pack,
    PackNote,
    Reserve,
    Tank,
)
from analyser.core.telemetry import Telemetry

__all__ = [
    "Aircraft",
    "Antenna",
    "AntennaLayout",
    "Condition",
    "Engine",
    "FlightContext",
    "FloatArray",
    "Fuel",
    "FuelNote",
    "Maker",
    "Pack",
    "PackNote",
    "Reserve",
    "Simulated",
    "Tank",
    "Telemetry",
    "Truth",
    "Writer",
    "tabulate",
    "take_rows",
    "uneven_rows",
]

FloatArray = npt.NDArray[np.float64]


class Condition(Struct, frozen=True):
    """How one flight differs from the others of its aircraft; every factor is 1 where nothing changed.

    ``burn`` is wear by engine, ``day`` what all engines share that day, ``hard`` extra power. ``noted`` says whether
    the owner notes volumes and charges. ``antenna_db`` is what each antenna gained or lost since it was new.
    """

    number: int = 1
    start: datetime = datetime(2031, 5, 3, 9, 0, tzinfo=UTC)
    air_c: float = 18.0
    minutes: float = 5.0
    burn: Mapping[str, float] = field(default_factory=dict)
    day: float = 1.0
    hard: float = 0.0
    noted: bool = True
    temperature_noted: bool = False
    resistance: Mapping[str, float] = field(default_factory=dict)
    capacity: Mapping[str, float] = field(default_factory=dict)
    layout: AntennaLayout | None = None
    antenna_db: Mapping[str, float] = field(default_factory=dict)


class Truth(Struct, frozen=True, eq=False):
    """What happened.

    ``figures`` maps a figure's dotted path in a flight's result to its true value in the figure's unit (an extreme is
    that of any instant, not only of those at which the log has a sample); ``burned`` and
    ``charge`` map tank and pack to running totals (seconds, mL or mAh), ``speed`` an engine to its shaft speed, rpm;
    ``state`` holds what only a season asks for;
    ``gain_db`` maps an antenna to its installed pattern, body azimuth and elevation in degrees to dB.
    """

    take_off_s: float
    touch_down_s: float
    figures: dict[str, float]
    burned: dict[str, tuple[FloatArray, FloatArray]]
    charge: dict[str, tuple[FloatArray, FloatArray]]
    speed: dict[str, tuple[FloatArray, FloatArray]]
    state: dict[str, float]
    gain_db: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = field(default_factory=dict)


class Simulated(Struct, frozen=True, eq=False):
    """One flight: the log, the notes and the truth."""

    telemetry: Telemetry
    context: FlightContext
    truth: Truth


class Maker(Protocol):
    """A simulator: it draws an aircraft with its sensors, then flies it."""

    name: str

    def build(self, rng: np.random.Generator, **wanted: Any) -> Any: ...

    def fly(self, build: Any, condition: Condition, rng: np.random.Generator) -> Simulated: ...


def uneven_rows(
    duration_s: float, rate_hz: float, rng: np.random.Generator, *, shape: float = 6.0, holes_per_min: float = 0.3
) -> FloatArray:
    """Times of a log's rows: gamma-distributed steps, and holes of up to four seconds."""
    n = int(duration_s * rate_hz * 1.2) + 20
    t = np.cumsum(rng.gamma(shape, 1.0 / (shape * rate_hz), n))
    t = np.r_[0.0, t[t < duration_s]]
    holes = rng.poisson(holes_per_min * duration_s / 60.0)
    start, length = rng.uniform(5.0, duration_s, holes), rng.uniform(0.6, 4.0, holes)
    lost = ((t[:, None] > start) & (t[:, None] < start + length)).any(axis=1)
    return t[~lost]


def take_rows(rows: FloatArray, period_s: float, rng: np.random.Generator) -> npt.NDArray[np.intp]:
    """Rows at which a sensor of this period reports: the first after each of its own ticks."""
    ticks = np.arange(rng.uniform(0.0, period_s), rows[-1], period_s)
    return np.unique(np.searchsorted(rows, ticks)) if ticks.size else np.zeros(1, np.intp)


class Writer:
    """Fills a log's columns; channels of one sensor (``pack.rx1``, ``fuel.left``) report in the same rows."""

    def __init__(self, t: FloatArray, rows: FloatArray, rng: np.random.Generator) -> None:
        self.t, self.rows, self.rng = t, rows, rng
        self.columns: dict[str, tuple[npt.NDArray[np.intp], FloatArray]] = {}
        self._rows_of: dict[tuple[str, float], npt.NDArray[np.intp]] = {}

    def rows_of(self, channel: str, period: float) -> npt.NDArray[np.intp]:
        """The rows in which the channel's sensor reports."""
        key = channel.rpartition(".")[0], period
        if key not in self._rows_of:
            self._rows_of[key] = take_rows(self.rows, period, self.rng)
        return self._rows_of[key]

    def log(self, channel: str, values: FloatArray, period: float, *, late: float = 0.0, step: float = 0.0) -> None:
        """Read a quantity given on the even grid ``t``: late by so much, in whole steps."""
        at = self.rows_of(channel, period)
        read = np.interp(self.rows[at] - late, self.t, values)
        self.columns[channel] = at, np.round(read / step) * step if step else read

    def telemetry(self) -> Telemetry:
        """The log."""
        return tabulate(self.rows, self.columns)


def tabulate(rows: FloatArray, columns: Mapping[str, tuple[npt.NDArray[np.intp], FloatArray]]) -> Telemetry:
    """A log from sensors that each report at some rows only."""
    table: dict[str, FloatArray] = {"time_s": rows}
    for name, (at, values) in columns.items():
        column = np.full(rows.size, np.nan)
        column[at] = values
        table[name] = column
    return Telemetry(pa.table({k: pa.array(v, from_pandas=True) for k, v in table.items()}))
