"""Fuel system on the bench: priming, flow calibration, tank capacity and what the pump leaves in the tank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

import numpy as np

from analyser.bench.codes import BenchCode
from analyser.bench.procedures import BenchRecord, Procedure
from analyser.core.aircraft import Tank
from analyser.core.figures import Z95, Figure
from analyser.core.findings import Finding, Part, say
from analyser.core.levels import Level, Limits
from analyser.core.statistics.distributions import student_quantile

MEASURED_PERCENT = 1.0
"""Half width of the 95 % interval of a volume read on a measuring cylinder (common practice, no source)."""
USUAL_SCATTER = 0.01
"""Relative standard deviation from one calibration run to the next (common practice, no source)."""
_PRIOR_RUNS = 3
"""How many runs' worth of belief the usual scatter carries against the scatter seen."""
BENCH_TO_FLIGHT = 0.01
"""Relative standard error of carrying a bench calibration to flight: other flow, warmth, air in the line (common
practice, no source)."""
OTHER = 0.02
"""Share by which a measured volume may differ from the file's before it is said."""


def measured(label: Finding, record: BenchRecord, name: str) -> Figure:
    """A volume as it was measured, mL, within what the owner states or common practice says."""
    value = record.value(name)
    if value is None:
        return Figure.unavailable(label, "mL", say(BenchCode.TYPED))
    within = (record.value("measured_within_percent") or MEASURED_PERCENT) / 100.0
    return Figure.within(label, value, within * value, "mL", how=say(BenchCode.MEASURED_VOLUME, percent=100.0 * within))


def run_scale(record: BenchRecord) -> Figure:
    """Measured volume over what the sensor said in one run, ×."""
    label = say(BenchCode.FLOW_SCALE, tank=Part(f"fuel.{record.subject}"))
    sensor = record.value("sensor_ml")
    volume = measured(label, record, "measured_ml")
    if sensor is None:
        return Figure.unavailable(label, "×", say(BenchCode.NO_CHANNEL))
    return volume.times(1.0 / sensor, label, "×", how=say(BenchCode.MEASURED_VOLUME, percent=_within(record)), digits=3)


def run_delivery(record: BenchRecord) -> Figure:
    """What the pump delivers at full drive by one run, mL/min: measured volume over drive times time."""
    label = say(BenchCode.PUMP_DELIVERY, tank=Part(f"fuel.{record.subject}"))
    drive = record.value("pump_percent_min")
    volume = measured(label, record, "measured_ml")
    if drive is None:
        return Figure.unavailable(label, "mL/min", say(BenchCode.NO_CHANNEL))
    how = say(BenchCode.MEASURED_VOLUME, percent=_within(record))
    return volume.times(100.0 / drive, label, "mL/min", how=how, digits=0)


def calibrate(tank: str, runs: Sequence[Figure], code: BenchCode = BenchCode.FLOW_SCALE) -> Figure | None:
    """One factor from a tank's calibration runs, with the interval of the factor in flight.

    The mean of the runs. Its error is the larger of the measuring cylinder's, which all runs share, and the runs' own
    scatter, pooled with the usual one (a scaled inverse chi-squared prior on the variance, Gelman et al., Bayesian Data
    Analysis, 3rd ed., 2.6 and 3.3; Student's t), and what carrying it to flight adds.

    Parameters
    ----------
    tank : str
        Its name.
    runs : sequence of Figure
        One a run, as :func:`run_scale` or :func:`run_delivery` gives them; those without a value are passed over.

    Returns
    -------
    Figure or None
        ``None`` without any run.

    Examples
    --------
    500 mL measured while the sensor said 520, and 500 while it said 524:

    >>> from datetime import date
    >>> runs = [run_scale(BenchRecord(Procedure.FLOW, date(2031, 4, 5), "Heron", "main",
    ...         {"measured_ml": (500.0,), "sensor_ml": (said,)})) for said in (520.0, 524.0)]
    >>> round(calibrate("main", runs).value, 3)
    0.958
    """
    known = [f for f in runs if f.value is not None]
    if not known:
        return None
    values = np.array([f.value for f in known], float)
    mean = float(values.mean())
    n = values.size
    shared = float(np.mean([f.relative_se for f in known]))
    spread = float(((values / mean - 1.0) ** 2).sum())
    free = _PRIOR_RUNS + n - 1
    own = (
        float(np.sqrt((_PRIOR_RUNS * USUAL_SCATTER**2 + spread) / free / n))
        * float(student_quantile(0.975, free))
        / Z95
    )
    half = Z95 * mean * float(np.linalg.norm([shared, own, BENCH_TO_FLIGHT]))
    first = known[0]
    label = say(code, tank=Part(f"fuel.{tank}"))
    return Figure.within(label, mean, half, first.unit, how=say(BenchCode.RUNS, n=n), digits=first.digits)


def calibrations(records: Sequence[BenchRecord]) -> dict[str, Figure]:
    """The latest day's flow scale of each tank's sensor: runs of one day belong together."""
    return _by_tank(records, run_scale, BenchCode.FLOW_SCALE)


def deliveries(records: Sequence[BenchRecord]) -> dict[str, Figure]:
    """The latest day's pump delivery of each tank."""
    return _by_tank(records, run_delivery, BenchCode.PUMP_DELIVERY)


def priming(record: BenchRecord, limits: Limits) -> tuple[Level, tuple[Finding, ...]]:
    """What the eye saw while the system was primed."""
    level, found = Level.FINE, []
    tank = Part(f"fuel.{record.subject}")
    for name, code, matter in (
        ("leaks", BenchCode.LEAKS, "bench_leak"),
        ("air", BenchCode.AIR, "bench_air"),
        ("air_trap", BenchCode.TRAP, "bench_air_trap"),
    ):
        word = record.choices.get(name)
        if word is None or word in ("none", "full"):
            continue
        found.append(say(code, tank=tank, seen=word))
        level = max(level, limits.matter(matter))
    return level, tuple(found)


def tank_size(record: BenchRecord, tank: Tank | None) -> tuple[tuple[Figure, ...], tuple[Finding, ...]]:
    """Measured capacity and unusable volume, and where they differ from the aircraft's file."""
    part = Part(f"fuel.{record.subject}")
    figures, found = [], []
    for name, code, stated in (
        ("capacity_ml", BenchCode.CAPACITY, tank.capacity_ml if tank else None),
        ("unusable_ml", BenchCode.UNUSABLE, tank.unusable_ml if tank else None),
    ):
        if record.value(name) is None:
            continue
        figure = measured(say(code, tank=part), record, name)
        figures.append(figure)
        full = (tank.capacity_ml if tank else None) or stated or 0.0
        if stated is not None and abs((figure.value or 0.0) - stated) > max(OTHER * full, figure.half_width):
            found.append(say(BenchCode.OTHER_THAN_FILE, measured=figure, stated=stated, key=name))
    return tuple(figures), tuple(found)


def _within(record: BenchRecord) -> float:
    return record.value("measured_within_percent") or MEASURED_PERCENT


def _by_tank(
    records: Sequence[BenchRecord], of_run: Callable[[BenchRecord], Figure], code: BenchCode
) -> dict[str, Figure]:
    runs: dict[str, dict[date, list[Figure]]] = {}
    for record in records:
        if record.procedure is Procedure.FLOW and (figure := of_run(record)).value is not None:
            runs.setdefault(record.subject, {}).setdefault(record.day, []).append(figure)
    out = {}
    for tank, days in runs.items():
        if (made := calibrate(tank, days[max(days)], code)) is not None:
            out[tank] = made
    return out
