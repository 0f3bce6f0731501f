"""Steps nobody noted: a figure that shifted from one flight on, when that was, and by how much.

Of up to 40 flights the search is that of :func:`analyser.core.statistics.trends.find_step`, whose chance levels come
from random orders and from unchanged sequences that are alike from one flight to the next. Of more flights it is the
largest standardised sum of normal scores (a rank statistic: any distribution), with the tail of Miller and Siegmund
(1982), reduced by what neighbouring flights have in common. It costs n log n in all.

The date's interval holds every flight at which a step would fit hardly worse: the likelihood-ratio set of Eo and Morley
(2015) with the distribution of Yao (1987), P(LR ≤ x) = (1 − e^(−x/2))².
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import ndimage

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, Part, say
from analyser.core.statistics.distributions import normal_quantile, ranks
from analyser.core.statistics.trends import find_step
from analyser.programme.codes import StepCode
from analyser.programme.histories import History, likeness, neighbours_alike
from analyser.programme.remedies import shift

FOLLOWED = (
    "tank.burn_rate_by_sensor", "tank.scale", "flight.imbalance",
    "engine.start_time", "engine.start_egt", "engine.idle_speed", "engine.idle_spread", "engine.full_speed_spread",
    "engine.highest_egt", "engine.charge_per_start",
    "pack.resistance", "pack.lead_resistance", "pack.charge_rate", "pack.cell_spread", "pack.bus_share",
    "antenna.level", "antenna.missed_packets_rate", "receiver.missed_frames_rate",
)  # fmt: skip
"""Figures that tell how a thing is, not how it was flown: steps are looked for in these."""
FALSE_STEPS = 0.1
"""Chance that a review of an aircraft of which nothing changed shows a step, however many figures it looks at."""
FINEST = 0.001
"""The smallest chance that a short history can tell."""
FEWEST_SIDE = 4
FEWEST = 3 * FEWEST_SIDE
"""Flights below which no step is looked for."""
SHORT = 40
"""Flights up to which the search asks random orders."""
SCALE = float(np.sqrt(2.0))
SHORTEST = 2 * FEWEST
"""Flights in the shortest stretch that is looked at by itself."""
LOCATION = -2.0 * float(np.log(1.0 - np.sqrt(0.95)))
"""7.35: the likelihood ratio that 95 % of true dates keep below."""


class StepFound(Struct, frozen=True):
    """One step of one figure.

    Parameters
    ----------
    key : (str, str)
        Figure and what it is of; ``part`` is where it sits.
    flight_id, number, day :
        The first flight at the new level.
    first, last : int
        Numbers of the earliest and the latest flight that may have been the first (95 %).
    size : Figure
        New level less old, at 95 %.
    was, now : float
        Medians of the stretch before and of that after, in the figure's unit.
    chance : float
        How often as clear a step is found in an unchanged history.
    sentence : Finding
    """

    key: tuple[str, str]
    part: str
    flight_id: str
    number: int
    day: date | None
    first: int
    last: int
    size: Figure
    was: float
    now: float
    chance: float
    sentence: Finding


def find_steps(past: Mapping[tuple[str, str], History], followed: Iterable[str] = FOLLOWED) -> tuple[StepFound, ...]:
    """Find the steps in one aircraft's figures, the latest first.

    Parameters
    ----------
    past : mapping
        From :func:`analyser.programme.histories.histories`.
    followed : iterable of str
        Ids of figures to look at.

    Returns
    -------
    tuple of StepFound
        Every step whose chance, times the number of histories that were looked at, is below :data:`FALSE_STEPS`
        (Bonferroni); where histories are so many that no short one could tell that, below :data:`FINEST`.
    """
    wanted = set(followed)
    looked = [h.newest() for h in past.values() if h.measure.id in wanted and len(h) >= FEWEST]
    level = max(FALSE_STEPS / max(len(looked), 1), FINEST)
    found = [step for history in looked for step in steps_in(history, level)]
    return tuple(sorted(found, key=lambda s: (-s.number, s.key)))


def steps_in(history: History, level: float) -> list[StepFound]:
    """Find every step of one history whose chance is at most ``level``; both sides of a step are looked at again."""
    stretches, cuts = [(0, len(history))], []
    while stretches:
        start, end = stretches.pop()
        found = clearest(history.values[start:end])
        if found is None or found[1] > level:
            continue
        at, chance = start + found[0], found[1]
        cuts.append((at, chance))
        stretches += [(start, at), (at, end)]
    cuts.sort()
    edges = [0, *(at for at, _ in cuts), len(history)]
    for k in range(1, len(edges) - 1):  # a rank statistic finds a step; least squares between its neighbours date it
        start, end = edges[k - 1], edges[k + 1]
        edges[k] = start + _best_split(_calmed(history.values[start:end]))
    return [_told(history, at, chance, edges) for at, (_, chance) in zip(edges[1:-1], cuts, strict=True)]


def clearest(values: FloatArray) -> tuple[int, float] | None:
    """Find the clearest step in a history that may hold several; what goes up and comes down hides from one split.

    Besides the whole, stretches of it are asked (seeded binary segmentation, Kovács et al. 2023): each scale a fraction
    of the one before, overlapping by half, n log n flights in all. The whole and all stretches together have half the
    chance each (Bonferroni).

    Returns
    -------
    (int, float) or None
        As :func:`strongest`.
    """
    whole = strongest(values)
    stretches = seeds(values.size)
    if whole is None or not stretches:
        return whole
    best = (whole[0], 2.0 * whole[1])
    scores = _scores(values)
    for start, end in stretches:
        # Ranks of the whole history serve in every stretch: unchanged flights could have come in any order.
        at, strength = _largest(scores[start:end])
        if 2.0 * len(stretches) * _tail(strength, FEWEST_SIDE / (end - start)) < best[1]:
            chance = 2.0 * len(stretches) * _reduced(values[start:end], at, strength)
            best = min(best, (start + at, chance), key=lambda found: found[1])
    return best[0], min(best[1], 1.0)


def seeds(n: int) -> list[tuple[int, int]]:
    """Stretches in which a step is looked for besides the whole of ``n`` flights, as (first, one past last)."""
    out = []
    length = n / SCALE
    while length >= SHORTEST:
        count = 2 * math.ceil(n / length) - 1
        starts = np.linspace(0.0, n - length, count)
        out += [(math.floor(a), min(math.ceil(a + length), n)) for a in starts.tolist()]
        length /= SCALE
    return out


def strongest(values: FloatArray) -> tuple[int, float] | None:
    """Find the split that shows a step best, and how often an unchanged history shows one as clear.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One a flight, oldest first.

    Returns
    -------
    (int, float) or None
        Position of the first value after it, and the chance; ``None`` from fewer than :data:`FEWEST` values, or where
        all are the same.
    """
    n = values.size
    if n < FEWEST or np.ptp(values) == 0:
        return None
    at, strength = _largest(_scores(values))
    if n > SHORT:
        return at, _reduced(values, at, strength)
    # An unchanged history reaches this strength every other time: no need to ask random orders.
    if _tail(strength, FEWEST_SIDE / n) > 0.5:
        return at, 0.5
    step = find_step(values, fewest=FEWEST_SIDE)
    return None if step is None else (step.index, step.p_value)


def _reduced(values: FloatArray, at: int, strength: float) -> float:
    """Chance of a strength, reduced by what neighbouring flights have in common."""
    # Further steps make a history look alike from flight to flight: differences of neighbours do not see them.
    alike = min(likeness(values - _sides(values, at)), neighbours_alike(values))
    return _tail(strength * float(np.sqrt((1.0 - alike) / (1.0 + alike))), FEWEST_SIDE / values.size)


def _scores(values: FloatArray) -> FloatArray:
    """Normal scores of the ranks (Blom 1958), shape of ``values``."""
    n = values.size
    return np.asarray(normal_quantile((ranks(values) - 0.375) / (n + 0.25)), float)


def _largest(scores: FloatArray) -> tuple[int, float]:
    """Where the standardised sum of scores is largest, and how large it is there."""
    n = scores.size
    centred = scores - scores.mean()
    square = float(centred @ centred)
    if square <= 0:
        return n // 2, 0.0
    strength = np.abs(np.cumsum(centred)[FEWEST_SIDE - 1 : n - FEWEST_SIDE]) * _steadier(n)
    best = int(strength.argmax())
    return FEWEST_SIDE + best, float(strength[best]) / math.sqrt(square)


@lru_cache(maxsize=1024)
def _steadier(n: int) -> FloatArray:
    """One over the standard deviation of each split's sum where the squares of all add up to one, shape (splits,)."""
    k = np.arange(FEWEST_SIDE, n - FEWEST_SIDE + 1)
    return np.asarray(1.0 / np.sqrt(k * (n - k) / (n * (n - 1.0))), float)


def _tail(strength: float, edge: float) -> float:
    """Chance that the largest standardised sum passes this (Miller, Siegmund 1982); ``edge`` of it left out per end."""
    c = max(strength, 1e-9)
    density = math.exp(-c * c / 2.0) / math.sqrt(2.0 * math.pi)
    inside = 2.0 * math.log((1.0 - edge) / edge)
    return float(min(1.0, density * max(c - 1.0 / c, 0.0) * inside + 4.0 * density / c)) if c > 1.0 else 1.0


def _sides(values: FloatArray, at: int) -> FloatArray:
    """Level of each stretch, shape of ``values``."""
    return np.asarray(np.where(np.arange(values.size) < at, values[:at].mean(), values[at:].mean()), float)


def date_interval(values: FloatArray, at: int) -> tuple[int, int]:
    """Find the earliest and the latest position that may be the first of the new level (95 %).

    Parameters
    ----------
    values : ndarray, shape (n,)
        A stretch with one step.
    at : int
        Where it is.
    """
    calm, n = _calmed(values), values.size
    k, left, square = _splits(calm)
    residual = calm - _sides(calm, at)
    alike = likeness(residual)
    spread = max(float(residual @ residual) / max(n - 2, 1), 1e-18 * square + 1e-300)
    worse = (left - left[at - 1]) / (spread * (1.0 + alike) / (1.0 - alike))
    near = k[worse <= LOCATION * (1.0 + 4.0 / n)]
    return int(min(near.min(initial=at), at)), int(max(near.max(initial=at), at))


def _calmed(values: FloatArray) -> FloatArray:
    """The same with lone odd flights drawn in towards their neighbours: one would count for a step of its own."""
    middle = ndimage.median_filter(values, size=3, mode="nearest")
    off = values - middle
    usual = max(float(np.median(np.abs(off))), float(np.abs(off).mean()))
    return np.asarray(middle + np.clip(off, -4.0 * usual, 4.0 * usual), float)


def _splits(values: FloatArray) -> tuple[npt.NDArray[np.intp], FloatArray, float]:
    """Every split, the squares left about the means of its two sides, and the squares about the mean of all."""
    n = values.size
    k = np.arange(1, n)
    centred = values - values.mean()
    square = float(centred @ centred)
    return k, square - np.cumsum(centred)[:-1] ** 2 * (1.0 / k + 1.0 / (n - k)), square


def _best_split(values: FloatArray) -> int:
    """Where a stretch with one step is split best, by least squares."""
    k, left, _ = _splits(values)
    edge = min(FEWEST_SIDE, values.size // 2)
    inside = slice(edge - 1, k.size - edge + 1)
    return int(k[inside][left[inside].argmin()])


def _told(history: History, at: int, chance: float, edges: list[int]) -> StepFound:
    here = edges.index(at)
    start, end = edges[here - 1], edges[here + 1]
    before, after = history.values[start:at], history.values[at:end]
    change, half = shift(before, after)
    what = say(history.measure.code)
    size = Figure.within(
        say(StepCode.SIZE, what=what), change, half, history.unit,
        how=say(StepCode.HOW, before=int(before.size), after=int(after.size)), digits=history.measure.digits,
    )  # fmt: skip
    first, last = (start + i for i in date_interval(history.values[start:end], at - start))
    was, now = float(np.median(before)), float(np.median(after))
    flights = [int(history.numbers[i]) for i in (first, at, last)]
    said = say(
        StepCode.CHANGED, what=what, part=Part(history.part) if history.part else "", was=_level(history, was),
        now=_level(history, now), flight=flights[1], first=flights[0], last=flights[2],
    )  # fmt: skip
    return StepFound(
        history.key, history.part, history.flight_ids[at], flights[1], history.days[at], flights[0], flights[2], size,
        was, now, chance, said,
    )  # fmt: skip


def _level(history: History, value: float) -> Figure:
    return Figure(say(history.measure.code), value, history.unit, Method.ESTIMATED, digits=history.measure.digits)
