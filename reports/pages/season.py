"""The season on one page: flying, fuel, engines, packs, layouts."""

from __future__ import annotations

from collections import Counter
from typing import Any

from msgspec.structs import replace

from reports.figures.plain import trend
from reports.model import Site
from reports.pages.days import choices, days_of, months, rows_of
from reports.pages.flight import brief_name
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
    plots: dict[str, Any] = {}
    aircraft = []
    for n, one in enumerate(site.season.aircraft):
        sums = site.sums_of(one.aircraft.name)
        kinds: Counter[tuple[str, str]] = Counter()
        for (kind, subject), times in sums.events.items():
            kinds[group_word(group_of(subject)), kind_words(kind)] += times
        spec = trend(
            [(slug_words(t.name), [site.number_of(i) for i in t.flight_ids], t.rates) for t in one.fuel.tanks], "mL/min"
        )
        if spec:
            plots[f"burn-{n}"] = spec
        aircraft.append(
            {
                "one": one,
                "sentences": [said(one.fuel.imbalance.verdict), *(said(e.verdict) for e in one.engines)],
                "moved": moved_antennas(one),
                "flights": sums.flights,
                "minutes": sums.airborne_s / 60.0,
                "burned": _litres(sums.burned_ml / 1000.0),
                "first": written_day(sums.first.date()) if sums.first else "",
                "last": written_day(sums.last.date()) if sums.last else "",
                "kinds": kinds.most_common(12),
                "key": f"burn-{n}" if spec else "",
            }
        )
    packs = site.season.packs[:8]
    for key, unit, rows in (
        (
            "resistance",
            "mΩ",
            [(p.pack.name, [brief_name(site, i) for i in p.flight_ids], p.resistance.figures) for p in packs],
        ),
        ("sag", "V", [(p.pack.name, [brief_name(site, i) for i in p.flight_ids], p.sags_v) for p in packs]),
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
