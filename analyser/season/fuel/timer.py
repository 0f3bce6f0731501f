"""How long may the timer be: the odds that a flight of a given length lands above the reserve.

Each flight gives its burn per minute airborne and what it used on the ground before lift-off. A next flight of ``m``
minutes needs ``ground + m · rate``; :mod:`analyser.season.fuel.odds` foretells that need from the past flights' own,
and the odds are the chance that it stays below what is on board less the reserve. Working per flight on the whole need
keeps what ground and air have in common. How well the sensor's scale is known, and how well a filling repeats, are
errors that all flights share.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Text, say
from analyser.fuel.scale import FILLING_SE
from analyser.season.fuel.codes import SeasonFuelCode
from analyser.season.fuel.odds import REMEMBERED, Forecast, forecast

FEWEST = 3
PROMISE = 0.95
RARE = 1e-3
"""Odds nearer to none or to all than this are not told apart (the model's tails are not known any better)."""


class PastFlights(Struct, frozen=True, eq=False):
    """What past flights of one tank burned, all of shape (n,), oldest first.

    ``rate_ml_per_min`` in flight, ``ground_ml`` before lift-off, ``minutes`` airborne, and ``days``: flights of one day
    share a number. ``shared_se`` is the relative standard error of the sensor's scale, which all share.
    """

    rate_ml_per_min: FloatArray
    ground_ml: FloatArray
    minutes: FloatArray
    days: npt.NDArray[np.intp]
    shared_se: float = 0.0

    def known(self) -> PastFlights:
        """The last of them that have a burn, at most as many as the odds remember."""
        rate, ground = np.asarray(self.rate_ml_per_min, float), np.asarray(self.ground_ml, float)
        good = np.flatnonzero(np.isfinite(rate) & np.isfinite(ground) & (rate > 0) & (ground >= 0))[-REMEMBERED:]
        return PastFlights(rate[good], ground[good], self.minutes[good], self.days[good], self.shared_se)


class TimerCurve(Struct, frozen=True, eq=False):
    """Flight time against the odds of keeping the reserve, from this aircraft's own flights.

    Parameters
    ----------
    tank : str
        The tank that it is about: of all tanks, the first to reach its reserve.
    minutes, odds : ndarray, shape (n,)
        Airborne times and the probability, 0 … 1, that the reserve is kept.
    advised, even : Figure
        The longest airborne time that keeps the reserve with the promised odds, and the one with even odds.
    longest_flown : Figure
        The longest flight that the odds rest on; ``beyond`` is true where the advised time is longer.
    start : Figure
        The volume at start that all of it holds for; ``per_100_ml`` what more or less of it changes.
    flights : int
        How many flights the odds rest on.
    verdict : Text
        What there is to say.
    """

    tank: str
    minutes: FloatArray
    odds: FloatArray
    advised: Figure
    even: Figure
    longest_flown: Figure
    start: Figure
    per_100_ml: Figure
    flights: int
    beyond: bool
    verdict: Text


class TimerTable(Struct, frozen=True, eq=False):
    """Odds of keeping one tank's reserve by time flown and volume at start, for a page that answers by itself.

    Parameters
    ----------
    tank : str
    minutes : ndarray, shape (m,)
        Airborne times, min.
    start_ml : ndarray, shape (v,)
        Volumes at start, mL.
    odds : ndarray, shape (v, m)
        Probabilities, 0 … 1; they fall along minutes and rise along volumes.
    usual_ml, reserve_ml : float
        The usual volume at start, and what must be left at landing.
    """

    tank: str
    minutes: FloatArray
    start_ml: FloatArray
    odds: FloatArray
    usual_ml: float
    reserve_ml: float


def odds_of_keeping(minutes: FloatArray, past: PastFlights, usable_ml: float, *, filling_se: float = 0.0) -> FloatArray:
    """Probability that a flight of each length needs no more than ``usable_ml`` (start less reserve).

    Parameters
    ----------
    minutes : ndarray, shape (m,)
        Airborne times asked about, min.
    past : PastFlights
        At least two, all with values.
    usable_ml : float
        Volume at start less what must be left at landing.
    filling_se : float
        Standard error of the volume at start over ``usable_ml``.

    Returns
    -------
    ndarray, shape (m,)
        Predictive probabilities, falling with time.
    """
    if usable_ml <= 0.0:
        return np.zeros(np.shape(minutes))
    model = _model(past, usable_ml)
    return _odds(model, _means(model, past, np.asarray(minutes, float)), past, usable_ml, filling_se)


def _model(past: PastFlights, usable_ml: float) -> Forecast:
    """The forecast of the need of a flight of about the usual length."""
    usual = max((usable_ml - float(past.ground_ml.mean())) / float(past.rate_ml_per_min.mean()), 0.1)
    need = np.log(past.ground_ml + 0.85 * usual * past.rate_ml_per_min)
    return _forecast(need.tobytes(), np.asarray(past.days, np.intp).tobytes())


@lru_cache(maxsize=8)
def _forecast(log_need: bytes, days: bytes) -> Forecast:
    """The same model serves a tank's curve and its table."""
    return forecast(np.frombuffer(log_need), np.frombuffer(days, np.intp))


def _means(model: Forecast, past: PastFlights, at: FloatArray) -> FloatArray:
    need = past.ground_ml[:, None] + past.rate_ml_per_min[:, None] * at[None, :]
    return model.means(np.log(np.maximum(need, 1e-6)))


def _odds(model: Forecast, means: FloatArray, past: PastFlights, usable_ml: float, filling_se: float) -> FloatArray:
    odds = model.chance_below(means, float(np.log(usable_ml)), float(np.hypot(past.shared_se, filling_se)))
    return np.minimum.accumulate(odds)


def timer_table(
    past: PastFlights, start: Figure, reserve_ml: float, tank: str, *, most_ml: float | None = None
) -> TimerTable | None:
    """Tabulate one tank's odds over time flown and volume at start; ``None`` where :func:`timer_curve` has none.

    The model of the past flights is made once, at the usual volume; only the limit moves with the volume.

    Parameters
    ----------
    most_ml : float or None
        The largest volume asked about, the tank's capacity; a quarter above the usual one where it is not known.
    """
    past = past.known()
    if past.rate_ml_per_min.size < FEWEST or start.value is None or start.value <= reserve_ml:
        return None
    usual = start.value
    volumes = np.linspace(reserve_ml, max(most_ml or 0.0, 1.05 * usual if most_ml else 1.25 * usual), 25)
    volumes = np.unique(np.append(volumes, usual))  # exact where it is asked most
    rate, ground = float(past.rate_ml_per_min.mean()), float(past.ground_ml.mean())
    minutes = np.linspace(0.0, max(1.5 * (float(volumes[-1]) - reserve_ml - ground) / rate, 1.0), 61)
    model = _model(past, usual - reserve_ml)
    means = _means(model, past, minutes)
    odds = [
        _odds(model, means, past, float(v) - reserve_ml, FILLING_SE * float(v) / (float(v) - reserve_ml))
        for v in volumes[1:]
    ]
    table = np.array([np.zeros(minutes.size), *odds])
    return TimerTable(tank, minutes, volumes, table, usual, reserve_ml=reserve_ml)


def timer_curve(
    past: PastFlights, start: Figure, reserve_ml: float, tank: str, *, promise: float = PROMISE
) -> TimerCurve | None:
    """Odds curve for one tank filled to ``start``; ``None`` with fewer than three flights or no start."""
    past = past.known()
    n = int(past.rate_ml_per_min.size)
    if n < FEWEST or start.value is None:
        return None
    usable = start.value - reserve_ml
    rate, ground = float(past.rate_ml_per_min.mean()), float(past.ground_ml.mean())
    minutes = np.linspace(0.0, max(1.5 * (usable - ground) / rate, 1.0), 121)
    odds = odds_of_keeping(minutes, past, usable, filling_se=FILLING_SE * start.value / max(usable, 1.0))
    keeps = bool(odds[0] >= promise)
    advised_min = float(np.interp(-promise, -odds, minutes)) if keeps else 0.0
    flown = past.minutes[np.isfinite(past.minutes)]
    longest_min = float(flown.max()) if flown.size else 0.0
    beyond = advised_min > longest_min
    how = say(SeasonFuelCode.FORECAST, n=n, tank=tank, start=start, how=start.how)
    advised = Figure(
        say(SeasonFuelCode.ADVISED, percent=100.0 * promise), advised_min, "min", Method.ESTIMATED, how=how
    )  # fmt: skip
    label = say(SeasonFuelCode.EVEN_ODDS)
    even = (
        Figure(label, float(np.interp(-0.5, -odds, minutes)), "min", Method.ESTIMATED, how=how)
        if odds[0] >= 0.5
        else Figure.unavailable(label, "min", say(SeasonFuelCode.NEVER_EVEN))
    )
    longest = Figure(
        say(SeasonFuelCode.LONGEST), longest_min, "min", Method.INTEGRATED, how=say(SeasonFuelCode.LONGEST_HOW, n=n)
    )  # fmt: skip
    per_100 = Figure(
        say(SeasonFuelCode.PER_100_ML), 100.0 / rate, "min", Method.ESTIMATED, how=say(SeasonFuelCode.MEAN_RATE)
    )  # fmt: skip
    verdict = say(
        SeasonFuelCode.TIMER if keeps else SeasonFuelCode.TIMER_NONE, n=n, advised=advised, even=even, tank=tank,
        reserve=reserve_ml, percent=100.0 * promise, start=start, how=start.how, beyond=beyond, longest=longest,
        few=n < 8,
    )  # fmt: skip
    return TimerCurve(
        tank,
        minutes,
        odds,
        advised,
        even,
        longest_flown=longest,
        start=start,
        per_100_ml=per_100,
        flights=n,
        beyond=beyond,
        verdict=verdict,
    )


def first_to_reserve(curves: Sequence[TimerCurve]) -> TimerCurve:
    """Of several tanks' curves the one whose advised time is shortest; even odds decide between equals."""
    return min(curves, key=lambda c: (c.advised.value or 0.0, c.even.value or 0.0))
