"""The procedures and what each one takes: one home for the command line, the desk, the sheets and the pages."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from msgspec import Struct, field

from analyser.core.figures import Method


class Procedure(StrEnum):
    """What is done on the bench, in the order a new aircraft needs it."""

    PRIMING = "priming"
    """A partly filled fuel system is pumped through to the engine."""
    FLOW = "flow"
    """A measured volume is pumped through the flow sensor, or out of the tank with the pump's drive logged."""
    TANK = "tank"
    """The tank is filled from empty, and pumped until the pump draws air."""
    LOAD = "load"
    """Two known loads on one pack."""
    CAPACITY = "capacity"
    """One full pack is discharged to its end."""
    CHARGER = "charger"
    """What a charger says of one pack."""
    SUPPLY = "supply"
    """All surfaces are moved and the gear is cycled on all packs together."""
    PULLED = "pulled"
    """The same with one pack pulled."""
    PLUGS = "plugs"
    """One engine alone is run, to see which channels move."""
    GROUND_RUN = "ground-run"
    """One engine is started, idled, accelerated to full speed and cooled down."""


class Of(StrEnum):
    """What a procedure is about."""

    AIRCRAFT = "aircraft"
    TANK = "tank"
    ENGINE = "engine"
    PACK = "pack"


class Reading(Struct, frozen=True):
    """One number that a procedure takes; it lies from ``low`` to ``high``, and may be one for each cell."""

    name: str
    unit: str
    low: float
    high: float
    needed: bool = False
    by_cell: bool = False


class Choice(Struct, frozen=True):
    """One thing seen, in words from a list; the first of them is as it should be."""

    name: str
    among: tuple[str, ...]


class Steps(Struct, frozen=True):
    """What one procedure is about and what is written down."""

    of: Of
    readings: tuple[Reading, ...]
    choices: tuple[Choice, ...] = ()

    def reading(self, name: str) -> Reading | None:
        """The reading of that name."""
        return next((r for r in self.readings if r.name == name), None)


PROCEDURES: Mapping[Procedure, Steps] = {
    Procedure.PRIMING: Steps(
        Of.TANK,
        (
            Reading("volume_ml", "mL", 1.0, 50_000.0, needed=True),
            Reading("seconds_to_engine", "s", 0.1, 3_600.0),
        ),
        (
            Choice("air", ("none", "few bubbles", "much")),
            Choice("leaks", ("none", "damp", "drips")),
            Choice("air_trap", ("full", "not full")),
        ),
    ),
    Procedure.FLOW: Steps(
        Of.TANK,
        (
            Reading("measured_ml", "mL", 10.0, 50_000.0, needed=True),
            Reading("sensor_ml", "mL", 1.0, 100_000.0),
            Reading("pump_percent_min", "% min", 0.1, 100_000.0),
            Reading("measured_within_percent", "%", 0.05, 20.0),
        ),
    ),
    Procedure.TANK: Steps(
        Of.TANK,
        (
            Reading("capacity_ml", "mL", 10.0, 50_000.0),
            Reading("unusable_ml", "mL", 0.0, 10_000.0),
            Reading("measured_within_percent", "%", 0.05, 20.0),
        ),
    ),
    Procedure.LOAD: Steps(
        Of.PACK,
        (
            Reading("first_a", "A", 0.0, 500.0, needed=True),
            Reading("first_v", "V", 0.5, 100.0, needed=True),
            Reading("second_a", "A", 0.0, 500.0, needed=True),
            Reading("second_v", "V", 0.5, 100.0, needed=True),
            Reading("first_cells_v", "V", 0.5, 5.0, by_cell=True),
            Reading("second_cells_v", "V", 0.5, 5.0, by_cell=True),
            Reading("temperature_c", "°C", -30.0, 70.0),
            Reading("charge_percent", "%", 0.0, 100.0),
            Reading("volts_within", "V", 0.0001, 0.5),
            Reading("amps_within_percent", "%", 0.01, 20.0),
        ),
    ),
    Procedure.CAPACITY: Steps(
        Of.PACK,
        (
            Reading("discharged_mah", "mAh", 10.0, 100_000.0, needed=True),
            Reading("current_a", "A", 0.01, 500.0),
            Reading("end_v", "V", 0.5, 100.0),
            Reading("temperature_c", "°C", -30.0, 70.0),
        ),
    ),
    Procedure.CHARGER: Steps(
        Of.PACK,
        (
            Reading("resistance_mohm", "mΩ", 0.1, 5_000.0),
            Reading("cells_mohm", "mΩ", 0.05, 2_000.0, by_cell=True),
            Reading("cells_v", "V", 0.5, 5.0, by_cell=True),
            Reading("charged_mah", "mAh", 0.0, 100_000.0),
            Reading("temperature_c", "°C", -30.0, 70.0),
        ),
    ),
    Procedure.SUPPLY: Steps(
        Of.AIRCRAFT,
        (
            Reading("lowest_v", "V", 0.5, 100.0, needed=True),
            Reading("highest_a", "A", 0.0, 500.0),
            Reading("seconds", "s", 1.0, 36_000.0),
            Reading("shares_percent", "%", 0.0, 100.0, by_cell=True),
        ),
    ),
    Procedure.PULLED: Steps(
        Of.PACK,
        (
            Reading("lowest_v", "V", 0.5, 100.0, needed=True),
            Reading("highest_a", "A", 0.0, 500.0),
            Reading("seconds", "s", 1.0, 36_000.0),
        ),
    ),
    Procedure.PLUGS: Steps(Of.ENGINE, (), (Choice("moved", ("its own", "others", "nothing")),)),
    Procedure.GROUND_RUN: Steps(
        Of.ENGINE,
        (
            Reading("start_s", "s", 1.0, 600.0),
            Reading("start_egt_c", "°C", 0.0, 1_500.0),
            Reading("idle_rpm", "rpm", 1_000.0, 400_000.0),
            Reading("acceleration_s", "s", 0.1, 120.0),
            Reading("full_rpm", "rpm", 1_000.0, 400_000.0),
            Reading("full_egt_c", "°C", 0.0, 1_500.0),
            Reading("cool_down_s", "s", 1.0, 3_600.0),
        ),
    ),
}


class BenchTrace(Struct, frozen=True):
    """One channel of the log recorded meanwhile, a few hundred points of it; ``time_s`` and ``values`` run parallel."""

    channel: str
    unit: str
    time_s: tuple[float, ...]
    values: tuple[float, ...]


class BenchRecord(Struct, frozen=True):
    """One procedure as it was done.

    Parameters
    ----------
    procedure : Procedure
        Which one.
    day : date
        When.
    aircraft : str
        Whose; '' for a pack that is not in one.
    subject : str
        Name of the tank, engine or pack; '' where it is the aircraft.
    values : mapping of str to tuple of float
        Readings by name, in the unit of :data:`PROCEDURES`; one number, or one for each cell.
    choices : mapping of str to str
        What was seen, by name.
    others : tuple of str
        Parts of the aircraft that moved too, or that shared the load, where the procedure looks for them.
    remarks : str
        Anything else.
    log : str
        Name of the log recorded meanwhile, '' without one; then ``values`` may come from it.
    read : tuple of str
        Names of the readings that came from it; the others were typed.
    traces : tuple of BenchTrace
        What that log showed, thinned to be looked at.

    Examples
    --------
    >>> from datetime import date
    >>> BenchRecord(Procedure.CAPACITY, date(2031, 4, 5), "Heron", "R1", {"discharged_mah": (2810.0,)}).value("end_v")

    Raises
    ------
    ValueError
        If a needed reading is missing, one lies outside sense, or a name is not the procedure's.
    """

    procedure: Procedure
    day: date
    aircraft: str
    subject: str = ""
    values: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    choices: Mapping[str, str] = field(default_factory=dict)
    others: tuple[str, ...] = ()
    remarks: str = ""
    log: str = ""
    read: tuple[str, ...] = ()
    traces: tuple[BenchTrace, ...] = ()

    def __post_init__(self) -> None:
        steps = PROCEDURES[self.procedure]
        for name, numbers in self.values.items():
            reading = steps.reading(name)
            if reading is None:
                raise BadReading(name, "unknown")
            if not numbers or (len(numbers) > 1 and not reading.by_cell):
                raise BadReading(name, "count")
            for number in numbers:
                if not (math.isfinite(number) and reading.low <= number <= reading.high):
                    raise BadReading(name, "range", number)
        for reading in steps.readings:
            if reading.needed and reading.name not in self.values:
                raise BadReading(reading.name, "missing")
        for name, word in self.choices.items():
            known = next((c for c in steps.choices if c.name == name), None)
            if known is None:
                raise BadReading(name, "unknown")
            if word not in known.among:
                raise BadReading(name, "word")
        if self.procedure is Procedure.LOAD and self.values["first_a"] == self.values["second_a"]:
            raise BadReading("second_a", "same")
        if not self.values and not self.choices:
            raise BadReading("", "empty")

    def method(self, name: str) -> Method:
        """How a reading was obtained: taken from the log, or stated by the owner."""
        return Method.INTEGRATED if name in self.read else Method.ENTERED

    def value(self, name: str) -> float | None:
        """One reading; ``None`` where it was not taken."""
        return self.values[name][0] if name in self.values else None


class BadReading(ValueError):
    """A reading that a procedure cannot take: which, and what is the matter with it.

    ``fault`` is ``unknown``, ``count``, ``range``, ``missing``, ``word``, ``same`` or ``empty``.
    """

    def __init__(self, name: str, fault: str, number: float | None = None) -> None:
        super().__init__(f"{name}: {fault}" + ("" if number is None else f" ({number:g})"))
        self.name, self.fault, self.number = name, fault, number
