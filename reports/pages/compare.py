"""Flights side by side: what differed, the figures, and the curves from take-off on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from analyser.compare import CompareResult, compare_flights
from analyser.core.channels import label, parse
from analyser.core.figures import Figure
from reports.called import Called, called
from reports.figures.decimate import keep
from reports.figures.plain import multiples, titled
from reports.figures.walk import owner_of, traces_of
from reports.model import FlightPage, Site, Unreadable
from reports.names import slug
from reports.pages.flight import path_of
from reports.render import Shell, own_version, page
from reports.words import told
from reports.words.catalogue import text as worded
from reports.words.catalogue import written
from reports.write import Job, Provisional, fingerprint

_LATEST = 6
_POINTS = 240
_CURVES = ("residual", "voltage_v", "rssi_dbm", "signal_percent", "current_a", "egt_c", "altitude_m", "height_m")


@dataclass(frozen=True, slots=True)
class Row:
    """One figure in every flight; ``differences`` are against the first one, ``marks`` say which of them are sure."""

    label: str
    unit: str
    figures: tuple[Figure | None, ...]
    differences: tuple[Figure | None, ...]
    marks: tuple[str, ...]


def jobs(site: Site, root: Shell, inner: Shell) -> list[Job]:
    """The comparison pages of a site: the latest flights of each aircraft, and the page that leads to them."""
    out: list[Job] = []
    links = []
    for one in site.season.aircraft:
        name = one.aircraft.name
        chosen = [f for f in site.flights if f.record.aircraft == name][:_LATEST][::-1]
        if len(chosen) < 2:
            continue
        path = f"compare/{slug(name)}.html"
        mark = fingerprint(
            "compare", path, own_version(), site.title, site.labelled, *(f.fingerprint + f.title for f in chosen)
        )
        heading = f"{name}, latest {len(chosen)} flights"
        out.append(Job(heading, path, partial(make, chosen, inner, heading), mark))
        links.append((path, heading))
    index = partial(page, "compares.html", replace(root, here="compare"), title="Compare", links=links)
    return [*out, Job("Compare", "compare.html", index)]


def make(chosen: Sequence[FlightPage], shell: Shell, heading: str) -> str:
    """Make the page of chosen flights, in the order given.

    Raises
    ------
    Provisional
        With the page of the others, where the telemetry of some cannot be read now.
    """
    try:
        return render(chosen, shell, heading)
    except Unreadable as error:
        readable = [f for f in chosen if _reads(f)]
        left_out = ", ".join(f.title for f in chosen if f not in readable)
        if readable:
            text = render(readable, shell, f"{heading}, without {left_out}: cannot be read")
        else:
            text = page("compares.html", replace(shell, here="compare"), title=heading, links=[])
        raise Provisional(text) from error


def _reads(flight: FlightPage) -> bool:
    try:
        flight.telemetry()
    except Unreadable:
        return False
    return True


def render(chosen: Sequence[FlightPage], shell: Shell, heading: str) -> str:
    """Make the page of chosen flights, in the order given."""
    subjects = []
    own = called(chosen[-1].record.context)
    one_aircraft = len({f.record.aircraft for f in chosen}) == 1
    compared = compare_flights([f.record for f in chosen])
    for name, part in (("Fuel", "fuel"), ("Packs", "packs"), ("Radio link", "link"), ("Engines", "turbine")):
        first, rest = _rows(compared, part, own)
        if first or rest:
            subjects.append((name, first or rest[:6], rest if first else rest[6:]))
    plots: dict[str, Any] = {}
    drawn = []
    for n, (title, unit, spec) in enumerate(_curves(chosen, own)):
        plots[f"multiple-{n}"] = spec
        drawn.append((f"multiple-{n}", title, unit))
    return page(
        "compare.html",
        replace(shell, here="compare", labelled=next((f.labelled for f in chosen if f.labelled), shell.labelled)),
        title=heading,
        plots={"plots": plots},
        heading=heading,
        flights=[(slug(f.record.flight_id), "../" + path_of(f.record.flight_id), f.title) for f in chosen],
        brief=[
            f"Flight {f.record.number}" if one_aircraft else f"{f.record.aircraft} {f.record.number}".strip()
            for f in chosen
        ],
        facts=[
            (worded(c.name), [written(v) or "not noted" for v in c.values], c.differs) for c in compared.circumstances
        ],
        subjects=subjects,
        drawn=drawn,
    )


_KEY = frozenset(
    {
        *("burned_ml", "airborne_rate_ml_per_min", "imbalance_percent", "margin_ml"),
        *("airborne_rate_mah_per_min", "min_voltage_v", "worst_sag_v", "resistance_normalised_mohm"),
        *("lost_frames", "lost_per_min", "fades", "lowest_margin_db"),
        *("run_min", "max_egt_c"),
    }
)
"""Fields shown first; every other figure waits folded below them."""


def _rows(compared: CompareResult, subject: str, own: Called) -> tuple[list[Row], list[Row]]:
    first: list[Row] = []
    rest: list[Row] = []
    for row in compared.rows:
        if row.subject != subject:
            continue
        owner = owner_of(row.path)
        antenna = next((k for k in own.antennas if owner.endswith(k)), "")
        text = f"{worded(row.label)}, {own.antenna(antenna)}" if antenna else told(worded(row.label), owner)
        key = row.path.rpartition(".")[2] in _KEY
        (first if key else rest).append(
            Row(text, row.unit, row.figures, row.differences, tuple(map(_mark, row.differences)))
        )
    return first, rest


def _mark(difference: Figure | None) -> str:
    """``more`` or ``less`` where a difference is beyond its interval, '' where it may be chance or has none."""
    if difference is None or difference.low is None or difference.high is None:
        return ""
    return "more" if difference.low > 0 else "less" if difference.high < 0 else ""


def _curves(chosen: Sequence[FlightPage], own: Called) -> list[tuple[str, str, dict[str, Any]]]:
    """Curves of one quantity in every flight, time zero at take-off (or the first row where none was seen)."""
    kinds: dict[tuple[str, str], list[tuple[str, str, Any, Any]]] = {}
    for flight in chosen:
        record = flight.record
        result = record.result
        key = slug(record.flight_id)
        zero = result.phases.take_off_s or 0.0

        def add(title: str, unit: str, name: str, t: Any, v: Any, key: str = key, zero: float = zero) -> None:
            good = np.isfinite(v)
            if good.sum() > 1:
                t, v = t[good], v[good]
                chosen_points = keep(t, v, _POINTS)
                kinds.setdefault((title, unit), []).append(
                    (key, name, (t[chosen_points] - zero) / 60.0, v[chosen_points])
                )

        for found in (f for part in ("fuel", "link") for f in traces_of(part, getattr(result, part))):
            if found.field in ("burn_rate", "residual"):
                title = {"burn_rate": "Fuel burn rate", "residual": "Signal after distance is taken out"}[found.field]
                add(
                    title,
                    found.trace.unit,
                    own.antenna(found.owner) if ".antenna" in found.owner else found.owner,
                    found.trace.time_s,
                    found.trace.values,
                )
        telemetry = flight.telemetry()
        for name in telemetry.channels:
            parsed = parse(name)
            if parsed is None or not any(name.endswith(c) for c in _CURVES):
                continue
            t, v = telemetry.series(name)
            key = f"{parsed.instance}.antenna{parsed.number}"
            short = (
                own.antenna(key)
                if key in own.antennas
                else ", ".join(
                    [
                        b
                        for b in (
                            parsed.instance.replace("_", " "),
                            f"antenna {parsed.number}" if parsed.number else "",
                        )
                        if b
                    ]
                )
            )
            add(parsed.channel.label, parsed.channel.unit, short or label(name), t, v)
    titles = {slug(f.record.flight_id): f.title for f in chosen}
    out = []
    for (title, unit), rows in kinds.items():
        spec = multiples(rows, unit)
        if spec:
            out.append((title, unit, titled(spec, titles)))
    return out[:10]
