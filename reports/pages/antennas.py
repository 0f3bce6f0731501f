"""Antennas of one aircraft: planned and measured maps side by side, nulls, and whether moving one helped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analyser.antenna import AntennaMap
from analyser.season import AircraftSeason
from reports.figures.plain import cuts, elevation_edges_deg, heat
from reports.model import Site
from reports.pages.flight import path_of
from reports.render import Shell, number, page


@dataclass(frozen=True, slots=True)
class _Shown:
    key: str
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
                f"{elevation[e]:.0f}° to {elevation[e + 1]:.0f}°".replace("-", "−"),
                ["–" if not np.isfinite(v) else number(float(v), 1) for v in values[:, e]],
            )
            for e in reversed(range(elevation.size - 1))
        ],
    }


def render(one: AircraftSeason, site: Site, shell: Shell) -> str:
    """Make the page of one aircraft's antennas."""
    titles = {f.record.flight_id: f.title for f in site.flights}
    plots: dict[str, Any] = {}
    sections = []
    every = [m for lay in one.layouts.layouts for m in (*lay.measured, *lay.planned)]
    scale: dict[str, tuple[float, float]] = {}
    for unit in {m.unit for m in every}:
        seen = [np.asarray(m.gain_db, float)[np.isfinite(m.gain_db)] for m in every if m.unit == unit]
        joined = np.concatenate(seen) if seen else np.empty(0)
        if joined.size:
            low, high = np.percentile(joined, [1, 99])
            scale[unit] = (float(low), float(max(high, low + 1e-6)))
    for n, lay in enumerate(one.layouts.layouts):
        planned = {m.antenna: m for m in lay.planned}
        measured = {m.antenna: m for m in lay.measured}
        pairs = []
        for k, name in enumerate(dict.fromkeys([*measured, *planned])):
            shown = []
            for word, found in (("measured", measured.get(name)), ("planned", planned.get(name))):
                if found is None:
                    continue
                key = f"map-{n}-{k}-{word}"
                low, high = scale.get(found.unit, (0.0, 1.0))
                if np.isfinite(found.gain_db).any():
                    plots[key] = heat(found, low, high, worse_is_high=found.unit != "dB")
                shown.append(_Shown(key if key in plots else "", word, found, _table(found)))
            alike = [(s.word, s.map) for s in shown if s.map.unit == shown[0].map.unit]
            cut = cuts(alike, *scale.get(shown[0].map.unit, (0.0, 1.0)))
            if cut:
                plots[f"cut-{n}-{k}"] = cut
            pairs.append({"name": name, "shown": shown, "cut": f"cut-{n}-{k}" if cut else ""})
        best = lay.planned_best
        if best is not None and np.isfinite(best.gain_db).any():
            low, high = scale.get(best.unit, (-20.0, 3.0))
            plots[f"best-{n}"] = heat(best, low, high, worse_is_high=False)
        described = next((x for x in one.aircraft.layouts if x.name == lay.layout), None)
        sections.append(
            {
                "lay": lay,
                "described": described,
                "pairs": pairs,
                "best": f"best-{n}" if f"best-{n}" in plots else "",
                "flights": [(path_of(i), titles.get(i, i)) for i in lay.flight_ids],
            }
        )
    return page(
        "antennas.html",
        shell,
        title=f"Antennas of {one.aircraft.name}",
        plots={"plots": plots},
        one=one,
        aircraft=one.aircraft,
        sections=sections,
    )
