"""Build the pages of a whole logbook into a folder, touching only what changed.

Every page is described by a *mark*, a digest of what it is made from. A flight's mark is its fingerprint with the few
things around it (title of the site, neighbours); its telemetry is loaded only when the mark changed. The other pages
are made from results alone, quickly, so their mark is their own text.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import cache, partial
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from reports import flights
from reports.addresses import path_of_day, slug
from reports.flights import Run
from reports.model import FailedFlight, FlightPage, Site, YearPage
from reports.opened import Opened
from reports.pages import (
    aircraft,
    antennas,
    bench,
    compare,
    days,
    failed,
    flight,
    glossary,
    labels,
    over_flights,
    pack,
    season,
    sheet,
    start,
)
from reports.pages.programme import aircraft as programme_aircraft
from reports.pages.programme import before as programme_before
from reports.pages.programme import fleet as fleet_page
from reports.pages.programme import year as programme_year
from reports.pages.programme.lines import programme_path
from reports.render import SHARED, Shell, asset, own_version, plotly_script
from reports.words.catalogue import message, reader
from reports.words.compiled import compiled
from reports.write import Folder, Job, alone, fingerprint, write_whole
from reports.years import YearMarks, marks_of

EARLY = 200
"""So many pages' texts are held until the flights they lead to are written."""


class Built(Struct, frozen=True):
    """What a build did: the start page, and how many pages were written, left as they were, and removed.

    ``failed`` are the flights whose page only says why there is no more of it.
    """

    start: Path
    written: int
    kept: int
    removed: int
    failed: tuple[FailedFlight, ...] = ()


def build_site(
    site: Site, folder: Path, *, progress: Callable[[str, int, int], None] | None = None, run: Run | None = None
) -> Built:
    """Write every page under ``folder``; an interrupted build leaves the old pages whole.

    Parameters
    ----------
    site : Site
        The whole logbook.
    folder : Path
        Made where it does not exist; files in it that no build wrote are left alone.
    progress : callable or None
        Told the page's title, how many are done and how many there are.
    run : callable or None
        Spreads the making of flights over processes.
    """
    with alone(folder):
        return _build(site, folder, progress, run)


def _build(site: Site, folder: Path, progress: Callable[[str, int, int], None] | None, run: Run | None) -> Built:
    years = cache(partial(marks_of, site))
    out = Folder(folder, lambda: {year: marks.pages for year, marks in years().items()})
    _assets(out)
    root, inner = Shell(site.title, site.labelled), Shell(site.title, site.labelled, root="../")
    # The pages that lead to others come last: a link is never ahead of its target.
    unmade = {f.flight_id: f for f in site.failed}
    todo = list(flights.works(site, inner, out))
    steps = len(todo)
    done = 0

    def begin(title: str) -> None:
        nonlocal done
        if progress:
            progress(title, done, steps)
        done += 1

    flown = flights.write(todo, out, run, begin)  # other processes begin before anything is said over flights
    jobs = _jobs(site, out, years(), root, inner)
    steps += len(jobs) + 1
    if run is not None:  # this process has time while the others make flights
        jobs[:EARLY] = [_drawn(job, out) for job in jobs[:EARLY]]
    unmade.update((f.flight_id, f) for f in flown)
    for job in jobs:
        begin(job.title)
        if job.mark is None:
            words = job.make()
            out.put(job.path, fingerprint(words), partial(words.replace, start.GENERATED, site.generated))
        else:
            out.put(job.path, job.mark, job.make, job.group)
    begin(message("page.start.title"))
    words = start.render(replace(site, failed=tuple(unmade.values()), over=site.said), root)
    out.put("index.html", fingerprint(words), partial(words.replace, start.GENERATED, site.generated))
    out.finish()
    compiled().save()
    if progress:
        progress("", steps, steps)
    return Built(folder / "index.html", out.written, out.kept, out.removed, tuple(unmade.values()))


def _drawn(job: Job, out: Folder) -> Job:
    """The same page with its text at hand, where it is to be written."""
    return job if job.mark and out.holds(job.path, job.mark) else replace(job, make=partial(str, job.make()))


def _jobs(site: Site, out: Folder, years: Mapping[str, YearMarks], root: Shell, inner: Shell) -> list[Job]:
    """Every page but the flights' own and the first one, those that lead to others last."""
    jobs: list[Job] = []
    for one_failed in site.failed:
        jobs.append(
            Job(one_failed.title, flight.path_of(one_failed.flight_id), partial(failed.render, one_failed, inner))
        )
    for year, own in start.years_of(site).items():
        about = ("year", own_version(), reader().mark, site.title, site.labelled, year)
        mark = fingerprint(*about, years[year].flights)
        make = partial(start.render_year, year, site.at(own.tolist()), inner)
        jobs.append(Job(message("flights.of_year", year=year), start.path_of_year(year), make, mark))
    for history in site.season.packs:
        name = history.pack.name
        jobs.append(
            Job(
                message("pack.title", pack=name), f"packs/{slug(name)}.html", partial(pack.render, history, site, inner)
            )
        )
    for one in site.season.aircraft:
        name = one.aircraft.name
        jobs.append(Job(name, f"aircraft/{slug(name)}.html", partial(aircraft.render, one, site, inner)))
        if name in site.bench:
            title = message("bench_says.page", aircraft=name)
            jobs.append(Job(title, bench.path_of(name), partial(bench.render, one.aircraft, site.bench[name], inner)))
        jobs.append(
            Job(
                message("antennas.title", aircraft=name),
                f"antennas/{slug(name)}.html",
                partial(antennas.render, one, site, inner),
            )
        )
    jobs += _programme_jobs(site, inner)
    if site.fleet is not None:
        mark = _fleet_mark(site)
        make = partial(_fleet, site, root)
        jobs.append(Job(message("fleet_page.title"), fleet_page.PATH, make, mark))
    changed = years.keys() - out.whole
    for written, mark in days.marks_of(
        site, changed, "day", own_version(), reader().mark, site.title, site.labelled
    ).items():
        if not out.keeps(f"{days.FOLDER}/{written}.html", mark, written[:4]):
            day = date.fromisoformat(written)
            make = partial(days.render, day, site, inner)
            jobs.append(Job(written, path_of_day(day), make, mark, written[:4]))
    jobs += [
        Job(message("page.compare.title"), "compare.html", partial(compare.render, site, root)),
        Job(message("page.season.title"), "season.html", partial(season.render, site, root)),
        Job(message("over.title"), over_flights.PATH, partial(over_flights.data, site)),
        Job(message("page.sheet.title"), "field-sheet.html", partial(sheet.render, site, root)),
        Job(message("labels.title"), "labels.html", partial(labels.render, site, root), _labels_mark(site)),
        Job(message("page.glossary.title"), "glossary.html", partial(glossary.render, root)),
    ]
    return jobs


def _year(year: YearPage, site: Site, shell: Shell) -> str:
    return programme_year.render(year.made(), site, shell)


def _fleet(site: Site, root: Shell) -> str:
    assert site.fleet is not None
    return fleet_page.render(site.fleet.made(), site, root)


def _fleet_mark(site: Site) -> str:
    """Changes with what is compared, and with what the table of aircraft shows."""
    assert site.fleet is not None
    levels: dict[str, int] = {}
    for matter in site.season.attention:
        levels[matter.aircraft] = max(levels.get(matter.aircraft, 0), int(matter.level))
    lines = [
        f"{a.aircraft.name} {levels.get(a.aircraft.name)} {replace(site.sums_of(a.aircraft.name), events={})}"
        for a in site.season.aircraft
    ]
    packs = [h.pack.name for h in site.season.packs]
    return fingerprint(
        "fleet", own_version(), reader().mark, site.title, site.labelled, site.fleet.mark, *lines, *packs
    )


def _labels_mark(site: Site) -> str:
    """Changes with what is printed on labels, whose codes take a while to draw."""
    packs = sorted(repr(h.pack) for h in site.season.packs)
    return fingerprint("labels", own_version(), reader().mark, site.title, site.labelled, *packs)


def _programme_jobs(site: Site, inner: Shell) -> list[Job]:
    """Pages of the monitoring programme; a year's is made anew only where something in it may have changed."""
    jobs = []
    for name, programme in site.programmes.items():
        jobs += [
            Job(
                message("programme_page.title", aircraft=name), programme_path(name),
                partial(programme_aircraft.render, programme, site, inner),
            ),
            Job(
                message("before.title", aircraft=name), programme_before.path_of(name),
                partial(programme_before.render, programme.before, site, inner),
            ),
        ]  # fmt: skip
        described = repr(next((a.aircraft for a in site.season.aircraft if a.aircraft.name == name), None))
        for number in programme.years if site.year else ():
            assert site.year is not None
            year = site.year(name, number)
            words = ("review", own_version(), reader().mark, site.title, site.labelled, described)
            jobs.append(
                Job(
                    message("year.title", aircraft=name, year=number),
                    programme_year.path_of(name, number),
                    partial(_year, year, site, inner),
                    year.mark and fingerprint(*words, year.mark),
                )
            )
    return jobs


def build_single_flight(site: Site, flight_id: str, file: Path) -> Path:
    """Write one flight's page as one self-contained file, plotting script included.

    Raises
    ------
    KeyError
        If the logbook has no such flight.
    """
    chosen = _flight(site, flight_id)
    write_whole(file, flight.render(Opened(chosen), Shell(site.title, site.labelled, single=True), flight.Neighbours()))
    return file


def comparison_address(site: Site, flight_ids: Sequence[str], folder: Path) -> str:
    """Address that lays chosen flights side by side on the page of comparisons, the first one being the reference.

    Raises
    ------
    KeyError
        If the logbook has no such flight.
    ValueError
        If fewer than two different flights are named.
    """
    chosen = [_flight(site, i).record.flight_id for i in dict.fromkeys(flight_ids)]
    if len(chosen) < 2:
        raise ValueError("a comparison needs at least two different flights")
    page, _, choice = compare.address_of(chosen).partition("#")
    return f"{(folder / page).resolve().as_uri()}#{choice}"


def _flight(site: Site, flight_id: str) -> FlightPage:
    return site.by_id[flight_id]


def _assets(out: Folder) -> None:
    for name in SHARED:
        out.put(f"assets/{name}", fingerprint(asset(name)), partial(asset, name))
    script = plotly_script()
    out.put("assets/plotly-basic.min.js", fingerprint(script), lambda: script)
    out.put(
        "assets/plotly-basic.LICENSE", fingerprint(licence := asset("vendor/plotly-basic.LICENSE")), lambda: licence
    )
