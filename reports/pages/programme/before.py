"""Before an aircraft's next flight: one page of what its owner should have in mind."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.findings import Part
from analyser.programme.before import BeforeFlight, Expected
from analyser.programme.measures import BY_ID
from analyser.programme.unusual import FEWEST
from reports.addresses import slug
from reports.figures.usual import outside, usual_bar
from reports.model import Site
from reports.pages.bench import open_matters
from reports.pages.bench import path_of as bench_path
from reports.pages.flight import path_of as flight_path
from reports.pages.programme.lines import due_lines, programme_path, snag_line
from reports.render import Shell, page
from reports.words.catalogue import message, text, written
from reports.words.names import Names, names_on, naming


def path_of(aircraft: str) -> str:
    """Where the page is, from the root of the pages."""
    return f"before/{slug(aircraft)}.html"


def expected_words(row: Expected) -> str:
    """What a part usually shows and what it showed last, in one line."""
    return message(
        "before.expected", part=Part(row.part) if row.part else "", thing=row.thing,
        what=message(str(BY_ID[row.measure].code)), usual=row.usual or "", last=row.last, flights=row.flights,
        low=row.usual.low if row.usual else 0.0, high=row.usual.high if row.usual else 0.0,
        digits=BY_ID[row.measure].digits,
    )  # fmt: skip


class _Row(Struct, frozen=True):
    """One figure of a part: what it is, its last value, what is usual in words and as a picture."""

    what: str
    last: str
    usual: str
    picture: Markup
    outside: bool


def _tables(rows: Sequence[Expected]) -> list[tuple[str, list[_Row]]]:
    """A table's rows by the part they are of, in the order the parts first stand."""

    def heading(row: Expected) -> str:
        return message("before.part", part=Part(row.part)) if row.part else row.thing

    order = {name: n for n, name in enumerate(dict.fromkeys(heading(row) for row in rows))}
    by_part = groupby(sorted(rows, key=lambda row: order[heading(row)]), key=heading)
    return [(name, [_row(row) for row in own]) for name, own in by_part]


def _row(row: Expected) -> _Row:
    usual, digits = row.usual, BY_ID[row.measure].digits
    what, last = message("before.what", what=message(str(BY_ID[row.measure].code))), str(written(row.last))
    if usual is None:
        return _Row(what, last, "", Markup(""), False)
    return _Row(
        what, last, message("before.usual", low=usual.low, high=usual.high, digits=digits),
        usual_bar(usual, row.last, expected_words(row)), outside(usual, row.last),
    )  # fmt: skip


def names_in(before: BeforeFlight, aircraft: Aircraft | None) -> Names:
    """Names of the aircraft's antennas, and of the packs of the last flight where they sat."""
    fitted = {row.part.removeprefix("pack."): row.thing for row in before.packs if row.thing}
    return replace(names_on(aircraft), packs=fitted)


def render(before: BeforeFlight, site: Site, shell: Shell) -> str:
    """Make the page."""
    one = next((a.aircraft for a in site.season.aircraft if a.aircraft.name == before.aircraft), None)
    last = site.by_id.get(before.last_flight)
    with naming(names_in(before, one)):
        return page(
            "before.html",
            shell,
            title=message("before.title", aircraft=before.aircraft),
            before=before,
            last=last,
            last_href=flight_path(before.last_flight) if last else "",
            packs=_tables(before.packs),
            fuel=_tables(before.fuel),
            waiting=[row.flights for row in (*before.packs, *before.fuel) if row.usual is None],
            fewest=FEWEST,
            key=any(row.usual for row in (*before.packs, *before.fuel)),
            timer=text(before.timer) if before.timer else "",
            snags=[snag_line(s, site, shell.root) for s in before.snags],
            service=due_lines(before.service),
            back=programme_path(before.aircraft),
            bench=open_matters(site.bench.get(before.aircraft)),
            bench_href=bench_path(before.aircraft) if before.aircraft in site.bench else "",
            checklist=site.checklists.get(before.aircraft, []),
        )
