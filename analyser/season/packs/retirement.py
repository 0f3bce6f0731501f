"""One quantity beside the owner's limit on it: is it beyond, and in how many flights will it be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Text, say
from analyser.core.levels import COMMON_PRACTICE, Level
from analyser.season.packs.codes import SeasonPackCode

FEWEST_FORECAST = 5
"""Flights below which no forecast is made: with four, even a perfect order has a chance of 2/4! = 8 %."""
NEAR = 0.8
"""Share of the way from a new pack's value to a limit from which a pack is watched."""
SURELY_AGED = 0.2
"""Share of that way that the whole interval must have gone before a middle beyond the limit counts."""


class Limit(Struct, frozen=True, eq=False):
    """A pack's quantity and the owner's rule for it.

    Parameters
    ----------
    of : SeasonPackCode
        What the limit is on; two limits of one thing are two looks at it.
    what : SeasonPackCode
        How a reason begins; its words take ``value`` and ``cell``.
    rule : SeasonPackCode
        How the limit is said; its words take ``limit``.
    now : Figure
        Where the pack stands today, in the rule's unit.
    limit, fresh : float
        The owner's limit and the value of a new pack; the pack leaves by going from the one past the other.
    values : ndarray, shape (flights,)
        One value a flight in order; NaN where a flight does not tell it.
    trend : Figure
        Their robust trend a flight, in their own unit.
    scale : float or None
        The rule's units in one of the values' unit; ``None`` where nobody knows.
    digits : int
        Decimals worth saying.
    shown : float
        By what the rule's unit is multiplied for saying it (1000 for millivolts).
    cell : int
        The cell it is about, nought where it is about none.
    """

    of: SeasonPackCode
    what: SeasonPackCode
    rule: SeasonPackCode
    now: Figure
    limit: float
    fresh: float
    values: FloatArray
    trend: Figure
    scale: float | None
    digits: int = 0
    shown: float = 1.0
    cell: int = 0

    @property
    def side(self) -> float:
        """+1 where the limit is passed by rising, −1 by falling."""
        return 1.0 if self.limit > self.fresh else -1.0

    @property
    def forecastable(self) -> bool:
        """Whether enough flights tell it."""
        return int(np.isfinite(self.values).sum()) >= FEWEST_FORECAST

    def reason(self) -> tuple[Level, Text] | None:
        """Set the whole interval beside the limit: act only where all of it lies beyond.

        Watch where its middle does and it has surely aged, or where all of it lies short of the limit and near. An
        interval on both sides of the limit that says no more than that is no reason: it leaves the pack open.
        """
        if self.now.value is None:
            return None
        low, value, high = _ends(self.now)
        surest = low if self.side > 0 else high
        near = self.fresh + NEAR * (self.limit - self.fresh)
        if self._past(surest, self.limit):
            return COMMON_PRACTICE.matter("pack_beyond"), self._finding(SeasonPackCode.BEYOND)
        # Beyond by its middle alone, a pack that may as well be new is not told: that is "can't tell yet".
        if self._past(value, self.limit) and self._past(surest, self.fresh + SURELY_AGED * (self.limit - self.fresh)):
            return COMMON_PRACTICE.matter("pack_perhaps_beyond"), self._finding(SeasonPackCode.PERHAPS_BEYOND)
        if self.settled and self._past(value, near) and self._past(surest, self.fresh):
            return COMMON_PRACTICE.matter("pack_near"), self._finding(SeasonPackCode.NEAR)
        return None

    @property
    def settled(self) -> bool:
        """Whether the whole interval lies on the good side of the limit."""
        if self.now.value is None:
            return False
        low, value, high = _ends(self.now)
        return not any(self._past(x, self.limit) for x in (low, value, high))

    def unsettled(self) -> Text:
        """What is known of it, where that does not settle it."""
        if self.now.value is None:
            return say(SeasonPackCode.UNKNOWN, of=say(self.of), missing=self.now.missing)
        return self._finding(SeasonPackCode.OPEN)

    def _finding(self, code: SeasonPackCode) -> Text:
        low, value, high = (self.shown * x for x in _ends(self.now))
        return say(
            code, what=say(self.what, value=value, cell=self.cell), rule=say(self.rule, limit=self.shown * self.limit),
            above=self.side > 0, low=low, high=high, digits=self.digits,
        )  # fmt: skip

    def _past(self, value: float, mark: float) -> bool:
        return self.side * (value - mark) > 0

    def flights_to_go(self) -> tuple[float, float, float] | None:
        """Flights until the limit at the robust trend: best, least, most; ``None`` where no trend leads there."""
        if not self.forecastable or self.now.value is None or self.trend.value is None or not self.scale:
            return None
        least, best, most = sorted(self.side * (self.limit - x) for x in _ends(self.now))
        slow, slope, fast = sorted(self.side * self.scale * x for x in _ends(self.trend))
        if most <= 0:
            return 0.0, 0.0, 0.0
        if slow <= 0:
            return None  # a trend whose interval includes "no trend" forecasts nothing
        return max(best, 0.0) / slope, max(least, 0.0) / fast, most / slow


def _ends(figure: Figure) -> tuple[float, float, float]:
    """Low end, value and high end; the value thrice where there is no interval."""
    value = figure.value or 0.0
    return (value if figure.low is None else figure.low, value, value if figure.high is None else figure.high)


def flights_to_retirement(pack: str, limits: Sequence[Limit]) -> Figure:
    """Flights until the first of the owner's limits, at the robust trends; the ends follow the trends' ends.

    Whichever limit is met first ends the pack, so that the least of all limits' least flights, and the least of their
    most, are the ends.
    """
    label = say(SeasonPackCode.TO_RETIREMENT, pack=pack)
    options = [(*to_go, one.of) for one in limits if (to_go := one.flights_to_go()) is not None]
    if not options:
        why = say(SeasonPackCode.NO_TREND)
        if not any(one.forecastable for one in limits):
            why = say(SeasonPackCode.FEW_FLIGHTS, fewest=FEWEST_FORECAST)
        return Figure.unavailable(label, "flights", why)
    value, _, _, which = min(options)
    low, high = min(o[1] for o in options), min(o[2] for o in options)
    how = say(SeasonPackCode.TREND_TO_LIMIT if high > 0 else SeasonPackCode.ALREADY_BEYOND, of=say(which))
    return Figure(label, value, "flights", Method.ESTIMATED, low=low, high=high, how=how, digits=0)
