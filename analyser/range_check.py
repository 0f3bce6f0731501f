"""Walked range checks at reduced power: what full-power range they imply, over time and against the distance flown.

Free-space scaling: every 20 dB is a factor of ten in distance (ITU-R P.525), so a check at ``reduction_db`` below full
power reached at ``d`` implies ``d · 10^(reduction_db / 20)``. Near the ground the signal falls faster, up to 40 dB for
each factor of ten (two-ray model), which a walked check feels and a flying aircraft mostly doesn't; the cautious figure
scales by that steeper law.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from analyser.figures import Figure, FloatArray, Method
from analyser.trends import robust_trend

FEWEST_DAYS = 4
REPEAT_DB = 3.0
"""A walked check repeated the same way mostly comes out alike within this (common practice, no source); taken as half
the width of a 95 % interval."""
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
    """One antenna in one orientation over all its checks.

    ``days`` and ``distances_m`` list every check; ``implied_each_m`` is the full-power range each implies, so that
    checks at different reductions can be laid side by side. ``note`` says in words how the latest day stands against
    the distance flown, '' where that is not known. ``cautious_m`` scales by the steeper fall near the ground;
    ``moved_db`` is what the antenna's last move did, in decibels, ``None`` where it was not moved between checks.
    """

    antenna: str
    orientation: str
    days: tuple[date, ...]
    distances_m: tuple[float, ...]
    implied_m: Figure
    trend_percent: Figure
    against_flown: Figure
    implied_each_m: tuple[float, ...] = ()
    note: str = ""
    cautious_m: Figure | None = None
    moved_db: Figure | None = None


@dataclass(frozen=True, slots=True)
class RangeCheckResult:
    """All range checks of one aircraft; ``weakest`` is the shortest latest line, in words."""

    lines: tuple[RangeCheckLine, ...]
    weakest: str
    caution: str = CAUTION


def analyse_range_checks(
    checks: Sequence[RangeCheck], flown_m: float | None = None, moved: Mapping[str, date] | None = None
) -> RangeCheckResult:
    """Work out implied ranges, their trend and how they stand against the longest distance flown.

    Parameters
    ----------
    checks : sequence of RangeCheck
        In any order; several on one day count as one, their median.
    flown_m : float, optional
        Longest range flown, m.
    moved : mapping of str to date, optional
        By antenna, the day from which it stands where it stands now: a trend is taken only over checks since then.
    """
    groups: dict[tuple[str, str], list[RangeCheck]] = {}
    for c in sorted(checks, key=lambda c: c.day):
        name = f"{c.receiver}.antenna{c.number}" if c.number else c.receiver
        groups.setdefault((name, c.orientation), []).append(c)
    lines = tuple(
        _line(name, orientation, own, flown_m, (moved or {}).get(name))
        for (name, orientation), own in sorted(groups.items())
    )
    if not lines:
        return RangeCheckResult((), "")
    weakest = min(lines, key=lambda line: line.implied_m.value or math.inf)
    where = f", {weakest.orientation}" if weakest.orientation else ""
    return RangeCheckResult(lines, f"Shortest: {weakest.antenna}{where}, implied {weakest.implied_m.text()}.")


def _line(
    name: str, orientation: str, checks: list[RangeCheck], flown_m: float | None, moved: date | None
) -> RangeCheckLine:
    label = f"{name}{', ' + orientation if orientation else ''}"
    implied = np.array([c.distance_m * 10 ** (c.reduction_db / 20) for c in checks])
    near_ground = np.array([c.distance_m * 10 ** (c.reduction_db / 40) for c in checks])
    days, which = np.unique([c.day.toordinal() for c in checks], return_inverse=True)
    # A day's repeats are one point; distances multiply, so everything else is done in decibels.
    middle = np.array([np.median(implied[which == k]) for k in range(days.size)])
    level_db = 20 * np.log10(middle)
    latest = which == days.size - 1
    value, cautious = float(middle[-1]), float(np.median(near_ground[latest]))
    walked = ", ".join(
        f"{c.distance_m:.0f} m at {c.reduction_db:g} dB below full power"
        for c, now in zip(checks, latest, strict=True)
        if now
    )
    share = 10 ** (REPEAT_DB / 20)
    repeat = f"a repeat differs by some {REPEAT_DB:.0f} dB (common practice)"
    figure = Figure(
        f"Implied full-power range, {label}", value, "m", Method.ESTIMATED, value / share, value * share,
        how=f"walked {walked}; free-space scaling; {repeat}", digits=0,
    )  # fmt: skip
    careful = Figure(
        f"Cautious full-power range, {label}", cautious, "m", Method.ESTIMATED, cautious / share, cautious * share,
        how=f"walked {walked}; scaled by the steeper fall near the ground, 40 dB for a factor of ten; {repeat}",
        digits=0,
    )  # fmt: skip
    since = days >= moved.toordinal() if moved else np.ones(days.size, bool)
    trend_label = f"Trend of the range check, {label}"
    if since.sum() < FEWEST_DAYS:
        where = " since this antenna was moved" if moved and not since.all() else ""
        trend = Figure.unavailable(trend_label, "dB/year", f"needs checks on {FEWEST_DAYS} days or more{where}")
    else:
        years = (days[since] - days[since][0]) / 365.25
        trend = robust_trend(years, level_db[since], "dB", trend_label, per="year")
    against_label = f"Implied range over longest distance flown, {label}"
    note = ""
    if flown_m is None or flown_m <= 0:
        against = Figure.unavailable(against_label, "", "no distance flown is known: log position")
    else:
        against = Figure(
            against_label, value / flown_m, "", Method.ESTIMATED, value / share / flown_m, value * share / flown_m,
            how=f"implied range over {flown_m:.0f} m", digits=1,
        )  # fmt: skip
        note = _note(value, cautious, flown_m)
    return RangeCheckLine(
        antenna=name,
        orientation=orientation,
        days=tuple(c.day for c in checks),
        distances_m=tuple(c.distance_m for c in checks),
        implied_m=figure,
        trend_percent=trend,
        against_flown=against,
        implied_each_m=tuple(implied.tolist()),
        note=note,
        cautious_m=careful,
        moved_db=_moved(label, level_db, since, moved),
    )


def _moved(label: str, level_db: FloatArray, since: npt.NDArray[np.bool_], moved: date | None) -> Figure | None:
    """What the last move did: mean of the days since less mean of the days before."""
    if moved is None or since.all() or not since.any():
        return None
    change = float(level_db[since].mean() - level_db[~since].mean())
    half = REPEAT_DB * float(np.sqrt(1 / since.sum() + 1 / (~since).sum()))
    return Figure(
        f"Range check since the antenna was moved, {label}", change, "dB", Method.ESTIMATED, change - half,
        change + half, how=f"{since.sum()} days since {moved} less {(~since).sum()} before; one day good to some "
        f"{REPEAT_DB:.0f} dB (common practice)",
    )  # fmt: skip


def _note(implied: float, cautious: float, flown_m: float) -> str:
    if flown_m > implied:
        return (
            f"Flown out to {flown_m:.0f} m, farther than even free-space scaling of this check reaches"
            f" ({implied:.0f} m): there this antenna, seen from this side, can't be counted on. Walk it again, and look"
            " at what stands by it."
        )
    if flown_m > cautious:
        return (
            f"Flown out to {flown_m:.0f} m: within what free-space scaling implies ({implied:.0f} m), beyond the"
            f" cautious figure ({cautious:.0f} m), which allows for the ground's part in a walked check."
        )
    return f"Flown out to {flown_m:.0f} m, within even the cautious figure of this check ({cautious:.0f} m)."
