"""Flights side by side: what differed, the figures, and the curves from take-off on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from analyser.compare import CompareResult, compare_flights
from analyser.core.channels import parse
from analyser.core.figures import Figure
from reports.addresses import slug
from reports.figures.decimate import keep
from reports.figures.plain import multiples, titled
from reports.figures.traces import owner_of, traces_of
from reports.headlines import SUBJECTS
from reports.model import FlightPage, Site, Unreadable
from reports.pages.flight import path_of
from reports.render import Shell, own_version, page
from reports.words.catalogue import message, reader, written
from reports.words.names import brief, channel_label, names_in_flight, naming, said, with_owner
from reports.words.units import conversion
from reports.words.vocabulary import group_word
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
            "compare",
            path,
            own_version(),
            reader().mark,
            site.title,
            site.labelled,
            *(f.fingerprint + f.title for f in chosen),
        )
        heading = message("compare.latest", aircraft=name, flights=len(chosen))
        out.append(Job(heading, path, partial(make, chosen, inner, heading), mark))
        links.append((path, heading))
    index = partial(
        page, "compares.html", replace(root, here="compare"), title=message("page.compare.title"), links=links
    )
    return [*out, Job(message("page.compare.title"), "compare.html", index)]


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
            text = render(readable, shell, message("compare.without", heading=heading, flights=left_out))
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
    with naming(names_in_flight(chosen[-1].record.context)):
        return _page(chosen, shell, heading)


def _page(chosen: Sequence[FlightPage], shell: Shell, heading: str) -> str:
    subjects = []
    several = len({f.record.aircraft for f in chosen}) > 1
    compared = compare_flights([f.record for f in chosen])
    for group, part in SUBJECTS:
        first, rest = _rows(compared, part)
        if first or rest:
            subjects.append((group_word(group), first or rest[:6], rest if first else rest[6:]))
    plots: dict[str, Any] = {}
    drawn = []
    for n, (title, unit, spec) in enumerate(_curves(chosen)):
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
            f"{f.record.aircraft} {f.record.number}".strip()
            if several
            else message("compare.flight", number=f.record.number)
            for f in chosen
        ],
        facts=[
            (said(c.name), [written(v) or message("compare.not_noted") for v in c.values], c.differs)
            for c in compared.circumstances
        ],
        subjects=subjects,
        drawn=drawn,
    )


_KEY = frozenset(
    {
        *("burned", "rate", "imbalance", "margin"),
        *("airborne_mah_per_min", "lowest_v", "deepest_sag_v", "value_mohm"),
        *("lost_frames", "lost_per_min", "fades", "lowest_margin_db"),
        *("run_min", "max_egt_c"),
    }
)
"""Fields shown first; every other figure waits folded below them."""


def _rows(compared: CompareResult, subject: str) -> tuple[list[Row], list[Row]]:
    first: list[Row] = []
    rest: list[Row] = []
    for row in compared.rows:
        if row.subject != subject:
            continue
        owner = owner_of(row.path)
        text = with_owner(row.label, owner)
        key = row.path.rpartition(".")[2] in _KEY and "by_sensor" not in row.path
        (first if key else rest).append(
            Row(text, row.unit, row.figures, row.differences, tuple(map(_mark, row.differences)))
        )
    return first, rest


def _mark(difference: Figure | None) -> str:
    """``more`` or ``less`` where a difference is beyond its interval, '' where it may be chance or has none."""
    if difference is None or difference.low is None or difference.high is None:
        return ""
    return "more" if difference.low > 0 else "less" if difference.high < 0 else ""


def _curves(chosen: Sequence[FlightPage]) -> list[tuple[str, str, dict[str, Any]]]:
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
                to = conversion(unit)
                t, v, unit = t[good], to.array(v[good]), to.unit
                chosen_points = keep(t, v, _POINTS)
                kinds.setdefault((title, unit), []).append(
                    (key, name, (t[chosen_points] - zero) / 60.0, v[chosen_points])
                )

        for found in (f for part in ("fuel", "link") for f in traces_of(part, getattr(result, part))):
            if found.field in ("burn_rate", "residual"):
                owner = found.owner if ".antenna" in found.owner else f"{found.subject}.{found.owner}"
                title = message(f"panel.{found.field}")
                add(title, found.trace.unit, brief(owner), found.trace.time_s, found.trace.values)
        telemetry = flight.telemetry()
        for name in telemetry.channels:
            parsed = parse(name)
            if parsed is None or not any(name.endswith(c) for c in _CURVES):
                continue
            t, v = telemetry.series(name)
            owner = f"{parsed.instance}.antenna{parsed.number}" if parsed.number else parsed.instance
            title = channel_label(name, whose=False).removesuffix(f" {parsed.number}")
            short = brief(owner if parsed.number else f"{parsed.channel.subject}.{owner}") if owner else title
            add(title, parsed.channel.unit, short, t, v)
    titles = {slug(f.record.flight_id): f.title for f in chosen}
    out = []
    for (title, unit), rows in kinds.items():
        spec = multiples(rows, unit)
        if spec:
            out.append((title, unit, titled(spec, titles)))
    return out[:10]
