"""Exact factors between units, from a file made of pint's registry for every unit that the word list can yield.

Reading the registry takes most of half a second, longer than reading a log of ten minutes. ``factors.csv`` is made
from it by ``make factors``, and a test makes it anew and compares. What is not in the file is asked of the registry
(:mod:`importers.meaning.units`).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files


@lru_cache(maxsize=1)
def table() -> Mapping[str, tuple[str, str, str]]:
    """Unit → a unit of its kind, its size and its nought in that unit; sizes as whole numbers or fractions."""
    lines = files("importers.meaning").joinpath("factors.csv").read_text(encoding="utf-8").splitlines()[1:]
    return {unit: (kind, size, nought) for unit, kind, size, nought in (line.split(",") for line in lines)}


def between(found: str, wanted: str) -> tuple[Fraction, Fraction] | None:
    """Factor and offset from one unit to another, None where they differ in kind.

    Raises
    ------
    KeyError
        If one of them is not in the file.

    Examples
    --------
    >>> between("degF", "degC")
    (Fraction(5, 9), Fraction(-160, 9))
    """
    (kind, *sizes), (wanted_kind, *wanted_sizes) = table()[found], table()[wanted]
    if kind != wanted_kind:
        return None
    (size, zero), (wanted_size, wanted_zero) = map(Fraction, sizes), map(Fraction, wanted_sizes)
    return size / wanted_size, (zero - wanted_zero) / wanted_size
