"""Walked range checks at reduced power: what full-power range they imply, over time and against the distance flown.

Free-space scaling: every 20 dB is a factor of ten in distance (ITU-R P.525), so a check at ``reduction_db`` below full
power reached at ``d`` implies ``d · 10^(reduction_db / 20)``. Near the ground the signal falls faster, up to 40 dB for
each factor of ten (two-ray model), which a walked check feels and a flying aircraft mostly doesn't; the cautious figure
scales by that steeper law.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, Part, Text, Value, say
from analyser.core.levels import COMMON_PRACTICE, Level, Limits
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.trends import robust_trend
from analyser.link.maps import antenna_key
from analyser.season.link.codes import RangeCode

FEWEST_DAYS = 4
REPEAT_DB = 3.0
"""A walked check repeated the same way mostly comes out alike within this (common practice, no source); taken as half
the width of a 95 % interval."""
OWN_SCATTER_DAYS = 3
"""From this many earlier days on, the owner's own scatter is heard too: where it is wider, it counts."""


LONGEST_M = 20_000.0
LARGEST_REDUCTION_DB = 60.0
"""Nobody walks further, no radio has a check mode that deep: beyond these a slip of the pen is likelier."""


class RangeCheck(Struct, frozen=True):
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
        if not 0 < self.distance_m <= LONGEST_M:
            raise ValueError(
                f"range check of {self.day}: distance_m must be above 0, to {LONGEST_M:g}, got {self.distance_m!r}"
            )
        if not 0 <= self.reduction_db <= LARGEST_REDUCTION_DB:
            bounds = f"0 to {LARGEST_REDUCTION_DB:g}"
            raise ValueError(f"range check of {self.day}: reduction_db must be {bounds}, got {self.reduction_db!r}")

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


class RangeCheckLine(Struct, frozen=True):
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
    note: Text = ""
    cautious_m: Figure | None = None
    moved_db: Figure | None = None
    earlier_db: Figure | None = None
    level: Level = Level.FINE
    fell: Text = ""


class RangeCheckResult(Struct, frozen=True):
    """All range checks of one aircraft; ``weakest`` is the shortest latest line, in words."""

    lines: tuple[RangeCheckLine, ...]
    weakest: Text
    caution: Text = field(default_factory=lambda: say(RangeCode.CAUTION))


def analyse_range_checks(
    checks: Sequence[RangeCheck], flown_m: float | None = None, moved: Mapping[str, date] | None = None,
    limits: Limits = COMMON_PRACTICE,
) -> RangeCheckResult:  # fmt: skip
    """Work out implied ranges, their trend and how they stand against the longest distance flown.

    Parameters
    ----------
    checks : sequence of RangeCheck
        In any order; several on one day count as one, their median.
    flown_m : float, optional
        Longest range flown, m.
    moved : mapping of str to date, optional
        By antenna, the day from which it stands where it stands now: a trend is taken only over checks since then.
    limits : Limits
        What a range that fell deserves.
    """
    groups: dict[tuple[str, str], list[RangeCheck]] = {}
    for c in sorted(checks, key=lambda c: c.day):
        groups.setdefault((c.antenna, c.orientation), []).append(c)
    lines = tuple(
        _line(name, orientation, own, (flown_m, (moved or {}).get(name)), limits)
        for (name, orientation), own in sorted(groups.items())
    )
    if not lines:
        return RangeCheckResult((), "")
    weakest = min(lines, key=lambda line: line.implied_m.value or math.inf)
    shortest = say(RangeCode.SHORTEST, of=_of(weakest.antenna, weakest.orientation), implied=weakest.implied_m)
    return RangeCheckResult(lines, shortest)


def _of(antenna: str, orientation: str) -> Finding:
    return say(RangeCode.OF, antenna=Part(f"link.{antenna}"), orientation=orientation)


def _line(
    name: str, orientation: str, checks: list[RangeCheck], beside: tuple[float | None, date | None], limits: Limits
) -> RangeCheckLine:
    flown_m, moved = beside
    of = _of(name, orientation)
    # Distances multiply, so everything is done in decibels of free-space loss; a day's repeats are one point.
    each_db = 20 * np.log10([c.implied_m for c in checks])
    days, which = np.unique([c.day.toordinal() for c in checks], return_inverse=True)
    level_db = np.array([np.median(each_db[which == k]) for k in range(days.size)])
    latest = which == days.size - 1
    value = float(10 ** (level_db[-1] / 20))
    cautious = float(np.median([c.cautious_m for c, now in zip(checks, latest, strict=True) if now]))
    walked = tuple(
        say(RangeCode.WALKED, distance_m=c.distance_m, reduction_db=c.reduction_db)
        for c, now in zip(checks, latest, strict=True)
        if now
    )
    share = 10 ** (REPEAT_DB / 20)
    figure = Figure(
        say(RangeCode.IMPLIED, of=of), value, "m", Method.ESTIMATED, low=value / share, high=value * share,
        how=say(RangeCode.IMPLIED_HOW, walked=walked, repeat_db=REPEAT_DB), digits=0,
    )  # fmt: skip
    careful = Figure(
        say(RangeCode.CAUTIOUS, of=of), cautious, "m", Method.ESTIMATED, low=cautious / share, high=cautious * share,
        how=say(RangeCode.CAUTIOUS_HOW, walked=walked, repeat_db=REPEAT_DB), digits=0,
    )  # fmt: skip
    since = days >= moved.toordinal() if moved else np.ones(days.size, bool)
    trend_label = say(RangeCode.TREND, of=of)
    if since.sum() < FEWEST_DAYS:
        needs = say(RangeCode.NEEDS_DAYS, fewest=FEWEST_DAYS, since_moved=bool(moved and not since.all()))
        trend = Figure.unavailable(trend_label, "dB/year", needs)
    else:
        years = (days[since] - days[since][0]) / 365.25
        trend = robust_trend(years, level_db[since], "dB", trend_label, per="year")
    against_label = say(RangeCode.AGAINST, of=of)
    note: Text = ""
    if flown_m is None or flown_m <= 0:
        against = Figure.unavailable(against_label, "", say(RangeCode.NO_DISTANCE))
    else:
        against = Figure(
            against_label, value / flown_m, "", Method.ESTIMATED, low=value / share / flown_m,
            high=value * share / flown_m, how=say(RangeCode.AGAINST_HOW, flown_m=flown_m), digits=1,
        )  # fmt: skip
        note = _note(value, cautious, flown_m)
    change = _moved(of, level_db, since, moved)
    earlier = _earlier(of, level_db[since])
    fell = _fell({"of": of, "day": checks[-1].day, "walked": walked}, earlier, change)
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
        level=limits.matter("range_fell") if fell else Level.FINE,
        fell=fell,
    )


def _moved(of: Finding, level_db: FloatArray, since: npt.NDArray[np.bool_], moved: date | None) -> Figure | None:
    """What the last move did: mean of the days since less mean of the days before it."""
    if moved is None or since.all() or not since.any():
        return None
    change = float(level_db[since].mean() - level_db[~since].mean())
    half = REPEAT_DB * float(np.sqrt(1 / since.sum() + 1 / (~since).sum()))
    return Figure(
        say(RangeCode.MOVED, of=of), change, "dB", Method.ESTIMATED, low=change - half, high=change + half,
        how=say(
            RangeCode.MOVED_HOW, after=int(since.sum()), day=moved, before=int((~since).sum()), repeat_db=REPEAT_DB
        ),
    )  # fmt: skip


def _earlier(of: Finding, level_db: FloatArray) -> Figure:
    """The latest day less the mean of the earlier ones, all with the antenna where it stands now."""
    label = say(RangeCode.EARLIER, of=of)
    before = level_db[:-1]
    if not before.size:
        return Figure.unavailable(label, "dB", say(RangeCode.NEEDS_EARLIER))
    change = float(level_db[-1] - before.mean())
    half, scatters = REPEAT_DB, False
    if before.size >= OWN_SCATTER_DAYS:
        own = float(student_quantile(0.975, before.size - 1) * before.std(ddof=1))
        if own > half:
            half, scatters = own, True
    how = say(RangeCode.EARLIER_HOW, days=int(before.size), good_to_db=half, scatters=scatters)
    return Figure.within(label, change, half * math.sqrt(1 + 1 / before.size), "dB", how=how)


def _fell(check: dict[str, Value], earlier: Figure, moved: Figure | None) -> Text:
    """Say where the latest check, or the move, took range beyond what repeats differ by; '' where it did not."""
    for change, code in ((earlier, RangeCode.FELL_EARLIER), (moved, RangeCode.FELL_MOVED)):
        if change is None or change.value is None or change.high is None:
            continue
        if change.high < 0.0:
            share = float(10 ** (change.value / 20))
            return Finding(code, {**check, "change": change, "share": share})
    return ""


def _note(implied: float, cautious: float, flown_m: float) -> Finding:
    code = (
        RangeCode.BEYOND_IMPLIED if flown_m > implied
        else RangeCode.BEYOND_CAUTIOUS if flown_m > cautious
        else RangeCode.WITHIN
    )  # fmt: skip
    return say(code, flown_m=flown_m, implied_m=implied, cautious_m=cautious)
