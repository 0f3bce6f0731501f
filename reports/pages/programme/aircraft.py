"""The programme of one aircraft: snags and remedies, steps nobody noted, what is unusual, service, limits."""

from __future__ import annotations

from msgspec import Struct

from analyser.core.levels import Limit
from analyser.programme.measures import BY_ID
from analyser.programme.result import ProgrammeResult
from reports.model import Site
from reports.pages.flight import path_of as flight_path
from reports.pages.programme.before import path_of as before_path
from reports.pages.programme.lines import due_lines, snag_line
from reports.pages.programme.year import path_of as year_path
from reports.render import Shell, page
from reports.words.catalogue import has, message
from reports.words.names import heading, names_on, naming
from reports.words.vocabulary import kind_words


class LimitLine(Struct, frozen=True):
    """A limit as a row of a table."""

    name: str
    thing: str
    level: str
    numbers: str
    where: str
    source: str
    own: bool
    nuisance: str


def limit_line(limit: Limit, programme: ProgrammeResult) -> LimitLine:
    """Put a limit in words."""
    if limit.on == "figure":
        thing = message(str(BY_ID[limit.of].code))
    elif limit.on == "event":
        thing = kind_words(limit.of)
    else:
        code = f"limits.of.{limit.on}.{limit.of}" if limit.on == "matter" else f"channel.{limit.of}"
        thing = message(code) if has(code) else limit.of
    numbers = ", ".join(
        message("programme_page.bound", above=above, bound=bound, unit=limit.unit, level=message(f"level.{level}"))
        for above, bounds in ((True, limit.above), (False, limit.below))
        for level, bound in bounds.items()
    )
    where = [heading(limit.part) if "." in limit.part else limit.part, limit.phase]
    if limit.for_s:
        where.append(message("programme_page.lasting", seconds=limit.for_s))
    wrong, validated = programme.rates.get(limit.name, (0, 0))
    level = message(f"level.{limit.level.name.lower()}") if limit.on in ("event", "matter") else ""
    return LimitLine(
        limit.name, thing, level, numbers, ", ".join(w for w in where if w),
        message(f"limit_source.{limit.source.name.lower()}"), limit.name in programme.own,
        message("programme_page.rate", wrong=wrong, validated=validated) if validated else "",
    )  # fmt: skip


def render(programme: ProgrammeResult, site: Site, shell: Shell) -> str:
    """Make the page."""
    one = next((a.aircraft for a in site.season.aircraft if a.aircraft.name == programme.aircraft), None)
    with naming(names_on(one)):
        snags = [snag_line(s, site, shell.root) for s in programme.snags]
        return page(
            "programme.html",
            shell,
            title=message("programme_page.title", aircraft=programme.aircraft),
            programme=programme,
            open=[s for s in snags if s.snag.open],
            closed=[s for s in snags if not s.snag.open],
            service=due_lines(programme.service),
            limits=[limit_line(x, programme) for x in programme.limits],
            before=before_path(programme.aircraft),
            years=[(y, year_path(programme.aircraft, y)) for y in programme.years],
            flight_path=flight_path,
            site=site,
        )
