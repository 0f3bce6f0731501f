"""The start page: what needs attention first, then everything there is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from analyser.core.events import Attention, Level
from analyser.core.figures import Figure
from analyser.season.packs.history import PackHistory
from analyser.season.result import AircraftSeason
from reports.addresses import slug
from reports.figures.flightplots import moment
from reports.headlines import headlines, level_of
from reports.model import FlightPage, Site
from reports.pages.flight import antenna_heading, path_of
from reports.render import Shell, level_badge, page
from reports.words.catalogue import has, lower_first, message, number, upper_first, written_day, written_hour
from reports.words.names import heading, names_in_flight, names_on, naming, said
from reports.words.times import clock
from reports.words.units import conversion

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
    several = len(site.season.aircraft) > 1
    kept: list[Line] = []
    for a in attention:
        record = records.get(a.flight_id)
        owner = next((o.aircraft for o in site.season.aircraft if o.aircraft.name == a.aircraft), None)
        with naming(names_in_flight(record.context) if record else names_on(owner)):
            line = _line(a, site, root)
        if several and a.aircraft:
            line = replace(line, subject=f"{a.aircraft}, {lower_first(line.subject)}")
        kept.append(
            replace(line, also=tuple((w.href, f"{w.subject}: {w.reason}") for w in lines(a.witnesses, site, root)))
        )
    return kept


def _line(a: Attention, site: Site, root: str) -> Line:
    titles = {f.record.flight_id: f.title for f in site.flights}
    packs = {h.pack.name for h in site.season.packs}
    aircraft = {a.aircraft.name for a in site.season.aircraft}
    if a.flight_id in titles:
        href = root + path_of(a.flight_id) + (moment(a.at_s) if a.at_s is not None else "")
        title = titles[a.flight_id]
        link = title if a.at_s is None else message("start.at", flight=title, clock=clock(a.at_s))
    else:
        href, link = _page(a, packs, aircraft, root)
    figure = replace(a.figure, label=said(a.figure.label)) if a.figure else None
    known = isinstance(a.subject, str) and ("." in a.subject or has(f"group.{a.subject}"))
    subject = heading(str(a.subject)) if known else said(a.subject)
    return Line(a.level, upper_first(subject), said(a.reason), figure, href, link)


def _page(a: Attention, packs: set[str], aircraft: set[str], root: str) -> tuple[str, str]:
    kind, _, name = a.page.replace("/", ":").partition(":")
    name = name.removesuffix(".html")
    if kind in ("pack", "packs") and name in packs:
        return f"{root}packs/{slug(name)}.html", message("pack.title", pack=name)
    if kind in ("antenna", "antennas", "layout", "layouts", "link") and name in aircraft:
        return f"{root}antennas/{slug(name)}.html", message("antennas.title", aircraft=name)
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


def _cell(value: float | None, digits: int, unit: str = "") -> tuple[str, str]:
    to = conversion(unit)
    return ("", "–") if value is None else (f"{value:.{digits + 1}f}", number(to.value(value), digits + to.digits))


def row(flight: FlightPage) -> Row:
    """One flight as a line of the table."""
    record = flight.record
    result, context = record.result, record.context
    low = [p.voltage.lowest_v.value for p in result.packs.packs if p.voltage.lowest_v.value is not None]
    fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
    level = level_of(record)
    start = record.utc_start
    packs = " ".join(p.name for p in context.packs.values())
    return Row(
        href=path_of(record.flight_id),
        title=flight.title,
        date=f"{written_day(start.date())} {written_hour(start)}" if start else message("time.unknown"),
        stamp=f"{start.timestamp():.0f}" if start else "",
        level=int(level),
        badge=level_badge(level),
        aircraft_slug=slug(record.aircraft) if record.aircraft else "",
        layout=context.layout.name if context.layout else "",
        words=f"{record.aircraft} {packs} {context.remarks}".strip().lower()[:300],
        cells=(
            _cell(result.phases.airborne_s / 60.0 if result.phases.airborne_s else None, 1),
            _cell(result.fuel.burned.value, 0, "mL"),
            _cell(result.fuel.rate.value, 0, "mL/min"),
            _cell(min(low, default=None), 2),
            _cell(sum(fades) if fades else None, 0),
        ),
    )


def moved_antennas(one: AircraftSeason) -> list[str]:
    """Of every antenna that was moved: its name, how it was weak before, and whether moving it helped."""
    measured = {(m.antenna, lay.layout): m for lay in one.layouts.layouts for m in lay.measured}
    out = []
    with naming(names_on(one.aircraft)):
        for c in one.layouts.comparisons:
            before = measured.get((c.antenna, c.before))
            weak = said(before.nulls[0]) if before is not None and before.nulls else ""
            values = {"antenna": antenna_heading(c.antenna), "layout": c.before, "weak": weak}
            out.append(message("antennas.moved", **values, verdict=said(c.verdict)))
    return out


def _summary(one: AircraftSeason) -> dict[str, Any]:
    latest = one.layouts.layouts[-1] if one.layouts.layouts else None
    with naming(names_on(one.aircraft)):
        return {
            "name": one.aircraft.name,
            "flights": len(one.flight_ids),
            "engines": [said(e.verdict) for e in one.engines],
            "imbalance": said(one.fuel.imbalance.verdict),
            "imbalance_level": one.fuel.imbalance.level,
            "timer": said(one.fuel.timer.verdict) if one.fuel.timer else "",
            "moved": moved_antennas(one),
            "layout": latest.layout if latest else "",
            "weak": [
                (antenna_heading(m.antenna), said(m.nulls[0])) for m in (latest.measured if latest else ()) if m.nulls
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
    for o in headlines(newest.record):
        by.setdefault(o.level, []).append(lower_first(o.subject))
    ranked = sorted(by.items(), key=lambda pair: -1 if pair[0] is None else int(pair[0]), reverse=True)
    return _Latest(path_of(newest.record.flight_id), newest.title, tuple((k, tuple(v)) for k, v in ranked))


def verdict(history: PackHistory) -> str:
    """What is said of a pack where there is no room for its reasons."""
    whole = said(history.sentence)
    listed = bool(history.reasons) and all(said(r) in whole for r in history.reasons)
    rest = whole.removeprefix(f"{history.pack.name}: ")
    return f"{rest.partition(':')[0]}." if listed else rest


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
        title=message("page.start.title"),
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
