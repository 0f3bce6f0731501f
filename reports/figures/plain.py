"""Plots that are plotly's own JSON with colour names (``@c0`` … ``@ink``) for ``plots.js`` to fill in."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np

from analyser.core.burn_curve import LearnedCurve
from analyser.core.figures import Figure
from analyser.season.fuel.timer import RARE, TimerCurve
from reports.figures.encode import html_free
from reports.words.catalogue import message
from reports.words.units import Conversion, conversion


def _r(value: float | None, digits: int = 3) -> float | None:
    return round(float(value), digits) if value is not None and math.isfinite(value) else None


_SYMBOLS = ("circle", "diamond", "square", "triangle-up", "cross", "x")
_NAMED = re.compile(r"(.*\S) (\d+)")


def _numbered(
    rows: Sequence[tuple[str, Sequence[str], Sequence[Figure]]], change: str
) -> tuple[Sequence[tuple[str, Sequence[str], Sequence[Figure]]], str, str]:
    """Flights of one aircraft by their number alone (``Tern 7`` → ``7``), with what the axis then says of them."""
    found = [[_NAMED.fullmatch(label) for label in labels] for _, labels, _ in rows]
    names = {m[1] if m else "" for line in found for m in line}
    if len(names) != 1 or "" in names:
        return rows, change, ""
    plain = [(name, [m[2] for m in line if m], figures) for (name, _, figures), line in zip(rows, found, strict=True)]
    return plain, change.removeprefix(f"{min(names)} "), min(names)


def _line(name: str, known: Sequence[tuple[str, Figure]], n: int, to: Conversion) -> dict[str, Any]:
    """The ``n``-th line of a trend: figures by flight, with their intervals as bars."""
    one: dict[str, Any] = {
        "type": "scatter",
        "mode": "lines+markers",
        "name": html_free(name),
        "x": [x for x, _ in known],
        "y": [_r(to.value(f.value or 0.0)) for _, f in known],
        "line": {"color": f"@c{n % 8}", "width": 1.5},
        "marker": {"color": f"@c{n % 8}", "size": 8, "symbol": _SYMBOLS[n % len(_SYMBOLS)]},
        "hovertemplate": f"%{{x}}<br>%{{y:.{known[0][1].digits + to.digits}f}} {html_free(to.unit)}",
    }
    if any(f.low is not None and f.high is not None for _, f in known):
        one["error_y"] = {
            "type": "data",
            "symmetric": False,
            "array": [
                _r((f.high - f.value) * to.scale) if f.high is not None and f.value is not None else 0 for _, f in known
            ],
            "arrayminus": [
                _r((f.value - f.low) * to.scale) if f.low is not None and f.value is not None else 0 for _, f in known
            ],
            "thickness": 1.2,
            "width": 3,
            "color": f"@c{n % 8}",
        }
    return one


def _mark_limit(layout: dict[str, Any], limit: float, name: str, *, under: bool) -> None:
    line = {"color": "@soft", "width": 1.5, "dash": "dash"}
    layout["shapes"] = [{"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": limit, "y1": limit, "line": line}]
    layout["annotations"] = [
        {
            "xref": "paper",
            "x": 0.01,
            "y": limit,
            "xanchor": "left",
            "yanchor": "top" if under else "bottom",
            "text": html_free(name),
            "showarrow": False,
            "font": {"size": 11, "color": "@soft"},
        }
    ]


def _mark_change(layout: dict[str, Any], at: float, flight: str) -> None:
    line = {"color": "@ink", "width": 1.5, "dash": "dot"}
    layout.setdefault("shapes", []).append(
        {"type": "line", "yref": "paper", "y0": 0, "y1": 1, "x0": at, "x1": at, "line": line}
    )
    layout.setdefault("annotations", []).append(
        {
            "yref": "paper",
            "x": at,
            "y": 1,
            "xanchor": "left",
            "yanchor": "top",
            "text": f" {html_free(message('plot.since_flight', flight=flight))}",
            "showarrow": False,
            "font": {"size": 11, "color": "@ink"},
        }
    )


def trend(
    rows: Sequence[tuple[str, Sequence[str], Sequence[Figure]]],
    unit: str,
    *,
    limit: float | None = None,
    limit_name: str = "",
    change: str = "",
    least_span: float = 0.0,
) -> dict[str, Any] | None:
    """Figures over flights, one line a row ``(name, flight labels, figures)``, with their intervals as bars.

    ``change`` is the label of the flight before which a line stands for a change; ``least_span`` keeps
    a hair's difference from filling the plot.
    """
    rows, change, aircraft = _numbered(rows, change)
    to = conversion(unit)
    unit = to.unit
    data: list[dict[str, Any]] = []
    order = list(dict.fromkeys(label for _, labels, _ in rows for label in labels))
    for name, labels, figures in rows:
        if known := [(html_free(x), f) for x, f in zip(labels, figures, strict=False) if f.value is not None]:
            data.append(_line(name, known, len(data), to))
    if not data:
        return None
    axis = message("plot.flight_axis", aircraft=aircraft)
    layout: dict[str, Any] = {
        "height": 280,
        "xaxis": {
            "type": "category",
            "categoryorder": "array",
            "categoryarray": [html_free(x) for x in order],
            "tickangle": -35 if any(len(x) > 3 for x in order) else 0,
            "nticks": 16,
            "title": {"text": "" if any(len(x) > 3 for x in order) else html_free(axis)},
        },
        "yaxis": {"title": {"text": html_free(unit)}},
        "margin": {"l": 58, "r": 14, "t": 10, "b": 54},
        "hovermode": "closest",
    }
    values = [v for d in data for v in d["y"] if v is not None]
    if values and max(values) - min(values) < least_span:
        middle = (max(values) + min(values)) / 2
        layout["yaxis"]["range"] = [_r(middle - least_span / 2), _r(middle + least_span / 2)]
    if limit is not None:
        # The words stand on the side of the line where the curve does not begin.
        under = bool(values) and values[0] > to.value(limit)
        _mark_limit(layout, to.value(limit), limit_name, under=under)
    if change in order[1:]:
        _mark_change(layout, order.index(change) - 0.5, change)
    return {"kind": "plain", "data": data, "layout": layout}


def burn_curves(named: Sequence[tuple[str, LearnedCurve]]) -> dict[str, Any]:
    """Learned burn against shaft speed, one line an engine, over the upper three quarters of its speeds."""
    data = []
    to = conversion("mL/min")
    for n, (name, curve) in enumerate(named):
        speed = np.linspace(0.25, 1.0, 40) * curve.max_rpm
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": html_free(name),
                "x": [_r(v, 0) for v in speed],
                "y": [_r(v, 1 + to.digits) for v in to.array(curve.at(speed))],
                "line": {"color": f"@c{n % 8}", "width": 2, "dash": ("solid", "dash", "dot")[n % 3]},
                "hovertemplate": f"%{{x:.0f}} rpm: %{{y:.{to.digits}f}} {to.unit}",
            }
        )
    layout = {
        "height": 280,
        "xaxis": {"title": {"text": message("plot.shaft_speed")}},
        "yaxis": {"title": {"text": message("plot.burn", unit=to.unit)}, "rangemode": "tozero"},
    }
    return {"kind": "plain", "data": data, "layout": layout}


def timer(curve: TimerCurve) -> dict[str, Any]:
    """Flight time against the odds of keeping the reserve."""
    advised = curve.advised.value
    layout: dict[str, Any] = {
        "height": 280,
        "xaxis": {"title": {"text": message("plot.flight_time")}},
        "yaxis": {"title": {"text": message("plot.odds")}, "range": [-3, 103]},
        "showlegend": False,
    }
    if advised is not None:
        layout["xaxis"]["range"] = [_r(0.5 * advised, 1), _r(1.5 * advised, 1)]
        layout["shapes"] = [
            {
                "type": "line",
                "yref": "paper",
                "y0": 0,
                "y1": 1,
                "x0": advised,
                "x1": advised,
                "line": {"color": "@ink", "width": 1.5, "dash": "dash"},
            }
        ]
        layout["annotations"] = [
            {
                "x": advised,
                "y": 0.5,
                "yref": "paper",
                "xanchor": "right",
                "yanchor": "middle",
                "showarrow": False,
                "text": message("plot.timer", advised=curve.advised) + " ",
                "font": {"size": 12, "color": "@ink"},
            }
        ]
    odds = np.asarray(curve.odds, float)
    return {
        "kind": "plain",
        "data": [
            {
                "type": "scatter",
                "mode": "lines",
                "x": [_r(v) for v in curve.minutes],
                "y": [_r(100 * v, 2) for v in odds],
                "line": {"color": "@c0", "width": 2},
                "text": [_odds(float(v)) for v in odds],
                "hovertemplate": "%{x:.1f} min: %{text}<extra></extra>",
            }
        ],
        "layout": layout,
    }


def _odds(chance: float) -> str:
    """Odds in percent; those nearer to none or to all than can be told say so."""
    if chance < RARE:
        return message("plot.odds_below", odds=100.0 * RARE)
    if chance > 1.0 - RARE:
        return message("plot.odds_above", odds=100.0 * (1.0 - RARE))
    return message("plot.odds_percent", odds=100.0 * chance, digits=0 if 0.01 <= chance <= 0.99 else 1)
