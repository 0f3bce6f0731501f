"""Headings that say one of two things: what their values are like tells which, or leaves it to be asked.

A receiver's voltage is its pack's, or what a regulator makes of it. A course in French or Spanish is where the nose
points, or where the aircraft goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec.structs import replace

from analyser.core.channels import parse
from importers.layout.codes import LayoutCode
from importers.layout.context import COURSES
from importers.layout.proposals import also
from importers.meaning import certainty, columns
from importers.meaning.rules import BY_KEY
from importers.model import ColumnPlan
from importers.relations.motion import off_course
from importers.relations.opinion import LEAST, FloatArray

_LONG_S, _FALLS, _SPREAD = 60.0, 0.0006, 0.02
"""A pack in use falls by more than the second, as a share, within the first, where it spreads by no more than the
third: common practice, no source."""
_CLOSE, _DRIFT = 0.6, 1.2
"""Degrees that a satellite receiver's track is off the way as a rule, and at most: common practice, no source."""
_OF_THE_WAY = frozenset({"gps", "ground", "track", "suivi", "seguido"})
"""Ideas and words that say that it is the latter."""
_BANKS = ("attitude.roll_deg", "attitude.pitch_deg")
_PLACE = ("position.latitude_deg", "position.longitude_deg")


def speak(proposed: Sequence[ColumnPlan]) -> list[int]:
    """Places of the columns that say one of two things, and of those that tell; none where there are none."""
    open_at = [i for i, c in enumerate(proposed) if _of_receiver(c) or _of_course(c)]
    told_by = [i for i, c in enumerate(proposed) if c.channel in _PLACE and c.kind == "number" and not c.only]
    return [*open_at, *told_by] if open_at else []


def doubted(
    proposed: Sequence[ColumnPlan], values: Mapping[int, FloatArray], seconds: FloatArray | None
) -> list[ColumnPlan]:
    """Doubt columns whose values are rather those of the other thing that their heading may say.

    Parameters
    ----------
    values : mapping of int to array
        By place among the proposals, for those of :func:`speak`: what is written in consecutive rows, NaN where empty.
    seconds : array, s, or None
        When these rows were taken.
    """
    read = {proposed[i].channel: _read(proposed[i], x) for i, x in values.items()}
    lat, lon = (read.get(channel) for channel in _PLACE)
    banks = any(c.channel in _BANKS for c in proposed)
    out = list(proposed)
    for i, x in values.items():
        c, known = proposed[i], parse(proposed[i].channel)
        if _of_receiver(c) and known and _even(x, seconds):
            out[i] = _either(c, LayoutCode.HELD_EVEN, f"bus.{known.instance}.voltage_v")
        elif _of_course(c):
            off = off_course(lat, lon, _read(c, x)) if lat is not None and lon is not None else None
            if banks or (off is not None and off > _DRIFT):  # without wind both are alike
                out[i] = _either(c, LayoutCode.NOSE_OR_WAY, "attitude.heading_deg")
            elif off is not None and off < _CLOSE:
                out[i] = _the_way(c)
    return out


def _of_receiver(c: ColumnPlan) -> bool:
    """Whether a pack's voltage is named by its receiver alone."""
    known = parse(c.channel)
    if known is None or known.channel.subject != "pack" or known.channel.quantity != "voltage_v" or not _open(c):
        return False
    said = {*columns.dissect(c.plain).ideas}
    return "rx" in said and not {"pack", "cell"} & said and not c.evidence.get("file_name")


def _of_course(c: ColumnPlan) -> bool:
    """Whether a course is where the nose points or where the aircraft goes, and no word says which."""
    if c.channel != "position.track_deg" or not _open(c):
        return False
    heading = columns.dissect(c.plain)
    said = {x for pair in zip(heading.words, heading.ideas, strict=True) if pair[0] not in COURSES for x in pair}
    return bool(COURSES & {*heading.words}) and not _OF_THE_WAY & said


def _open(c: ColumnPlan) -> bool:
    return c.kind == "number" and not (c.only or c.settled or parse(c.plain)) and bool(c.evidence)


def _even(x: FloatArray, seconds: FloatArray | None) -> bool:
    """Whether a voltage is as high at the end of a while as at its beginning: that of a pack falls."""
    good = np.isfinite(x)
    if seconds is None or good.sum() < 5 * LEAST or not np.ptp(seconds[np.isfinite(seconds)]) >= _LONG_S:
        return False
    x = x[good]
    middle, part = abs(float(np.median(x))), x.size // 5
    low, high = np.quantile(x, [0.02, 0.98])
    moves = np.unique(x).size > 2
    return bool(
        moves and high - low < _SPREAD * middle and abs(x[:part].mean() - x[-part:].mean()) < _FALLS * middle
    )  # fmt: skip


def _read(column: ColumnPlan, raw: FloatArray) -> FloatArray:
    factor = column.factor
    return np.asarray(raw * (factor.num.numerator / factor.num.denominator) + float(factor.offset))


def _the_way(column: ColumnPlan) -> ColumnPlan:
    """A course that is the way itself, in a log without attitude."""
    evidence = {**column.evidence, "agrees": 1.0}
    first, other = (columns.label(BY_KEY[n]) for n in ("position.track_deg", _PLACE[0]))
    rivals = tuple(r for r in column.rivals if r != "attitude.heading_deg")
    reason = also(column.reason, LayoutCode.AGREE, first=first, other=other)
    sure = round(certainty.weights()(evidence), 3)
    return replace(column, evidence=evidence, confidence=sure, reason=reason, rivals=rivals)


def _either(column: ColumnPlan, code: LayoutCode, other: str) -> ColumnPlan:
    evidence = {**column.evidence, "unsure_name": 1.0}
    sure = round(certainty.weights()(evidence), 3)
    rivals = tuple(dict.fromkeys((*column.rivals, other)))
    return replace(column, evidence=evidence, confidence=sure, reason=also(column.reason, code), rivals=rivals)
