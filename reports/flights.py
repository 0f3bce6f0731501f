"""What is made of each flight by itself: its page, its card and its data for comparing, here or in another process."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from analyser.core.findings import Finding, coded, say
from analyser.programme.snags import SnagState
from reports.model import FailedFlight, FlightPage, Site, Unreadable
from reports.pages import card, compare, failed, flight
from reports.pages.flight import Neighbours
from reports.render import Shell, own_version
from reports.words.reader import Reader, reader, reading
from reports.write import fingerprint

Run = Callable[[Callable[[Any], Any], Sequence[Any]], Iterator[Any]]
"""What spreads work over processes: a function and its items, giving each item with ``value`` or ``error``."""


@dataclass(frozen=True, slots=True)
class Text:
    """One file's text; ``instead`` says that it is not what it should be, and is to be made again the next time."""

    text: str
    instead: bool = False
    unmade: FailedFlight | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """One flight with what its files are made from; ``marks`` holds the mark of each by its path."""

    flight: FlightPage
    near: Neighbours
    snags: tuple[SnagState, ...]
    shell: Shell
    reader: Reader
    marks: dict[str, str]
    wanted: tuple[str, ...] = ()
    """Paths of those that are to be made."""


def works(site: Site, shell: Shell) -> Iterator[Work]:
    """Every flight of a site, newest first."""
    around = _neighbours(site)
    for f in site.flights:
        flight_id = f.record.flight_id
        near = around[flight_id]
        mark = fingerprint(
            "flight",
            own_version(),
            reader().mark,
            f.fingerprint,
            f.title,
            f.source,
            *map(coded, f.notices),
            f.labelled,
            repr(f.checklist),
            site.title,
            site.labelled,
            near.previous,
            near.next,
            str(f.record.number),
        )
        snags = site.open_on(f.record.aircraft, f.record.utc_start.date() if f.record.utc_start else None)
        marks = {
            flight.path_of(flight_id): mark,
            flight.card_path_of(flight_id): fingerprint(mark, *(f"{s.snag.name} {s.snag.title}" for s in snags)),
            compare.data_path_of(flight_id): mark,
        }
        yield Work(f, near, snags, shell, replace(reader()), marks)


def made(todo: Sequence[Work], run: Run | None, begin: Callable[[str], None]) -> Iterator[tuple[Work, dict[str, Text]]]:
    """Make files of some flights, spread over processes where something spreads them.

    Parameters
    ----------
    begin : callable
        Told a flight's title before its files are made or, where others make them, before they are written.
    """
    if run is None:
        for work in todo:
            begin(work.flight.title)
            yield work, make(work)
        return
    for done in run(make_elsewhere, todo):
        begin(done.item.flight.title)
        yield done.item, make(done.item) if done.value is None else done.value


def make(work: Work) -> dict[str, Text]:
    """Make what is wanted of one flight, by path; what stops a file is said in its place and stops no other."""
    makers = _makers(work)
    return {path: _guarded(work, path, makers[path]) for path in work.wanted}


def make_elsewhere(work: Work) -> dict[str, Text]:
    """The same in another process, which knows no more than the files: what stops it is for the first process to try.

    Raises
    ------
    Exception
        Whatever stops it.
    """
    with reading(work.reader):
        makers = _makers(work)
        return {path: Text(makers[path]()) for path in work.wanted}


def _makers(work: Work) -> dict[str, Callable[[], str]]:
    """What makes each file of a flight, by path; record and telemetry are read once for all of them."""
    f = work.flight
    record, telemetry = cache(f.record.whole), cache(f.telemetry)

    def read() -> FlightPage:
        return replace(f, record=record(), telemetry=telemetry)

    flight_id = f.record.flight_id
    return {
        flight.path_of(flight_id): lambda: flight.render(read(), work.shell, work.near),
        flight.card_path_of(flight_id): lambda: card.render(read(), work.snags, work.shell),
        compare.data_path_of(flight_id): lambda: compare.data(read()),
    }


def _guarded(work: Work, path: str, write: Callable[[], str]) -> Text:
    f = work.flight
    try:
        return Text(write())
    except Exception as error:
        why = _why(error)
        if path == compare.data_path_of(f.record.flight_id):
            return Text(compare.without_data(f, str(why)), instead=True)
        unmade = FailedFlight(f.record.flight_id, f.title, f.source, why, f.labelled)
        return Text(failed.render(unmade, work.shell), instead=True, unmade=unmade)


def _why(error: Exception) -> Finding:
    """Say why a page could not be made."""
    if isinstance(error, Unreadable):
        return say("failed.unreadable", why=str(error))
    return say("failed.fault", fault=f"{type(error).__name__}: {error}")


def _neighbours(site: Site) -> dict[str, Neighbours]:
    """Earlier and later flight of the same aircraft; flights come newest first."""
    lines: dict[str, list[str]] = {}
    for f in site.flights:
        lines.setdefault(f.record.aircraft, []).append(f.record.flight_id)
    out = {}
    for ids in lines.values():
        names = [flight.path_of(i).rpartition("/")[2] for i in ids]
        for n, one in enumerate(ids):
            out[one] = Neighbours(names[n + 1] if n + 1 < len(ids) else "", names[n - 1] if n else "")
    return out
