"""The start page: what needs attention first, then everything there is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from analyser.core.events import Attention, Level
from analyser.core.figures import Figure
from analyser.core.findings import Finding
from analyser.season.packs.history import PackHistory
from analyser.season.result import AircraftSeason
from reports.called import Called, called, called_on
from reports.figures.flightplots import moment
from reports.model import FlightPage, Site
from reports.names import slug
from reports.outcome import level_of, outcomes
from reports.pages.flight import path_of
from reports.render import Shell, clock, level_badge, number, page
from reports.words import lower_first
from reports.words.catalogue import text as worded

_NOBODY = Called()
GENERATED = "\ue000generated\ue000"
"""Stands where the date of making goes, so that a new date alone does not make a new page."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of attention with its way out."""

    level: Level
    subject: str
    reason: str
    figure: Figure | None
    href: str
    link: str
    also: tuple[tuple[str, str], ...] = ()


def lines(attention: tuple[Attention, ...], site: Site, root: str = "") -> list[Line]:
    """Attention with links to the moment, or else to the page of what it is about.

    A fault is one line, with everything else that points at it behind.
    """
    records = {f.record.flight_id: f.record for f in site.flights}
    of_aircraft = {a.aircraft.name: called_on(a.aircraft) for a in site.season.aircraft}
    kept: list[Line] = []
    for a, line in zip(attention, _each(attention, site, root), strict=True):
        record = records.get(a.flight_id)
        own = called(record.context) if record else of_aircraft.get(a.aircraft, _NOBODY)
        several = len(of_aircraft) > 1 and bool(a.aircraft)
        subject = own.subject(worded(a.subject) if isinstance(a.subject, Finding) else a.subject)
        kept.append(
            replace(
                line,
                subject=f"{a.aircraft}, {lower_first(subject)}" if several else subject,
                reason=own.sentence(a.reason),
                figure=replace(a.figure, label=own.sentence(a.figure.label)) if a.figure else None,
                also=tuple((w.href, f"{w.subject}: {w.reason}") for w in lines(a.witnesses, site, root)),
            )
        )
    return kept


def _each(attention: tuple[Attention, ...], site: Site, root: str) -> list[Line]:
    titles = {f.record.flight_id: f.title for f in site.flights}
    packs = {h.pack.name for h in site.season.packs}
    aircraft = {a.aircraft.name for a in site.season.aircraft}
    out = []
    for a in attention:
        href, link = "", ""
        if a.flight_id in titles:
            href = root + path_of(a.flight_id) + (moment(a.at_s) if a.at_s is not None else "")
            link = f"{titles[a.flight_id]}" + (f" at {clock(a.at_s)}" if a.at_s is not None else "")
        else:
            href, link = _page(a, packs, aircraft, root)
        out.append(Line(a.level, worded(a.subject), worded(a.reason), a.figure, href, link))
    return out


def _page(a: Attention, packs: set[str], aircraft: set[str], root: str) -> tuple[str, str]:
    kind, _, name = a.page.replace("/", ":").partition(":")
    name = name.removesuffix(".html")
    if kind in ("pack", "packs") and name in packs:
        return f"{root}packs/{slug(name)}.html", f"Pack {name}"
    if kind in ("antenna", "antennas", "layout", "layouts", "link") and name in aircraft:
        return f"{root}antennas/{slug(name)}.html", f"Antenna maps of {name}"
    if kind in ("aircraft", "fuel", "engine", "engines") and name in aircraft:
        return f"{root}aircraft/{slug(name)}.html", name
    return "", ""


@dataclass(frozen=True, slots=True)
class Row:
    """One flight in the table."""

    href: str
    title: str
    date: str
    stamp: str
    level: int
    badge: Markup
    aircraft_slug: str
    layout: str
    words: str
    cells: tuple[tuple[str, str], ...]


def _cell(value: float | None, digits: int) -> tuple[str, str]:
    return ("", "–") if value is None else (f"{value:.{digits + 1}f}", number(value, digits))


def row(flight: FlightPage) -> Row:
    """One flight as a line of the table."""
    record = flight.record
    result, context = record.result, record.context
    low = [p.min_voltage_v.value for p in result.packs.packs if p.min_voltage_v.value is not None]
    fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
    level = level_of(record)
    start = record.utc_start
    packs = " ".join(p.name for p in context.packs.values())
    return Row(
        href=path_of(record.flight_id),
        title=flight.title,
        date=f"{start:%Y-%m-%d %H:%M}" if start else "unknown",
        stamp=f"{start.timestamp():.0f}" if start else "",
        level=int(level),
        badge=level_badge(level),
        aircraft_slug=slug(record.aircraft) if record.aircraft else "",
        layout=context.layout.name if context.layout else "",
        words=f"{record.aircraft} {packs} {context.remarks}".strip().lower()[:300],
        cells=(
            _cell(result.phases.airborne_s / 60.0 if result.phases.airborne_s else None, 1),
            _cell(result.fuel.burned_ml.value, 0),
            _cell(result.fuel.airborne_rate_ml_per_min.value, 0),
            _cell(min(low, default=None), 2),
            _cell(sum(fades) if fades else None, 0),
        ),
    )


def moved_antennas(one: AircraftSeason) -> list[str]:
    """Of every antenna that was moved: its name, how it was weak before, and whether moving it helped."""
    own = called_on(one.aircraft)
    measured = {(m.antenna, lay.layout): m for lay in one.layouts.layouts for m in lay.measured}
    out = []
    for c in one.layouts.comparisons:
        before = measured.get((c.antenna, c.before))
        weak = f"weakest {before.nulls[0]}" if before is not None and before.nulls else ""
        out.append(own.sentence(f"{c.antenna}. {f'In layout {c.before} {weak}. ' if weak else ''}{c.verdict}"))
    return out


def _summary(one: AircraftSeason) -> dict[str, Any]:
    own = called_on(one.aircraft)
    latest = one.layouts.layouts[-1] if one.layouts.layouts else None
    return {
        "name": one.aircraft.name,
        "flights": len(one.flight_ids),
        "engines": one.engines,
        "imbalance": one.fuel.imbalance_sentence,
        "imbalance_level": one.fuel.imbalance_level,
        "timer": own.sentence(one.fuel.timer.sentence) if one.fuel.timer else "",
        "moved": moved_antennas(one),
        "layout": latest.layout if latest else "",
        "weak": [
            (own.antenna(m.antenna), own.sentence(m.nulls[0])) for m in (latest.measured if latest else ()) if m.nulls
        ],
    }


@dataclass(frozen=True, slots=True)
class _Latest:
    """The newest flight, with its subjects under the level each came to; the gravest first."""

    href: str
    title: str
    levels: tuple[tuple[Level | None, tuple[str, ...]], ...]


def _latest(site: Site) -> _Latest | None:
    dated = [f for f in site.flights if f.record.utc_start]
    if not dated:
        return None
    newest = dated[0]
    by: dict[Level | None, list[str]] = {}
    for o in outcomes(newest.record):
        by.setdefault(o.level, []).append(o.subject.lower())
    ranked = sorted(by.items(), key=lambda pair: -1 if pair[0] is None else int(pair[0]), reverse=True)
    return _Latest(path_of(newest.record.flight_id), newest.title, tuple((k, tuple(v)) for k, v in ranked))


def verdict(history: PackHistory) -> str:
    """What is said of a pack where there is no room for its reasons."""
    listed = bool(history.reasons) and all(r in history.sentence for r in history.reasons)
    whole = history.sentence.removeprefix(f"{history.pack.name}: ")
    return f"{whole.partition(':')[0]}." if listed else whole


def render(site: Site, shell: Shell) -> str:
    """Make the start page."""
    season = site.season
    all_lines = lines(season.attention, site)
    urgent = [a for a in all_lines if a.level >= Level.ACT] or [a for a in all_lines if a.level >= Level.WATCH][:8]
    urgent = urgent[:10]
    later = [a for a in all_lines if a not in urgent][:40]
    aircraft = [_summary(a) for a in sorted(season.aircraft, key=lambda a: -len(a.flight_ids))]
    return page(
        "start.html",
        replace(shell, here="start"),
        title="Start",
        flights=[row(f) for f in site.flights],
        failed=[{"href": path_of(f.flight_id), "title": f.title, "why": f.why} for f in site.failed],
        aircraft=aircraft,
        aircraft_names=sorted({f.record.aircraft for f in site.flights if f.record.aircraft}),
        packs=season.packs,
        urgent=urgent,
        later=later,
        latest=_latest(site),
        verdict=verdict,
        generated=GENERATED,
    )
