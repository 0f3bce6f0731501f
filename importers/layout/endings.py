"""Units that stand behind the numbers in the cells: one for all of them ("7.4 V"), or several of one kind."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import compress

from msgspec.structs import replace

from importers.meaning import columns, units
from importers.table.values import plain_numbers, typed

_ENDING = re.compile(r"(?<=[\d. ])\s*((?<=\s)1/min|min-1|[^\W\d_]+[^\d\s]*|[%°][^\d\s]*)$")
_STATED = re.compile(r"(?<=[\d.])\s*((?:(?:1/min|min-1|[^\W\d_]+[^\d\s]*|[%°][^\d\s]*)\s+)?[(\[]?[^\W\d_]{2,}[)\]!]?)$")
"""A state behind the number, with or without a unit between them: "8.21V OK"."""
Endings = tuple[tuple[str, units.Conversion], ...]


def unit_in_cells(heading: columns.Heading, values: Sequence[str]) -> tuple[columns.Heading, Sequence[str], str]:
    """Heading with the unit that stands behind every number, the values without it, and the unit as written."""
    if not values or not (first := _ENDING.search(values[0])):
        return heading, values, ""
    ending = first.group(1)
    unit = units.understand(ending)
    if unit is None or any(not (m := _ENDING.search(v)) or m.group(1) != ending for v in values):
        return heading, values, ""
    plain = [v.removesuffix(ending).rstrip() for v in values]
    if not all(map(typed, plain)):
        return heading, values, ""
    return replace(heading, unit=unit, unit_text=ending), plain, ending


def mixed(
    heading: columns.Heading, values: Sequence[str], decimal: str
) -> tuple[columns.Heading, Sequence[str], Endings]:
    """The same where the numbers have several units of one kind behind them: "8.2V" and "8200 mV".

    Returns
    -------
    heading : Heading
        With the unit that most cells have.
    values : list of str
        In that unit.
    endings : tuple of (str, Conversion)
        Each unit as written, and how it becomes the one of the heading; empty where the cells are not so.
    """
    if plain_numbers(values):
        return heading, list(values), ()
    found = [_ending(v) for v in values]
    kinds = sorted(set(found), key=found.count, reverse=True)
    if _states(kinds):
        return _stated(heading, values, found, kinds)
    known = [units.understand(k) if k else None for k in kinds]
    if not 2 <= len(kinds) <= _MOST or known[0] is None:
        return heading, list(values), ()
    made = [units.conversion(k, known[0]) if k else None for k in known]
    plain = [v.removesuffix(e).rstrip() for v, e in zip(values, found, strict=True)]
    if None in made or not all(map(typed, plain)):
        return heading, list(values), ()
    endings = tuple((k, m) for k, m in zip(kinds, made, strict=True) if m is not None)
    by = dict(endings)
    try:
        out = [repr(by[e].apply(float(p.replace(decimal, ".")))) for p, e in zip(plain, found, strict=True)]
    except ValueError:
        return heading, list(values), ()
    return replace(heading, unit=known[0], unit_text=kinds[0]), [v.replace(".", decimal) for v in out], endings


_MOST = 4
_MOST_STATES = 8


def _ending(value: str) -> str:
    """The unit, the state, or both that stand behind a number."""
    found = _STATED.search(value) or _ENDING.search(value)
    return found.group(1) if found else ""


def _states(kinds: Sequence[str]) -> bool:
    """Whether endings are states behind one unit, or behind none: no unit stands alone."""
    said = [k for k in kinds if k]
    firsts = {units.understand(k.split()[0]) if " " in k else None for k in said}
    alone = any(units.understand(k) for k in said) and firsts == {None}
    return (
        0 < len(said) <= _MOST_STATES
        and not alone
        and len(firsts - {None}) <= 1
        and any(len(k.split()[-1]) > 1 and units.understand(k) is None for k in said)
        and all(" " in k or len(k) > 1 for k in said)
    )


def _stated(
    heading: columns.Heading, values: Sequence[str], found: Sequence[str], kinds: Sequence[str]
) -> tuple[columns.Heading, Sequence[str], Endings]:
    """Heading and numbers without the states behind them."""
    plain = [v.removesuffix(e).rstrip() for v, e in zip(values, found, strict=True)]
    if not all(map(typed, plain)):
        return heading, list(values), ()
    written = next((k.split()[0] for k in kinds if " " in k), next((k for k in kinds if units.understand(k)), ""))
    endings = tuple((k, units.Conversion()) for k in kinds if k)
    if unit := units.understand(written) if written else None:
        heading = replace(heading, unit=unit, unit_text=written)
    return heading, plain, endings


def of_sensor(
    heading: columns.Heading, values: Sequence[str], decimal: str
) -> tuple[columns.Heading, Sequence[str], Endings]:
    """Either of the two, of a sensor of a long table."""
    plain, some, ending = unit_in_cells(heading, list(values))
    if ending:
        return plain, some, ((ending, units.Conversion()),)
    return mixed(heading, values, decimal)


def of_rows(cells: Sequence[str], endings: Endings) -> list[str]:
    """Cells without the unit behind them, where that is the first; empty where it is another."""
    first = endings[0][0]
    others = [e for e, _ in endings[1:]]
    keep = [c.endswith(first) and not any(c.endswith(o) and len(o) > len(first) for o in others) for c in cells]
    kept = iter(compress(cells, keep))
    return [next(kept).removesuffix(first).rstrip() if k else "" for k in keep]
