"""The difference of two figures, with an interval where both have one."""

from __future__ import annotations

import math

from analyser.figures import Figure, Method


def difference(figure: Figure, reference: Figure) -> Figure:
    """Take one figure from another of the same unit: ``figure`` − ``reference``.

    The ends of the interval are combined in quadrature, side by side, as for independent errors (JCGM 100:2008, 5.1.2);
    where only one of the two carries an interval there is none: half an uncertainty would look like a whole one.

    Raises
    ------
    ValueError
        If the units differ.
    """
    if figure.unit != reference.unit:
        raise ValueError(f"cannot take {reference.unit!r} from {figure.unit!r}")
    label = f"{figure.label}, difference"
    if figure.value is None or reference.value is None:
        lost = figure if figure.value is None else reference
        return Figure.unavailable(label, figure.unit, lost.missing)
    value = figure.value - reference.value
    low = high = None
    ends = (figure.low, figure.high, reference.low, reference.high)
    if all(e is not None for e in ends) and math.isclose(figure.confidence, reference.confidence):
        f_low, f_high, r_low, r_high = (float(e) for e in ends if e is not None)
        low = value - math.hypot(figure.value - f_low, r_high - reference.value)
        high = value + math.hypot(f_high - figure.value, reference.value - r_low)
    return Figure(
        label,
        value,
        figure.unit,
        Method.ESTIMATED if low is not None else figure.method,
        low,
        high,
        figure.confidence,
        how=f"difference of two flights; {figure.how}" if figure.how else "difference of two flights",
        doubts=tuple(dict.fromkeys((*figure.doubts, *reference.doubts))),
        digits=max(figure.digits, reference.digits),
    )
