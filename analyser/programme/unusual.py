"""A flight beside the aircraft's own flights: what is unlike them though no limit was passed.

Each figure is held against the median and the scatter of the same figure in earlier flights. A flight has hundreds of
figures, so each must be so unlikely that all of them together cry wolf in one unremarkable flight of ten at most.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, Part, say
from analyser.core.statistics.control import moving_sd
from analyser.core.statistics.distributions import student_beyond, student_quantile
from analyser.core.statistics.robust import NORMAL_MAD
from analyser.programme.codes import UnusualCode
from analyser.programme.histories import History

FEWEST = 12
"""Earlier flights below which nothing is called unusual."""
RECENT = 60
"""So many of the last earlier flights are what is usual: an older aircraft is another aircraft."""
PER_FLIGHT = 0.1
"""Chance that an unremarkable flight is told as unusual in some figure."""
EFFICIENCY = 0.37
"""Of the median absolute deviation beside the standard deviation: what few flights are worth (Huber 1981, 5.1)."""
HEAVIEST = 8.0
"""Degrees of freedom at most: figures of flights have heavier tails than a normal distribution."""


class Unusual(Struct, frozen=True):
    """One figure of one flight that is unlike the aircraft's earlier flights.

    ``usual`` is what was to be expected, with the interval that 95 % of such flights keep to; ``odds`` the chance of as
    odd a figure, once all figures of the flight are paid for.
    """

    key: tuple[str, str]
    part: str
    value: Figure
    usual: Figure
    odds: float
    earlier: int
    sentence: Finding


class Likeness(Struct, frozen=True):
    """What is unusual in one flight, oddest first, and of how many figures that could be judged.

    ``waiting`` figures cannot be judged yet; in ``more`` flights the first of them can.
    """

    unusual: tuple[Unusual, ...]
    judged: int
    waiting: int
    more: int


def usual_of(history: History) -> Figure | None:
    """What a figure usually is, with the interval that 95 % of flights keep to; ``None`` from too few flights."""
    past = history.values[-RECENT:]
    if past.size < FEWEST:
        return None
    middle, spread, freedom = _usual(past, counts=history.counts)
    half = float(student_quantile(0.975, freedom)) * spread
    ends = [float(_back(x, history.counts)) for x in (middle - half, middle, middle + half)]
    if history.unit == "mΩ":  # a pack that ages fast spreads far, but never below nought
        ends[0] = max(ends[0], 0.0)
    return Figure(
        say(UnusualCode.USUAL, what=say(history.measure.code)), ends[1], history.unit, Method.ESTIMATED, ends[0],
        ends[2], how=say(UnusualCode.HOW, earlier=int(past.size)), digits=history.measure.digits,
    )  # fmt: skip


def unlike(flight_id: str, past: Mapping[tuple[str, str], History]) -> Likeness:
    """Hold one flight against the aircraft's earlier flights.

    Parameters
    ----------
    flight_id : str
    past : mapping
        Histories of the aircraft, from :func:`analyser.programme.histories.histories`; later flights are left out.

    Returns
    -------
    Likeness
        Figures whose two-sided chance, times the number of figures that could be judged (Bonferroni), is below
        :data:`PER_FLIGHT`.
    """
    found: list[tuple[float, History, int, FloatArray]] = []
    waiting, fewest = 0, FEWEST
    for history in past.values():
        if flight_id not in history.flight_ids:
            continue
        at = history.flight_ids.index(flight_id)
        earlier = history.values[max(at - RECENT, 0) : at]
        if earlier.size < FEWEST:
            waiting += 1
            fewest = min(fewest, FEWEST - int(earlier.size))
            continue
        found.append((_chance(history.values[at], earlier, counts=history.counts), history, at, earlier))
    out = [
        _told(history, at, earlier, odds)
        for chance, history, at, earlier in sorted(found, key=lambda f: f[0])
        if (odds := chance * len(found)) < PER_FLIGHT
    ]
    return Likeness(tuple(out), len(found), waiting, fewest if waiting else 0)


def _chance(value: float, earlier: FloatArray, *, counts: bool) -> float:
    middle, spread, freedom = _usual(earlier, counts=counts)
    off = float(_forth(np.array([value]), counts)[0]) - middle
    return student_beyond(off / spread, freedom) if spread > 0 else float(off == 0)


def _usual(earlier: FloatArray, *, counts: bool) -> tuple[float, float, float]:
    """Median, standard deviation of one more flight about it, degrees of freedom; on the scale of :func:`_forth`."""
    values = _forth(earlier, counts)
    middle = float(np.median(values))
    spread = float(np.median(np.abs(values - middle))) / NORMAL_MAD
    # A sensor that moves in steps shows no deviation at all in most flights: then all of them are asked.
    spread = max(spread, moving_sd(values), float(np.std(values)) if spread == 0 else 0.0)
    if counts:
        spread = max(spread, 1.0)  # a count scatters by one on this scale though nothing is the matter
    freedom = min(max(EFFICIENCY * (values.size - 1), 3.0), HEAVIEST)
    return middle, spread * float(np.sqrt(1.0 + np.pi / (2.0 * values.size))), freedom


def _forth(values: FloatArray, counts: bool) -> FloatArray:
    """Counts on the scale on which they scatter alike, however many (Anscombe 1948)."""
    return 2.0 * np.sqrt(np.maximum(values, 0.0) + 0.375) if counts else values


def _back(value: float, counts: bool) -> float:
    return max((max(value, 0.0) / 2.0) ** 2 - 0.375, 0.0) if counts else value


def _told(history: History, at: int, earlier: FloatArray, odds: float) -> Unusual:
    usual = usual_of(history.before(history.flight_ids[at]))
    assert usual is not None
    value = Figure(
        say(history.measure.code), float(history.values[at]), history.unit, Method.ESTIMATED,
        digits=history.measure.digits,
    )  # fmt: skip
    part = Part(history.part) if history.part else ""
    said = say(
        UnusualCode.UNLIKE, what=say(history.measure.code), part=part, value=value, usual=usual,
        more=value.value is not None and usual.value is not None and value.value > usual.value,
        earlier=int(earlier.size),
    )  # fmt: skip
    return Unusual(history.key, history.part, value, usual, odds, int(earlier.size), said)
