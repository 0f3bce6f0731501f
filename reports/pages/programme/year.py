"""One aircraft's year on one page: what was measured, found, remedied, confirmed, and what is still open."""

from __future__ import annotations

from analyser.core.figures import Figure, Method
from analyser.programme.measures import BY_ID
from analyser.programme.year import Moved, Year
from reports.addresses import slug
from reports.model import Site
from reports.pages.programme.lines import programme_path, snag_line
from reports.render import Shell, page
from reports.words.catalogue import message
from reports.words.names import heading, names_on, naming


def path_of(aircraft: str, year: int) -> str:
    """Where an aircraft's year is, from the root of the pages."""
    return f"year/{slug(aircraft)}-{year}.html"


def moved_words(moved: Moved) -> str:
    """A figure that is another one than in the year before, in one sentence."""
    measure = BY_ID[moved.key[0]]

    def level(value: float) -> Figure:
        return Figure("", value, moved.change.unit, Method.ESTIMATED, digits=measure.digits)

    return message(
        "year.moved", where=heading(moved.part) if moved.part else "", what=message(str(measure.code)),
        was=level(moved.was), now=level(moved.now),
    )  # fmt: skip


def render(year: Year, site: Site, shell: Shell) -> str:
    """Make the page."""
    one = next((a.aircraft for a in site.season.aircraft if a.aircraft.name == year.aircraft), None)
    with naming(names_on(one)):
        states = {s.snag.number: s for s in (*year.opened, *year.closed, *year.open)}
        return page(
            "review.html",
            shell,
            title=message("year.title", aircraft=year.aircraft, year=year.year),
            year=year,
            moved=[moved_words(m) for m in year.moved],
            snags=[snag_line(s, site, shell.root) for s in states.values()],
            back=programme_path(year.aircraft),
        )
