"""Packs on the bench: resistance by two loads, capacity by discharge, and what a charger says."""

from __future__ import annotations

import numpy as np

from analyser.bench.codes import BenchCode
from analyser.bench.procedures import BenchRecord
from analyser.core.aircraft import Pack
from analyser.core.figures import Figure, Method
from analyser.core.findings import Finding, Text, say
from analyser.packs.internal_resistance import at_reference

VOLTS_WITHIN = 0.01
"""Half width of the 95 % interval of one voltage reading, V, until stated (common practice, no source)."""
AMPS_WITHIN_PERCENT = 1.0
"""The same of a current, percent (common practice, no source)."""
THERMOMETER_K = 2.0
"""Half width of the 95 % interval of a pack's noted temperature, K (common practice, no source)."""
MAH_WITHIN = 0.02
"""Half width of the 95 % interval of a charger's count, share (common practice, no source)."""
READING_WITHIN = 0.10
"""The same of a charger's resistance (common practice, no source)."""


def load_resistance(record: BenchRecord) -> Figure:
    """Internal resistance by two loads, mΩ: the d.c. form of IEC 61960-3, ``R = (U1 − U2) / (I2 − I1)``.

    The first load is held for ten seconds and the second for one (IEC 61960-3, d.c. internal resistance).

    Examples
    --------
    >>> from datetime import date
    >>> from analyser.bench.procedures import Procedure
    >>> record = BenchRecord(Procedure.LOAD, date(2031, 4, 5), "", "R1",
    ...     {"first_a": (0.6,), "first_v": (8.2,), "second_a": (3.0,), "second_v": (8.08,)})
    >>> round(load_resistance(record).value, 6)
    50.0
    """
    volts = record.value("first_v"), record.value("second_v")
    return _between(say(BenchCode.LOAD_RESISTANCE, pack=record.subject), record, volts)


def cell_resistances(record: BenchRecord) -> tuple[Figure, ...]:
    """The same for each cell, mΩ; empty where cells were not read."""
    first, second = record.values.get("first_cells_v", ()), record.values.get("second_cells_v", ())
    return tuple(
        _between(say(BenchCode.CELL_RESISTANCE, pack=record.subject, cell=k), record, pair)
        for k, pair in enumerate(zip(first, second, strict=False), 1)
    )


def _between(label: Finding, record: BenchRecord, volts: tuple[float | None, float | None]) -> Figure:
    i1, i2, (u1, u2) = record.value("first_a"), record.value("second_a"), volts
    if i1 is None or i2 is None or u1 is None or u2 is None or i1 == i2:
        return Figure.unavailable(label, "mΩ", say(BenchCode.NO_STEPS))
    ohms = (u1 - u2) / (i2 - i1)
    volt = (record.value("volts_within") or VOLTS_WITHIN) * float(np.sqrt(2.0))
    amp = (record.value("amps_within_percent") or AMPS_WITHIN_PERCENT) / 100.0
    # One meter reads both currents: its scale error is common to them (JCGM 100, F.1.2.3).
    half = 1000.0 * float(np.hypot(volt / abs(i2 - i1), ohms * amp))
    how = say(BenchCode.TWO_LOADS, first=i1, second=i2)
    return Figure.within(label, 1000.0 * ohms, half, "mΩ", how=how)


def at_reference_state(record: BenchRecord, read: Figure) -> Figure:
    """A bench reading carried to 25 °C and half charge, so that it stands beside those of flights, mΩ."""
    label = say(BenchCode.AT_REFERENCE, pack=record.subject)
    celsius, charge = record.value("temperature_c"), record.value("charge_percent")
    if celsius is None:
        return Figure.unavailable(label, "mΩ", say(BenchCode.NEEDS_TEMPERATURE))
    warm = Figure.within(say(BenchCode.READING, name="temperature_c"), celsius, THERMOMETER_K, "°C", digits=0)
    state = say(BenchCode.READING, name="charge_percent")
    if charge is None:
        unknown = Figure.unavailable(state, "%", say(BenchCode.TYPED))
        return at_reference(label, read, warm, unknown, unknown)
    known = Figure(state, charge, "%", Method.ENTERED, digits=0)
    return at_reference(label, read, warm, known, known)


def capacity(record: BenchRecord, pack: Pack | None) -> tuple[Figure, ...]:
    """Charge that a full discharge gave, mAh, and its share of the label."""
    given = record.value("discharged_mah")
    label, share = say(BenchCode.PACK_CAPACITY, pack=record.subject), say(BenchCode.OF_LABEL, pack=record.subject)
    if given is None:
        return (Figure.unavailable(label, "mAh", say(BenchCode.TYPED)),)
    how = say(BenchCode.DISCHARGE, end=record.value("end_v") or 0.0, percent=100.0 * MAH_WITHIN)
    figure = Figure.within(label, given, MAH_WITHIN * given, "mAh", how=how, digits=0)
    if pack is None or not pack.rated_mah:
        return figure, Figure.unavailable(share, "%", say(BenchCode.NEEDS_LABEL))
    return figure, figure.times(100.0 / pack.rated_mah, share, "%", digits=0)


def charger(record: BenchRecord) -> tuple[Figure, ...]:
    """What a charger showed: resistance of pack and cells, spread of the cells' voltages, charge put back."""
    how: Text = say(BenchCode.BY_CHARGER)
    out = []
    if (ohms := record.value("resistance_mohm")) is not None:
        label = say(BenchCode.CHARGER_RESISTANCE, pack=record.subject)
        out.append(Figure.within(label, ohms, READING_WITHIN * ohms, "mΩ", how=how))
    for k, ohms in enumerate(record.values.get("cells_mohm", ()), 1):
        label = say(BenchCode.CELL_RESISTANCE, pack=record.subject, cell=k)
        out.append(Figure.within(label, ohms, READING_WITHIN * ohms, "mΩ", how=how))
    cells = record.values.get("cells_v", ())
    if len(cells) > 1:
        label = say(BenchCode.CELL_SPREAD, pack=record.subject)
        spread, half = max(cells) - min(cells), VOLTS_WITHIN * float(np.sqrt(2.0))
        out.append(Figure(label, spread, "V", Method.ENTERED, low=max(spread - half, 0.0), high=spread + half, how=how,
                          digits=3))  # fmt: skip
    if (charged := record.value("charged_mah")) is not None:
        label = say(BenchCode.CHARGED, pack=record.subject)
        out.append(Figure.within(label, charged, MAH_WITHIN * charged, "mAh", how=how, digits=0))
    return tuple(out)
