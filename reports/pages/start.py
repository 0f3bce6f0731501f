"""The start page: what needs attention first, then everything there is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.events import Attention, Level
from analyser.core.figures import Figure
from analyser.record import Record
from analyser.season.packs.history import PackHistory
from analyser.season.result import AircraftSeason
from reports.addresses import path_of_day, slug
from reports.figures.flightplots import moment
from reports.figures.sparks import Spark, spark
from reports.key_figures import antenna_heading
from reports.listing import IntArray
from reports.markup import level_badge, script_json
from reports.model import FlightPage, Site
from reports.pages.flight import path_of
from reports.pages.programme.lines import SnagLine, open_lines, programme_path
from reports.render import Shell, page
from reports.words.catalogue import has, lower_first, message, number, quantity, upper_first, written_day, written_hour
from reports.words.names import heading, names_in_flight, names_on, naming, said, slug_words
from reports.words.times import clock
from reports.words.units import conversion
from reports.words.vocabulary import level_word

_MOST_LINES = 8
_BRIEF = 12
SHOWN = 200
"""So many of the newest flights are in the table of the start page; each year has a page with all of its own."""
GENERATED = "\u2983generated\u2984"
"""Stands where the date of making goes, so that a new date alone does not make a new page."""


class Line(Struct, frozen=True):
    """One line of attention with its way out; ``brief`` says the reason in a few words."""

    level: Level
    subject: str
    brief: str
    reason: str
    figure: Figure | None
    href: str
    link: str
    also: tuple[tuple[str, str], ...] = ()


def lines(attention: tuple[Attention, ...], site: Site, root: str = "") -> list[Line]:
    """Attention with links to the moment, or else to the page of what it is about.

    A fault is one line, with everything else that points at it behind.
    """
    several = len(site.season.aircraft) > 1
    kept: list[Line] = []
    for a in attention:
        record = site.by_id[a.flight_id].record if a.flight_id in site.by_id else None
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
    packs = {h.pack.name for h in site.season.packs}
    aircraft = {a.aircraft.name for a in site.season.aircraft}
    if a.flight_id in site.by_id:
        href = root + path_of(a.flight_id) + (moment(a.at_s) if a.at_s is not None else "")
        title = site.title_of(a.flight_id)
        link = title if a.at_s is None else message("start.at", flight=title, clock=clock(a.at_s))
    else:
        href, link = _page(a, packs, aircraft, root)
    figure = replace(a.figure, label=said(a.figure.label)) if a.figure else None
    known = isinstance(a.subject, str) and ("." in a.subject or has(f"group.{a.subject}"))
    subject = heading(str(a.subject)) if known else said(a.subject)
    return Line(a.level, upper_first(subject), _brief(a, figure), said(a.reason), figure, href, link)


def _brief(a: Attention, figure: Figure | None) -> str:
    """The figure behind a line, or else the first clause of its reason."""
    if figure is not None and figure.value is not None:
        return f"{figure.label}: {quantity(figure)}"
    words = re.split(r"[;:.(](?:\s|$)| \(", said(a.reason), maxsplit=1)[0].split()
    return " ".join(words[:_BRIEF]) + (" …" if len(words) > _BRIEF else "")


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


class Row(Struct, frozen=True):
    """One flight in the table; ``key`` is its name in addresses."""

    key: str
    href: str
    title: str
    date: str
    stamp: str
    level: int
    badge: Markup
    aircraft_slug: str
    season: str
    packs: str
    day: str
    layout: str
    words: str
    cells: tuple[tuple[str, str], ...]


def _cell(value: float | None, digits: int, unit: str = "") -> tuple[str, str]:
    to = conversion(unit)
    return ("", "–") if value is None else (f"{value:.{digits + 1}f}", number(to.value(value), digits + to.digits))


def row(flight: FlightPage) -> Row:
    """One flight as a line of the table."""
    record = flight.record
    seen, context = flight.at_a_glance(), record.context
    level = Level(seen.level)
    start = record.utc_start
    packs = " ".join(p.name for p in context.packs.values())
    return Row(
        key=slug(record.flight_id),
        href=path_of(record.flight_id),
        title=flight.title,
        date=f"{written_day(start.date())} {written_hour(start)}" if start else message("time.unknown"),
        stamp=f"{start.timestamp():.0f}" if start else "",
        level=int(level),
        badge=level_badge(level),
        aircraft_slug=slug(record.aircraft) if record.aircraft else "",
        season=str(start.year) if start else "",
        packs=" ".join(slug(p.name) for p in context.packs.values()),
        day=path_of_day(start.date()) if start else "",
        layout=context.layout.name if context.layout else "",
        words=f"{record.aircraft} {packs} {context.remarks}".strip().lower()[:300],
        cells=(
            _cell(seen.airborne_s / 60.0 if seen.airborne_s else None, 1),
            _cell(seen.burned_ml, 0, "mL"),
            _cell(seen.burn_ml_per_min, 0, "mL/min"),
            _cell(seen.lowest_v, 2),
            _cell(seen.fades, 0),
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


class _PackLeft(Struct, frozen=True):
    """A pack of the latest flight: what is left in it, in words, or that it was charged since."""

    name: str
    href: str
    level: Level
    left: str
    charged: bool


class _TankField(Struct, frozen=True):
    """A tank in *My timer*: its key in the page's tables, its name, the usual volume in the reader's unit."""

    key: str
    name: str
    usual: str


class Card(Struct, frozen=True):
    """One aircraft at a glance; ``verdict`` has at most six words."""

    name: str
    slug: str
    level: Level
    verdict: str
    timer: Figure | None
    timer_words: str
    packs: tuple[_PackLeft, ...]
    latest: tuple[str, str, Level] | None
    open: int
    sparks: tuple[Spark, ...]
    tanks: tuple[_TankField, ...]
    snags: tuple[SnagLine, ...]
    offers: int
    programme: str


def _card(one: AircraftSeason, site: Site) -> Card:
    name = one.aircraft.name
    flights = site.newest(name)
    fitted = {p.name for p in flights[0].record.context.packs.values()} if flights else set()
    packs = [h for h in site.season.packs if h.pack.name in fitted]
    matters = [
        a
        for a in site.season.attention
        if a.level >= Level.WATCH
        and (a.aircraft == name or any(a.page.endswith((f"/{p}", f":{p}")) for p in fitted if not a.aircraft))
    ]
    level = max((a.level for a in matters), default=Level.FINE)
    key = "none" if not flights else {Level.ACT: "act", Level.WATCH: "watch"}.get(level, "fine")
    count = sum(a.level == level for a in matters)
    timer = one.fuel.timer
    newest = flights[0] if flights else None
    with naming(names_on(one.aircraft)):
        return Card(
            name=name,
            slug=slug(name),
            level=level,
            verdict=message(f"start.verdict_{key}", matters=count),
            timer=timer.advised if timer else None,
            timer_words=message(
                "start.timer_rests", flights=timer.flights, start=timer.start, tank=slug_words(timer.tank)
            )
            if timer
            else message("start.no_timer"),
            packs=tuple(_left(newest, h) for h in packs) if newest else (),
            latest=(path_of(newest.record.flight_id), newest.title, Level(newest.at_a_glance().level))
            if newest
            else None,
            open=len(matters),
            tanks=_fields(one),
            snags=tuple(open_lines(name, site)),
            offers=len(site.programmes[name].offers) if name in site.programmes else 0,
            programme=programme_path(name) if name in site.programmes else "",
            sparks=_sparks(one, [f.seen for f in reversed(flights)], packs),
        )


def _fields(one: AircraftSeason) -> tuple[_TankField, ...]:
    to = conversion("mL")
    return tuple(
        _TankField(t.tank, slug_words(t.tank), f"{to.value(t.usual_ml):.{to.digits}f}") for t in one.fuel.tables
    )


def _timers(one: AircraftSeason) -> dict[str, Any]:
    """One aircraft's tables of odds as ``timer.js`` reads them; odds in thousandths."""
    return {
        "scale": conversion("mL").scale,
        "tanks": [
            {
                "key": t.tank,
                "name": names_on(one.aircraft)(f"fuel.{t.tank}"),
                "minutes": [round(float(m), 3) for m in t.minutes],
                "start_ml": [round(float(v), 1) for v in t.start_ml],
                "odds": [[round(1000 * float(p)) for p in row] for row in t.odds],
            }
            for t in one.fuel.tables
        ],
    }


def _charged(newest: FlightPage, pack: str) -> bool:
    """Whether charge put back after this flight is noted for a pack."""
    found = next((p for p in newest.seen.result.packs.packs if p.pack == pack), None)
    return found is not None and found.charge.put_back_mah.value is not None


def _left(newest: FlightPage, history: PackHistory) -> _PackLeft:
    """What is left in a pack after its aircraft's latest flight, or that it was charged since."""
    name = history.pack.name
    found = next((p for p in newest.seen.result.packs.packs if p.pack == name), None)
    left = found.state.after_percent if found else None
    if _charged(newest, name):
        words = message("start.charged")
    elif left is not None and left.value is not None:
        words = message("start.left", left=replace(left, digits=0))
    else:
        words = message("start.left_unknown")
    return _PackLeft(name, f"packs/{slug(name)}.html", history.level, words, _charged(newest, name))


def _sparks(one: AircraftSeason, records: list[Record], packs: list[PackHistory]) -> tuple[Spark, ...]:
    own = slug(one.aircraft.name)
    tanks = [dict(zip(t.flight_ids, t.rates, strict=True)) for t in one.fuel.tanks]
    burn = {
        slug_words(t.name): [_whole(rates.get(r.flight_id)) for r in records]
        for t, rates in zip(one.fuel.tanks, tanks, strict=True)
    }
    lowest = {
        "": [_least([p.voltage.lowest_v for p in r.result.packs.packs if p.use.feeds == "receiver"]) for r in records]
    }
    margin = {
        "": [_least([a.lowest_margin_db for c in r.result.link.receivers for a in c.antennas]) for r in records],
    }
    aged = max(packs, key=lambda h: h.resistance.over_new.value or 0.0, default=None)
    made = [
        spark(message("spark.burn"), burn, f"aircraft/{own}.html#burn"),
        spark(message("spark.lowest"), lowest, "season.html"),
        spark(message("spark.margin"), margin, f"antennas/{own}.html"),
    ]
    if aged is not None:
        new = aged.resistance.new_mohm
        made.append(
            spark(
                message("spark.resistance", pack=aged.pack.name),
                {"": aged.resistance.figures},
                f"packs/{slug(aged.pack.name)}.html",
                limit=new * aged.pack.retire.resistance_ratio if new else None,
            )
        )
    return tuple(s for s in made if s is not None)


def _whole(figure: Figure | None) -> Figure | None:
    return replace(figure, digits=0) if figure is not None else None


def _least(figures: list[Figure]) -> Figure | None:
    return min((f for f in figures if f.value is not None), key=lambda f: f.value or 0.0, default=None)


def verdict(history: PackHistory) -> str:
    """What is said of a pack where there is no room for its reasons."""
    whole = said(history.sentence)
    listed = bool(history.reasons) and all(said(r) in whole for r in history.reasons)
    rest = whole.removeprefix(f"{history.pack.name}: ")
    known = f"{level_word(history.level)}: "  # it stands beside it as a badge
    if rest.casefold().startswith(known.casefold()):
        rest = upper_first(rest[len(known) :])
    return f"{rest.partition(':')[0]}." if listed else rest


def _choices(flights: Sequence[FlightPage]) -> dict[str, list[tuple[str, str]]]:
    """What a table of flights can be filtered by: value and words, for each filter that has a choice."""
    records = [f.record for f in flights]
    owners = {r.aircraft for r in records if r.aircraft}
    packs = {p.name for r in records for p in r.context.packs.values()}
    layouts = {r.context.layout.name for r in records if r.context.layout}
    seasons = sorted({str(r.utc_start.year) for r in records if r.utc_start}, reverse=True)
    named = {"aircraft": sorted(owners), "pack": sorted(packs), "layout": sorted(layouts)}
    found = {name: [(slug(n), n) for n in names] for name, names in named.items()}
    return {k: v for k, v in {**found, "season": [(y, y) for y in seasons]}.items() if len(v) > 1}


def years_of(site: Site) -> dict[str, IntArray]:
    """Places of each year's flights, the latest year first, '' last; none where one page holds all."""
    return {} if len(site.flights) <= SHOWN else dict(sorted(site.listed.of_year.items(), reverse=True))


def path_of_year(name: str) -> str:
    """Where the flights of a year are listed, from the root of the pages."""
    return f"years/{name or 'undated'}.html"


def render_year(name: str, flights: Sequence[FlightPage], shell: Shell) -> str:
    """Make the list of one year's flights."""
    return page(
        "year.html",
        shell,
        title=message("flights.of_year", year=name),
        flights=[row(f) for f in flights],
        choices=_choices(flights),
    )


def render(site: Site, shell: Shell) -> str:
    """Make the start page."""
    season = site.season
    every = lines(season.attention, site)
    urgent = [a for a in every if a.level >= Level.WATCH][:_MOST_LINES]
    timers = {slug(a.aircraft.name): _timers(a) for a in season.aircraft if a.fuel.tables}
    return page(
        "start.html",
        replace(shell, here="start"),
        title=message("page.start.title"),
        timers=script_json(timers) if timers else "",
        cards=[_card(a, site) for a in sorted(season.aircraft, key=lambda a: -(a.flights or len(a.flight_ids)))],
        flights=[row(f) for f in site.flights[:SHOWN]],
        shown=SHOWN,
        count=len(site.flights),
        years=[(name, path_of_year(name)) for name in years_of(site)],
        failed=[{"href": path_of(f.flight_id), "title": f.title, "why": said(f.why)} for f in site.failed],
        choices=_choices(site.flights[:SHOWN]),
        packs=season.packs,
        urgent=urgent,
        later=[a for a in every if a not in urgent][:40],
        verdict=verdict,
        generated=GENERATED,
        fleet=len([a for a in season.aircraft if site.sums_of(a.aircraft.name).flights]) if site.fleet else 0,
    )
