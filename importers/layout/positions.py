"""Columns of latitudes and longitudes that are not written in plain degrees, and what heights are counted from."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from msgspec.structs import replace

from analyser.core.channels import parse
from analyser.core.findings import say
from importers.layout.codes import LayoutCode
from importers.meaning import columns, degrees, units
from importers.meaning.words import fold
from importers.model import ColumnPlan, Question


def written(headings: Mapping[int, columns.Heading], values: Mapping[int, Sequence[str]]) -> dict[int, str]:
    """How the columns of latitudes and longitudes are written, where they are no plain degrees."""
    ideas = {i: idea for i, h in headings.items() if (idea := degrees.idea_of(h)) and values[i]}
    forms = {i: form for i, idea in ideas.items() if (form := degrees.notation(values[i], idea))}
    for form in set(forms.values()):  # near 0° a number alone does not tell: it is written as its partner is
        forms |= {i: form for i, idea in ideas.items() if i not in forms and degrees.like(values[i], form, idea)}
    if "e7" in forms.values():
        forms = {i: "e7" if form == "e6 or e7" else form for i, form in forms.items()}
    return forms


def plain(
    heading: columns.Heading, values: Sequence[str], form: str, said: Mapping[str, str], questions: list[Question]
) -> tuple[columns.Heading, list[str]]:  # fmt: skip
    """Heading and values of a latitude or longitude as if it were written in plain degrees."""
    if form in degrees.FORMS:
        read = degrees.read(pa.array(values, pa.string()), form).to_pylist()
        return replace(heading, unit="deg", unit_text="°"), [repr(v) for v in read if v is not None]
    if form != "e7" and (power := re.search(r"e[-−]?([67])(?!\d)", fold(heading.plain).replace("10^-", "e-"))):
        unit = degrees.SEVENTHS if power.group(1) == "7" else degrees.SIXTHS
        plainly = replace(columns.dissect(degrees.idea_of(heading)), text=heading.text, written=heading.written)
        return replace(plainly, unit=units.understand(unit), unit_text=unit), list(values)
    key, unit = f"unit.{columns.slug(heading.text)}", degrees.SEVENTHS
    if form != "e7" and key not in said:
        ways = (degrees.SEVENTHS, degrees.SIXTHS)
        questions.append(Question(key, say(LayoutCode.ASK_UNIT, heading=heading.text, examples=(values[0],)), ways))
    elif form != "e7":
        unit = said[key]
    return replace(heading, unit=units.understand(unit), unit_text=unit), list(values)


def third(heading: columns.Heading) -> columns.Heading:
    """What a heading says of the third number of its cells: the altitude, in metres, of "lat,lon,alt".

    A place in one text has its altitude in metres (RFC 5870, 3.4.2). Where the heading names none, the number is kept
    as an extra.
    """
    words = re.findall(r"[^\W\d_]+", heading.plain)
    if len(words) < 3:
        return replace(columns.dissect(f"{heading.plain} 3"), text=f"{heading.text} 3")
    plain = columns.dissect(words[-1])
    return plain if plain.unit or "altitude" not in plain.ideas else replace(plain, unit="m", unit_text="m")


_ON_THE_GROUND_M = 1.5
"""A height that begins within this of nought is counted from the ground; at sea level the two are then one."""
_FLOWN_M, _JUMP = 10.0, 0.5
"""Height that a flight gains at least, and the share of it that no step makes but a receiver's first fix."""
_COUNTED = ("position.altitude_m", "motion.pressure_altitude_m")
_FIRST = 5
"""Values that tell where a log begins."""


def may_be_heights(proposed: Sequence[ColumnPlan]) -> list[int]:
    """Places of the altitudes that may be heights above the ground: their heading does not say what they count from."""
    if any(c.channel == "position.height_m" for c in proposed):
        return []
    out = []
    for i, c in enumerate(proposed):
        heading = columns.dissect(c.plain)
        told = "gps" in heading.ideas or _SEA & {*heading.words} or parse(c.plain)
        if c.channel in _COUNTED and c.evidence and not c.settled and not told:
            out.append(i)
    return out


def from_the_ground(
    proposed: Sequence[ColumnPlan], values: Mapping[int, npt.NDArray[np.float64]]
) -> list[ColumnPlan]:  # fmt: skip
    """Take an altitude that begins at nought for the height above take-off.

    Parameters
    ----------
    values : mapping of int to array
        What is written in consecutive rows, by place among the proposals, NaN where empty.
    """
    out = list(proposed)
    zeroed = [i for i, raw in values.items() if _begins_at_nought(proposed[i], raw)]
    if len(zeroed) == 1:
        column = out[zeroed[0]]
        reason = say(LayoutCode.ALSO, first=column.reason, more=say(LayoutCode.FROM_THE_GROUND))
        out[zeroed[0]] = replace(column, channel="position.height_m", reason=reason)
    return out


def _begins_at_nought(column: ColumnPlan, raw: npt.NDArray[np.float64]) -> bool:
    height = raw[np.isfinite(raw)] * column.factor.num.numerator / column.factor.num.denominator
    if height.size <= _FIRST or np.ptp(height) < _FLOWN_M:
        return False
    steps = np.abs(np.diff(height)).max()
    return bool(np.abs(height[:_FIRST]).max() <= _ON_THE_GROUND_M and steps < _JUMP * np.ptp(height))


_SEA = frozenset(
    ["msl", "amsl", "nn", "nhn", "ngf", "slm", "snm", "mer", "mare", "mar", "seehohe", "qnh", "elevation", "pressure",
     "druck", "pression", "presion"]
)  # fmt: skip
"""Words that say what a height is counted from."""


def pair(heading: columns.Heading, values: Sequence[str]) -> list[ColumnPlan]:
    """The two columns that one of "48.1173, 11.5167" makes."""
    reason = say(LayoutCode.PAIR)
    words = [
        w for w in re.findall("[a-z]+", fold(heading.plain)) if w[:3] in ("lat", "bre", "lon", "lng", "lae", "lan")
    ]
    swapped = bool(words) and words[0][:2] in ("lo", "ln", "la") and words[0][:3] != "lat" and len(words) > 1
    places = ("second", "first") if swapped else ("first", "second")
    channels = zip(("position.latitude_deg", "position.longitude_deg"), places, strict=True)
    return [ColumnPlan(heading.text, channel, "°", "", tuple(values[:3]), 0.97, reason, degrees=which,
                       written=heading.written)
            for channel, which in channels]  # fmt: skip
