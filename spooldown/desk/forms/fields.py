"""Which fields the aircraft's form has: those of the records that the register reads, so that none is forgotten."""

from __future__ import annotations

import types
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from msgspec import NODEFAULT, Struct
from msgspec.structs import FieldInfo, fields

from analyser.core.aircraft import Aircraft, Engine, Pack, Receiver, Tank
from reports.words.catalogue import has, message

KINDS: Mapping[str, type] = {"engines": Engine, "tanks": Tank, "receivers": Receiver, "packs": Pack}
"""Lists of parts in a file, in the order of the form. Antenna layouts have a screen of their own."""
FIRST: Mapping[str, Sequence[str]] = {
    "aircraft": ("name", "mass_kg", "radio_mhz", "brown_out_v", "reserve.percent", "reserve.ml", "reserve.minutes"),
    "engines": ("name", "tank", "pack_role", "idle_rpm", "max_rpm", "max_egt_c"),
    "tanks": ("name", "engine", "capacity_ml", "unusable_ml", "usual_fill_ml"),
    "receivers": ("name", "sensitivity_dbm", "frame_rate_hz"),
    "packs": ("name", "role", "use", "chemistry", "cells", "rated_mah", "in_service_since"),
}
"""What is shown at once, in this order; everything else is folded away."""
LEFT_ALONE = frozenset({"density_is_assumed"})
"""Kept as the file has it: the reader of the file sets it."""
UNITS: Mapping[str, str] = {
    "ml_per_min": "mL/min", "ml_per_min_at_full": "mL/min", "kg_m3": "kg/m³", "m_s": "m/s", "mohm": "mΩ", "mah": "mAh",
    "dbm": "dBm", "percent": "%", "minutes": "min", "mhz": "MHz", "rpm": "rpm", "ml": "mL", "kg": "kg", "hz": "Hz",
    "db": "dB", "deg": "°", "c": "°C", "v": "V", "h": "h", "m": "m", "ms": "ms", "s": "s", "a": "A", "g": "g",
}  # fmt: skip
"""Unit by the end of a key."""


class Entry(Struct, frozen=True):
    """One field of the form.

    ``name`` is its address in the file (``engines.0.max_rpm``), ``kind`` one of ``text``, ``number``, ``whole``,
    ``date``, ``choice``; ``usual`` what counts where it is left empty.
    """

    name: str
    kind: str
    label: str
    unit: str
    value: str
    usual: str = ""
    choices: tuple[str, ...] = ()
    needed: bool = False


class Block(Struct, frozen=True):
    """One part: an engine, a tank; or the aircraft itself. ``there`` says whether the file holds it already."""

    name: str
    title: str
    first: tuple[Entry, ...]
    more: tuple[Entry, ...]
    there: bool


def unit_of(key: str) -> str:
    """Unit of a key, by its end.

    Examples
    --------
    >>> unit_of("pump_ml_per_min_at_full"), unit_of("reserve.percent"), unit_of("name")
    ('mL/min', '%', '')
    """
    last = key.rpartition(".")[2]
    return next((u for end, u in UNITS.items() if last == end or last.endswith(f"_{end}")), "")


def label_of(key: str) -> str:
    """What a field is called in the reader's language; its key in plain letters where nobody has worded it yet."""
    code = f"desk.field.{key.replace('.', '_')}"
    return message(code) if has(code) else key.replace("_", " ").replace(".", ": ")


def every_key(kind: type, before: str = "") -> list[str]:
    """Keys of a record that the form asks for, nested ones with a dot."""
    hints, out = get_type_hints(kind), []
    for f in fields(kind):
        hint = _plain(hints[f.name])
        if isinstance(hint, type) and issubclass(hint, Struct):
            out += every_key(hint, f"{before}{f.name}.")
        elif get_origin(hint) is not tuple and f.name not in LEFT_ALONE:
            out.append(before + f.name)
    return out


def block(kind: type, group: str, name: str, values: Mapping[str, str], *, there: bool) -> Block:
    """Fields of one part, with what is in them.

    Parameters
    ----------
    kind : type
        The part's class.
    group : str
        ``engines`` and so on: which fields come first.
    name : str
        Address of the part in the file, ``engines.0``.
    values : mapping of str to str
        What is in each field, by key.
    """
    made = {key: _entry(kind, key, f"{name}.{key}", values.get(key, "")) for key in every_key(kind)}
    first = tuple(made[k] for k in FIRST[group] if k in made)
    more = tuple(e for k, e in made.items() if k not in FIRST[group])
    return Block(name, values.get("name", ""), first, more, there)


def aircraft_block(values: Mapping[str, str], *, there: bool) -> Block:
    """Fields of the aircraft itself."""
    return block(Aircraft, "aircraft", "aircraft", values, there=there)


def _entry(kind: type, key: str, name: str, value: str) -> Entry:
    hint, declared = _look_up(kind, key)
    usual = "" if declared.default in (NODEFAULT, None, "") else _written(declared.default)
    needed = declared.required
    if get_origin(hint) is Literal:
        return Entry(name, "choice", label_of(key), "", value, usual, tuple(map(str, get_args(hint))), needed)
    sort = {float: "number", int: "whole", date: "date"}.get(hint, "text")
    return Entry(
        name, sort, label_of(key), unit_of(key) if sort in ("number", "whole") else "", value, usual, (), needed
    )


def _look_up(kind: type, key: str) -> tuple[Any, FieldInfo]:
    head, _, rest = key.partition(".")
    hint = _plain(get_type_hints(kind)[head])
    if rest:
        return _look_up(hint, rest)
    return hint, next(f for f in fields(kind) if f.name == head)


def sort_of(kind: type, key: str) -> str:
    """Which kind of value a key takes: see :class:`Entry`."""
    hint, _ = _look_up(kind, key)
    return {float: "number", int: "whole", date: "date"}.get(hint, "text")


def _plain(hint: Any) -> Any:
    if get_origin(hint) in (Union, types.UnionType):
        return next(a for a in get_args(hint) if a is not type(None))
    return hint


def _written(value: Any) -> str:
    return f"{value:.12g}" if isinstance(value, float) else str(value)
