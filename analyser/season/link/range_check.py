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
from scipy import stats

from analyser.core.events import Level
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.trends import robust_trend
from analyser.link.antenna import antenna_key

FEWEST_DAYS = 4
REPEAT_DB = 3.0
"""A walked check repeated the same way mostly comes out alike within this (common practice, no source); taken as half
the width of a 95 % interval."""
OWN_SCATTER_DAYS = 3
"""From this many earlier days on, the owner's own scatter is heard too: where it is wider, it counts."""
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

    @property
    def antenna(self) -> str:
        """Name of the antenna as results carry it."""
        return antenna_key(self.receiver, self.number)

    @property
    def implied_m(self) -> float:
        """Full-power range by free-space scaling, m."""
        return self.distance_m * float(10 ** (self.reduction_db / 20))

    @property
    def cautious_m(self) -> float:
        """Full-power range by the steeper fall near the ground, 40 dB for a factor of ten, m."""
        return self.distance_m * float(10 ** (self.reduction_db / 40))


@dataclass(frozen=True, slots=True)
class RangeCheckLine:
    """One antenna in one orientation over all its checks.

    ``days`` and ``distances_m`` list every check; ``implied_each_m`` is the full-power range each implies, so that
    checks at different reductions can be laid side by side. ``note`` says in words how the latest day stands against
    the distance flown, '' where that is not known. ``cautious_m`` scales by the steeper fall near the ground;
    ``moved_db`` is what the antenna's last move did, in decibels, ``None`` where it was not moved between checks.
    ``earlier_db`` is the latest day against the mean of the earlier ones since the antenna stands where it does;
    ``level`` and ``fell`` say, in words, where it fell below them, or the antenna by its move, beyond the uncertainty.
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
    earlier_db: Figure | None = None
    level: Level = Level.FINE
    fell: str = ""


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
        groups.setdefault((c.antenna, c.orientation), []).append(c)
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
    # Distances multiply, so everything is done in decibels of free-space loss; a day's repeats are one point.
    each_db = 20 * np.log10([c.implied_m for c in checks])
    days, which = np.unique([c.day.toordinal() for c in checks], return_inverse=True)
    level_db = np.array([np.median(each_db[which == k]) for k in range(days.size)])
    latest = which == days.size - 1
    value = float(10 ** (level_db[-1] / 20))
    cautious = float(np.median([c.cautious_m for c, now in zip(checks, latest, strict=True) if now]))
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
    change = _moved(label, level_db, since, moved)
    earlier = _earlier(label, level_db[since])
    fell = _fell(f"{label}: range check of {checks[-1].day}, {walked},", earlier, change)
    return RangeCheckLine(
        antenna=name,
        orientation=orientation,
        days=tuple(c.day for c in checks),
        distances_m=tuple(c.distance_m for c in checks),
        implied_m=figure,
        trend_percent=trend,
        against_flown=against,
        implied_each_m=tuple(c.implied_m for c in checks),
        note=note,
        cautious_m=careful,
        moved_db=change,
        earlier_db=earlier,
        level=Level.WATCH if fell else Level.FINE,
        fell=fell,
    )


def _moved(label: str, level_db: FloatArray, since: npt.NDArray[np.bool_], moved: date | None) -> Figure | None:
    """What the last move did: mean of the days since less mean of the days before it."""
    if moved is None or since.all() or not since.any():
        return None
    change = float(level_db[since].mean() - level_db[~since].mean())
    half = REPEAT_DB * float(np.sqrt(1 / since.sum() + 1 / (~since).sum()))
    return Figure(
        f"Range check since the antenna was moved, {label}", change, "dB", Method.ESTIMATED, change - half,
        change + half, how=f"{since.sum()} days since {moved} less {(~since).sum()} before; one day good to some "
        f"{REPEAT_DB:.0f} dB (common practice)",
    )  # fmt: skip


def _earlier(label: str, level_db: FloatArray) -> Figure:
    """The latest day less the mean of the earlier ones, all with the antenna where it stands now."""
    said = f"Latest range check against the earlier ones, {label}"
    before = level_db[:-1]
    if not before.size:
        return Figure.unavailable(said, "dB", "needs an earlier check the same way, with the antenna where it is now")
    change = float(level_db[-1] - before.mean())
    half = REPEAT_DB
    how = f"one day good to some {REPEAT_DB:.0f} dB (common practice)"
    if before.size >= OWN_SCATTER_DAYS:
        own = float(stats.t.ppf(0.975, before.size - 1) * before.std(ddof=1))
        if own > half:
            half, how = own, f"one day good to {own:.1f} dB, as the earlier ones differ"
    half *= math.sqrt(1 + 1 / before.size)
    return Figure(
        said, change, "dB", Method.ESTIMATED, change - half, change + half,
        how=f"latest day less the mean of {before.size} earlier {'days' if before.size > 1 else 'day'}; {how}",
    )  # fmt: skip


def _fell(check: str, earlier: Figure, moved: Figure | None) -> str:
    """A sentence where the latest check, or the move, took range beyond what repeats differ by; '' where not."""
    for change, against in (
        (earlier, "your earlier checks made the same way"),
        (moved, "those before the antenna was moved"),
    ):
        if change is None or change.value is None or change.low is None or change.high is None:
            continue
        if change.high < 0.0:
            return (
                f"{check} is {-change.value:.1f} dB ({-change.high:.1f} to {-change.low:.1f}) below {against}: "
                f"{100 * 10 ** (change.value / 20):.0f} % of the range. Walk it again; if it stays, look at that "
                "antenna, its lead and what has come to stand by it before flying."
            )
    return ""


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
