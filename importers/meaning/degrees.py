"""Latitudes and longitudes as loggers write them, to signed decimal degrees.

Degrees and minutes in one number (4807.038, as NMEA 0183 has them), with marks (48°07'02.3"N), with the letter of the
hemisphere in the cell, whole numbers of 1e-7 degrees, or both in one cell ("48.1173, 11.5167"); with points or commas.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

if TYPE_CHECKING:
    from importers.meaning.heading import Heading

LIMITS = {"latitude": 90.0, "longitude": 180.0}
_DECIMAL = r"^\s*(?P<l>[NSEW])?\s*(?P<s>[+-])?(?P<d>\d{1,3}[.,]\d+)\s*°?\s*(?P<t>[NSEW])?\s*$"
_JOINED = r"^\s*(?P<l>[NSEW])?\s*(?P<s>[+-])?(?P<d>\d{2,3})(?P<m>[0-5]\d[.,]\d+)\s*(?P<t>[NSEW])?\s*$"
_MARKED = (
    r"^\s*(?P<l>[NSEW])?\s*(?P<s>[+-])?(?P<d>\d{1,3})\s*[°º ]\s*(?P<m>[0-5]?\d(?:[.,]\d+)?)\s*['′’]?"
    r"\s*(?:(?P<n>[0-5]?\d(?:[.,]\d+)?)\s*(?:\"|″|”|'')?)?\s*(?P<t>[NSEW])?\s*$"
)
_PAIR = r"^\s*[(\[]?\s*(?P<a>[+-]?\d{1,2}[.,]\d{3,})\s*[,; /]\s*(?P<b>[+-]?\d{1,3}[.,]\d{3,})"
_PAIR += r"(?:\s*[,; /]\s*(?P<c>[+-]?\d+(?:[.,]\d+)?))?\s*[)\]]?\s*$"
FORMS = {"decimal": _DECIMAL, "joined": _JOINED, "marked": _MARKED}
PLACES = {"first": "a", "second": "b", "third": "c"}
SEVENTHS = "1/10000000 °"
SIXTHS = "1/1000000 °"


def idea_of(heading: Heading) -> str:
    """``latitude`` or ``longitude`` where a heading speaks of one; else ''."""
    return next((i for i in heading.ideas if i in LIMITS), "")


def notation(values: Sequence[str], idea: str) -> str:
    """Tell how degrees are written: a key of :data:`FORMS`, ``e7``, ``e6 or e7``, or '' for plain numbers.

    Parameters
    ----------
    values : sequence of str
        None of them empty.
    idea : str
        ``latitude`` or ``longitude``.
    """
    some = values[:300]
    if not some:
        return ""
    numbers = _numbers(some)
    if numbers is None:
        fits = (f for f, p in FORMS.items() if all(re.match(p, v) for v in some))
        return next(fits, "")
    most = max(map(abs, numbers))
    if all(n.is_integer() for n in numbers) and most > 1e6:
        return ("e6 or e7" if most <= LIMITS[idea] * 1e6 else "e7") if most <= LIMITS[idea] * 1e7 else ""
    joined = all(re.match(_JOINED, v) for v in some if _float(v) != 0) and most <= LIMITS[idea] * 100
    return "joined" if joined and most > LIMITS[idea] else ""


def like(values: Sequence[str], form: str, idea: str) -> bool:
    """Whether one coordinate may be written as the other one is: near 0° a number alone does not tell."""
    some = values[:300]
    numbers = _numbers(some)
    if form.startswith("e"):
        return numbers is not None and all(n.is_integer() and abs(n) <= LIMITS[idea] * 1e7 for n in numbers)
    return bool(some) and all(re.match(FORMS[form], v) for v in some)


def is_pair(values: Sequence[str]) -> bool:
    """Whether every cell holds a latitude and a longitude."""
    some = list(islice(filter(None, values), 300))
    return bool(some) and all(
        (m := re.match(_PAIR, v)) and abs(_float(m["a"])) <= 90 and abs(_float(m["b"])) <= 180 for v in some
    )


def thirds(values: Sequence[str]) -> list[str]:
    """The third number of cells with a latitude and a longitude, such as a height; empty unless all have one."""
    found = [m["c"] for v in values if (m := re.match(_PAIR, v))]
    return [c for c in found if c] if all(found) else []


def read(values: pa.Array, form: str) -> pa.Array:
    """Texts to degrees, null where one can't be read.

    Parameters
    ----------
    form : str
        A key of :data:`FORMS`, or ``first`` or ``second`` of a pair, or the ``third`` number beside them.

    Examples
    --------
    >>> read(pa.array(["4807.038N", "12 30.0 S"]), "joined")[0].as_py()
    48.1173
    """
    if form in PLACES:
        return _cast(pc.struct_field(pc.extract_regex(values, _PAIR), PLACES[form]))
    parts = pc.extract_regex(values, FORMS[form])
    names = {parts.type.field(i).name for i in range(parts.type.num_fields)}
    out = _cast(pc.struct_field(parts, "d"))
    for name, sixtieth in (("m", 60.0), ("n", 3600.0)):
        if name in names:
            out = pc.add(out, pc.divide(pc.fill_null(_cast(pc.struct_field(parts, name)), 0.0), sixtieth))
    signs = [pc.is_in(pc.struct_field(parts, n), pa.array(["S", "W", "-"])) for n in "lst"]
    negative = pc.or_(pc.or_(signs[0], signs[1]), signs[2])
    out = pc.if_else(negative, pc.negate(out), out)
    return pc.if_else(pc.less_equal(pc.abs(out), 180.0), out, pa.scalar(None, pa.float64()))


def values(cells: Sequence[str], form: str, letters: Sequence[str] = ()) -> npt.NDArray[np.float64]:
    """The same of some cells and the letters beside them, NaN where one can't be read."""
    out = np.asarray(read(pa.array(cells, pa.string()), form).to_numpy(zero_copy_only=False), dtype=np.float64)
    return np.where([letter in ("S", "W") for letter in letters], -out, out) if letters else out


def _cast(text: pa.Array) -> pa.Array:
    text = pc.if_else(pc.fill_null(pc.equal(text, ""), True), pa.scalar(None, pa.string()), text)
    return pc.cast(pc.replace_substring(text, ",", "."), pa.float64())


def _float(text: str) -> float:
    return float(text.replace(",", ".", 1))


def _numbers(values: Sequence[str]) -> list[float] | None:
    try:
        return [_float(v) for v in values]
    except ValueError:
        return None
