"""Looking after a logbook: every file verified, each damage named in one sentence, and repaired where it can be.

Nothing is deleted: what is damaged is set aside, into the folder ``aside`` (catalogues) or into the bin (flights).
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from msgspec import Struct

from analyser.core.findings import Finding, Text, say
from analyser.programme.marks import Mark
from analyser.programme.service import Component
from analyser.programme.snags import Snag
from importers.layout.mapping import load as load_mapping
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.source import Source as Origin
from reports.write import damaged as pages_damaged
from reports.write import undo as undo_pages
from spooldown import register
from spooldown.intake.adding import LogFile, find_logs, no_log
from spooldown.judging.files import own_limits
from spooldown.judging.files import path_of as limits_path
from spooldown.logbook import columns, entered, store
from spooldown.logbook.book import Logbook, damaged, lost_texts
from spooldown.logbook.catalogue import CATALOGUE, connect, make_sure_it_is_here, not_this_one, open_to_read, why_of
from spooldown.logbook.codec import from_json
from spooldown.logbook.flight import DamagedFile, Flight
from spooldown.logbook.plain import FolderClosed, files_in, names_in
from spooldown.logbook.schema import MIGRATIONS, altered, mend_number, version_of
from spooldown.logbook.unknown import ENDING, PART, other_owner
from spooldown.problems import LogbookProblem, Problem, of_the_place
from spooldown.upkeep import mending
from spooldown.work.kept import damaged as kept_damaged
from spooldown.work.kept import strays
from spooldown.work.unchanged import FILE as BUILT

WAIT_S = 0.3
"""After how long what another process may have in hand is looked at again."""
PAGES = "pages"
"""Folder of the pages in a logbook."""
Progress = Callable[[str, int, int], None]


class Damage(Struct, frozen=True):
    """One thing that is not as it was stored, and what was done about it (None where nothing was)."""

    what: Text
    done: Finding | None = None

    def __str__(self) -> str:
        return f"{self.what}: {self.done}" if self.done else str(self.what)


def check(
    folder: Path, *, repair: bool = False, logs: Sequence[Path] = (), progress: Progress | None = None
) -> list[Damage]:
    """Verify a whole logbook.

    Parameters
    ----------
    folder : Path
        The logbook's; it may be damaged so that it does not open.
    repair : bool
        Whether to mend what can be mended; without it nothing is written.
    logs : sequence of Path
        Files and folders with source logs: damaged flights are read again from them.
    progress : callable or None
        Told the flight's id, how many are verified and how many there are.

    Returns
    -------
    list of Damage
        Empty where everything is as it was stored.
    """
    found = list(_number(folder)) if repair else []
    found += _catalogue(folder, repair)
    if found and not repair:
        return found  # nothing behind it can be told apart
    with Logbook(folder) as book:
        found += _rows(book, repair)
        if any(not d.done for d in found):
            return found
        found += _settled(book, repair)
        for look in (_telemetry(book, repair, logs, progress), _bin(book, repair), _texts(book, repair)):
            found += _or_closed(look)
        found += _or_closed(_kept(book, repair))
    return found


def check_stored(book: Logbook, progress: Progress | None = None) -> list[Damage]:
    """Verify a logbook on object storage, which is only read: every file of a flight is fetched.

    Parameters
    ----------
    book : Logbook
        Opened by its address.
    progress : callable or None
        Told the flight's id, how many are verified and how many there are.
    """
    found = list(_catalogue(book.folder, repair=False))
    if found:
        return found
    found += _rows(book, repair=False)
    return found or [*_telemetry(book, repair=False, logs=(), progress=progress), *_texts(book, repair=False)]


def _or_closed(found: Iterator[Damage]) -> Iterator[Damage]:
    """The damage found, as far as folders may be looked into; one that may not is told, too."""
    try:
        yield from found
    except FolderClosed as closed:
        yield Damage(closed.finding)
    except OSError as error:
        if (what := of_the_place(error)) is None:
            raise
        yield Damage(what)


def _number(folder: Path) -> Iterator[Damage]:
    """The number of the catalogue's schema, put right where the tables prove another one."""
    path = folder / CATALOGUE
    if not path.is_file():
        return
    with suppress(sqlite3.DatabaseError, UnicodeDecodeError), closing(connect(path, write=True)) as db:
        db.execute("BEGIN IMMEDIATE")
        wrong = mend_number(db)
        db.execute("COMMIT")
        if wrong:
            what = say("logbook.catalogue_damaged", catalogue=str(path), why=str(wrong))
            yield Damage(what, say("check.number_right"))


def _catalogue(folder: Path, repair: bool) -> Iterator[Damage]:
    """The catalogue as a file: SQLite's own check of every page and index, and of every reference; and whose it is."""
    path = folder / CATALOGUE
    what: Finding | None = None
    said = ""
    try:
        if not make_sure_it_is_here(path):
            return
        db = open_to_read(path)
        try:
            said = "; ".join(row[0] for row in db.execute("PRAGMA integrity_check(3)") if row[0] != "ok")
            said = said or "; ".join(
                str(say("check.row_without", table=t, names=p)) for t, _, p, _ in db.execute("PRAGMA foreign_key_check")
            )
            said = said or "; ".join(str(say("check.other_text", table=name)) for name in altered(db))
            if not said and 0 <= version_of(db) <= len(MIGRATIONS) and (why := other_owner(db, folder)):
                raise not_this_one(path, why)
        finally:
            db.close()
    except LogbookProblem as problem:
        what = _plain(problem.finding)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if isinstance(error, sqlite3.OperationalError) and "locked" in str(error):
            raise LogbookProblem("logbook.busy", folder=str(folder)) from error
        said = why_of(error)
    if said:
        what = say("logbook.catalogue_damaged", catalogue=str(path), why=" ".join(said.split())[:200])
    if what is None:
        return
    if not repair:
        yield Damage(what)
        return
    aside = folder / entered.ASIDE / f"catalogue-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}.sqlite"
    aside.parent.mkdir(exist_ok=True)
    _rename(path, aside)
    try:
        with Logbook(folder) as book, book.writing():
            pass
    except BaseException:
        if not os.path.lexists(path):  # no room for a new one
            _rename(aside, path)
        raise
    yield Damage(what, say("check.catalogue_made_anew", aside=f"{entered.ASIDE}/{aside.name}", file=entered.FILE))


def _rename(here: Path, there: Path) -> None:
    """Rename a catalogue, and what is left of its writer beside it."""
    for ending in ("", "-journal"):
        with suppress(FileNotFoundError):
            os.replace(here.with_name(here.name + ending), there.with_name(there.name + ending))


def _rows(book: Logbook, repair: bool) -> Iterator[Damage]:
    """Cells of the catalogue that nobody stored."""
    for flight_id in book.flight_ids():
        damage = book.flight(flight_id).damage
        if damage and repair:
            made = mending.remake(book, flight_id)
            yield Damage(_plain(damage), say("check.made_anew" if made else "check.row_taken_out"))
        elif damage:
            yield Damage(_plain(damage))
    # Lines that are not what was written come first: against them a sound note would look damaged.
    missing = say("check.lines_missing" if entered.is_there(book.folder) else "check.lines_gone", file=entered.FILE)
    lines = mending.mend_lines(book, repair=repair)
    for number in lines:
        what = say("check.line_damaged", file=entered.FILE, line=number) if number else missing
        yield Damage(what, say("check.written_anew") if repair else None)
    for what, mended in mending.mend_entries(book, repair=repair) if repair or not lines else ():
        yield Damage(what, mended)


def _plain(finding: Finding) -> Finding:
    """What is wrong, without what to do about it."""
    what = finding.values.get("what")
    return what if isinstance(what, Finding) else finding


def _settled(book: Logbook, repair: bool) -> Iterator[Damage]:
    """Files and rows that lost each other."""
    if repair:
        with book.writing():
            pass
    done = say("check.done") if repair else None
    for found in book.said:
        yield Damage(_plain(found), done)
    left = book.disorder()
    for flight_id in (*left.unnamed, *left.replaced):
        yield Damage(say("check.temporary_name", flight=flight_id), done)
    for flight_id in left.leftovers:
        yield Damage(say("check.leftover", file=f"flights/{flight_id}{PART}"), done)
    for flight_id in left.unknown:
        if flight_id not in book.flight_ids():
            yield Damage(say("check.copy_or_unreadable", file=f"flights/{flight_id}.parquet"))


def _telemetry(book: Logbook, repair: bool, logs: Sequence[Path], progress: Progress | None) -> Iterator[Damage]:
    """Every flight's file against its hash, its schema and its row."""
    flights, owners = book.flights(), mending.Owners(book)
    bad: list[tuple[Flight, Finding]] = []
    for done, flight in enumerate(flights):
        if progress:
            progress(flight.flight_id, done, len(flights))
        try:
            telemetry = store.read_telemetry(book.telemetry_place(flight.flight_id), flight.telemetry_sha256)
        except (OSError, DamagedFile) as error:
            bad.append((flight, damaged(flight, error)))
            continue
        if telemetry.table.num_rows != flight.rows:
            rows = telemetry.table.num_rows
            bad.append((flight, say("check.other_rows", flight=flight.flight_id, found=rows, wanted=flight.rows)))
        elif not book.address and (cells := mending.other_cells(book, flight.flight_id)):
            what = say("check.row_differs", flight=flight.flight_id, cells=tuple(cells))
            if repair:
                mending.remake(book, flight.flight_id)
            yield Damage(what, say("check.made_anew") if repair else None)
        elif not book.address and owners.wrong(flight, telemetry.metadata.get("aircraft", ""), repair=repair):
            what = say("logbook.owner_damaged", flight=flight.flight_id)
            yield Damage(what, say("logbook.mended", file=entered.FILE) if repair else None)
    if not repair:
        yield from (Damage(what) for _, what in bad)
        return
    sources, renamed = _by_content(logs) if bad else {}, _renamed(book, [f for f, _ in bad])
    for flight, what in bad:
        if found := renamed.get(flight.flight_id):
            os.replace(found, book.flights_folder / f"{flight.flight_id}{ENDING}")
            yield Damage(what, say("check.named_again", file=found.relative_to(book.folder).as_posix()))
        elif again := _read_again(book, flight, sources):
            yield Damage(what, say("check.read_again", log=again))
        else:
            book.remove([flight.flight_id], why=str(what))
            yield Damage(what, say("check.into_bin"))


def _renamed(book: Logbook, flights: Sequence[Flight]) -> dict[str, Path]:
    """Files of flights that somebody renamed or put elsewhere in the logbook, known by their bytes; by flight id."""
    lost = {f.telemetry_sha256: f.flight_id for f in flights if not book.telemetry_path(f.flight_id).exists()}
    if not lost:
        return {}
    known = {*book.flight_ids(), *book.in_bin()}
    places = (book.flights_folder, book.bin_folder, book.folder)
    others = [p for place in places for p in files_in(place, ENDING) if p.is_file() and p.stem not in known]
    by_content = {store.file_sha256(p): p for p in others}
    return {flight_id: by_content[digest] for digest, flight_id in lost.items() if digest in by_content}


def _by_content(logs: Sequence[Path]) -> dict[str, LogFile]:
    found = {}
    for file in find_logs(logs) if logs else []:
        with suppress(Refusal, OSError):
            if not no_log(file):
                found[Origin(file.path, file.name).content_sha256()] = file
    return found


def _read_again(book: Logbook, flight: Flight, sources: dict[str, LogFile]) -> str:
    """Write a flight's file anew from its source log; returns the log's name, '' where it is not there."""
    logs = book.sources(flight.flight_id)
    file = sources.get(logs[0].sha256) if len(logs) == 1 else None
    if file is None:
        return ""
    answers = book.answers(flight.flight_id)
    mappings = book.mapping_files()
    try:
        proposed = plan(Origin(file.path, flight.source), mappings=mappings, answers=answers)
        if proposed.questions:
            return ""
        for draft in read(proposed):
            if draft.part == flight.part:
                book.replace_telemetry(flight, draft)
                return file.name
    except (Refusal, LogbookProblem):
        return ""
    return ""


def _bin(book: Logbook, repair: bool) -> Iterator[Damage]:
    """What lies in the bin: each entry against its digest, each file against its hash."""
    spoilt = mending.spoilt_bin(book)
    if spoilt and repair:
        mending.mend_bin(book)
    for flight_id in spoilt:
        what = Finding("logbook.bin_entry_damaged", {"flight": flight_id})
        yield Damage(what, say("check.made_anew") if repair else None)
    names_in(book.bin_folder)  # where that may not be looked into, none of its files is told as damaged
    there = book.removed() if repair or not spoilt else []
    for one in there:
        if one.why or one.emptying:
            continue
        file = book.bin_folder / f"{one.flight_id}.parquet"
        what = say("check.bin_file_damaged", flight=one.flight_id)
        try:
            whole = store.file_sha256(file) == one.sha256
        except FileNotFoundError:
            whole, what = False, say("check.bin_without_file", flight=one.flight_id)
        except OSError:
            whole = False
        if not whole:
            if repair:
                book.mark_removed(one.flight_id, str(what))
            yield Damage(what, say("check.left_in_bin") if repair else None)


def _texts(book: Logbook, repair: bool) -> Iterator[Damage]:
    """Register, mappings, and names in notes that lead nowhere."""
    lost = lost_texts(book)
    if lost and repair:
        mending.forget_texts(book, lost)
    for name in lost:
        yield Damage(say("check.text_lost", file=name), say("check.text_forgotten") if repair else None)
    try:
        known = register.load(book)
    except (Refusal, Problem) as refusal:
        yield Damage(str(refusal).rstrip("."))
        return
    unreadable = []
    for path in book.mapping_files():
        try:
            load_mapping(path)
        except Refusal as refusal:
            unreadable.append(path)
            yield Damage(str(refusal).rstrip("."))
    for aircraft in sorted({f.aircraft for f in book.flights()} | set(known.aircraft)):
        try:
            own_limits(book, aircraft)
        except Refusal as refusal:
            unreadable.append(limits_path(book, aircraft))
            yield Damage(str(refusal).rstrip("."))
    for name in mending.changed_texts(book):
        if book.folder / name in unreadable:
            continue  # told with its line already
        yield Damage(say("check.text_changed", file=name), say("check.text_left", folder=name.partition("/")[0]))
    for kind, made in (("snag", Snag), ("mark", Mark), ("component", Component)):
        for name, body in book.records(kind).items():
            try:
                from_json(body.encode(), made)
            except Exception:  # whatever is wrong with it, it is told and left as it is
                yield Damage(say("check.record_unreadable", kind=kind, name=name))
    for flight_id, note in book.notes().items():
        for name in sorted(set(note.packs.values()) - set(known.packs)):
            yield Damage(say("check.noted_pack", flight=flight_id, pack=name))


def _kept(book: Logbook, repair: bool) -> Iterator[Damage]:
    """Kept results of flights that are no more, and temporary files beside them; tables that do not read back."""
    for table in columns.damaged(book.folder):
        if repair:
            columns.drop(book.folder)
        what = say("check.table_damaged", table=f"{columns.FOLDER}/{table}")
        yield Damage(what, say("check.table_taken_out") if repair else None)
        if repair:
            break
    for path in kept_damaged(book.cache_folder):
        what = say("check.result_damaged", file=path.relative_to(book.folder).as_posix())
        if repair:
            _out_of_the_way(book, path)
        yield Damage(what, say("check.result_taken_out") if repair else None)
    pages = book.folder / PAGES
    bad = pages_damaged(pages)
    if bad and repair:
        for page in bad:
            _out_of_the_way(book, pages / page, only_folders=True)
        undo_pages(pages, bad)
        (pages / BUILT).unlink(missing_ok=True)
    for page in bad:
        what = say("check.page_damaged", file=f"{PAGES}/{page}")
        yield Damage(what, say("check.page_made_again") if repair else None)
    stray = _strays(book)
    if stray:
        time.sleep(WAIT_S)
        stray &= _strays(book)  # another process may be writing them at this moment
    if stray:
        yield Damage(say("check.stray_results", count=len(stray)), say("check.swept") if repair else None)
    for path in stray if repair else ():
        with suppress(OSError):
            path.unlink()


def _out_of_the_way(book: Logbook, path: Path, *, only_folders: bool = False) -> None:
    """Take away what is no kept result or page; a folder in its place is set aside with whatever somebody put there."""
    if path.is_dir() and not path.is_symlink():
        aside = book.folder / entered.ASIDE / f"{path.name}-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}"
        aside.parent.mkdir(exist_ok=True)
        os.replace(path, aside)
    elif not only_folders:
        path.unlink(missing_ok=True)


def _strays(book: Logbook) -> set[Path]:
    # Of a flight in the bin its results stay: it may come back.
    return strays(book.cache_folder, [*book.flight_ids(), *book.in_bin()])
