"""Columns that say something about a measurement beside them: its extremes, a smoothed copy, whether it is good.

The same in another unit, and an airspeed that is worked out from the indicated one, are kept aside too.

``EGT``, ``EGT hi``, ``EGT lo``, ``EGT filtered``, ``EGT valid`` are of one exhaust. The heading without such a word is
that of the measurement; the others are kept under their own names, and nothing is asked about them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from importers.layout.codes import LayoutCode
from importers.meaning import choices, units
from importers.meaning.heading import Heading
from importers.meaning.words import ROLES

FloatArray = npt.NDArray[np.float64]

_ACTUAL = ROLES["actual"]
_KINDS = {
    "extreme": LayoutCode.EXTREME_OF,
    "smooth": LayoutCode.SMOOTHED_FROM,
    "good": LayoutCode.GOODNESS_OF,
    "setting": LayoutCode.SETTING_OF,
    "counted": LayoutCode.COUNTS_OF,
}


class Copies(Struct, frozen=True):
    """Columns that are of another one's measurement.

    ``of`` says what a column is of which other, by number from 0; ``headings`` are all of the file's, those of such
    measurements without the words that only set them apart.
    """

    headings: list[Heading]
    of: Mapping[int, tuple[LayoutCode, int]]


def find(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], values: Callable[[int], FloatArray],
    clocks: Collection[int],
) -> Copies:  # fmt: skip
    """Find columns that are of the measurement of another, by their headings and with the values as a witness.

    Parameters
    ----------
    values : callable
        A column's values in the first rows by its number, NaN where it has none.
    clocks : collection of int
        Columns that tell the time.
    """
    stems: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for i, h in enumerate(headings):
        if i not in clocks and h.words:
            stems[_stem(h, _ACTUAL)].append(i)
    of: dict[int, tuple[LayoutCode, int]] = {}
    for i, h in enumerate(headings):
        if i in clocks:
            continue
        said = _said(h)
        for words, code in ((ROLES[role], code) for role, code in _KINDS.items() if ROLES[role] & said):
            stem = _stem(h, words | _ACTUAL)
            beside = [j for j in stems.get(stem, ()) if j != i and not (words - _ACTUAL) & set(headings[j].words)]
            if stem and len(beside) == 1 and _bears_out(code, i, beside[0], headings, cells, values):
                of[i] = code, beside[0]
                break
    plain = [i for i in range(len(headings)) if i not in clocks and i not in of]
    of |= _corrected(plain, headings, values)
    of |= _in_other_units([i for i in plain if i not in of], headings, values)
    of = {i: (code, j) for i, (code, j) in of.items() if j not in of}
    out = list(headings)
    for j in {j for _, j in of.values()}:
        out[j] = _plain(headings[j])
    return Copies(out, of)


def _corrected(
    some: Sequence[int], headings: Sequence[Heading], values: Callable[[int], FloatArray]
) -> dict[int, tuple[LayoutCode, int]]:
    """Airspeeds that are worked out from the indicated one beside them."""
    fast = [i for i in some if "airspeed" in headings[i].ideas or {"air", "speed"} <= set(headings[i].ideas)]
    fast += [
        i for i in some if i not in fast and "speed" in headings[i].ideas and ROLES["corrected"] & _said(headings[i])
    ]
    made = [i for i in fast if ROLES["corrected"] & _said(headings[i])]
    shown = [i for i in fast if i not in made]
    if len(shown) != 1 or not made:
        return {}
    y = values(shown[0])
    return {i: (LayoutCode.CORRECTED_FROM, shown[0]) for i in made if _alike(values(i), y)}


def _alike(x: FloatArray, y: FloatArray) -> bool:
    """Whether two columns rise and fall together, all but a little."""
    good = np.isfinite(x) & np.isfinite(y) if x.size == y.size else np.zeros(0, bool)
    if good.sum() < _FEW or np.ptp(x[good]) == 0.0 or np.ptp(y[good]) == 0.0:
        return False
    return bool(np.corrcoef(x[good], y[good])[0, 1] > _TOGETHER)


def _in_other_units(
    some: Sequence[int], headings: Sequence[Heading], values: Callable[[int], FloatArray]
) -> dict[int, tuple[LayoutCode, int]]:
    """Columns whose headings differ by their unit alone, and whose values are the same: all but the finest."""
    groups: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for i in some:
        if headings[i].unit is not None and headings[i].words and not headings[i].scale:
            groups[headings[i].words].append(i)
    out = {}
    for group in (g for g in groups.values() if len(g) > 1):
        common = next((h.unit or "" for i in group if (h := headings[i]).unit != "ms"), "")  # "speed_ms"
        made = {i: units.conversion(choices.spelled(headings[i], common), common) for i in group}
        read = {i: values(i) * float(c.num) + float(c.offset) for i, c in made.items() if c is not None}
        grain = {i: _grain(x) for i, x in read.items()}
        finest = min(read, key=lambda i: grain[i], default=-1)
        for i, x in read.items():
            if i != finest and headings[i].unit != headings[finest].unit and x.size == read[finest].size:
                off = np.abs(x - read[finest])
                off = off[np.isfinite(off)]
                if off.size >= _FEW and np.ptp(x[np.isfinite(x)]) > 0.0 and off.max() <= grain[i] + grain[finest]:
                    out[i] = LayoutCode.OTHER_UNIT_OF, finest
    return out


def _grain(x: FloatArray) -> float:
    """The step in which values are written."""
    steps = np.diff(np.unique(x[np.isfinite(x)]))
    return float(steps.min()) if steps.size else 0.0


def _said(h: Heading) -> set[str]:
    """The words of a heading, and its unit where that is written as a word."""
    return {*h.words, *([h.unit_text.casefold()] if h.unit == "counts" and h.unit_by in ("tail", "suffix") else [])}


def _stem(h: Heading, without: Collection[str]) -> tuple[str, ...]:
    return tuple(w for w in h.words if w not in without)


def _plain(h: Heading) -> Heading:
    """A heading without words that add nothing, and without "raw" as a unit."""
    keep = [i for i, w in enumerate(h.words) if w not in _ACTUAL] or list(range(len(h.words)))
    plain = replace(h, words=tuple(h.words[i] for i in keep), ideas=tuple(h.ideas[i] for i in keep),
                    glued=tuple(h.glued[i] for i in keep))  # fmt: skip
    return replace(plain, unit=None, unit_text="", unit_by="") if h.unit_text.casefold() in _ACTUAL else plain


def _bears_out(
    code: LayoutCode, i: int, j: int, headings: Sequence[Heading], cells: Sequence[Sequence[str]],
    values: Callable[[int], FloatArray],
) -> bool:  # fmt: skip
    """Whether units and values let a column be this of the other one's measurement."""
    one, other = headings[i].unit, headings[j].unit
    if code is LayoutCode.GOODNESS_OF:
        return one in (None, "bool", "1") and len(set(filter(None, cells[i]))) <= _STATES
    x, y = values(i), values(j)
    if x.size != y.size:  # sensors of a long table at rates of their own
        return False
    good = np.isfinite(x) & np.isfinite(y)
    if good.sum() < _FEW:
        return False
    x, y = x[good], y[good]
    size = float(np.median(np.abs(y)))
    if code is LayoutCode.COUNTS_OF:
        far = not 0.5 * size < float(np.median(np.abs(x))) < 2.0 * size or bool(_COUNTS & _said(headings[i]))
        return one in (None, "counts") and far and bool((x == np.rint(x)).all())
    if one != other and None not in (one, other) and "counts" not in (one, other):
        return False
    if code is LayoutCode.SETTING_OF:
        return bool(np.ptp(x) == 0.0 < np.ptp(y))
    if code is LayoutCode.SMOOTHED_FROM:
        return bool(np.median(np.abs(x - y)) < _NEAR * size)
    off = x - y
    slack = _NEAR * 0.1 * size
    return bool((off >= -slack).all() or (off <= slack).all())


_COUNTS = ROLES["counted"] - _ACTUAL
"""Words of a converter's counts, which "raw" is not: that may as well be a value that is not smoothed."""
_STATES, _FEW, _NEAR, _TOGETHER = 6, 8, 0.1, 0.9
"""Kinds of states at most; rows that say something; a share within which two columns are of one thing, and the least
correlation of such."""
