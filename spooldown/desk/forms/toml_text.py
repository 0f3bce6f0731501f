"""What was typed into a form, put into the TOML of a file: only what changed, comments and order kept (tomlkit)."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from datetime import date, datetime
from typing import Any

import tomlkit
from tomlkit.items import AoT, InlineTable, Table

from analyser.core.aircraft import Aircraft
from spooldown.desk.forms.fields import KINDS, every_key, sort_of

Typed = Mapping[str, str]
"""What is in the fields of a form: by address, ``engines.0.max_rpm``."""


def values_of(text: str) -> dict[str, str]:
    """What a file says, as a form shows it.

    Raises
    ------
    tomlkit.exceptions.ParseError
        If the text is no TOML.
    """
    tree = tomlkit.parse(text).unwrap()
    out: dict[str, str] = {}
    aircraft = tree.get("aircraft")
    if isinstance(aircraft, dict):
        out |= _shown(Aircraft, aircraft, "aircraft")
    for group, kind in KINDS.items():
        listed = tree.get(group)
        for n, part in enumerate(listed if isinstance(listed, list) else ()):
            if isinstance(part, dict):
                out |= _shown(kind, part, f"{group}.{n}")
    return out


def counts_of(text: str) -> dict[str, int]:
    """How many parts of each kind a file holds."""
    tree = tomlkit.parse(text).unwrap()
    return {group: len(tree[group]) if isinstance(tree.get(group), list) else 0 for group in KINDS}


def with_typed(text: str, typed: Typed, taken_out: frozenset[str] = frozenset()) -> str:
    """Put what was typed into a file's text.

    A field that still says what the file says is left as it is written; an emptied one goes. A part whose fields are
    all empty and that the file does not hold yet is no part.

    Parameters
    ----------
    text : str
        The file; empty for a new one.
    typed : mapping of str to str
        Fields by address. What the form does not show is left alone.
    taken_out : frozenset of str
        Addresses of parts to take out, ``engines.1``.
    """
    doc = tomlkit.parse(text)
    if "aircraft" in doc or any(typed.get(f"aircraft.{key}") for key in every_key(Aircraft)):
        if "aircraft" not in doc:
            doc["aircraft"] = tomlkit.table()
        _fill(Aircraft, doc["aircraft"], typed, "aircraft")
    for group, kind in KINDS.items():
        last = max((int(k.split(".")[1]) for k in typed if k.startswith(f"{group}.")), default=-1)
        for n in range(last + 1):
            parts: Any = doc.get(group, [])
            if n < len(parts):
                _fill(kind, parts[n], typed, f"{group}.{n}")
            elif any(typed.get(f"{group}.{n}.{key}") for key in every_key(kind)):
                _fill(kind, _one_more(doc, group), typed, f"{group}.{n}")
        gone = sorted((int(t.split(".")[1]) for t in taken_out if t.startswith(f"{group}.")), reverse=True)
        for n in gone:
            if n < len(doc.get(group, ())):
                del doc[group][n]
        if gone and not len(doc.get(group, ())):
            del doc[group]
    return tomlkit.dumps(doc)


def _one_more(doc: tomlkit.TOMLDocument, group: str) -> Any:
    if group not in doc:
        doc[group] = tomlkit.aot()
    parts: Any = doc[group]
    parts.append(tomlkit.table() if isinstance(parts, AoT) else tomlkit.inline_table())
    return parts[len(parts) - 1]


def _fill(kind: type, table: MutableMapping[str, Any], typed: Typed, path: str) -> None:
    for key in every_key(kind):
        said = typed.get(f"{path}.{key}")
        if said is None:
            continue
        *outer, last = key.split(".")
        holder: Any = table
        for step in outer:
            if step not in holder:
                if not said:
                    break
                holder[step] = tomlkit.inline_table()
            holder = holder[step]
        else:
            if said == _written(holder[last]) if last in holder else not said:
                continue
            if said:
                holder[last] = _value(sort_of(kind, key), said)
            else:
                del holder[last]
                if outer and not len(holder) and isinstance(holder, InlineTable | Table):
                    del table[outer[0]]


def _value(sort: str, said: str) -> Any:
    """A value of the kind wanted, or the text itself: then the register's own check says what is wrong with it."""
    try:
        if sort == "whole":
            return int(said)
        if sort == "number":
            number = said.replace(",", ".").replace("\N{MINUS SIGN}", "-")
            return int(number) if number.lstrip("+-").isdigit() else float(number)
        if sort == "date":
            return date.fromisoformat(said)
    except ValueError:
        return said
    return said


def _shown(kind: type, table: Mapping[str, Any], path: str) -> dict[str, str]:
    out = {}
    for key in every_key(kind):
        value: Any = table
        for step in key.split("."):
            value = value.get(step) if isinstance(value, Mapping) else None
        if value is not None:
            out[f"{path}.{key}"] = _written(value)
    return out


def _written(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, datetime):
        return value.date().isoformat()
    return str(value)
