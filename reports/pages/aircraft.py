"""One aircraft over its flights: burn, imbalance, timer, engines, layouts."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from analyser.core.figures import figures_of
from analyser.season.result import AircraftSeason
from reports.figures.plain import burn_curves, timer, trend
from reports.figures.traces import groups_of, owner_of
from reports.model import Site
from reports.pages.bench import path_of as path_of_bench
from reports.pages.compare import address_of
from reports.pages.flight import path_of
from reports.pages.start import moved_antennas
from reports.render import Shell, page
from reports.words.names import names_on, naming, slug_words, with_owner

_SIDE_BY_SIDE = 4
"""How many of the latest flights the link to the comparison chooses."""
_BY_START = ("start_durations", "start_peaks")
"""Figures of single starts, which have a table of their own."""


def render(one: AircraftSeason, site: Site, shell: Shell) -> str:
    """Make the page of one aircraft."""
    with naming(names_on(one.aircraft)):
        return _page(one, site, shell)


def _page(one: AircraftSeason, site: Site, shell: Shell) -> str:
    def named(ids: tuple[str, ...]) -> list[str]:
        return [site.number_of(i) for i in ids]

    plots: dict[str, Any] = {}
    since = site.number_of(one.fuel.imbalance.since)
    burn = trend([(slug_words(t.name), named(t.flight_ids), t.rates) for t in one.fuel.tanks], "mL/min", change=since)
    if burn:
        plots["burn"] = burn
    imbalance = trend([("", named(one.fuel.imbalance.flight_ids), one.fuel.imbalance.values)], "%", change=since)
    if imbalance:
        imbalance["layout"].setdefault("shapes", []).append(
            {
                "type": "line",
                "xref": "paper",
                "x0": 0,
                "x1": 1,
                "y0": 0,
                "y1": 0,
                "line": {"color": "@soft", "width": 1},
            }
        )
        plots["imbalance"] = imbalance
    if one.fuel.timer is not None and one.fuel.timer.minutes.size:
        plots["timer"] = timer(one.fuel.timer)
    learned = [(slug_words(t.engine or t.name), t.curve) for t in one.fuel.tanks if t.curve is not None]
    if learned:
        plots["curve"] = burn_curves(learned)
    starts = trend([(slug_words(e.name), named(e.flight_ids), e.start_peaks) for e in one.engines], "°C")
    if starts:
        plots["starts"] = starts
    durations = trend(
        [(slug_words(e.name), named(e.flight_ids), e.start_durations) for e in one.engines], "s", least_span=10.0
    )
    if durations:
        plots["durations"] = durations
    rates = [dict(zip(t.flight_ids, t.rates, strict=True)) for t in one.fuel.tanks]
    imbalances = dict(zip(one.fuel.imbalance.flight_ids, one.fuel.imbalance.values, strict=True))
    rows = []
    for i in reversed(one.flight_ids):
        if (flight := site.by_id.get(i)) is not None:
            result = flight.seen.result
            fuel = result.fuel
            rows.append(
                (
                    path_of(i),
                    flight.title,
                    fuel.burned,
                    result.phases.airborne_s / 60.0,
                    imbalances.get(i),
                    [r.get(i) for r in rates],
                )
            )
    fuel_figures = [
        replace(figure, label=with_owner(figure.label, owner_of(path)))
        for path, figure in figures_of(one.fuel)
        if not path.rpartition(".")[2].isdigit()  # one figure a flight: drawn above, not listed
    ]
    engine_figures = [
        (
            e,
            [
                f
                for g in groups_of(figures_of(e))
                if not g.path.startswith(("start_durations", "start_peaks"))
                for f in g.figures
            ],
        )
        for e in one.engines
    ]
    tanks = [slug_words(t.name) for t in one.fuel.tanks]
    return page(
        "aircraft.html",
        shell,
        title=one.aircraft.name,
        plots={"plots": plots},
        one=one,
        aircraft=one.aircraft,
        bench=path_of_bench(one.aircraft.name) if one.aircraft.name in site.bench else "",
        rows=rows,
        drawn=plots.keys(),
        fuel_figures=fuel_figures,
        engine_figures=engine_figures,
        moved=moved_antennas(one),
        tanks=tanks,
        side_by_side=address_of(list(one.flight_ids[-_SIDE_BY_SIDE:])),
    )
