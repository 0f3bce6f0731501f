"""What all pages of a year's flights and days are made from, told by one mark a year: most years never change."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct

from analyser.core.findings import coded
from reports.listing import IntArray, Listing
from reports.model import Site
from reports.render import own_version
from reports.words.catalogue import reader
from reports.write import fingerprint


class YearMarks(Struct, frozen=True):
    """Of one year, a digest of its flights alone, and one of all that pages of its flights and days are made from."""

    flights: str
    pages: str


def marks_of(site: Site) -> dict[str, YearMarks]:
    """Marks by year, '' for flights whose year is not known.

    A flight's page leads to the aircraft's flights before and after, a day's to the days before and after and tells
    what changed since the aircraft's flight before: those in other years count for the year, too.
    """
    listed = site.listed
    around: dict[str, list[str]] = {year: [] for year in listed.of_year}
    told: dict[int, str] = {}
    for flight_id, steps in site.steps_before.items():
        if (at := listed.at.get(flight_id)) is not None:
            told[at] = " ".join([flight_id, *(f"{s.kind} {coded(s.text)}" for s in steps)])
            around[listed.days[at][:4]].append(told[at])
    for before in (listed.earlier, listed.earlier_dated):
        for at in _astride(listed, before):
            first, after = listed[before[at]], listed[at]
            line = " ".join([*first, told.get(int(before[at]), "")])
            around[after.day[:4]].append(f"{after.flight_id} after {line}")
            around[first.day[:4]].append(f"{first.flight_id} before {after.flight_id}")
    for earlier, later in pairwise(sorted(listed.of_day)):
        if earlier[:4] != later[:4]:
            around[earlier[:4]].append(later)
            around[later[:4]].append(earlier)
    words = [own_version(), reader().mark, site.title, site.labelled, *sorted(h.pack.name for h in site.season.packs)]
    # Which of an aircraft's snags were open on a day is not told apart here.
    snags = [s.snag for p in site.programmes.values() for s in p.snags] if site.snags else []
    words += (f"{s.name} {s.title} {s.day} {s.closed}" for s in snags)
    common = fingerprint(*words)
    return {
        year: YearMarks(own := _mark_of(listed, places), fingerprint(common, own, *around[year]))
        for year, places in listed.of_year.items()
    }


def _mark_of(listed: Listing, places: IntArray) -> str:
    """Digest of some flights' ids, owners, days and marks."""
    owners = listed.owner[places]
    there = np.unique(owners)
    words = [listed.owners[n] for n in there.tolist()]
    for column in (listed.ids, listed.days):
        words.append("\n".join([column[n] for n in places.tolist()]))
    return fingerprint(*words, np.searchsorted(there, owners).tobytes(), listed.marks[places].tobytes())


def _astride(listed: Listing, before: IntArray) -> list[int]:
    """Places of flights that are in another year than the one before, newest first."""
    year = np.zeros(len(listed), np.intp)
    for n, places in enumerate(listed.of_year.values()):
        year[places] = n
    return np.flatnonzero((before >= 0) & (year[before] != year)).tolist()
