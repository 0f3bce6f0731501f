"""Bench records as figures: beside limits, beside earlier runs, beside flights, left beside right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from analyser.bench import engine as engines
from analyser.bench import fuel, pack, supply
from analyser.bench.codes import BenchCode
from analyser.bench.procedures import PROCEDURES, BenchRecord, Of, Procedure
from analyser.core.aircraft import Aircraft, Pack
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, say
from analyser.core.levels import COMMON_PRACTICE, Level, Limits
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.robust import robust_sd
from analyser.core.tables import Tabular

UNUSUAL = 3.0
"""So many robust standard deviations from earlier runs are said."""
FEWEST_EARLIER = 3
"""Earlier runs below which nothing is called unusual."""
LEAST_SPREAD = 0.02
"""Relative spread from run to run that no bench is better than (common practice, no source)."""
UNEVEN = 0.10
"""Share by which left and right may differ before it is said (common practice, no source)."""

_CAUTIONS: Mapping[Of, BenchCode] = {
    Of.TANK: BenchCode.CAUTION_FUEL,
    Of.PACK: BenchCode.CAUTION_PACK,
    Of.ENGINE: BenchCode.CAUTION_ENGINE,
    Of.AIRCRAFT: BenchCode.CAUTION_SUPPLY,
}


def caution(of: Of) -> Finding:
    """The usual caution of working on such a part."""
    return say(_CAUTIONS[of])


class BenchLine(Struct, frozen=True):
    """One procedure as done once: its figures, how they changed since the runs before, and what is to be said."""

    number: str
    record: BenchRecord
    level: Level
    figures: tuple[Figure, ...]
    changes: tuple[Figure, ...]
    findings: tuple[Finding, ...]


class BenchResult(Tabular, Struct, frozen=True):
    """All bench records of one aircraft or pack, newest first; ``calibrations`` and ``deliveries`` are used by flights.

    ``pairs`` lay the tanks' or engines' latest runs beside each other; ``uneven`` says which of them differ.
    """

    lines: tuple[BenchLine, ...]
    calibrations: dict[str, Figure]
    deliveries: dict[str, Figure]
    pairs: tuple[Figure, ...]
    uneven: tuple[Finding, ...]

    @property
    def level(self) -> Level:
        """The worst of the latest run of each procedure on each subject."""
        return max((line.level for line in self.latest), default=Level.FINE)

    @property
    def latest(self) -> tuple[BenchLine, ...]:
        """The newest run of each procedure on each subject, newest first."""
        found: dict[tuple[Procedure, str], BenchLine] = {}
        for line in self.lines:
            found.setdefault((line.record.procedure, line.record.subject), line)
        return tuple(found.values())


def analyse_bench(
    records: Mapping[str, BenchRecord],
    aircraft: Aircraft | None = None,
    packs: Mapping[str, Pack] | None = None,
    limits: Limits = COMMON_PRACTICE,
) -> BenchResult:
    """Work out what bench records come to.

    Parameters
    ----------
    records : mapping of str to BenchRecord
        By the number each is kept under, in any order.
    aircraft : Aircraft, optional
        Whose limits, tank sizes and brown-out level they are laid beside.
    packs : mapping of str to Pack, optional
        Registered packs by name.
    limits : Limits
        What deserves how much attention.
    """
    dated = sorted(records.items(), key=lambda item: (item[1].day, item[0]))
    lines: list[BenchLine] = []
    earlier: dict[tuple[Procedure, str, int], list[float]] = {}
    for number, record in dated:
        level, figures, found = _figures(record, aircraft, (packs or {}).get(record.subject), limits)
        changes = []
        for k, figure in enumerate(figures):
            if figure.value is None:
                continue
            before = earlier.setdefault((record.procedure, record.subject, k), [])
            if before:
                change, far = _change(figure, np.array(before))
                changes.append(change)
                if far:
                    level = max(level, limits.matter("bench_unusual"))
                    found = (
                        *found,
                        say(BenchCode.UNUSUAL, figure=figure, of=figure.label, change=change, n=len(before)),
                    )
            before.append(figure.value)
        lines.append(BenchLine(number, record, level, figures, tuple(changes), found))
    kept = [r for _, r in dated]
    pairs = tuple(_pairs(lines))
    uneven = tuple(say(BenchCode.UNEVEN, of=f.label, ratio=f) for f in pairs if _differs(f))
    return BenchResult(tuple(reversed(lines)), fuel.calibrations(kept), fuel.deliveries(kept), pairs, uneven)


def _figures(
    record: BenchRecord, aircraft: Aircraft | None, known: Pack | None, limits: Limits
) -> tuple[Level, tuple[Figure, ...], tuple[Finding, ...]]:
    match record.procedure:
        case Procedure.PRIMING:
            level, found = fuel.priming(record, limits)
            return level, _readings(record), found
        case Procedure.FLOW:
            runs = (fuel.run_scale(record), fuel.run_delivery(record))
            return Level.FINE, tuple(f for f in runs if f.value is not None), ()
        case Procedure.TANK:
            sizes, found = fuel.tank_size(record, aircraft.tank(record.subject) if aircraft else None)
            return limits.matter("bench_tank_differs") if found else Level.FINE, sizes, found
        case Procedure.LOAD:
            read = pack.load_resistance(record)
            return Level.FINE, (read, pack.at_reference_state(record, read), *pack.cell_resistances(record)), ()
        case Procedure.CAPACITY:
            return Level.FINE, pack.capacity(record, known), ()
        case Procedure.CHARGER:
            return Level.FINE, pack.charger(record), ()
        case Procedure.SUPPLY | Procedure.PULLED:
            return supply.lowest(record, aircraft, known, limits)
        case Procedure.PLUGS:
            level, found = supply.plugs(record, limits)
            return level, (), found
        case Procedure.GROUND_RUN:
            return engines.ground_run(record, aircraft.engine(record.subject) if aircraft else None, limits)


def _readings(record: BenchRecord) -> tuple[Figure, ...]:
    return tuple(
        Figure(say(BenchCode.READING, name=r.name), record.value(r.name), r.unit, record.method(r.name), digits=0)
        for r in PROCEDURES[record.procedure].readings
        if record.value(r.name) is not None
    )


def _change(figure: Figure, before: FloatArray) -> tuple[Figure, bool]:
    """The latest less the median of the runs before, percent, and whether that is far outside their spread.

    The interval is that of one more run (Student's t); there is none with fewer than three runs before.
    """
    middle = float(np.median(before))
    label = say(BenchCode.CHANGE, of=figure.label)
    scale = abs(middle) or 1.0
    value = 100.0 * ((figure.value or 0.0) - middle) / scale
    how = say(BenchCode.AGAINST_FLIGHTS, n=int(before.size))
    if before.size < FEWEST_EARLIER:
        return Figure(label, value, "%", Method.ESTIMATED, how=how, digits=1), False
    n = before.size
    sd = max(robust_sd(before - middle), float(before.std(ddof=1)), LEAST_SPREAD * scale)
    half = 100.0 * float(student_quantile(0.975, n - 1)) * sd * float(np.sqrt(1.0 + 1.0 / n)) / scale
    change = Figure.within(label, value, half, "%", how=how, digits=1)
    return change, abs(value) > max(half, 100.0 * UNUSUAL * sd / scale)


def _pairs(lines: Sequence[BenchLine]) -> list[Figure]:
    """Two tanks or two engines: the second's latest figures over the first's, percent more."""
    latest: dict[tuple[Procedure, str], BenchLine] = {}
    for line in lines:
        if PROCEDURES[line.record.procedure].of in (Of.TANK, Of.ENGINE):
            latest[line.record.procedure, line.record.subject] = line
    out = []
    for procedure in dict.fromkeys(p for p, _ in latest):
        subjects = sorted(s for p, s in latest if p is procedure)
        if len(subjects) != 2:
            continue
        first, second = (latest[procedure, s] for s in subjects)
        for a in first.figures:
            b = next((f for f in second.figures if _same(a, f)), None)
            if b is None or not a.value or b.value is None:
                continue
            label = say(BenchCode.LEFT_RIGHT, of=a.label, first=subjects[0], second=subjects[1])
            ratio = b.over(a, label, "%", scale=100.0, digits=1)
            out.append(ratio)
    return out


def _differs(ratio: Figure) -> bool:
    """Whether two sides lie further apart than is usual, the whole interval of their ratio included."""
    value = ratio.value or 100.0
    low, high = ratio.low or value, ratio.high or value
    return low > 100.0 * (1.0 + UNEVEN) or high < 100.0 * (1.0 - UNEVEN)


def _same(a: Figure, b: Figure) -> bool:
    """Whether two figures are the same quantity of two subjects."""
    if not (isinstance(a.label, Finding) and isinstance(b.label, Finding)):
        return False
    return a.label.code == b.label.code and a.label.values.get("name") == b.label.values.get("name")
