"""A unit no heading says, settled by the other columns: what a speed must read to make the way that was flown.

Only a physical law with no free constant settles a unit: way and speed, height and pressure, height and climb, a total
and its rate. The values must follow the law closely and fit one unit alone; else it stays asked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec.structs import replace

from analyser.core.channels import parse
from analyser.core.findings import Text
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty, units
from importers.meaning.columns import label
from importers.model import ColumnPlan, Question
from importers.relations.courses import correlation
from importers.relations.motion import hypsometric_m, steps_m
from importers.relations.opinion import FloatArray

_LONGEST_S = 2.0
"""Steps between places: longer ones cut the corners of a turn, shorter ones are mostly noise."""
_NEAR = math.log(1.08)
"""How close the values must come to the unit: what is left over is noise, lag, turns and wind."""
_CLEARER = 2.0
"""So many times farther every other unit must be: knots and miles an hour lie 15 % apart."""
_WAY_M, _CLIMB_M, _BURNT_ML = 500.0, 25.0, 200.0
"""Less way, height or fuel than this is within the noise of receivers and sensors: common practice, no source."""
_SPEAK = frozenset(
    {"latitude_deg", "longitude_deg", "ground_speed_m_s", "altitude_m", "height_m", "pressure_altitude_m",
     "pressure_pa", "used_ml", "remaining_ml", "flow_ml_per_min", "vario_m_s"}
)  # fmt: skip
_LIKE, _FOLLOWS = 0.95, 0.8
"""Least correlation of two heights, and of what a rate makes in a while with what it made."""
_STEPS = 40
"""So many whiles of a flight tell whether a total grows as its rate says."""


def speaks(channel: str) -> bool:
    """Whether a channel's values can settle a unit, or have theirs settled."""
    known = parse(channel)
    return known is not None and known.channel.quantity in _SPEAK


def settled(
    proposed: Sequence[ColumnPlan], values: Mapping[int, FloatArray], seconds: FloatArray | None,
    questions: list[Question],
) -> list[ColumnPlan]:  # fmt: skip
    """Settle open units by other columns, and take their questions back.

    Parameters
    ----------
    values : mapping of int to array
        By place among the proposals: what is written in consecutive rows, the same rows for all, NaN where empty.
    seconds : array, s, or None
        When these rows were taken, where that is known.

    Returns
    -------
    list of ColumnPlan
        The proposals; ``questions`` loses those that are answered.
    """
    asked = {q.columns[0]: q for q in questions if q.key.startswith("unit.") and len(q.columns) == 1}
    known: dict[str, FloatArray] = {}
    for i, column in enumerate(proposed):
        sure = column.heading not in asked and not column.evidence.get("contradicted")
        if i in values and sure and parse(column.channel):
            factor = column.factor
            made = values[i] * (factor.num.numerator / factor.num.denominator) + float(factor.offset)
            known.setdefault(column.channel, made)
    out = list(proposed)
    for i, column in enumerate(proposed):
        question = asked.get(column.heading)
        if question is None or i not in values or column.settled or not parse(column.channel):
            continue
        for other, ratio in _ratios(column.channel, values[i], known, seconds):
            if unit := _one_unit(column.channel, question.answers, ratio):
                out[i] = _with_unit(column, unit, other)
                questions.remove(question)
                break
    return out


def _ratios(
    channel: str, raw: FloatArray, known: Mapping[str, FloatArray], seconds: FloatArray | None
) -> Iterator[tuple[str, float]]:
    """Witnesses of a column, and how many times the channel's own unit its values are by each."""
    subject, _, quantity = channel.rpartition(".")
    if quantity == "ground_speed_m_s" and seconds is not None:
        lat, lon = known.get("position.latitude_deg"), known.get("position.longitude_deg")
        if lat is not None and lon is not None and (ratio := _by_way(raw, lat, lon, seconds)):
            yield "position.latitude_deg", ratio
    if quantity in ("altitude_m", "height_m", "pressure_altitude_m"):
        if (pressure := known.get("air.pressure_pa")) is not None:
            yield "air.pressure_pa", _slope(raw, hypsometric_m(pressure))
        for other in ("position.altitude_m", "position.height_m", "motion.pressure_altitude_m"):
            if other != channel and other in known:
                yield other, _slope(raw, known[other])
    if quantity == "vario_m_s" and seconds is not None:
        for other in ("position.altitude_m", "position.height_m", "motion.pressure_altitude_m"):
            if other in known:
                yield other, _by_climb(raw, known[other], seconds)
    if quantity == "flow_ml_per_min" and seconds is not None:
        for total, sign in (("used_ml", 1.0), ("remaining_ml", -1.0)):
            if (volume := known.get(f"{subject}.{total}")) is not None:
                yield f"{subject}.{total}", _by_total(raw, sign * volume, seconds)


def _by_way(raw: FloatArray, lat: FloatArray, lon: FloatArray, seconds: FloatArray) -> float:
    good = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(raw) & np.isfinite(seconds)
    t, speed = seconds[good], raw[good]
    if t.size < 50 or (np.diff(t) <= 0).any():
        return 0.0
    step = float(np.median(np.diff(t)))
    every = max(1, round(1.0 / step))
    if step * every > _LONGEST_S:
        return 0.0
    said = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(t))])
    way = steps_m(lat[good][::every], lon[good][::every])
    run, took = np.diff(said[::every]), np.diff(t[::every])
    fast = (run > np.quantile(run, 0.5)) & (took < 2 * step * every)  # at rest a receiver's place wanders
    flown = float(way[fast].sum())
    if fast.sum() < 20 or flown < _WAY_M or (correlation(way, run) or 0.0) < _FOLLOWS:
        return 0.0
    return float(run[fast].sum()) / flown


def _slope(raw: FloatArray, height: FloatArray) -> float:
    good = np.isfinite(raw) & np.isfinite(height)
    if good.sum() < 50 or np.ptp(height[good]) < _CLIMB_M or (correlation(raw, height) or 0.0) < _LIKE:
        return 0.0
    return float(np.std(raw[good]) / np.std(height[good]))


def _by_climb(rate: FloatArray, height: FloatArray, seconds: FloatArray) -> float:
    """How many times the climb, m/s, a rate is that should make the height gained."""
    good = np.isfinite(rate) & np.isfinite(height) & np.isfinite(seconds)
    if good.sum() < 50 or np.ptp(height[good]) < _CLIMB_M:
        return 0.0
    t, x, h = seconds[good], rate[good], height[good]
    every = max(1, t.size // _STEPS)
    made = np.concatenate([[0.0], np.cumsum((x[1:] + x[:-1]) / 2 * np.diff(t))])[::every]
    said, gained = np.diff(made), np.diff(h[::every])
    if (correlation(said, gained) or 0.0) < _LIKE:
        return 0.0
    return float(np.std(said) / np.std(gained))


def _by_total(rate: FloatArray, total_ml: FloatArray, seconds: FloatArray) -> float:
    good = np.isfinite(rate) & np.isfinite(total_ml) & np.isfinite(seconds)
    if good.sum() < 50:
        return 0.0
    t, x, total = seconds[good], rate[good], total_ml[good]
    every = max(1, t.size // _STEPS)
    made = np.concatenate([[0.0], np.cumsum((x[1:] + x[:-1]) / 2 * np.diff(t))])[::every]
    burnt = float(total[::every][-1] - total[0])
    if burnt < _BURNT_ML or (correlation(np.diff(made), np.diff(total[::every])) or 0.0) < _FOLLOWS:
        return 0.0
    return float(made[-1]) / (60.0 * burnt)


def _one_unit(channel: str, answers: Sequence[str], ratio: float) -> str:
    """The one unit asked in which values are so many times the channel's own; '' where none or more are."""
    known = parse(channel)
    if known is None or not ratio > 0.0:
        return ""
    off = {}
    for name in answers:
        conversion = units.conversion(units.understand(name) or name, known.channel.unit)
        if conversion is not None and conversion.num > 0:
            off[name] = abs(math.log(ratio * conversion.num.numerator / conversion.num.denominator))
    if not off:
        return ""
    best, *rest = sorted(off, key=lambda name: off[name])
    clear = off[best] < _NEAR and all(off[r] > max(_NEAR, _CLEARER * off[best]) for r in rest)
    return best if clear else ""


def _with_unit(column: ColumnPlan, unit: str, other: str) -> ColumnPlan:
    known, witness = parse(column.channel), parse(other)
    assert known is not None
    assert witness is not None
    factor = units.conversion(units.understand(unit) or unit, known.channel.unit) or column.factor
    evidence = {**column.evidence, "agrees": 1.0}
    by: Text = label(witness.channel)
    return replace(
        column, factor=factor, conversion="" if factor.identity else f"{unit} → {known.channel.unit}",
        evidence=evidence, confidence=round(certainty.weights()(evidence), 3),
        reason=also(column.reason, LayoutCode.UNIT_BY_OTHERS, unit=unit, other=by),
    )  # fmt: skip
