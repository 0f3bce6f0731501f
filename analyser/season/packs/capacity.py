"""A pack's capacity over its flights: today's, against the label's and against its own first flights'."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Pack
from analyser.core.figures import Z95, Figure, FloatArray, Method, values_of
from analyser.core.findings import Text, say
from analyser.core.statistics.endpoints import LATE, Standing, at_first, at_last
from analyser.core.statistics.trends import FEWEST, robust_trend, widened
from analyser.packs.analysis import PackResult
from analyser.packs.capacity import ABSURD_PERCENT, LEAST_FALL_PERCENT
from analyser.packs.charge import lacked_percent
from analyser.packs.chemistry import aged_curve_se
from analyser.packs.codes import PackCode
from analyser.packs.scale import CHARGER_SE
from analyser.packs.state_of_charge import VOLTAGE_SCALE
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.rest_curve import Point, Told, told_by_curve

MEASURED = SeasonPackCode.ROUTE_MEASURED
PUT_BACK = SeasonPackCode.ROUTE_CHARGER
BY_CURRENT = SeasonPackCode.ROUTE_DISCHARGE
RECENT = 10
"""Among so many last flights the one that tells capacity best stands for today."""
AGEING_PER_FLIGHT = 0.003
"""What a pack may lose a flight, so that a fifth is gone after about seventy (common practice, no source)."""


class CapacityHistory(Struct, frozen=True):
    """Capacity flight by flight by one route, its trend, and how much is left.

    ``first`` is where it began, mAh; ``None`` where no flight tells.
    """

    figures: tuple[Figure, ...]
    route: SeasonPackCode
    trend: Figure
    now_percent: Figure
    against_first_percent: Figure
    first: Standing | None


def capacity_history(pack: Pack, results: Sequence[PackResult], order: FloatArray) -> CapacityHistory:
    """Follow a pack's capacity.

    Parameters
    ----------
    results : sequence of PackResult
        Oldest first; ``order`` numbers them, NaN where a flight's place in time is not known.
    """
    figures, route = _one_route(results)
    values = np.where(np.isfinite(order), values_of(figures), np.nan)
    trend = robust_trend(order, values, "mAh", say(SeasonPackCode.CAPACITY_TREND, pack=pack.name))
    if route == MEASURED:
        first, now = _readings(values)
        enough, curve_se = now is not None and now.flights > 1, 0.0
    else:
        first, now = at_first(values), at_last(order, values, trend)
        enough, curve_se = now is not None and now.flights >= FEWEST, _curve_se(results, values, route)
        if first is not None and now is not None and now.flights > 1:
            # What the aged cell's curve may feign, or hide, between the first flight and the last.
            trend = widened(trend, 2.0 * curve_se * first.value / (now.flights - 1))
    against = _too_few(pack, now)
    own_curve = None if route == MEASURED or now is None else _by_own_curve(pack, results, order)
    if enough and first is not None and now is not None:
        against = _against_first(pack, first, now, curve_se)
        if own_curve is not None and own_curve.over_early is not None:
            label = say(SeasonPackCode.CAPACITY_AGAINST_FIRST, pack=pack.name)
            against = _told(label, own_curve.over_early, own_curve.flights, against)
    over_label = _of_label(pack, figures, order, now, route)
    if own_curve is not None and over_label.value is not None:
        over_label = _told(over_label.label, own_curve.over_label, own_curve.flights, over_label)
    return CapacityHistory(
        figures=figures,
        route=route,
        trend=trend,
        now_percent=over_label,
        against_first_percent=against,
        first=first,
    )


EARLY = 5
"""So many of a pack's first flights that tell capacity show its curve when the log began."""


def _by_own_curve(pack: Pack, results: Sequence[PackResult], order: FloatArray) -> Told | None:
    """What the rest curve of the pack itself tells, over its first flights and its last ones; lithium at 4.2 V only."""
    if pack.rated_mah is None or pack.chemistry not in ("lipo", "li_ion"):
        return None
    known = [
        (place, point)
        for place, result in zip(order.tolist(), results, strict=True)
        if np.isfinite(place) and (point := _point(pack, result)) is not None
    ]
    if not known:
        return None
    last = float(np.nanmax(order))
    early = [p for place, p in known[:EARLY] if place <= last - RECENT / 2]
    late = [p for place, p in known[len(early) :] if place > last - RECENT]
    return told_by_curve(early, late, pack.rated_mah)


def _point(pack: Pack, result: PackResult) -> Point | None:
    """One flight's charge and rest voltages, where it fell deep enough to tell; ``None`` where its data are doubted."""
    used, after, before = result.charge.used_mah, result.voltage.rest_after_v, result.voltage.rest_before_v
    told = result.capacity.by_discharge_mah
    if told.value is None or told.doubts or not used.value or after.value is None or before.value is None:
        return None
    scale = VOLTAGE_SCALE / Z95 * after.value
    own = float(np.sqrt(max((after.half_width / Z95) ** 2 - scale**2, 0.0)))
    return Point(
        given_mah=used.value,
        relative_se=used.relative_se,
        after_v=after.value / pack.cells,
        se_v=own / pack.cells,
        before_v=before.value / pack.cells if lacked_percent(result.state.before_percent) else None,
    )


def _told(label: Text, told: tuple[float, float, float], flights: int, beside: Figure) -> Figure:
    low, value, high = (100.0 * x for x in told)
    how = say(SeasonPackCode.OWN_CURVE, flights=flights)
    return Figure(label, value, "%", Method.ESTIMATED, low=low, high=high, how=how, digits=0).with_doubt(*beside.doubts)


def _one_route(results: Sequence[PackResult]) -> tuple[tuple[Figure, ...], SeasonPackCode]:
    """Every flight's capacity by one route, for two in one trend would be a step.

    A measured one is worth any number of told ones; of the two told from rest voltage, the one most flights have.
    """
    measured = tuple(r.capacity.measured_mah for r in results)
    by_charger = tuple(r.capacity.by_charge_mah for r in results)
    by_current = tuple(r.capacity.by_discharge_mah for r in results)
    known = {id(f): int(np.isfinite(values_of(f)).sum()) for f in (measured, by_charger, by_current)}
    if known[id(measured)]:
        return measured, MEASURED
    return (by_charger, PUT_BACK) if known[id(by_charger)] > known[id(by_current)] else (by_current, BY_CURRENT)


def _readings(values: FloatArray) -> tuple[Standing | None, Standing | None]:
    """The first and the latest measured capacity: each stands for itself."""
    known = values[np.isfinite(values)]
    if known.size == 0:
        return None, None
    first, last = (Standing(float(v), CHARGER_SE * float(v), int(known.size)) for v in (known[0], known[-1]))
    return first, last


def _of_label(
    pack: Pack, figures: Sequence[Figure], order: FloatArray, now: Standing | None, route: SeasonPackCode
) -> Figure:
    """Today's capacity over the label's, by whichever is narrower: all flights' line, or the one that tells it best."""
    label = say(SeasonPackCode.CAPACITY_NOW, pack=pack.name)
    if pack.rated_mah is None:
        return Figure.unavailable(label, "%", say(SeasonPackCode.NO_LABEL))
    if now is None:
        return Figure.unavailable(label, "%", say(SeasonPackCode.NO_CAPACITY, least_percent=LEAST_FALL_PERCENT))
    percent = 100.0 / pack.rated_mah
    options = [o for o in (_by_surest(figures, order, route), _by_line(figures, now, route)) if o is not None]
    surest = min(options, key=lambda f: np.log((f.high or 1.0) / (f.low or 1.0)))
    held = surest.times(
        percent, label, "%", how=say(SeasonPackCode.OVER_RATED, of=surest.how, rated_mah=pack.rated_mah)
    )
    if (held.low or 0.0) > ABSURD_PERCENT:
        why = say(SeasonPackCode.LABEL_WRONG, percent=held.value or 0.0, rated_mah=pack.rated_mah)
        return Figure.unavailable(label, "%", why)
    if (held.value or 0.0) > ABSURD_PERCENT:
        return held.with_doubt(say(PackCode.MORE_THAN_ANY, percent=held.value or 0.0))
    # No pack holds more than that: above it the interval would only repeat how little is known.
    return replace(held, high=min(held.high or ABSURD_PERCENT, ABSURD_PERCENT))


def _by_line(figures: Sequence[Figure], now: Standing, route: SeasonPackCode) -> Figure | None:
    if route == MEASURED:
        return None
    # The rest-voltage curve is off by the same factor in every flight: more flights do not average that away.
    scatter = 2.0 * now.se / now.value
    told, lows, highs = np.array([(f.value, f.low, f.high) for f in figures if f.value and f.low and f.high], float).T
    low = now.value * float(np.exp(-np.hypot(scatter, np.median(np.log(told / lows)))))
    high = now.value * float(np.exp(np.hypot(scatter, np.median(np.log(highs / told)))))
    how = say(SeasonPackCode.LINE, flights=now.flights)
    return Figure(figures[0].label, now.value, "mAh", Method.ESTIMATED, low=low, high=high, how=how, digits=0)


def _by_surest(figures: Sequence[Figure], order: FloatArray, route: SeasonPackCode) -> Figure | None:
    """One deep discharge tells more than many shallow ones: the narrowest of the last flights, and what came after it.

    A measured capacity stands by itself, the latest of them, however long ago. What the pack may have lost since then
    lowers the lower end.
    """
    known = [
        (place, f) for place, f in zip(order.tolist(), figures, strict=True)
        if np.isfinite(place) and f.value and f.low and f.high
    ]  # fmt: skip
    if not known:
        return None
    last = float(np.nanmax(order))
    recent = known[-1:] if route == MEASURED else [x for x in known if x[0] > last - RECENT]
    if not recent:
        return None
    # Shallow discharges are all as unsure: of those the latest, not the one that rounding makes the narrowest.
    place, best = min(recent, key=lambda x: (round(np.log((x[1].high or 1.0) / (x[1].low or 1.0)), 6), -x[0]))
    since = int(last - place)
    value, low = best.value or 0.0, best.low or 0.0
    low = value - float(np.hypot(value - low, AGEING_PER_FLIGHT * since * value))
    code = SeasonPackCode.READING if route == MEASURED else SeasonPackCode.SUREST
    how = say(code, since=since, how=best.how)
    return replace(best, method=Method.ESTIMATED, low=low, how=how)


def _against_first(pack: Pack, first: Standing, now: Standing, curve_se: float) -> Figure:
    """Capacity over its own first flights': a wrong label and the make's own curve drop out of the ratio."""
    ratio = 100.0 * now.value / first.value
    factor = float(np.exp(2.0 * np.linalg.norm([now.se / now.value, first.se / first.value, curve_se])))
    how = say(SeasonPackCode.READING_OVER_FIRST, readings=now.flights)
    if curve_se:
        how = say(SeasonPackCode.LINE_OVER_FIRST, flights=now.flights, first=LATE, curve_percent=200.0 * curve_se)
    label = say(SeasonPackCode.CAPACITY_AGAINST_FIRST, pack=pack.name)
    return Figure(label, ratio, "%", Method.ESTIMATED, low=ratio / factor, high=ratio * factor, how=how, digits=0)


def _too_few(pack: Pack, now: Standing | None) -> Figure:
    why = say(SeasonPackCode.FEW_CAPACITIES, fewest=FEWEST, there=now.flights if now else 0)
    return Figure.unavailable(say(SeasonPackCode.CAPACITY_AGAINST_FIRST, pack=pack.name), "%", why)


def _curve_se(results: Sequence[PackResult], values: FloatArray, route: SeasonPackCode) -> float:
    """What the curve of the aged cell may be off by, after discharges as deep as the last ones that tell capacity."""
    late = np.flatnonzero(np.isfinite(values))[-LATE:]
    given = values_of(
        r.charge.put_back_mah if route == PUT_BACK else r.charge.used_mah for r in (results[k] for k in late)
    )
    return aged_curve_se(100.0 * float(np.median(given / values[late]))) if late.size else 0.0
