"""A figure a person will read: value, unit, how it was obtained and how sure we are.

Nothing the tool prints is a bare number. A :class:`Figure` that could not be computed still exists: its
value is ``None`` and :attr:`Figure.missing` says what the log lacked.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.codes import CoreCode
from analyser.core.findings import Finding, Text, coded

FloatArray = npt.NDArray[np.float64]

Z95 = 1.959964
"""97.5 % point of the normal distribution: half of a 95 % interval in standard errors."""


class Method(StrEnum):
    """How a figure was obtained."""

    MEASURED = "measured"
    """Read from a sensor as it stands."""
    INTEGRATED = "integrated"
    """Summed from a measured rate, or differenced from a measured total."""
    ESTIMATED = "estimated"
    """Inferred through a model or a fit; carries an interval."""
    ASSUMED = "assumed"
    """A default nobody confirmed for this aircraft."""
    ENTERED = "entered"
    """Stated by the owner."""
    NONE = "not available"
    """The log cannot support it; the figure says what is missing."""


class Figure(Struct, frozen=True):
    """One number a person will read.

    Parameters
    ----------
    label : Text
        What it is, without the unit (``Burned in flight, left``).
    value : float or None
        The number, in ``unit``; ``None`` where the log cannot support it.
    unit : str
        Trade unit as printed (``mL/min``, ``mAh``, ``dB``; ``""`` for a pure count).
    method : Method
        How it was obtained.
    low, high : float or None
        Ends of the interval at ``confidence``; both ``None`` where the figure is not an estimate.
    confidence : float
        Coverage of ``low`` … ``high``.
    how : Text
        The source and the method (``from fuel.left.flow_ml_per_min, trapezoid``).
    missing : Text
        Where ``value`` is ``None``: what is missing and what would supply it.
    doubts : tuple of Text
        Data-quality remarks that touch this figure.
    digits : int
        Decimals worth printing.
    """

    label: Text
    value: float | None
    unit: str
    method: Method
    low: float | None = None
    high: float | None = None
    confidence: float = 0.95
    how: Text = ""
    missing: Text = ""
    doubts: tuple[Text, ...] = ()
    digits: int = 1

    def __post_init__(self) -> None:
        if self.value is None and not self.missing:
            raise ValueError(f"figure {self.label!r} has neither a value nor a reason for its absence")

    def __repr__(self) -> str:
        if self.value is None:
            return f"Figure({coded(self.label)}: None)"
        interval = (
            ""
            if self.low is None or self.high is None
            else f" [{self.low:.{self.digits}f}, {self.high:.{self.digits}f}]"
        )
        return f"Figure({coded(self.label)}: {self.value:.{self.digits}f} {self.unit}{interval})"

    @classmethod
    def unavailable(cls, label: Text, unit: str, missing: Text) -> Figure:
        """Make a figure the log cannot support; ``missing`` says why and what would supply it."""
        return cls(label, None, unit, Method.NONE, missing=missing)

    @classmethod
    def within(cls, label: Text, value: float, half: float, unit: str, *, how: Text = "", digits: int = 1) -> Figure:
        """Make an estimate with an interval of ``half`` on either side, at 95 %.

        Examples
        --------
        >>> Figure.within("Burned", 1200.0, 30.0, "mL", digits=0)
        Figure(Burned: 1200 mL [1170, 1230])
        """
        return cls(label, value, unit, Method.ESTIMATED, value - half, value + half, how=how, digits=digits)

    def with_doubt(self, *doubts: Text) -> Figure:
        """Return the same figure, marked with data-quality remarks (once each)."""
        kept = list(self.doubts)
        for doubt in doubts:
            if doubt not in kept:
                kept.append(doubt)
        return replace(self, doubts=tuple(kept)) if len(kept) > len(self.doubts) else self

    def at_least(self, floor: float) -> Figure:
        """Return the same figure with value and interval held at a bound that its quantity cannot pass.

        Examples
        --------
        >>> Figure.within("drop", -0.01, 0.05, "V", digits=2).at_least(0.0)
        Figure(drop: 0.00 V [0.00, 0.04])
        """
        value, low, high = (None if x is None else max(x, floor) for x in (self.value, self.low, self.high))
        return self.set_to(value, low, high)

    def set_to(self, value: float | None, low: float | None, high: float | None) -> Figure:
        """Return the same figure with another value and interval."""
        return replace(self, value=value, low=low, high=high)

    def named(self, label: Text, how: Text | None = None) -> Figure:
        """Return the same figure under another label, and with another source where one is given."""
        return replace(self, label=label, how=self.how if how is None else how)

    @property
    def half_width(self) -> float:
        """Half the interval's width, in ``unit``; zero where there is no interval."""
        return (self.high - self.low) / 2.0 if self.low is not None and self.high is not None else 0.0

    @property
    def relative_se(self) -> float:
        """Standard error over the value, of a 95 % interval; zero where there is no interval or no value.

        Examples
        --------
        >>> round(Figure("Used", 500.0, "mAh", Method.INTEGRATED, 490.2, 509.8).relative_se, 3)
        0.01
        """
        return self.half_width / Z95 / self.value if self.value else 0.0

    def plus(self, other: Figure, label: Text, *, how: Text = "", correlated: bool = False) -> Figure:
        """Add; see :func:`total`."""
        return total(label, (self, other), how=how, correlated=correlated)

    def minus(self, other: Figure, label: Text, *, how: Text = "", correlated: bool = False) -> Figure:
        """Subtract a figure of the same unit.

        Intervals combine in quadrature, each side by itself (JCGM 100:2008, 5.1.2); errors that both share
        (``correlated``, 5.2.2 with r = 1) subtract.

        Examples
        --------
        >>> start = Figure.within("Start", 3000.0, 30.0, "mL")
        >>> burned = Figure.within("Burned", 2000.0, 40.0, "mL")
        >>> start.minus(burned, "Left").half_width
        50.0
        """
        if missing := _lacking((self, other)):
            return Figure.unavailable(label, self.unit, missing)
        _one_unit((self, other))
        value = _known(self) - _known(other)
        (down_a, up_a), (down_b, up_b) = _sides(self), _sides(other)
        down, up = (
            (abs(down_a - down_b), abs(up_a - up_b))
            if correlated
            else (math.hypot(down_a, up_b), math.hypot(up_a, down_b))
        )
        return _made(label, value, (down, up), self.unit, (self, other), how)

    def over(
        self, other: Figure, label: Text, unit: str, *, scale: float = 1.0, how: Text = "", digits: int | None = None
    ) -> Figure:
        """Divide by a figure with independent errors, times ``scale`` (100 for a percentage).

        Relative errors combine in quadrature (JCGM 100:2008, 5.1.6). A divisor whose interval reaches nought makes
        the quotient unavailable.

        Examples
        --------
        >>> a, b = Figure.within("a", 50.0, 3.0, "mL"), Figure.within("b", 100.0, 8.0, "mL")
        >>> a.over(b, "share", "%", scale=100.0)
        Figure(share: 50.0 % [45.0, 55.0])
        """
        if missing := _lacking((self, other)):
            return Figure.unavailable(label, unit, missing)
        top, bottom = _known(self), _known(other)
        (down_a, up_a), (down_b, up_b) = _sides(self), _sides(other)
        if bottom == 0.0 or (bottom - down_b) * (bottom + up_b) <= 0.0:
            return Figure.unavailable(label, unit, Finding(CoreCode.DIVISOR_MAY_BE_NOUGHT, {"of": other.label}))
        value = scale * top / bottom
        # Each side: the numerator's own, and the divisor's other side.
        slope_a, slope_b = scale / bottom, -value / bottom
        ends = [
            _by_slope(slope_a, down_a, up_a),
            _by_slope(slope_b, down_b, up_b),
        ]
        sides = (math.hypot(*(e[0] for e in ends)), math.hypot(*(e[1] for e in ends)))
        return _made(label, value, sides, unit, (self, other), how, digits)

    def times(
        self, factor: float | Figure, label: Text, unit: str, *, how: Text = "", digits: int | None = None
    ) -> Figure:
        """Scale by a number, or by a figure with independent errors.

        Examples
        --------
        >>> Figure.within("volume", 1000.0, 10.0, "mL").times(0.0008, "mass", "kg", digits=3)
        Figure(mass: 0.800 kg [0.792, 0.808])
        """
        if not isinstance(factor, Figure):
            if self.value is None:
                return Figure.unavailable(label, unit, self.missing)
            sides = _by_slope(factor, *_sides(self))
            return _made(label, self.value * factor, sides, unit, (self,), how, digits)
        if missing := _lacking((self, factor)):
            return Figure.unavailable(label, unit, missing)
        a, b = _known(self), _known(factor)
        ends = [_by_slope(b, *_sides(self)), _by_slope(a, *_sides(factor))]
        sides = (math.hypot(*(e[0] for e in ends)), math.hypot(*(e[1] for e in ends)))
        return _made(label, a * b, sides, unit, (self, factor), how, digits)


class Trace(Struct, frozen=True, eq=False):
    """A derived curve for a plot (burn rate, residual, load-free reference …).

    Parameters
    ----------
    label : Text
        What it is, without the unit.
    unit : str
        Unit of ``values``, as printed.
    time_s, values : ndarray, shape (n,)
        Seconds from the flight's first row, and the curve; NaN breaks the line.
    low, high : ndarray, shape (n,), or None
        Confidence band.
    method : Method
        How the curve was obtained.
    how : Text
        Source and estimator.
    """

    label: Text
    unit: str
    time_s: FloatArray
    values: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    method: Method = Method.ESTIMATED
    how: Text = ""


class Missing(Struct, frozen=True):
    """Something the log or the notes did not hold, and what that cost."""

    subject: str
    what: Text
    cost: Text
    remedy: Text = field(default="")


def total(label: Text, parts: Sequence[Figure], *, how: Text = "", correlated: bool = False) -> Figure:
    """Sum figures of one unit; a part that is unavailable makes the whole unavailable, for the same reason.

    Parameters
    ----------
    label : Text
        What the sum is.
    parts : sequence of Figure
        At least one, all of one unit.
    how : Text
        The source; that of the only part where there is one.
    correlated : bool
        Whether the parts share their errors (JCGM 100:2008, 5.2.2 with r = 1): half-widths then add, else they
        combine in quadrature, each side by itself (5.1.2).

    Raises
    ------
    ValueError
        Without parts, or with parts of different units.

    Examples
    --------
    >>> both = [Figure.within("left", 1000.0, 30.0, "mL"), Figure.within("right", 1100.0, 40.0, "mL")]
    >>> total("both", both, how="sum").half_width
    50.0
    """
    if not parts:
        raise ValueError("a sum needs at least one figure")
    if missing := _lacking(parts):
        return Figure.unavailable(label, parts[0].unit, missing)
    _one_unit(parts)
    sides = [_sides(p) for p in parts]
    down, up = (
        (sum(s[0] for s in sides), sum(s[1] for s in sides))
        if correlated
        else (math.hypot(*(s[0] for s in sides)), math.hypot(*(s[1] for s in sides)))
    )
    return _made(
        label, math.fsum(_known(p) for p in parts), (down, up), parts[0].unit, parts,
        how or (parts[0].how if len(parts) == 1 else ""),
    )  # fmt: skip


def _known(figure: Figure) -> float:
    if figure.value is None:
        raise ValueError(f"figure {figure.label!r} is not available")
    return figure.value


def _sides(figure: Figure) -> tuple[float, float]:
    """How far the interval reaches below and above the value."""
    value = _known(figure)
    if figure.low is None or figure.high is None:
        return 0.0, 0.0
    return max(value - figure.low, 0.0), max(figure.high - value, 0.0)


def _by_slope(slope: float, down: float, up: float) -> tuple[float, float]:
    return (slope * down, slope * up) if slope >= 0 else (-slope * up, -slope * down)


def _lacking(parts: Iterable[Figure]) -> Text:
    return next((p.missing for p in parts if p.value is None), "")


def _one_unit(parts: Sequence[Figure]) -> None:
    if units := {p.unit for p in parts} - {parts[0].unit}:
        raise ValueError(f"figures of one unit are expected: {parts[0].unit!r}, got {sorted(units)}")


def _made(
    label: Text, value: float, sides: tuple[float, float], unit: str, parts: Sequence[Figure], how: Text,
    digits: int | None = None,
) -> Figure:  # fmt: skip
    """A figure worked out from others: their method, doubts and intervals carried along."""
    intervals = any(p.low is not None for p in parts)
    made = Figure(
        label, value, unit, combined_method(p.method for p in parts),
        value - sides[0] if intervals else None, value + sides[1] if intervals else None,
        how=how, digits=max(p.digits for p in parts) if digits is None else digits,
    )  # fmt: skip
    return made.with_doubt(*(d for p in parts for d in p.doubts))


def combined_method(methods: Iterable[Method]) -> Method:
    """How a figure worked out from others was obtained.

    Entered or assumed where all are; estimated where any part was estimated or assumed; otherwise integrated: what is
    worked out from sensors is no longer what a sensor shows as it stands.
    """
    given = set(methods)
    if given in ({Method.ENTERED}, {Method.ASSUMED}):
        return given.pop()
    return Method.ESTIMATED if given & {Method.ESTIMATED, Method.ASSUMED} else Method.INTEGRATED


def values_of(figures: Iterable[Figure]) -> FloatArray:
    """Values of several figures, shape (n,); NaN where one is unavailable."""
    return np.array([np.nan if f.value is None else f.value for f in figures], float)


def figures_of(result: Any) -> Iterator[tuple[str, Figure]]:
    """Walk a result and yield every figure in it with its dotted path, in declaration order.

    Tuples and mappings are walked too; arrays are not.
    """
    found: list[tuple[str, Figure]] = []
    _gather("", result, found)
    return iter(found)


def holding(node: Any) -> tuple[str, ...]:
    """Names of a record's fields, in declaration order; none of anything else."""
    return node.__struct_fields__ if isinstance(node, Struct) else ()


LEAVES = frozenset({str, int, float, bool, type(None), np.ndarray})
"""Types of what most fields hold, in which nothing is to be found."""


def _gather(path: str, node: Any, found: list[tuple[str, Figure]]) -> None:
    if isinstance(node, Figure):
        found.append((path, node))
    elif isinstance(node, Finding):
        return  # what is said of figures repeats them
    elif names := holding(node):
        before = f"{path}." if path else ""
        for name in names:
            value = getattr(node, name)
            if type(value) not in LEAVES:
                _gather(before + name, value, found)
    elif isinstance(node, dict):
        before = f"{path}." if path else ""
        for key, value in node.items():
            if type(value) not in LEAVES:
                _gather(f"{before}{key}", value, found)
    elif isinstance(node, tuple):
        for i, value in enumerate(node):
            if type(value) not in LEAVES:
                own = getattr(value, "name", None)
                _gather(f"{path}.{own if isinstance(own, str) else i}", value, found)
