"""Walked range checks at reduced power: what full-power range they imply, over time and against the distance flown.

Free-space scaling: every 20 dB is a factor of ten in distance (ITU-R P.525), so a check at ``reduction_db`` below full
power reached at ``d`` implies ``d · 10^(reduction_db / 20)``. Near the ground the signal falls faster, up to 40 dB for
each factor of ten (two-ray model), which a walked check feels and a flying aircraft mostly doesn't; the low end of the
interval scales by that steeper law.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from analyser.figures import Figure, Method
from analyser.trends import robust_trend

CAUTION = (
    "A walked check happens near the ground, where signals fall faster than in the air, and past people and fences: "
    "read it against your own earlier checks made the same way, not as a promised range."
)


@dataclass(frozen=True, slots=True)
class RangeCheck:
    """One walked distance at which the link at reduced power just held.

    ``reduction_db`` is how far below full power the transmitter was; the radio's manual states it.
    """

    day: date
    receiver: str
    number: int
    distance_m: float
    reduction_db: float
    orientation: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.distance_m) and self.distance_m > 0):
            raise ValueError(
                f"range check of {self.day}: distance_m must be a positive number, got {self.distance_m!r}"
            )
        if not (math.isfinite(self.reduction_db) and self.reduction_db >= 0):
            raise ValueError(f"range check of {self.day}: reduction_db must be zero or more, got {self.reduction_db!r}")


@dataclass(frozen=True, slots=True)
class RangeCheckLine:
    """One antenna in one orientation over all its checks."""

    antenna: str
    orientation: str
    days: tuple[date, ...]
    distances_m: tuple[float, ...]
    implied_m: Figure
    trend_percent: Figure
    against_flown: Figure


@dataclass(frozen=True, slots=True)
class RangeCheckResult:
    """All range checks of one aircraft; ``weakest`` is the shortest latest line, in words."""

    lines: tuple[RangeCheckLine, ...]
    weakest: str
    caution: str = CAUTION


def analyse_range_checks(checks: Sequence[RangeCheck], flown_m: float | None = None) -> RangeCheckResult:
    """Work out implied ranges, their trend and how they stand against the longest distance flown.

    Parameters
    ----------
    checks : sequence of RangeCheck
        In any order; checks on one day count as one point each.
    flown_m : float, optional
        Longest range flown, m.
    """
    groups: dict[tuple[str, str], list[RangeCheck]] = {}
    for c in sorted(checks, key=lambda c: c.day):
        name = f"{c.receiver}.antenna{c.number}" if c.number else c.receiver
        groups.setdefault((name, c.orientation), []).append(c)
    lines = tuple(_line(name, orientation, own, flown_m) for (name, orientation), own in sorted(groups.items()))
    if not lines:
        return RangeCheckResult((), "")
    weakest = min(lines, key=lambda line: line.implied_m.value or math.inf)
    where = f", {weakest.orientation}" if weakest.orientation else ""
    return RangeCheckResult(lines, f"Shortest: {weakest.antenna}{where}, implied {weakest.implied_m.text()}.")


def _line(name: str, orientation: str, checks: list[RangeCheck], flown_m: float | None) -> RangeCheckLine:
    label = f"{name}{', ' + orientation if orientation else ''}"
    last = checks[-1]
    implied = [c.distance_m * 10 ** (c.reduction_db / 20) for c in checks]
    steep = last.distance_m * 10 ** (last.reduction_db / 40)
    figure = Figure(
        f"Implied full-power range, {label}", implied[-1], "m", Method.ESTIMATED, steep, implied[-1],
        how=f"{last.distance_m:.0f} m walked at {last.reduction_db:g} dB below full power, free-space scaling; "
        "low end: the steeper fall near the ground", digits=0,
    )  # fmt: skip
    days = np.array([c.day.toordinal() for c in checks], float)
    # Distances multiply, so the trend is taken on their logarithm: percent a year.
    trend_label = f"Trend of the range check, {label}"
    if len(checks) < 4 or np.ptp(days) < 1:
        trend = Figure.unavailable(trend_label, "%/year", "needs four checks or more on different days")
    else:
        trend = robust_trend((days - days[0]) / 365.25, 100 * np.log(implied), "%", trend_label, per="year")
    against_label = f"Implied range over longest distance flown, {label}"
    if flown_m is None or flown_m <= 0:
        against = Figure.unavailable(against_label, "", "no distance flown is known: log position")
    else:
        against = Figure(
            against_label, implied[-1] / flown_m, "", Method.ESTIMATED, steep / flown_m, implied[-1] / flown_m,
            how=f"implied range over {flown_m:.0f} m", digits=1,
        )  # fmt: skip
    return RangeCheckLine(
        name, orientation, tuple(c.day for c in checks), tuple(c.distance_m for c in checks), figure, trend, against
    )
