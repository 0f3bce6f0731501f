"""Tables that are not one column a sensor: one row a reading, or rows of several receivers taking turns."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
from msgspec.structs import replace

from analyser.core.channels import parse
from importers.clock.forms import NUMBER
from importers.clock.model import Clock
from importers.clock.order import GAP_S
from importers.meaning import columns
from importers.model import Long
from importers.table.columns import Columns
from importers.table.values import typed

Floats = npt.NDArray[np.float64]
_MOST_SAID = 6
"""Columns beside the clock where the headings say which holds the sensor and which the value: numbers, quality …"""
_ALONE = 100
"""So many rows of one sensor on end are no turn of several."""


def long(headings: Sequence[columns.Heading], cells: Columns, time: Clock) -> Long | None:
    """Tell a long table: a column of sensor names beside a column of values."""
    used = set(time.columns)
    free = [i for i in range(len(headings)) if i not in used]
    if both := _of_devices(headings, cells, free):
        return both
    values = [i for i in free if "value" in headings[i].ideas]
    plainly = bool(values) and any("sensor" in headings[i].ideas for i in free)
    if not 2 <= len(free) <= (_MOST_SAID if plainly else 3):
        return None
    text = [i for i in free if any(cells[i]) and sum(map(typed, cells[i])) < 0.3 * sum(map(bool, cells[i]))]
    named = [i for i in text if {"sensor", "name"} & set(headings[i].ideas)] or [i for i in text if i not in values]
    units_at = [i for i in free if "unit" in headings[i].ideas]
    named = [i for i in named if i not in units_at]
    said = bool(named) and "sensor" in headings[named[0]].ideas and bool(values)
    if not named or len(set(cells[named[0]])) > 0.5 * len(cells[named[0]]) + 2:
        return None
    if len(set(cells[named[0]])) < 2 and not (said and len(cells[named[0]]) > _ALONE):
        return None
    values = values or [i for i in free if i not in (*text, *units_at)]
    if values and "value" not in headings[values[0]].ideas and _a_sensor(headings[values[0]]):
        return None  # one sensor beside a text
    return Long(named[0], values[0], units_at[0] if units_at else None) if values else None


_DEVICES = {"device", "source", "module", "component", "part", "instrument", "system", "node", "group",
            "gerat", "quelle", "baustein", "modul", "bauteil", "geber", "gruppe", "baugruppe", "appareil",
            "composant", "organe", "groupe", "dispositivo", "equipo", "fuente", "modulo", "aparato", "grupo", "origine",
            "apparecchio", "componente", "fonte", "gruppo"}  # fmt: skip
_QUANTITIES = {"quantity", "measure", "measurand", "signal", "field", "grosse", "messgrosse", "feld",
               "grandeur", "mesure", "magnitud", "medida", "campo", "grandezza", "misura", "segnale",
               "senal"}  # fmt: skip


def _of_devices(headings: Sequence[columns.Heading], cells: Columns, free: Sequence[int]) -> Long | None:
    """A long table whose readings have the name of a device and that of a quantity, in a column each."""
    said = [set(h.words) for h in headings]
    text = [
        i for i in free if not cells.numeric(i) and any(cells[i]) and not any(typed(c) for c in cells[i] if c)
    ]  # fmt: skip
    devices = [i for i in text if said[i] & _DEVICES]
    quantities = [i for i in text if i not in devices[:1] and (said[i] & _QUANTITIES or "sensor" in headings[i].ideas)]
    values = [i for i in free if i not in text and "value" in headings[i].ideas]
    if not (devices and quantities and values and len(free) <= _MOST_SAID):
        return None
    both = list(zip(cells[devices[0]], cells[quantities[0]], strict=True))
    if not 2 <= len(set(both)) <= 0.5 * len(both) + 2:
        return None
    units_at = [i for i in text if "unit" in headings[i].ideas and i not in (devices[0], quantities[0])]
    return Long(quantities[0], values[0], units_at[0] if units_at else None, devices[0])


def full_names(cells: Sequence[Sequence[str]], long: Long) -> list[str]:
    """The name of each row's sensor, its device before it."""
    if long.device is None:
        return list(cells[long.sensor])
    return [f"{d} {q}".strip() if q else "" for d, q in zip(cells[long.device], cells[long.sensor], strict=True)]


def with_devices(table: pa.Table, long: Long) -> pa.Table:
    """The rows of a long table, the sensor's name with its device before it."""
    if long.device is None:
        return table
    name = f"c{long.sensor}"
    kind = table.schema.field(name).type
    device, quantity = (table.column(n).cast(pa.string()) for n in (f"c{long.device}", name))
    full = pc.utf8_trim_whitespace(pc.binary_join_element_wise(pc.fill_null(device, ""), quantity, " "))
    full = full.dictionary_encode() if pa.types.is_dictionary(kind) else full
    return table.set_column(table.schema.get_field_index(name), name, full)


def in_blocks(names: Sequence[str], seconds: Floats, *, whole: bool) -> bool:
    """Whether a long table gives one sensor after the other, each from the log's beginning.

    Parameters
    ----------
    names, seconds : of the file's first rows
        Which sensor each row is of, and when it was taken.
    """
    starts = [i for i in range(len(names)) if not i or names[i] != names[i - 1]]
    if len(starts) > len(set(names)):
        return False
    if len(starts) == 1:
        return not whole and len(names) > _ALONE
    back = [not 0 <= seconds[i] - seconds[i - 1] <= GAP_S for i in starts[1:]]  # over midnight it leaps ahead
    return bool(sum(back) > 0.5 * len(back))


class SeveralAtOnceError(Exception):
    """A sensor of a long table comes several times at one time, and its values do not tell whether it is several."""


def at_once(names: Sequence[str], values: Callable[[], Floats], seconds: Floats) -> list[str]:
    """Names under which a long table gives several sensors: they come as many times at every time.

    A coarse clock makes quick sensors come as often. So the values must tell: where the first and the second of each
    time lie apart by far more than either moves, they are two sensors.

    Raises
    ------
    SeveralAtOnceError
        With the name of a sensor that comes again within parts of a second, beside others that don't, where its values
        do not tell.
    """
    good = np.isfinite(seconds) & np.fromiter(map(bool, names), bool, len(names))
    every = list(dict.fromkeys(names))
    place = {n: i for i, n in enumerate(every)}
    code = np.fromiter(map(place.__getitem__, names), np.intp, len(names))[good]
    _, instant = np.unique(seconds[good], return_inverse=True)
    key, counts = np.unique(code * (instant.max(initial=0) + 1) + instant, return_counts=True)
    of = key // (instant.max(initial=0) + 1)
    usual = {}
    for n in range(len(every)):
        own = counts[of == n]
        often = int(np.median(own)) if own.size >= _INSTANTS else 0
        if often and (own == often).mean() < _AS_OFTEN:
            return []  # no order
        usual[n] = often
    some = [n for n, often in usual.items() if often > 1]
    made = values()[good] if some else np.zeros(0)
    apart = [n for n in some if _apart(made[code == n], instant[code == n], usual[n])]
    uneven = len(some) < len([n for n in usual.values() if n])
    fine = bool((np.unique(seconds[good]) % 1.0 > 1e-6).any())
    if some and not apart and uneven and fine:
        raise SeveralAtOnceError(every[some[0]])
    return [every[n] for n in (apart if uneven else some if apart else [])]


_INSTANTS, _AS_OFTEN = 10, 0.9
"""Times at which a sensor is read at least, and the share of them at which it comes as often as usual."""


def _apart(values: Floats, instant: npt.NDArray[np.intp], often: int) -> bool:
    """Whether the first values of each time lie on one side of the second, farther off than either moves."""
    order = np.argsort(instant, kind="stable")
    whole = np.repeat(np.bincount(instant)[np.unique(instant)] == often, np.bincount(instant)[np.unique(instant)])
    pairs = values[order][whole].reshape(-1, often)[:, :2]
    pairs = pairs[np.isfinite(pairs).all(axis=1)]
    if len(pairs) < _INSTANTS:
        return False
    off = pairs[:, 1] - pairs[:, 0]
    moves = np.median(np.abs(np.diff(pairs, axis=0)))
    return bool(abs(np.sign(off).sum()) > 0.95 * len(off) and np.median(np.abs(off)) > 4.0 * moves)


def _a_sensor(heading: columns.Heading) -> bool:
    """Whether a heading is that of a sensor of its own."""
    return heading.unit is not None or parse(columns.match(heading, 0.0, 1.0).channel) is not None


_WHOSE = {"rx": "Rx", "pack": "Pack", "engine": "Engine", "tank": "Tank", "ecu": "ECU"}


def told_apart(
    headings: Sequence[columns.Heading], cells: Sequence[Sequence[str]], clock: Sequence[int | None]
) -> int | None:
    """Find a column that says whose row it is: "receiver" with 1 and 2 taking turns."""
    for i, heading in enumerate(headings):
        ideas = [x for x in heading.ideas if x not in ("", "name", "sensor", "count")]
        if i in clock or heading.unit or len(ideas) != 1 or ideas[0] not in _WHOSE or not all(cells[i]):
            continue
        ids = cells[i]
        changes = sum(a != b for a, b in itertools.pairwise(ids))
        short = all((c.isdecimal() and len(c) < 3) or not typed(c) for c in ids)
        if not short or not 2 <= len(set(ids)) <= 8 or changes < 0.3 * len(ids):
            continue
        others = [h for n, h in enumerate(headings) if n != i and n not in clock]
        if any(
            whose and parse(columns.match(one, 0.0, 1.0).channel)
            for h in others
            for whose, one in each(h, heading, ids)
        ):
            return i
    return None


def kinds(
    headings: Sequence[columns.Heading], cells: Columns, clock: Sequence[int]
) -> tuple[tuple[str, ...], str] | None:
    """Find rows of several kinds that take turns, each with readings of its own under the same headings.

    Returns
    -------
    tuple of (tuple of str, str) or None
        The names of the kinds, and a heading under which their values have nothing in common.
    """
    for i, heading in enumerate(headings):
        if i in clock or heading.unit or cells.numeric(i):
            continue
        ids = cells[i]
        names = tuple(dict.fromkeys(c for c in ids[:200] if c))
        if not 2 <= len(names) <= 8 or len(set(ids)) > 9:
            continue
        if sum(a != b for a, b in itertools.pairwise(ids)) < 0.3 * len(ids):
            continue
        if any(map(NUMBER.fullmatch, names)):  # a counter, a switch or a gear is no name of a kind
            continue
        for n, other in enumerate(headings):
            if n == i or n in clock or parse(columns.match(other, 0.0, 1.0).channel) is None:
                continue
            if len(set(cells[n])) < 4:  # states, and no readings
                continue
            own = {k: _middle([c for c, w in zip(cells[n], ids, strict=True) if w == k]) for k in names}
            spans = sorted(s for s in own.values() if s is not None)
            if any(low > high and low - high > 0.5 * abs(high) for (_, high), (low, _) in itertools.pairwise(spans)):
                return names, other.text
    return None


_FEW = 10


def _middle(values: Sequence[str]) -> tuple[float, float] | None:
    """Where the middle nine tenths of some numbers lie; None of few."""
    made = [float(v.replace(",", ".")) for v in values if NUMBER.fullmatch(v)]
    return (float(np.percentile(made, 5)), float(np.percentile(made, 95))) if len(made) >= _FEW else None


def each(plain: columns.Heading, by: columns.Heading, ids: Sequence[str]) -> list[tuple[str, columns.Heading]]:
    """One heading for each receiver, pack or engine whose rows take turns; one for all where none has its own."""
    known = parse(columns.match(plain, 0.0, 1.0).channel)
    if not plain.words or (known and (not known.channel.has_instance or known.instance != "main")):
        return [("", plain)]
    word = next(_WHOSE[x] for x in by.ideas if x in _WHOSE)
    out = []
    for whose in sorted(set(ids)):
        name = whose if _WHOSE.keys() & set(columns.dissect(whose).ideas) else f"{word} {whose}"
        one = columns.dissect(f"{name} {plain.plain}")
        if plain.unit is not None:  # else a word such as "volts" may be the quantity here, and the unit there
            one = replace(one, unit=plain.unit, unit_text=plain.unit_text, unit_by=plain.unit_by)
        out.append((whose, one))
    return out
