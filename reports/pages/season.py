"""The season on one page: flying, fuel, engines, packs, layouts."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

from reports.figures.plain import trend
from reports.model import Site
from reports.pages.days import choices, days_of, months, rows_of
from reports.pages.flight import brief_names
from reports.pages.start import lines, moved_antennas, verdict
from reports.render import Shell, page
from reports.words.catalogue import message, number, written_day
from reports.words.names import said, slug_words
from reports.words.units import conversion
from reports.words.vocabulary import group_of, group_word, kind_words


def _litres(value: float) -> str:
    to = conversion("L")
    return f"{number(to.value(value), 1)}\u00a0{to.unit}"


def render(site: Site, shell: Shell) -> str:
    """Make the season page."""
    briefs = brief_names(site)
    numbers = {f.record.flight_id: str(f.record.number) for f in site.flights}
    plots: dict[str, Any] = {}
    aircraft = []
    for n, one in enumerate(site.season.aircraft):
        flights = [f.record for f in site.flights if f.record.aircraft == one.aircraft.name]
        kinds: Counter[tuple[str, str]] = Counter(
            (group_word(group_of(e.subject)), kind_words(e.kind))
            for r in flights
            for e in r.result.events()
            if e.level > 0
        )
        starts = [r.utc_start for r in flights if r.utc_start]
        spec = trend(
            [(slug_words(t.name), [numbers.get(i, i) for i in t.flight_ids], t.rates) for t in one.fuel.tanks], "mL/min"
        )
        if spec:
            plots[f"burn-{n}"] = spec
        aircraft.append(
            {
                "one": one,
                "sentences": [said(one.fuel.imbalance.verdict), *(said(e.verdict) for e in one.engines)],
                "moved": moved_antennas(one),
                "flights": len(flights),
                "minutes": sum(r.result.phases.airborne_s for r in flights) / 60.0,
                "burned": _litres(sum(r.result.fuel.burned.value or 0.0 for r in flights) / 1000.0),
                "first": written_day(min(starts).date()) if starts else "",
                "last": written_day(max(starts).date()) if starts else "",
                "kinds": kinds.most_common(12),
                "key": f"burn-{n}" if spec else "",
            }
        )
    packs = site.season.packs[:8]
    for key, unit, rows in (
        (
            "resistance",
            "mΩ",
            [(p.pack.name, [briefs.get(i, i) for i in p.flight_ids], p.resistance.figures) for p in packs],
        ),
        ("sag", "V", [(p.pack.name, [briefs.get(i, i) for i in p.flight_ids], p.sags_v) for p in packs]),
    ):
        spec = trend(rows, unit)
        if spec:
            plots[key] = spec
    days = days_of(site)
    day_rows = rows_of(days, site)
    return page(
        "season.html",
        replace(shell, here="season"),
        months=months(days, site, shell.root),
        days=day_rows,
        choices=choices(day_rows),
        title=message("page.season.title"),
        plots={"plots": plots},
        aircraft=aircraft,
        packs=site.season.packs,
        drawn=plots.keys(),
        verdict=verdict,
        attention=lines(site.season.attention, site)[:40],
    )
