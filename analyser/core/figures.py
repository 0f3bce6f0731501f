"""A figure a person will read: value, unit, how it was obtained and how sure we are.

Nothing the tool prints is a bare number. A :class:`Figure` that could not be computed still exists: its
value is ``None`` and :attr:`Figure.missing` says what the log lacked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields, is_dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


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


@dataclass(frozen=True, slots=True)
class Figure:
    """One number a person will read.

    Parameters
    ----------
    label : str
        Plain words for what it is, without the unit (``Burned in flight, left``).
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
    how : str
        One clause naming the source (``from fuel.left.flow_ml_per_min, trapezoid``).
    missing : str
        Where ``value`` is ``None``: what is missing and what would supply it.
    doubts : tuple of str
        Data-quality remarks that touch this figure.
    digits : int
        Decimals worth printing.
    """

    label: str
    value: float | None
    unit: str
    method: Method
    low: float | None = None
    high: float | None = None
    confidence: float = 0.95
    how: str = ""
    missing: str = ""
    doubts: tuple[str, ...] = ()
    digits: int = 1

    def __post_init__(self) -> None:
        if self.value is None and not self.missing:
            raise ValueError(f"figure {self.label!r} has neither a value nor a reason for its absence")

    @classmethod
    def unavailable(cls, label: str, unit: str, missing: str) -> Figure:
        """Make a figure the log cannot support; ``missing`` says why and what would supply it."""
        return cls(label, None, unit, Method.NONE, missing=missing)

    def with_doubt(self, *doubts: str) -> Figure:
        """Return the same figure, marked with data-quality remarks (once each)."""
        return replace(self, doubts=tuple(dict.fromkeys((*self.doubts, *doubts))))

    @property
    def half_width(self) -> float:
        """Half the interval's width, in ``unit``; zero where there is no interval."""
        return (self.high - self.low) / 2.0 if self.low is not None and self.high is not None else 0.0

    def text(self) -> str:
        """The figure as a person reads it: ``212.4 mL/min (198.0 to 226.1, 95 %)`` or ``not available``."""
        if self.value is None:
            return "not available"
        unit = f" {self.unit}" if self.unit else ""
        number = f"{self.value:,.{self.digits}f}{unit}".replace(",", "\u202f")
        if self.low is None or self.high is None:
            return number
        interval = f"{self.low:,.{self.digits}f} to {self.high:,.{self.digits}f}".replace(",", "\u202f")
        return f"{number} ({interval}, {100 * self.confidence:.0f} %)"


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """A derived curve for a plot (burn rate, residual, load-free reference …).

    Parameters
    ----------
    label : str
        Plain words, without the unit.
    unit : str
        Unit of ``values``, as printed.
    time_s, values : ndarray, shape (n,)
        Seconds from the flight's first row, and the curve; NaN breaks the line.
    low, high : ndarray, shape (n,), or None
        Confidence band.
    method : Method
        How the curve was obtained.
    how : str
        One clause naming source and estimator.
    """

    label: str
    unit: str
    time_s: FloatArray
    values: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    method: Method = Method.ESTIMATED
    how: str = ""


@dataclass(frozen=True, slots=True)
class Missing:
    """Something the log or the notes did not hold, and what that cost."""

    subject: str
    what: str
    cost: str
    remedy: str = field(default="")


def values_of(figures: Iterable[Figure]) -> FloatArray:
    """Values of several figures, shape (n,); NaN where one is unavailable."""
    return np.array([np.nan if f.value is None else f.value for f in figures], float)


def figures_of(result: Any) -> Iterator[tuple[str, Figure]]:
    """Walk a result dataclass and yield every figure in it with its dotted path, in declaration order.

    Tuples and mappings are walked too; arrays are not.
    """
    yield from _walk("", result)


def _walk(path: str, node: Any) -> Iterator[tuple[str, Figure]]:
    if isinstance(node, Figure):
        yield path, node
    elif is_dataclass(node) and not isinstance(node, type):
        for f in fields(node):
            yield from _walk(f"{path}.{f.name}" if path else f.name, getattr(node, f.name))
    elif isinstance(node, dict):
        for key, value in node.items():
            yield from _walk(f"{path}.{key}" if path else str(key), value)
    elif isinstance(node, tuple):
        for i, value in enumerate(node):
            name = getattr(value, "name", None)
            yield from _walk(f"{path}.{name if isinstance(name, str) else i}", value)
