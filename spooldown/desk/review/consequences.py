"""What each answer to an open question would mean: the start, the length, the track, the column's values."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import numpy as np
from markupsafe import Markup
from msgspec import Struct

from analyser.core.channels import TIME
from importers.model import Plan, Question
from importers.refusal import Refusal
from reports.words.catalogue import message
from spooldown.desk.review.layouts import preview
from spooldown.desk.sparkline import sparkline

MOST_ANSWERS = 6
TRACK_PX = 96
NORTH_M, EAST_M = 111_195.0, 111_195.0
"""Metres in a degree of latitude, and of longitude on the equator: a sphere of 6,371 km is enough for a picture."""


class Consequence(Struct, frozen=True):
    """One answer, and what of the flight it decides."""

    answer: str
    lines: tuple[str, ...] = ()
    picture: str = ""


def consequences(question: Question, replanned: Callable[[str], Plan]) -> list[Consequence]:
    """What each answer of a question leads to; only what differs from answer to answer is told.

    Parameters
    ----------
    replanned : callable
        Plans the file with this question answered so.
    """
    seen = [_seen(question, answer, replanned) for answer in question.answers[:MOST_ANSWERS]]
    facts = {key: {found.get(key, "") for found in seen} for found in seen for key in found}
    out = []
    for answer, found in zip(question.answers, seen, strict=False):
        differing = {k: v for k, v in found.items() if len(facts[k]) > 1}
        pictures = Markup("").join(v for k, v in differing.items() if k.startswith("picture"))
        lines = tuple(v for k, v in differing.items() if not k.startswith("picture"))
        out.append(Consequence(answer, lines, pictures))
    return out + [Consequence(a) for a in question.answers[MOST_ANSWERS:]]


def _seen(question: Question, answer: str, replanned: Callable[[str], Plan]) -> dict[str, str]:
    try:
        proposed = replanned(answer)
    except Refusal as refusal:
        return {"refused": str(refusal)}
    draft, values = preview(proposed)
    out: dict[str, str] = {}
    if draft is None:
        return out
    local = draft.metadata.get("local_start") or draft.metadata.get("local_day", "")
    if start := draft.utc_start or (datetime.fromisoformat(local) if local else None):
        out["start"] = message("desk.review.starts", at=start)
    time_s = values.get(TIME)
    if time_s is not None and time_s.size > 1:
        out["lasts"] = message("desk.review.rows_last", n=int(time_s.size), seconds=float(time_s[-1] - time_s[0]))
    for column in proposed.columns:
        if column.heading not in question.columns:
            continue
        what = column.channel or message("desk.review.left_out")
        unit = f", {column.unit_found}" if column.unit_found else ""
        out[f"column {column.column} {column.heading}"] = f"{column.heading}: {what}{unit}"
        if column.channel in values:
            out[f"picture {column.column} {column.heading}"] = sparkline(values[column.channel])
    latitude, longitude = values.get("position.latitude_deg"), values.get("position.longitude_deg")
    if latitude is not None and longitude is not None:
        out["picture track"] = track(latitude, longitude)
    return out


def track(latitude_deg: np.ndarray, longitude_deg: np.ndarray) -> Markup:
    """The ground track as a small picture, north up, with how far it reaches.

    Parameters
    ----------
    latitude_deg, longitude_deg : ndarray, shape (n,)
        Degrees; rows without a position are NaN.
    """
    good = np.isfinite(latitude_deg) & np.isfinite(longitude_deg)
    if good.sum() < 2:
        return Markup("")
    lat, lon = latitude_deg[good], longitude_deg[good]
    north = (lat - lat.mean()) * NORTH_M
    east = (lon - lon.mean()) * EAST_M * np.cos(np.radians(lat.mean()))
    reach = max(float(np.ptp(north)), float(np.ptp(east)), 1e-6)
    step = max(1, good.sum() // 200)
    x = 4 + (east - east.min()) / reach * (TRACK_PX - 8)
    y = TRACK_PX - 4 - (north - north.min()) / reach * (TRACK_PX - 8)
    path = "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x[::step], y[::step], strict=True))
    words = message("desk.review.reaches", metres=reach)
    return Markup(
        '<svg class="spark track" viewBox="0 0 {0} {0}" width="{0}" height="{0}" role="img" aria-label="{1}">'
        '<path d="{2}"/></svg><span class="ends">{1}</span>'
    ).format(TRACK_PX, words, path)
