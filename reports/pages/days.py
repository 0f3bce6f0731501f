"""Flying days: a page for each day, and the calendar that leads to them."""

from __future__ import annotations

import calendar
import hashlib
from bisect import bisect_left
from collections.abc import Collection, Iterable, Sequence
from datetime import date
from typing import Any

from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.events import Level
from analyser.core.figures import Figure, total
from analyser.core.findings import coded, say
from analyser.season.codes import DayCode
from analyser.season.days import FlyingDay, PackDay, flying_days
from reports.addresses import path_of_day, slug
from reports.listing import Listed
from reports.markup import level_badge
from reports.model import FlightPage, Site
from reports.pages.flight import path_of
from reports.pages.programme.lines import snag_line
from reports.render import Shell, page
from reports.words.catalogue import message, reader, written_hour
from reports.words.names import brief, names_in_flight, naming, said, slug_words
from reports.words.times import long_day
from reports.words.units import conversion
from reports.words.vocabulary import level_word
from reports.write import MARK_CHARS, fingerprint


class Row(Struct, frozen=True):
    """One aircraft's day as a row of the table under the calendar; ``packs`` are slugs, blank between."""

    day: FlyingDay
    href: str
    written: str
    level: Level
    packs: str
    layout_names: tuple[str, ...]
    put_in: Figure | None

    @property
    def layouts(self) -> str:
        """Layouts of the day as slugs."""
        return " ".join(map(slug, self.layout_names))


FOLDER = "days"
"""Where the pages are, from the root of the pages."""
NEWEST_DAYS = 60
"""So many of the newest flying days are in the calendar; the years' lists of flights lead to the others."""


def days_of(site: Site) -> tuple[FlyingDay, ...]:
    """The newest flying days of a site, oldest first."""
    newest = set(site.day_list[-NEWEST_DAYS:])
    return tuple(d for d in flying_days([f.seen for f in _with_before(site, newest)]) if d.day in newest)


def _with_before(site: Site, days: Collection[date]) -> list[FlightPage]:
    """Flights of some days, and of each of their aircraft the one before: what changed is told against it."""
    return [site.by_id[f.flight_id] for f in _listed(site, [f"{day:%Y-%m-%d}" for day in sorted(days, reverse=True)])]


def _listed(site: Site, days: Sequence[str]) -> list[Listed]:
    listed = site.listed
    places = dict.fromkeys(n for day in days for n in listed.of_day[day])
    before = dict.fromkeys(b for n in places if (b := int(listed.earlier_dated[n])) >= 0 and b not in places)
    return [listed[n] for n in (*places, *before)]


def marks_of(site: Site, years: Collection[str], *words: str) -> dict[str, str]:
    """Digest of what each day's page is made from, by the day as ``2031-04-05``.

    Parameters
    ----------
    years : collection of str
        Only days of these.
    words : str
        What stands around all of them.
    """
    common = hashlib.sha256(fingerprint(*words, *sorted(h.pack.name for h in site.season.packs)).encode())
    every = sorted(site.listed.of_day)
    told = site.snags and any(p.snags for p in site.programmes.values())
    out = {}
    for day, before, after in zip(every, ["", *every], [*every[1:], ""], strict=False):
        if day[:4] not in years:
            continue
        flights = _listed(site, [day])
        lines = [f"{before} {after}", *(f"{f.flight_id} {f.mark}" for f in flights)]
        if site.steps_before:
            steps = [s for f in flights for s in site.steps_before.get(f.flight_id, ())]
            lines += (f"step {s.kind} {coded(s.text)}" for s in steps)
        if told:
            on = date.fromisoformat(day)
            snags = [s.snag for a in {f.aircraft: 0 for f in flights} for s in site.open_on(a, on)]
            lines += (f"snag {s.name} {s.title}" for s in snags)
        digest = common.copy()
        digest.update("\n".join(lines).encode("utf-8", "surrogatepass"))
        out[day] = digest.hexdigest()[:MARK_CHARS]
    return out


def _around(day: date, site: Site) -> tuple[date | None, date | None]:
    """Flying days before and after."""
    every = site.day_list
    at = bisect_left(every, day)
    return (every[at - 1] if at else None), (every[at + 1] if at + 1 < len(every) else None)


def rows_of(days: Sequence[FlyingDay], site: Site) -> list[Row]:
    """Rows of the table of days, newest first."""
    out = []
    for day in reversed(days):
        flights = [site.by_id[i] for i in day.flight_ids]
        layouts = dict.fromkeys(f.record.context.layout.name for f in flights if f.record.context.layout)
        out.append(
            Row(
                day,
                path_of_day(day.day),
                long_day(day.day),
                _level(flights),
                " ".join(slug(p.pack) for p in day.packs),
                tuple(layouts),
                _can(day),
            )
        )
    return out


def _can(day: FlyingDay) -> Figure | None:
    return total(say(DayCode.PUT_IN), [f for _, f in day.put_in]) if day.put_in else None


def months(days: Sequence[FlyingDay], site: Site, root: str = "") -> list[dict[str, Any]]:
    """The calendar: months with flying days, newest first, each as weeks from Monday (ISO 8601) of cells.

    A cell is ``None`` outside the month, else day of the month, address, levels and words where there was flying.
    """
    from babel.dates import format_date, get_day_names

    flown: dict[date, list[str]] = {}
    for day in days:
        flown.setdefault(day.day, []).extend(day.flight_ids)
    names = get_day_names("narrow", "stand-alone", locale=reader().locale)
    long_names = get_day_names("wide", "stand-alone", locale=reader().locale)
    out = []
    for year, month in sorted({(d.year, d.month) for d in flown}, reverse=True):
        weeks = [
            [_cell(d, flown.get(d), site, root) if d.month == month else None for d in week]
            for week in calendar.Calendar().monthdatescalendar(year, month)
        ]
        name = format_date(date(year, month, 1), "LLLL y", locale=reader().locale)
        out.append({"name": name, "heads": [(names[n], long_names[n]) for n in range(7)], "weeks": weeks})
    return out


def _level(flights: Iterable[FlightPage]) -> Level:
    return Level(max(f.at_a_glance().level for f in flights))


def _cell(day: date, flight_ids: list[str] | None, site: Site, root: str) -> dict[str, Any]:
    if not flight_ids:
        return {"number": day.day, "href": ""}
    level = _level([site.by_id[i] for i in flight_ids])
    words = message("calendar.cell", day=long_day(day), flights=len(flight_ids), level=level_word(level))
    return {
        "number": day.day,
        "key": f"{day:%Y-%m-%d}",
        "href": root + path_of_day(day),
        "level": int(level),
        "flights": len(flight_ids),
        "words": words,
    }


class _Flight(Struct, frozen=True):
    href: str
    title: str
    hour: str
    badge: Markup
    airborne: Figure
    burned: Figure
    lowest: Figure | None
    remarks: str


def _flight(flight: FlightPage) -> _Flight:
    record = flight.seen
    lows = [p.voltage.lowest_v for p in record.result.packs.packs if p.voltage.lowest_v.value is not None]
    return _Flight(
        "../" + path_of(record.flight_id),
        flight.title,
        written_hour(record.utc_start) if record.utc_start else "",
        level_badge(_level([flight])),
        record.result.phases.airborne_min,
        record.result.fuel.burned,
        min(lows, key=lambda f: f.value or 0.0, default=None),
        record.context.remarks,
    )


class _Pack(Struct, frozen=True):
    href: str
    pack: PackDay
    place: str
    note: str


def _section(day: FlyingDay, site: Site) -> dict[str, Any]:
    """One aircraft's part of a day's page."""
    flights = [site.by_id[i] for i in day.flight_ids]
    known = {h.pack.name for h in site.season.packs}
    degrees = conversion("°C")
    air = [degrees.value(t) for t in day.air_temperature_c]
    with naming(names_in_flight(flights[-1].record.context)):
        return {
            "day": day,
            "slug": slug(day.aircraft) if day.aircraft else "",
            "flights": [_flight(f) for f in flights],
            "changes": [said(c) for c in day.changes],
            "snags": [snag_line(s, site, "../") for s in site.open_on(day.aircraft, day.day)],
            "remedies": [said(s.text) for s in site.said.steps if s.flight_id in day.flight_ids and s.kind != "change"],
            "packs": [
                _Pack(
                    f"../packs/{slug(p.pack)}.html" if p.pack in known else "",
                    p,
                    slug_words(p.role),
                    message("day_page.charged" if p.charged else "day_page.not_charged"),
                )
                for p in day.packs
            ],
            "tanks": [(message("day_page.from_can", tank=brief(f"fuel.{t}")), f) for t, f in day.put_in],
            "can": _can(day) if len(day.put_in) > 1 else None,
            "air": message("day_page.air", low=min(air), high=max(air), unit=degrees.unit) if air else "",
        }


def render(day: date, site: Site, shell: Shell) -> str:
    """Make the page of one day."""
    days = flying_days([f.seen for f in _with_before(site, [day])])
    earlier, later = _around(day, site)
    return page(
        "day.html",
        replace(shell, here="season"),
        title=long_day(day),
        sections=[_section(d, site) for d in days if d.day == day],
        earlier=path_of_day(earlier).rpartition("/")[2] if earlier else "",
        later=path_of_day(later).rpartition("/")[2] if later else "",
    )


def choices(rows: Sequence[Row]) -> dict[str, list[tuple[str, str]]]:
    """What the table of days can be filtered by: value and words, for each filter that has a choice."""
    packs = {slug(p.pack): p.pack for r in rows for p in r.day.packs}
    years = sorted({r.day.day.year for r in rows}, reverse=True)
    owners = sorted({r.day.aircraft for r in rows if r.day.aircraft})
    layouts = {slug(n): n for r in rows for n in r.layout_names}
    found = {
        "season": [(str(y), str(y)) for y in years],
        "aircraft": [(slug(name), name) for name in owners],
        "pack": sorted(packs.items(), key=lambda one: one[1]),
        "layout": sorted(layouts.items(), key=lambda one: one[1]),
    }
    return {name: values for name, values in found.items() if len(values) > 1}
