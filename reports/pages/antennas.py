"""Antennas of one aircraft: planned and measured maps side by side, nulls, and whether moving one helped."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import Figure
from analyser.core.findings import Finding
from analyser.link.difference import map_difference
from analyser.link.maps import AntennaMap
from analyser.season.link.comparison import LayoutComparison
from analyser.season.link.layouts import LayoutMaps
from analyser.season.result import AircraftSeason
from reports.addresses import slug
from reports.figures.airframe import numbers, places, plates
from reports.figures.maps import colours, cuts, elevation_edges_deg, heat, scale_bar
from reports.key_figures import antenna_heading
from reports.markup import script_json
from reports.model import Site
from reports.pages.flight import path_of
from reports.pages.start import moved_antennas
from reports.render import Shell, page
from reports.words.catalogue import message, number, upper_first
from reports.words.names import names_on, naming, said


class _Shown(Struct, frozen=True):
    svg: Markup | None
    word: str
    map: AntennaMap
    table: dict[str, Any]


def _table(antenna: AntennaMap) -> dict[str, Any]:
    """The map as a table: a row a band of elevation, a column a band of azimuth."""
    azimuth = antenna.edges_azimuth_deg
    elevation = elevation_edges_deg(antenna)
    values = np.asarray(antenna.gain_db, float)
    return {
        "columns": [f"{a:.0f}°".replace("-", "−") for a in (azimuth[:-1] + azimuth[1:]) / 2],
        "rows": [
            (
                message("core.range", low=f"{elevation[e]:.0f}°", high=f"{elevation[e + 1]:.0f}°").replace("-", "−"),
                ["–" if not np.isfinite(v) else number(float(v), 1) for v in values[:, e]],
            )
            for e in reversed(range(elevation.size - 1))
        ],
    }


class _InLayout(Struct, frozen=True):
    """One antenna in one layout: measured beside planned."""

    layout: str
    flights: int
    shown: tuple[_Shown, ...]


class _Change(Struct, frozen=True):
    """What moving an antenna changed, direction by direction."""

    map: AntennaMap
    svg: Markup
    bar: Markup


class _Antenna(Struct, frozen=True):
    """One antenna in every layout, newest layout first.

    ``bars`` are the colours its maps share, ``cut`` lays the layouts over each other, ``small`` is the newest
    measured map to be looked at among the others'.
    """

    name: str
    weak: str
    bars: tuple[Markup, ...]
    layouts: tuple[_InLayout, ...]
    cut: Markup | None
    stronger: bool
    small: Markup | None
    comparisons: tuple[tuple[LayoutComparison, tuple[Figure, ...]], ...]
    changes: tuple[_Change, ...]
    turn: str


def _changes(compared: LayoutComparison) -> tuple[Figure, ...]:
    """What a move changed, from each side; the heading names the antenna already."""
    figures = (compared.difference_db, compared.difference_lost_per_min, *compared.sectors)
    return tuple(replace(f, label=upper_first(said(f.label).partition(": ")[2] or said(f.label))) for f in figures)


def _scales(every: list[AntennaMap]) -> dict[str, tuple[float, float]]:
    """One colour scale a unit, so that any two maps of a page can be laid side by side."""
    scale = {}
    for unit in {m.unit for m in every}:
        seen = [np.asarray(m.gain_db, float)[np.isfinite(m.gain_db)] for m in every if m.unit == unit]
        joined = np.concatenate(seen) if seen else np.empty(0)
        if joined.size:
            low, high = np.percentile(joined, [1, 99])
            scale[unit] = (float(low), float(max(high, low + 1e-6)))
    return scale


def _antenna(
    key: str,
    layouts: tuple[LayoutMaps, ...],
    scale: dict[str, tuple[float, float]],
    compared: tuple[LayoutComparison, ...],
) -> _Antenna:
    name = antenna_heading(key)
    inside: list[_InLayout] = []
    overlaid: list[tuple[str, AntennaMap, bool]] = []
    weak, small = "", None
    for lay in reversed(layouts):
        shown = []
        for word, maps in (("measured", lay.measured), ("planned", lay.planned)):
            found = next((m for m in maps if m.antenna == key), None)
            if found is None:
                continue
            low, high = scale.get(found.unit, (0.0, 1.0))
            worse = found.unit != "dB"
            what = message(f"antennas.{word}", layout=lay.layout if len(layouts) > 1 else "")
            seen = bool(np.isfinite(found.gain_db).any())
            svg = heat(found, low, high, worse_is_high=worse, label=f"{name}, {what}") if seen else None
            shown.append(_Shown(svg, word, found, _table(found)))
            if word == "measured" and seen and small is None:
                small = heat(found, low, high, worse_is_high=worse, label=f"{name}, {what}", small=True)
                weak = said(found.nulls[0]) if found.nulls else ""
            overlaid.append((what, found, word == "planned"))
        if shown:
            inside.append(_InLayout(lay.layout, len(lay.flight_ids), tuple(shown)))
    units = dict.fromkeys(m.unit for _, m, _ in overlaid if np.isfinite(m.gain_db).any())
    bars = tuple(scale_bar(u, *scale.get(u, (0.0, 1.0)), worse_is_high=u != "dB") for u in units)
    alike = [o for o in overlaid if o[1].unit == overlaid[0][1].unit]
    cut = cuts(alike, *scale.get(overlaid[0][1].unit, (0.0, 1.0)), label=name) if overlaid else None
    moves = tuple((c, _changes(c)) for c in compared)
    stronger = bool(alike) and alike[0][1].unit == "dB"
    changes = tuple(_drawn_change(name, change) for _, change in _moves(key, layouts))
    latest = next((f"{lay.layout}.measured" for lay in reversed(layouts) if _seen(lay.measured, key)), "")
    turn = f"{key},{slug(latest)},180,0" if latest else ""
    return _Antenna(name, weak, bars, tuple(inside), cut, stronger, small, moves, changes, turn)


def _seen(maps: tuple[AntennaMap, ...], key: str) -> AntennaMap | None:
    """The map of one antenna, where any direction of it is known."""
    return next((m for m in maps if m.antenna == key and np.isfinite(m.gain_db).any()), None)


def _moves(key: str, layouts: tuple[LayoutMaps, ...]) -> list[tuple[str, AntennaMap]]:
    """Differences of the measured maps of layouts flown one after another: what is compared, and the difference."""
    out = []
    for before, after in pairwise(layouts):
        old, new = _seen(before.measured, key), _seen(after.measured, key)
        change = map_difference(new, old) if old is not None and new is not None else None
        if change is not None:
            out.append((message("antennas.changed", after=after.layout, before=before.layout), change))
    return out


def _reach(change: AntennaMap) -> float:
    """Where the colours of a difference end, alike on both sides."""
    known = np.abs(change.gain_db[np.isfinite(change.gain_db)])
    return float(max(np.percentile(known, 98), 3.0 if change.unit == "dB" else 1e-6))


def _drawn_change(name: str, change: AntennaMap) -> _Change:
    reach, worse = _reach(change), change.unit != "dB"
    label = f"{name}, {message('antennas.what_the_move_did')}"
    svg = heat(change, -reach, reach, worse_is_high=worse, label=label, change=True)
    return _Change(change, svg, scale_bar(change.unit, -reach, reach, worse_is_high=worse, change=True))


def _turned(
    one: AircraftSeason, names: list[str], scale: dict[str, tuple[float, float]]
) -> tuple[dict[str, Any], dict[str, Markup]]:
    """What ``airframe.js`` turns: every map of every antenna with the airframe, and the colour scales they use."""
    layouts = one.layouts.layouts
    several = len(layouts) > 1
    bars: dict[str, Markup] = {}
    reach: dict[str, float] = {}
    found: list[tuple[str, list[tuple[str, str, str, AntennaMap, bool]]]] = []
    for key in names:
        maps: list[tuple[str, str, str, AntennaMap, bool]] = []
        for lay in reversed(layouts):
            named = lay.layout if several else ""
            seen, plan = _seen(lay.measured, key), _seen(lay.planned, key)
            for word, m in (("measured", seen), ("planned", plan)):
                if m is not None:
                    identity = slug(f"{lay.layout}.{word}")
                    maps.append((identity, message(f"antennas.{word}", layout=named), lay.layout, m, False))
            if seen is not None and plan is not None and (off := map_difference(seen, plan, level=True)) is not None:
                name = message("antennas.off_plan", layout=named)
                maps.append((slug(f"{lay.layout}.off-plan"), name, lay.layout, off, True))
        maps += [(slug(name), name, m.layout, m, True) for name, m in _moves(key, layouts)]
        if maps:
            found.append((key, maps))
        for *_, m, change in maps:
            if change:
                reach[m.unit] = max(reach.get(m.unit, 0.0), _reach(m))
    for unit, ends in scale.items():
        bars[unit] = scale_bar(unit, *ends, worse_is_high=unit != "dB")
    for unit, end in reach.items():
        bars[f"change {unit}"] = scale_bar(unit, -end, end, worse_is_high=unit != "dB", change=True)

    def packed(identity: str, name: str, layout: str, m: AntennaMap, change: bool) -> dict[str, Any]:
        low, high = (-reach[m.unit], reach[m.unit]) if change else scale.get(m.unit, (0.0, 1.0))
        out = {
            **{"id": identity, "name": upper_first(name), "layout": layout, "unit": m.unit, "change": change},
            **{"low": round(low, 2), "high": round(high, 2), "worse": m.unit != "dB", "g": numbers(m.gain_db)},
        }
        if np.isfinite(m.low_db).any():
            out |= {"l": numbers(m.low_db), "h": numbers(m.high_db)}
        if m.nulls and isinstance(m.nulls[0], Finding) and "azimuth_deg" in m.nulls[0].values:
            values = m.nulls[0].values
            where = {"a": values["azimuth_deg"], "e": values["elevation_deg"]}
            out["worst"] = {k: round(float(str(v)), 1) for k, v in where.items()} | {"t": said(m.nulls[0])}
        return out

    any_map = found[0][1][0][3] if found else None
    sides = [*("nose", "right_of_nose", "right", "right_of_tail", "tail", "left_of_tail", "left", "left_of_nose")]
    data = {
        "azimuth": [round(float(v), 3) for v in any_map.edges_azimuth_deg] if any_map else [],
        "sine": [round(float(v), 4) for v in any_map.edges_sin_elevation] if any_map else [],
        "plates": plates(one.aircraft, one.aircraft.layouts),
        "places": {lay.name: places(lay) for lay in one.aircraft.layouts},
        "colours": colours(),
        "changes": colours(change=True),
        "antennas": [
            {"key": key, "name": antenna_heading(key), "maps": [packed(*m) for m in maps]} for key, maps in found
        ],
        "sides": [message(f"direction.{side}") for side in sides],
        "from": [message(f"direction.side_from_{way}", side="{side}") for way in ("above", "below")],
        "straight": [message(f"direction.straight_{way}") for way in ("above", "below")],
    }
    return data, bars


def render(one: AircraftSeason, site: Site, shell: Shell) -> str:
    """Make the page of one aircraft's antennas."""
    with naming(names_on(one.aircraft)):
        return _page(one, site, shell)


def _page(one: AircraftSeason, site: Site, shell: Shell) -> str:
    layouts = one.layouts.layouts
    scale = _scales([m for lay in layouts for m in (*lay.measured, *lay.planned)])
    compared: dict[str, list[LayoutComparison]] = {}
    for c in one.layouts.comparisons:
        compared.setdefault(c.antenna, []).append(c)
    names = dict.fromkeys([*compared, *(m.antenna for lay in layouts for m in (*lay.measured, *lay.planned))])
    antennas = [_antenna(name, layouts, scale, tuple(compared.get(name, ()))) for name in names]
    turned, turned_bars = _turned(one, list(names), scale)
    sections = []
    for lay in layouts:
        best = lay.planned_best
        shown = best is not None and bool(np.isfinite(best.gain_db).any())
        ends = scale.get(best.unit, (-20.0, 3.0)) if best is not None else (0.0, 1.0)
        sections.append(
            {
                "lay": lay,
                "described": next((x for x in one.aircraft.layouts if x.name == lay.layout), None),
                "best": heat(best, *ends, worse_is_high=False, label=message("antennas.best"))
                if best is not None and shown
                else None,
                "bar": scale_bar(best.unit, *ends, worse_is_high=False) if best is not None and shown else None,
                "flights": [(path_of(i), site.title_of(i)) for i in lay.flight_ids],
            }
        )
    return page(
        "antennas.html",
        shell,
        title=message("antennas.title", aircraft=one.aircraft.name),
        one=one,
        aircraft=one.aircraft,
        antennas=antennas,
        turned=script_json(turned) if turned["antennas"] else "",
        turned_bars=turned_bars.items(),
        moved=[a for a in antennas if a.comparisons],
        still=[a for a in antennas if not a.comparisons],
        moved_texts=moved_antennas(one),
        sections=sections,
    )
