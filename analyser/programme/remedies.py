"""Whether a remedy worked: a figure before it and after it, with an interval and a plain verdict.

A change is told by trimmed means (Yuen 1974; a test compares with ``scipy.stats.ttest_ind``), wider where flights are
alike from one to the next; counts by the ratio of their rates (the conditional exact interval of two Poisson means,
wider where they scatter more than such counts do).
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, say
from analyser.core.statistics.distributions import beta_quantile, student_quantile
from analyser.programme.codes import RemedyCode
from analyser.programme.histories import History, likeness

FEWEST = 3
"""Flights on either side below which nothing is said."""
TRIM = 0.1
TRIMMED_FROM = 10
"""Flights on either side from which the most extreme tenth is left out: of fewer, none can be spared."""
MOST_FLIGHTS = 500
HALVED = 0.5
"""A remedy against something that is counted should at least halve it (common practice, no source)."""


class Verdict(StrEnum):
    """How a remedy fared."""

    WORKED = "worked"
    DID_NOT = "did_not"
    CANT_TELL = "cant_tell"


class Comparison(Struct, frozen=True):
    """One figure before and after a remedy.

    Parameters
    ----------
    key : (str, str)
        Figure and what it is of.
    before, after : int
        Flights on either side.
    was, now : Figure
        Middle of either side.
    change : Figure
        After less before, at 95 %; for counts the ratio of after to before, unit ``×``.
    worth : float
        The least change for the better that counts as worked, in the figure's unit; for counts the largest ratio.
    verdict : Verdict
    more : int or None
        Further flights that would settle it if things stay as they look; ``None`` where it is settled, or where even
        500 would not.
    sentence : Finding
    """

    key: tuple[str, str]
    before: int
    after: int
    was: Figure
    now: Figure
    change: Figure
    worth: float
    verdict: Verdict
    more: int | None
    sentence: Finding


def compare(history: History, first_after: float, *, worth: float | None = None, wanted: str = "") -> Comparison:
    """Compare a figure before a remedy with the same after it.

    Parameters
    ----------
    history : History
        Of flights on both sides of it.
    first_after : float
        Number of the first flight after the remedy.
    worth : float, optional
        The least change for the better that matters, in the figure's unit. Where none is stated: the usual scatter
        from flight to flight before; counts should at least halve.
    wanted : str
        ``low`` or ``high`` where less or more is better; the measure's own where not stated.

    Returns
    -------
    Comparison
        *Worked* where the whole interval of the change lies on the better side of nought and the change is worth it or
        may be; *did not* where the whole interval falls short of what it is worth; else *can't tell yet*.
    """
    early = history.numbers < first_after
    before, after = history.values[early], history.values[~early]
    better = wanted or {"high": "low", "low": "high"}.get(history.measure.worse, "low")
    if before.size < FEWEST or after.size < FEWEST:
        return _too_few(history, before, after, worth)
    if history.counts:
        return _of_counts(history, before, after)
    return _of_measured(history, before, after, worth, -1.0 if better == "low" else 1.0)


def _figure(history: History, code: RemedyCode, values: FloatArray) -> Figure:
    label = say(code, what=say(history.measure.code))
    if not values.size:
        return Figure.unavailable(label, history.unit, say(RemedyCode.NO_FLIGHTS))
    middle = float(values.mean() if history.counts else np.median(values))
    digits = history.measure.digits + (1 if history.counts else 0)
    return Figure(label, middle, history.unit, Method.ESTIMATED, digits=digits)


def _made(
    history: History, sides: tuple[FloatArray, FloatArray], change: Figure, worth: float,
    settled: tuple[Verdict, int | None],
) -> Comparison:  # fmt: skip
    before, after = sides
    verdict, more = settled
    was, now = _figure(history, RemedyCode.BEFORE, before), _figure(history, RemedyCode.AFTER, after)
    code = {
        Verdict.WORKED: RemedyCode.WORKED,
        Verdict.DID_NOT: RemedyCode.DID_NOT,
        Verdict.CANT_TELL: RemedyCode.CANT_TELL,
    }[verdict]
    sentence = say(
        code, what=say(history.measure.code), was=was, now=now, change=change, before=int(before.size),
        after=int(after.size), more=more or 0, counts=history.counts,
    )  # fmt: skip
    return Comparison(
        history.key, int(before.size), int(after.size), was, now, change, worth, verdict, more, sentence
    )  # fmt: skip


def _too_few(history: History, before: FloatArray, after: FloatArray, worth: float | None) -> Comparison:
    short = max(FEWEST - after.size, 0)
    label = say(RemedyCode.CHANGE, what=say(history.measure.code))
    why = say(RemedyCode.FEW_BEFORE if before.size < FEWEST else RemedyCode.FEW_AFTER, fewest=FEWEST)
    change = Figure.unavailable(label, history.unit, why)
    more = None if before.size < FEWEST else int(short)
    return _made(history, (before, after), change, worth or 0.0, (Verdict.CANT_TELL, more))


def _of_measured(
    history: History, before: FloatArray, after: FloatArray, worth: float | None, sign: float
) -> Comparison:
    change, half = shift(before, after)
    if worth is None:
        worth = float(np.std(before, ddof=1))
    figure = Figure.within(
        say(RemedyCode.CHANGE, what=say(history.measure.code)), change, half, history.unit,
        how=say(RemedyCode.TRIMMED, before=int(before.size), after=int(after.size)), digits=history.measure.digits,
    )  # fmt: skip
    gain, least, most = sign * change, sign * change - half, sign * change + half
    if least > 0 and (gain >= worth or most >= worth):
        verdict: Verdict = Verdict.WORKED
    elif most < worth:
        verdict = Verdict.DID_NOT
    else:
        verdict = Verdict.CANT_TELL
    more = _more_measured(before, after, max(abs(gain), abs(worth - gain))) if verdict is Verdict.CANT_TELL else None
    return _made(history, (before, after), figure, worth, (verdict, more))


def shift(before: FloatArray, after: FloatArray) -> tuple[float, float]:
    """Difference of the trimmed means, after less before, and half its 95 % interval.

    Parameters
    ----------
    before, after : ndarray, shapes (n,) and (m,)
        Three values or more on either side.
    """
    trim = TRIM if min(before.size, after.size) >= TRIMMED_FROM else 0.0
    sides = [_trimmed(after, trim), _trimmed(before, trim)]
    change = sides[0].mean - sides[1].mean
    square = sum(s.square for s in sides)
    if square == 0.0:  # all alike, but for what was left out
        return change, 0.0
    freedom = square**2 / sum(s.square**2 / (s.kept - 1) for s in sides)  # Welch and Satterthwaite
    half = float(student_quantile(0.975, freedom)) * float(np.sqrt(square))
    return change, half * _wider(before, after)


class _Trimmed(Struct, frozen=True):
    """One side's trimmed mean, the square of its standard error, and how many values it counts."""

    mean: float
    square: float
    kept: int


def _trimmed(values: FloatArray, trim: float) -> _Trimmed:
    """Leave out a share at either end; for the error they count as the outermost that are left (Yuen 1974)."""
    off = int(trim * values.size)
    ordered = np.sort(values)
    inner = ordered[off : ordered.size - off]
    # The width does not know where the values lie; centred, those that are nearly the same keep their digits.
    drawn_in = np.clip(ordered, inner[0], inner[-1]) - np.median(ordered)
    kept = inner.size
    square = float(((drawn_in - drawn_in.mean()) ** 2).sum()) / (kept - 1) / kept
    return _Trimmed(float(inner.mean()), square, kept)


def _wider(before: FloatArray, after: FloatArray) -> float:
    """How much wider an interval must be because neighbouring flights are alike."""
    left = np.concatenate([before - before.mean(), after - after.mean()])
    # In few flights likeness is hard to see: half its own scatter is given the doubt.
    alike = min(0.9, likeness(left) + 0.5 / np.sqrt(left.size))
    return float(np.sqrt((1.0 + alike) / (1.0 - alike)))


def _more_measured(before: FloatArray, after: FloatArray, room: float) -> int | None:
    """Further flights until the interval's half is within the room there is."""
    spread = float(np.sqrt((before.var(ddof=1) + after.var(ddof=1)) / 2.0)) * _wider(before, after)
    counts = np.arange(after.size + 1, after.size + MOST_FLIGHTS + 1)
    half = student_quantile(0.975, before.size + counts - 2) * spread * np.sqrt(1.0 / before.size + 1.0 / counts)
    enough = np.flatnonzero(half < room)
    return int(counts[enough[0]] - after.size) if enough.size else None


def _of_counts(history: History, before: FloatArray, after: FloatArray) -> Comparison:
    n, m = int(before.size), int(after.size)
    spread = _overdispersion(before, after)
    x, y = float(before.sum()) / spread, float(after.sum()) / spread
    low, high = _ratio_interval(x, n, y, m)
    ratio = (y / m) / (x / n) if x > 0 else float("nan")
    label = say(RemedyCode.RATIO, what=say(history.measure.code))
    if not np.isfinite(ratio):
        change = Figure.unavailable(label, "×", say(RemedyCode.NEVER_BEFORE))
        return _made(history, (before, after), change, HALVED, (Verdict.CANT_TELL, None))
    how = say(RemedyCode.RATES, before=n, after=m)
    change = Figure(label, ratio, "×", Method.ESTIMATED, low, high, how=how, digits=2)
    if high < 1.0:
        verdict: Verdict = Verdict.WORKED
    elif low > HALVED:
        verdict = Verdict.DID_NOT
    else:
        verdict = Verdict.CANT_TELL
    more = None
    if verdict is Verdict.CANT_TELL:
        for further in np.unique(np.geomspace(1, MOST_FLIGHTS, 60).astype(int)).tolist():
            least, most = _ratio_interval(x, n, ratio * x / n * (m + further), m + further)
            if most < 1.0 or least > HALVED:
                more = further
                break
    return _made(history, (before, after), change, HALVED, (verdict, more))


def _overdispersion(before: FloatArray, after: FloatArray) -> float:
    """Variance over mean within the sides, 1 or more: counts of one cause come in clusters."""
    total = float(before.sum() + after.sum())
    if total == 0:
        return 1.0
    left = sum(float(((side - side.mean()) ** 2).sum()) / max(float(side.mean()), 1e-9) for side in (before, after))
    freedom = before.size + after.size - sum(1 for side in (before, after) if side.sum() > 0)
    return max(1.0, left / max(freedom, 1))


def _ratio_interval(x: float, n: int, y: float, m: int) -> tuple[float, float]:
    """95 % interval of the ratio of two Poisson rates, y in m over x in n, given their sum (Clopper, Pearson 1934)."""
    low = beta_quantile(0.025, y, x + 1.0) if y > 0 else 0.0
    high = beta_quantile(0.975, y + 1.0, x) if x > 0 else 1.0
    scale = n / m
    return scale * low / max(1.0 - low, 1e-12), scale * high / max(1.0 - high, 1e-12)
