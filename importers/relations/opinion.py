"""What a law says of the columns that it ties together, and how it comes to it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

FloatArray = npt.NDArray[np.float64]

LEAST = 24
"""Fewer pairs than these say nothing."""


class Opinion(Struct, frozen=True):
    """What a law says of its columns.

    ``fit`` is 1 where they follow it and 0 where they do not; ``bears`` is +1 where that bears their headings out, -1
    where it contradicts them, else 0. ``scale`` says that it is about their size, not about their course alone;
    ``blamed`` which of them are contradicted, by place in the law, all where empty.
    """

    fit: float
    bears: int = 0
    scale: bool = False
    blamed: tuple[int, ...] = ()


Opinions = tuple[Opinion, ...]


def whole_rows(some: Sequence[FloatArray], seconds: FloatArray, least: int = LEAST) -> list[FloatArray] | None:
    """Times and values of the rows in which none is empty; None where these are few."""
    good = np.logical_and.reduce([np.isfinite(x) for x in some])
    return [seconds[good], *(x[good] for x in some)] if good.sum() >= least else None


def near(ratio: float, width: float) -> float:
    """1 where a ratio is one, less the farther it is."""
    return float(np.exp(-abs(np.log(ratio)) / width)) if 0.0 < ratio < np.inf else 0.0


def of_size(one: float, other: float, floor: float) -> Opinions:
    """Whether one amount is the other, but for the error of sensors."""
    if max(abs(one), abs(other)) <= max(floor, 1.0):
        return ()
    ratio = one / other if other else np.inf
    bears = 1 if 0.7 < ratio < 1.4 else 0 if 0.2 < ratio < 5.0 else -1
    return (Opinion(near(ratio, 0.3), bears, scale=True),)
