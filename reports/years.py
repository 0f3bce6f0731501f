"""What all pages of a year's flights and days are made from, told by one mark a year: most years never change."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from analyser.core.findings import coded
from reports.model import Listed, Site
from reports.render import own_version
from reports.words.catalogue import reader
from reports.write import fingerprint


@dataclass(frozen=True, slots=True)
class YearMarks:
    """Of one year, a digest of its flights alone, and one of all that pages of its flights and days are made from."""

    flights: str
    pages: str


def marks_of(site: Site) -> dict[str, YearMarks]:
    """Marks by year, '' for flights whose year is not known.

    A flight's page leads to the aircraft's flights before and after, a day's to the days before and after and tells
    what changed since the aircraft's flight before: those in other years count for the year, too.
    """
    lines: dict[str, list[str]] = {year: [] for year in site.of_year}
    around: dict[str, list[str]] = {year: [] for year in site.of_year}
    later: dict[str, Listed] = {}
    dated: dict[str, Listed] = {}
    for f in site.listed:
        flight_id, aircraft, day, _ = f
        line, year = " ".join(f), day[:4]
        lines[year].append(line)
        if steps := site.steps_before.get(flight_id):
            told = [f"{s.kind} {coded(s.text)}" for s in steps]
            line = " ".join([line, *told])
            around[year].append(line)
        for known in (later, dated) if day else (later,):
            after = known.get(aircraft)
            if after is not None and after.day[:4] != year:
                around[after.day[:4]].append(f"{after.flight_id} after {line}")
                around[year].append(f"{flight_id} before {after.flight_id}")
            known[aircraft] = f
    for before, behind in pairwise(sorted(site.of_day)):
        if before[:4] != behind[:4]:
            around[before[:4]].append(behind)
            around[behind[:4]].append(before)
    words = [own_version(), reader().mark, site.title, site.labelled, *sorted(h.pack.name for h in site.season.packs)]
    # Which of an aircraft's snags were open on a day is not told apart here.
    snags = [s.snag for p in site.programmes.values() for s in p.snags] if site.snags else []
    words += (f"{s.name} {s.title} {s.day} {s.closed}" for s in snags)
    common = fingerprint(*words)
    return {
        year: YearMarks(flights := fingerprint(*own), fingerprint(common, flights, *around[year]))
        for year, own in lines.items()
    }
