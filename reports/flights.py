"""What is made of each flight by itself: its page, its card and its data for comparing, here or in another process."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.findings import Finding, say
from analyser.programme.snags import SnagState
from reports.addresses import slugs_of
from reports.model import FailedFlight, FlightPage, Site, Unreadable
from reports.opened import Opened
from reports.pages import card, compare, failed, flight
from reports.pages.flight import Neighbours
from reports.render import Shell, own_version
from reports.words.reader import Reader, reader, reading
from reports.write import MARK_CHARS, Folder, fingerprint, write_page

OWN_CHARS = MARK_CHARS // 2 + 2
"""So much of a page's mark tells what it shows of its flight; the rest tells which flights it leads to."""

Run = Callable[[Callable[[Any], Any], Sequence[Any]], Iterator[Any]]
"""What spreads work over processes: a function and its items, giving each item with ``value`` or ``error``."""


class Text(Struct, frozen=True):
    """One file's text; ``instead`` says that it is not what it should be, and is to be made again the next time."""

    text: str
    instead: bool = False
    unmade: FailedFlight | None = None


class Work(Struct, frozen=True):
    """One flight with what its files are made from; ``marks`` holds the mark of each by its path."""

    flight: FlightPage
    near: Neighbours
    snags: tuple[SnagState, ...]
    shell: Shell
    reader: Reader
    marks: dict[str, str]
    wanted: tuple[str, ...]
    """Paths of those that are to be made."""
    year: str
    """The year it began in, '' where that is not known."""
    root: Path
    """Folder that the paths are in."""
    page: str = ""
    """Text of its page, where it only leads to other flights than the one there does."""


def works(site: Site, shell: Shell, out: Folder) -> Iterator[Work]:
    """Flights of which something is to be made, newest first; what need not be is left as it is.

    Parameters
    ----------
    out : Folder
        Where they go, each flight's files in its year's group.
    """
    listed = site.listed
    places = [n for year, own in listed.of_year.items() if year not in out.whole for n in own.tolist()]
    if not places:
        return
    common = hashlib.sha256(fingerprint("flight", own_version(), reader().mark, site.title, site.labelled).encode())
    told = site.snags and any(p.snags for p in site.programmes.values())
    slugs = slugs_of([listed.ids[n] for n in places])
    for at in sorted(places):
        f = listed[at]
        flight_id, year = f.flight_id, f.day[:4]
        earlier, later = (listed.ids[n] if n >= 0 else "" for n in (int(listed.earlier[at]), int(listed.later[at])))
        digest = common.copy()
        digest.update(f.mark.encode("utf-8", "surrogatepass"))
        alone = digest.hexdigest()[:MARK_CHARS]
        # Only the page leads to the flights before and after.
        page = alone[:OWN_CHARS] + fingerprint(earlier, later)[OWN_CHARS:]
        snags = site.open_on(f.aircraft, date.fromisoformat(f.day) if f.day else None) if told else ()
        name = slugs[flight_id]
        on_card = fingerprint(alone, *(f"{s.snag.name} {s.snag.title}" for s in snags)) if snags else alone
        # As path_of, card_path_of and data_path_of say, of ten thousand flights at once.
        marks = {f"flights/{name}.html": page, f"flights/{name}-card.html": on_card, f"compare/{name}.js": alone}
        if wanted := tuple(path for path, one in marks.items() if not out.keeps(path, one, year)):
            beside = (flight.path_of(i).rpartition("/")[2] if i else "" for i in (earlier, later))
            near = Neighbours(*beside)
            path = f"flights/{name}.html"
            there = out.sound(path, page[:OWN_CHARS]) if path in wanted else ""
            yield Work(
                site.by_id[flight_id],
                near,
                snags,
                shell,
                replace(reader()),
                marks,
                wanted,
                year,
                out.root,
                there and flight.led_anew(there, near),
            )


def write(todo: Sequence[Work], out: Folder, run: Run | None, begin: Callable[[str], None]) -> Iterator[FailedFlight]:
    """Make and write files of some flights, spread over processes where something spreads them.

    Parameters
    ----------
    begin : callable
        Told a flight's title before its files are made or, where others make them, after they are.

    Returns
    -------
    iterator of FailedFlight
        Those whose page says only why there is no more of it. It must be run through; other processes begin before.
    """
    if run is None:
        return _written_here(todo, out, begin)
    out.replacing(path for work in todo for path in work.wanted)
    return _written(run(make_elsewhere, todo), out, begin)


def _written_here(todo: Sequence[Work], out: Folder, begin: Callable[[str], None]) -> Iterator[FailedFlight]:
    for work in todo:
        begin(work.flight.title)
        yield from _put(work, out)


def _written(made: Iterator[Any], out: Folder, begin: Callable[[str], None]) -> Iterator[FailedFlight]:
    for done in made:
        begin(done.item.flight.title)
        if done.value is None:
            yield from _put(done.item, out)
            continue
        for path, told in done.value.items():
            out.wrote(path, done.item.marks[path], told, done.item.year)


def _put(work: Work, out: Folder) -> Iterator[FailedFlight]:
    for path, text in make(work).items():
        # What stands in a page's place has another mark, so that the next build makes it again.
        mark = fingerprint(text.text) if text.instead else work.marks[path]
        out.put(path, mark, partial(str, text.text), work.year, settled=not text.instead)
        if text.unmade:
            yield text.unmade


def make(work: Work) -> dict[str, Text]:
    """Make what is wanted of one flight, by path; what stops a file is said in its place and stops no other."""
    makers = _makers(work)
    return {path: _guarded(work, path, makers[path]) for path in work.wanted}


def make_elsewhere(work: Work) -> dict[str, str]:
    """Make and write the same in another process; the checksum of each file by its path.

    That process knows no more than the files: what stops it is for the first process to try.

    Raises
    ------
    Exception
        Whatever stops it.
    """
    with reading(work.reader):
        makers = _makers(work)
        return {path: write_page(work.root / path, makers[path]()) for path in work.wanted}


def _makers(work: Work) -> dict[str, Callable[[], str]]:
    """What makes each file of a flight, by path; what they share is read and worked out once."""
    opened, flight_id = Opened(work.flight), work.flight.record.flight_id
    return {
        flight.path_of(flight_id): lambda: work.page or flight.render(opened, work.shell, work.near),
        flight.card_path_of(flight_id): lambda: card.render(opened, work.snags, work.shell),
        compare.data_path_of(flight_id): lambda: compare.data(opened),
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
