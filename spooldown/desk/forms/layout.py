"""An antenna layout on the desk: rows of a form, the layout they make, and its place in the aircraft's file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

import tomlkit
from msgspec import Struct, field

from analyser.core.aircraft import AntennaLayout
from analyser.core.channels import parse
from spooldown import register
from spooldown.logbook.flight import Flight

AXES = ("x", "y", "z")
ANTENNA = ("receiver", "number", "name", "kind", *AXES, "ax", "ay", "az")
SHADOW = ("what", "azimuth_deg", "elevation_deg", "half_width_deg", "loss_db", "receiver", "number")
MOST = 24
"""Rows that one layout may have on the form."""
_ADDRESS = re.compile(r"(antennas|shadows)\.(\d{1,2})\.([a-z_]{1,20})")


class Draft(Struct):
    """A layout as it stands in the form: every field a text, so that a slip can be shown again."""

    name: str = ""
    since: str = ""
    note: str = ""
    antennas: list[dict[str, str]] = field(default_factory=list)
    shadows: list[dict[str, str]] = field(default_factory=list)


def draft_of(layout: AntennaLayout) -> Draft:
    """A saved layout, as the form shows it."""
    return Draft(
        layout.name,
        layout.since.isoformat() if layout.since else "",
        layout.note,
        [
            {
                "receiver": a.receiver, "number": str(a.number), "name": a.name, "kind": a.kind,
                **{k: f"{v:.6g}" for k, v in zip((*AXES, "ax", "ay", "az"), (*a.position_m, *a.axis), strict=True)},
            }
            for a in layout.antennas
        ],
        [
            {k: "" if (v := getattr(s, k)) is None else f"{v:.6g}" if isinstance(v, float) else str(v) for k in SHADOW}
            for s in layout.shadows
        ],
    )  # fmt: skip


def typed_draft(form: Mapping[str, Iterable[str]]) -> Draft:
    """What was typed; rows without a receiver and shadows without a name are none."""
    rows: dict[str, dict[int, dict[str, str]]] = {"antennas": {}, "shadows": {}}
    for name, values in form.items():
        if (found := _ADDRESS.fullmatch(name)) and found[3] in (ANTENNA if found[1] == "antennas" else SHADOW):
            rows[found[1]].setdefault(int(found[2]), {})[found[3]] = list(values)[-1].strip()[:80]
    said = {k: (list(form.get(k, ())) or [""])[-1].strip()[:200] for k in ("name", "since", "note")}
    antennas = [r for _, r in sorted(rows["antennas"].items()) if r.get("receiver")]
    shadows = [r for _, r in sorted(rows["shadows"].items()) if r.get("what") or r.get("loss_db")]
    return Draft(said["name"], said["since"], said["note"], antennas[:MOST], shadows[:MOST])


def found_in(flights: Iterable[Flight]) -> Draft:
    """The antennas that logs report, at the datum and upright: where they sit no log tells."""
    keys = set()
    for flight in flights:
        for channel in flight.channels:
            name = parse(channel)
            if name and name.channel.subject == "link" and name.number:
                keys.add((name.instance, name.number))
    zero = dict.fromkeys(AXES, "0")
    return Draft(antennas=[
        {"receiver": r, "number": str(n), "name": "", "kind": "dipole", **zero, "ax": "0", "ay": "0", "az": "1"}
        for r, n in sorted(keys)
    ][:MOST])  # fmt: skip


def layout_of(draft: Draft) -> AntennaLayout:
    """Make the layout that a draft describes, read and checked as the register reads a file.

    Raises
    ------
    Refusal
        With the key of the field that is wrong: ``layouts[1].antennas[2].axis[1]``.
    """
    doc = tomlkit.document()
    doc["aircraft"] = {"name": "draft"}
    doc["layouts"] = [_table(draft, draft.name or "draft")]
    aircraft = register.parse(tomlkit.dumps(doc).encode(), "the form").aircraft
    assert aircraft is not None
    return aircraft.layouts[0]


def with_layout(text: str, draft: Draft) -> str:
    """Put a layout into an aircraft's file: in the place of the one with its name, or behind the others.

    Comments stay, and what did not change stays as it is written.
    """
    doc = tomlkit.parse(text)
    wanted = _table(draft, draft.name)
    if "layouts" not in doc:
        doc["layouts"] = tomlkit.aot()
    layouts: Any = doc["layouts"]
    there = next((x for x in layouts if x.get("name") == draft.name), None)
    if there is None:
        layouts.append(_as_table(wanted))
        return tomlkit.dumps(doc)
    for key in ("since", "note"):
        _put(there, key, wanted.get(key))
    for group in ("antennas", "shadows"):
        rows = wanted.get(group, [])
        if not rows:
            if group in there:
                del there[group]
            continue
        if group not in there:
            there[group] = tomlkit.aot()
        for n, row in enumerate(rows):
            if n >= len(there[group]):
                there[group].append(_as_table(row))
                continue
            for key in (*row, *(k for k in list(there[group][n]) if k not in row)):
                _put(there[group][n], key, row.get(key))
        while len(there[group]) > len(rows):
            del there[group][len(there[group]) - 1]
    return tomlkit.dumps(doc)


def _put(table: Any, key: str, value: Any) -> None:
    if value is None:
        if key in table:
            del table[key]
    elif key not in table or table[key] != value:
        table[key] = value


def _as_table(values: Mapping[str, Any]) -> Any:
    table = tomlkit.table()
    for key, value in values.items():
        if key in ("antennas", "shadows"):
            rows = tomlkit.aot()
            for row in value:
                rows.append(_as_table(row))
            table[key] = rows
        else:
            table[key] = value
    return table


def _table(draft: Draft, name: str) -> dict[str, Any]:
    out: dict[str, Any] = {"name": name}
    if draft.since:
        out["since"] = _day(draft.since)
    if draft.note:
        out["note"] = draft.note
    out["antennas"] = [
        {
            "receiver": row.get("receiver", ""), "number": _number(row.get("number", "")),
            **({"name": row["name"]} if row.get("name") else {}),
            "kind": row.get("kind") or "dipole",
            "position_m": [_number(row.get(k, ""), real=True) for k in AXES],
            "axis": [_number(row.get(k, ""), real=True) for k in ("ax", "ay", "az")],
        }
        for row in draft.antennas
    ]  # fmt: skip
    if draft.shadows:
        out["shadows"] = [
            {
                k: row[k] if k in ("what", "receiver") else _number(row[k], real=k != "number")
                for k in SHADOW
                if row.get(k)
            }
            for row in draft.shadows
        ]
    return out


def _number(said: str, *, real: bool = False) -> Any:
    """A number, or the text itself: then the register's own check says what is wrong with it."""
    text = said.replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        return float(text) if real else int(text)
    except ValueError:
        return said


def _day(said: str) -> Any:
    try:
        return date.fromisoformat(said)
    except ValueError:
        return said
