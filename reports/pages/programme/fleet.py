"""All aircraft on one page: packs, engines and antenna layouts of one type beside each other, and what stands out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from markupsafe import Markup
from msgspec import Struct

from analyser.core.aircraft import Aircraft
from analyser.core.events import Level
from analyser.core.figures import Figure
from analyser.core.findings import Part
from analyser.fleet.comparison import Compared, Fleet, Group, Standing
from analyser.fleet.kinds import Member
from analyser.fleet.odd import FALSE_ALARM, FEWEST
from reports.addresses import slug
from reports.figures.standings import MOST, Dot, picture
from reports.model import Site
from reports.render import Shell, page
from reports.words.catalogue import message, upper_first, written_day
from reports.words.names import brief, heading, names_on, naming, said
from reports.words.units import conversion

PATH = "fleet.html"


class OneAircraft(Struct, frozen=True):
    """A line of the table of aircraft."""

    name: str
    href: str
    level: Level
    flights: int
    hours: float
    last: str
    odd: int


class Drawn(Struct, frozen=True):
    """One figure of a type: its name, unit, picture, and how many things could not be told or drawn."""

    title: str
    unit: str
    svg: Markup
    unknown: int
    undrawn: int
    judged: bool


class Shown(Struct, frozen=True):
    """One type: its name, its pictures, and a table with a line a thing."""

    title: str
    drawn: Sequence[Drawn]
    heads: Sequence[tuple[str, str]]
    rows: Sequence[tuple[str, str, Sequence[Figure | None]]]


class _Names:
    """What things are called where several aircraft have the same."""

    def __init__(self, site: Site, fleet: Fleet) -> None:
        self.aircraft: Mapping[str, Aircraft] = {a.aircraft.name: a.aircraft for a in site.season.aircraft}
        self.several = {
            (id(g), name) for g in fleet.groups
            for name, times in Counter(m.aircraft for m in g.kind.members).items() if times > 1
        }  # fmt: skip

    def of(self, group: Group, member: Member) -> str:
        if member.thing:
            return member.thing
        if (id(group), member.aircraft) not in self.several:
            return member.aircraft
        with naming(names_on(self.aircraft.get(member.aircraft))):
            which = member.layout or brief(member.part)
        return message("fleet_page.of_aircraft", aircraft=member.aircraft, which=which)


def _href(member: Member) -> str:
    if member.thing:
        return f"packs/{slug(member.thing)}.html"
    where = "antennas" if member.layout else "aircraft"
    return f"{where}/{slug(member.aircraft)}.html"


def _place(group: Group) -> str:
    """What an antenna is called: as its file does, else by receiver and number."""
    place = group.kind.place
    return heading(place) if isinstance(place, Part) else said(place)


def _drawn(group: Group, one: Compared, names: _Names) -> Drawn:
    title = upper_first(message(str(one.measure.code)))
    dots = [Dot(names.of(group, s.member), s.level, s.odd is not None) for s in one.standings]
    known = [d for d in dots if d.figure.value is not None]
    return Drawn(
        title,
        conversion(known[0].figure.unit).unit,
        picture(title, dots, one.usual),
        len(dots) - len(known),
        max(len(known) - MOST, 0),
        one.judged,
    )


def _shown(group: Group, names: _Names, links: frozenset[str]) -> Shown:
    by_member: dict[Member, dict[str, Standing]] = {m: {} for m in group.kind.members}
    for one in group.compared:
        for s in one.standings:
            by_member[s.member][one.measure.id] = s
    heads = [
        (upper_first(message(str(c.measure.code))), conversion(c.standings[0].level.unit).unit) for c in group.compared
    ]
    rows = []
    for member, own in by_member.items():
        figures = [own[c.measure.id].level if c.measure.id in own else None for c in group.compared]
        if any(f is not None and f.value is not None for f in figures):
            href = _href(member)
            rows.append((names.of(group, member), href if href in links else "", figures))
    title = said(group.kind.name)
    if group.kind.place:
        title = message("fleet_page.antenna_of", layout=title, antenna=_place(group))
    return Shown(upper_first(title), [_drawn(group, c, names) for c in group.compared], heads, rows)


def _odd_lines(fleet: Fleet, names: _Names, links: frozenset[str]) -> list[tuple[Level, str, str, str]]:
    out = []
    for group, _, standing in fleet.odd():
        assert standing.odd is not None
        href = _href(standing.member)
        name = names.of(group, standing.member)
        if group.kind.place:
            name = f"{name}, {_place(group)}"
        out.append((standing.weight, name, said(standing.odd), href if href in links else ""))
    return out


def _lines(site: Site, odd: Counter[str]) -> list[OneAircraft]:
    out = []
    for one in site.season.aircraft:
        name = one.aircraft.name
        sums = site.sums_of(name)
        if not sums.flights:
            continue
        level = max((a.level for a in site.season.attention if a.aircraft == name), default=Level.FINE)
        last = written_day(sums.last.date()) if sums.last else "–"
        href, hours = f"aircraft/{slug(name)}.html", sums.airborne_s / 3600.0
        out.append(OneAircraft(name, href, level, sums.flights, hours, last, odd[name]))
    return sorted(out, key=lambda a: (-a.level, a.name))


def render(fleet: Fleet, site: Site, shell: Shell) -> str:
    """Make the page."""
    names = _Names(site, fleet)
    links = frozenset(f"packs/{slug(h.pack.name)}.html" for h in site.season.packs) | {
        f"{where}/{slug(a.aircraft.name)}.html" for a in site.season.aircraft for where in ("aircraft", "antennas")
    }
    odd = Counter(s.member.aircraft for _, _, s in fleet.odd())
    groups = {
        sort: [_shown(g, names, links) for g in fleet.groups if g.kind.sort == sort]
        for sort in ("pack", "engine", "antenna")
    }
    return page(
        "fleet.html",
        shell,
        title=message("fleet_page.title"),
        aircraft=_lines(site, odd),
        odd=_odd_lines(fleet, names, links),
        groups=groups,
        fleet=fleet,
        percent=100.0 * FALSE_ALARM,
        fewest=FEWEST,
    )
