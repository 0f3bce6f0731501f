"""Flight files and catalogue rows brought together again: nothing that may be a flight is ever deleted.

A flight's file is written as ``<id>.parquet.part``; its row is committed; then the file gets its name. So after a crash

* a ``.part`` with a row is a whole flight that only wants its name,
* a ``.part`` without a row is what a dead writer left: it goes,
* a ``.part`` beside a file of the same flight was to take its place: the one whose bytes the row tells is the flight's,
* a file in the folder of flights or in the bin whose row is in the other one's table goes back there,
* any other whole file without a row was never left by a crash. The catalogue is the wrong one (emptied, older, gone),
  and the flight is taken in again from what its file says of itself.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from itertools import compress
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from analyser.core.findings import Finding, say
from spooldown.logbook import bin, entered, texts
from spooldown.logbook.catalogue import answers
from spooldown.logbook.entered import ASIDE
from spooldown.logbook.flight import is_id
from spooldown.logbook.plain import FolderClosed, files_in, names_in, plain
from spooldown.logbook.schema import is_empty, version_of

if TYPE_CHECKING:
    from spooldown.logbook.store import Described

FLIGHTS = "flights"
ENDING = ".parquet"
PART = ".parquet.part"


class Disorder(Struct, frozen=True):
    """What the folder of flights and the bin hold that the catalogue does not say, by flight id."""

    unnamed: tuple[str, ...] = ()
    """Flights with a row whose file still has its temporary name."""
    leftovers: tuple[str, ...] = ()
    """Temporary files without a row."""
    replaced: tuple[str, ...] = ()
    """Flights whose row tells of the file that has its temporary name, while the one before still has its place."""
    unknown: tuple[str, ...] = ()
    """Whole files of ours without a row."""
    binned: tuple[str, ...] = ()
    """Flights with a row whose file is in the bin."""
    unbinned: tuple[str, ...] = ()
    """Flights in the bin whose file is among the flights."""
    strangers: tuple[str, ...] = ()
    """Files of ours in the bin that no table knows."""
    nameless: tuple[str, ...] = ()
    """Rows whose name is no flight's, as they are shown."""


def disorder(db: sqlite3.Connection, folder: Path) -> Disorder:
    """Compare a logbook's folder with its catalogue; reads names only, and the metadata of unknown files."""
    rows = {row[0] for row in answers(db, "SELECT flight_id FROM flight")}
    removed = {row[0] for row in answers(db, "SELECT flight_id FROM removed")}
    names, in_bin = names_in(folder / FLIGHTS), set(removed)
    with suppress(FolderClosed):  # a bin that may not be looked into costs only what is in it
        in_bin = {n.removesuffix(ENDING) for n in names_in(folder / bin.FOLDER)}
    if not in_bin and not removed and {f"{flight_id}{ENDING}" for flight_id in rows} == set(names):
        return Disorder()  # as nearly always
    nameless = {i for i in rows if not is_id(i)}
    rows, removed = rows - nameless, {i for i in removed if is_id(i)}
    whole = {n.removesuffix(ENDING) for n in names if n.endswith(ENDING)}
    parts = {n.removesuffix(PART) for n in names if n.endswith(PART)}
    unbinned = (whole & removed) - rows - in_bin
    replaced = {i for i in parts & rows & whole if takes_its_place(db, folder / FLIGHTS, i)}
    return Disorder(
        unnamed=tuple(sorted((parts & rows) - whole)),
        leftovers=tuple(sorted(parts - ((parts & rows) - whole) - replaced)),
        replaced=tuple(sorted(replaced)),
        unknown=tuple(sorted(i for i in whole - rows - unbinned if _is_ours(folder / FLIGHTS, i))),
        binned=tuple(sorted((in_bin & rows) - whole - parts - removed)),
        unbinned=tuple(sorted(unbinned)),
        strangers=tuple(sorted(i for i in in_bin - removed - rows if _is_ours(folder / bin.FOLDER, i))),
        nameless=tuple(sorted(map(str, nameless))),
    )


def takes_its_place(db: sqlite3.Connection, flights: Path, flight_id: str) -> bool:
    """Whether a flight's row tells of the file that has its temporary name, not of the one that has its place."""
    from spooldown.logbook.store import file_sha256

    row = db.execute("SELECT telemetry_sha256 FROM flight WHERE flight_id = ?", (flight_id,)).fetchone()
    try:
        return bool(row) and file_sha256(flights / f"{flight_id}{PART}") == row[0]
    except OSError:
        return False


def give_name(part: Path, final: Path) -> None:
    """Give a committed file its name; the file that it takes the place of is set aside."""
    if final.exists():
        aside = final.parent.parent / ASIDE / f"{final.stem}-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}{ENDING}"
        aside.parent.mkdir(exist_ok=True)
        os.replace(final, aside)
    os.replace(part, final)


def is_left_over(place: Path) -> bool:
    """Whether a folder of flights holds nothing but what a writer that died had begun."""
    return place.name == FLIGHTS and place.is_dir() and all(n.endswith(PART) for n in names_in(place))


def holds_flights(folder: Path) -> bool:
    """Whether a logbook's folder holds any flight, so that a catalogue must have been there."""
    place = folder / FLIGHTS
    return any(_is_ours(place, n.removesuffix(ENDING)) for n in names_in(place) if n.endswith(ENDING))


def other_owner(db: sqlite3.Connection, folder: Path) -> Finding | None:
    """Say why a database is not the catalogue of the flights in this folder; None where it may be.

    Another logbook's: not one file here is what a row says, neither by its bytes nor by the logs it names, and there
    are flights here that say something else. An older catalogue of this logbook has at least one.
    """
    if not version_of(db):
        return (
            None
            if is_empty(db) or not (holds_flights(folder) or entered.size_of(folder))
            else say("logbook.other_program")
        )
    names = {FLIGHTS: set(names_in(folder / FLIGHTS)), bin.FOLDER: set[str]()}
    with suppress(FolderClosed):
        names[bin.FOLDER] = set(names_in(folder / bin.FOLDER))
    rows = answers(db, "SELECT flight_id, telemetry_sha256 FROM flight ORDER BY flight_id")
    others = 0
    for flight_id, sha256 in rows:
        for place, ending in ((FLIGHTS, ENDING), (FLIGHTS, PART), (bin.FOLDER, ENDING)):
            if f"{flight_id}{ending}" in names[place]:
                named = _told_by(db, folder / place / f"{flight_id}{ending}", flight_id, sha256)
                if named:
                    return None
                others += named is False
    here = {n.removesuffix(ENDING) for n in names[FLIGHTS] if n.endswith(ENDING)} - {row[0] for row in rows}
    others += sum(_is_ours(folder / FLIGHTS, flight_id) for flight_id in here)
    return say("logbook.other_logbook", rows=len(rows)) if rows and others else None


def _told_by(db: sqlite3.Connection, path: Path, flight_id: str, sha256: str) -> bool | None:
    """Whether a file is the one that a flight's row tells of; None where it does not read."""
    from spooldown.logbook.store import describe

    try:
        said = describe(path)
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return said.sha256 == sha256 or not _other_sources(db, flight_id, said)


def settle(db: sqlite3.Connection, folder: Path, *, write: bool) -> list[Finding]:
    """Bring rows and files together, inside the one writer's transaction or in a copy in memory.

    Parameters
    ----------
    folder : Path
        The logbook's.
    write : bool
        Whether files may be named and moved and leftovers removed.

    Returns
    -------
    list of Finding
        What was found.
    """
    found = disorder(db, folder)
    flights, in_bin = folder / FLIGHTS, folder / bin.FOLDER
    if write:
        for part, final in parts_of(flights, [*found.unnamed, *found.replaced]):
            give_name(part, final)
        for part, _ in parts_of(flights, found.leftovers):
            with suppress(OSError):
                part.unlink()
        for ids, here, there in ((found.binned, in_bin, flights), (found.unbinned, flights, in_bin)):
            for flight_id in ids:
                os.replace(here / f"{flight_id}{ENDING}", there / f"{flight_id}{ENDING}")
    named, wrong = _named_again(db, flights, found) if found.nameless or found.unknown else ([], 0)
    adopted = [flight_id for flight_id in _as_imported(flights, found.unknown) if _adopt(db, flights, flight_id)]
    strangers = [flight_id for flight_id in found.strangers if _adopt(db, in_bin, flight_id)]
    again = entered.catch_up(db, folder, write=write)
    for flight_id in strangers:  # with what was noted of it
        bin.put(db, flight_id, bin.NOT_KNOWN)
    said: list[Finding] = []
    if wrong:
        said.append(say("logbook.nameless", count=wrong, flights=tuple(named), written=write))
    if adopted:
        some, more = tuple(adopted[:3]), max(0, len(adopted) - 3)
        said.append(say("logbook.adopted", count=len(adopted), some=some, more=more, written=write))
    if again:
        said.append(say("logbook.entries_back", count=again, file=entered.FILE))
    return said


def _named_again(db: sqlite3.Connection, folder: Path, found: Disorder) -> tuple[list[str], int]:
    """Give rows whose name is damaged the name of the file they tell of, and take out those without a name.

    A damaged name may be one that a flight could have: then no file has it, and the file says of itself that it has its
    own. One that somebody renamed says another name, and is left as it is.

    Returns
    -------
    (list of str, int)
        Flights that have their names again, and how many rows had none.
    """
    from spooldown.logbook.store import file_sha256

    # A damaged name may be of any type, and no text: it is found by its bytes.
    rows = answers(db, "SELECT flight_id, typeof(flight_id), hex(flight_id), telemetry_sha256 FROM flight")
    of_row = "WHERE typeof(flight_id) = ? AND hex(flight_id) = ?"
    astray = [row for row in rows if not (is_id(row[0]) and any(p.exists() for p in _places(folder, row[0])))]
    files: dict[str, str] = {}
    for flight_id in found.unknown if astray else ():
        with suppress(OSError):
            files[file_sha256(folder / f"{flight_id}{ENDING}")] = flight_id
    named, wrong = [], 0
    for name, *which, sha256 in astray:
        flight_id = files.get(sha256, "")
        if flight_id and (not is_id(name) or _metadata(folder / f"{flight_id}{ENDING}").get("flight_id") == flight_id):
            db.execute(f"UPDATE flight SET flight_id = ? {of_row}", (files.pop(sha256), *which))
            named.append(flight_id)
        elif is_id(name):
            continue
        else:
            db.execute(f"DELETE FROM flight {of_row}", which)
        wrong += 1
    return sorted(named), wrong


def _places(folder: Path, flight_id: str) -> tuple[Path, ...]:
    """Where a flight's file may be."""
    ((part, final),) = parts_of(folder, [flight_id])
    return final, part, folder.parent / bin.FOLDER / final.name


def _as_imported(folder: Path, flight_ids: Sequence[str]) -> list[str]:
    """Put flights in the order they were imported: those of one instant are told in that order."""
    import pyarrow.parquet as pq

    def when(flight_id: str) -> tuple[bytes, int, str]:
        said = pq.read_metadata(folder / f"{flight_id}{ENDING}").metadata or {}
        return said.get(b"imported_at", b""), len(flight_id), flight_id  # z comes before aa

    return sorted(flight_ids, key=when)


def remake(db: sqlite3.Connection, path: Path, flight_id: str) -> bool:
    """Make a flight's row anew from what its file says of itself; False where the file does not read."""
    row = _row_of(path)
    if row is None:
        return False
    said, cells = row
    names = ", ".join(f"{c} = ?" for c in _COLUMNS)
    db.execute(f"UPDATE flight SET {names} WHERE flight_id = ?", (*cells, flight_id))
    if _other_sources(db, flight_id, said):
        # Rows under these digests that say something else go; what is right is shared with the log's other flights.
        db.executemany("DELETE FROM source WHERE sha256 = ? AND (name, bytes) != (?, ?)", list(said.sources))
        (was,) = db.execute("SELECT import_id FROM flight WHERE flight_id = ?", (flight_id,)).fetchone()
        found = answers(db, "SELECT imported_at FROM import WHERE import_id = ?", (was,))
        import_id = _import_of(db, said, found[0][0] if found else "")
        db.execute("UPDATE flight SET import_id = ? WHERE flight_id = ?", (import_id, flight_id))
        db.execute("DELETE FROM import WHERE import_id NOT IN (SELECT import_id FROM flight)")
    for cell in _other_import(db, path, flight_id, said.metadata):
        which = "(SELECT import_id FROM flight WHERE flight_id = ?)"
        value = said.metadata.get(cell, "")
        db.execute(f"UPDATE import SET {cell} = ? WHERE import_id = {which}", (value, flight_id))
    return True


def _other_sources(db: sqlite3.Connection, flight_id: str, said: Described) -> bool:
    """Whether the catalogue names other logs than the flight's file does; not told by what a file does not say."""
    rows = answers(
        db, "SELECT sha256, name, bytes FROM source JOIN flight USING (import_id) WHERE flight_id = ?", (flight_id,)
    )
    # Files of earlier versions say neither the logs' sizes nor, where there are several, their names.
    says = [True, "source_names" in said.metadata, "source_bytes" in said.metadata]
    there, wanted = ({tuple(compress(source, says)) for source in sources} for sources in (rows, said.sources))
    return bool(wanted) and there != wanted


def differs(db: sqlite3.Connection, path: Path, flight_id: str) -> list[str]:
    """Name the cells of a flight's row that do not say what its file says; its owner may have changed."""
    row = _row_of(path)
    there = answers(db, f"SELECT {', '.join(_COLUMNS)} FROM flight WHERE flight_id = ?", (flight_id,))
    if row is None or not there:
        return []
    cells = [c for c, said, cell in zip(_COLUMNS, row[1], there[0], strict=True) if c != "aircraft" and said != cell]
    cells += ["sources"] if _other_sources(db, flight_id, row[0]) else []
    return [*cells, *_other_import(db, path, flight_id, row[0].metadata)]


def _other_import(db: sqlite3.Connection, path: Path, flight_id: str, said: Mapping[str, str]) -> list[str]:
    """Name the cells of a flight's import that no file of that import says; files set aside count, too."""
    ((import_id, when, said_then),) = answers(
        db,
        "SELECT import_id, imported_at, answers FROM import JOIN flight USING (import_id) WHERE flight_id = ?",
        (flight_id,),
    )
    mine = _of_import(said)
    if mine == (when, _answers(said_then)):
        return []
    same = [row[0] for row in db.execute("SELECT flight_id FROM flight WHERE import_id = ?", (import_id,))]
    files = [f for i in same for f in (path.with_name(f"{i}{ENDING}"), *_aside(path.parent.parent, i))]
    known = [mine, *(_of_import(_metadata(file)) for file in files)]
    times, answered = {w for w, _ in known if w}, [a for _, a in known]
    return [
        *(["imported_at"] if times and when not in times else []),
        *(["answers"] if said_then and _answers(said_then) not in answered else []),
    ]


def _of_import(said: Mapping[str, str]) -> tuple[str, object]:
    return said.get("imported_at", ""), _answers(said.get("answers", ""))


def _answers(text: str) -> object:
    """What the files left open and how it was answered; None where nobody wrote it so."""
    try:
        return json.loads(text or "{}")
    except (TypeError, ValueError):
        return None


def _aside(folder: Path, flight_id: str) -> list[Path]:
    """Files of a flight that were replaced."""
    return [path for path in files_in(folder / ASIDE, ENDING) if path.name.startswith(f"{flight_id}-")]


def _metadata(path: Path) -> dict[str, str]:
    import pyarrow.parquet as pq

    try:
        return {k.decode(): v.decode() for k, v in (pq.read_metadata(plain(path)).metadata or {}).items()}
    except (OSError, ValueError):
        return {}


_COLUMNS = (
    *("part", "source", "aircraft", "utc_start", "duration_s", "rows", "telemetry_sha256", "channels", "notices"),
    "local_start",
)


def _row_of(path: Path) -> tuple[Described, tuple[object, ...]] | None:
    """What a file says of itself, and the cells of its row; None where it does not read."""
    from spooldown.logbook.store import describe

    try:
        said = describe(path)
        return said, (
            said.part,
            said.source,
            said.metadata.get("aircraft", ""),
            utc_text(said.utc_start),
            said.duration_s,
            said.rows,
            said.sha256,
            json.dumps(said.channels),
            texts.to_json(said.notices),
            said.local_start,
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _adopt(db: sqlite3.Connection, folder: Path, flight_id: str) -> bool:
    """Make a row from what a file says of itself; False where it is a copy of a known flight or does not read."""
    path = folder / f"{flight_id}{ENDING}"
    row = _row_of(path)
    if row is None:
        return False
    said, cells = row
    if db.execute("SELECT 1 FROM flight WHERE telemetry_sha256 = ?", (said.sha256,)).fetchone():
        return False
    when = datetime.fromtimestamp(path.stat().st_mtime, UTC).isoformat(timespec="seconds")
    import_id = _import_of(db, said, said.metadata.get("imported_at") or when)
    db.execute(
        f"INSERT INTO flight (flight_id, import_id, {', '.join(_COLUMNS)}) VALUES (?, ?, {', '.join('?' * 10)})",
        (flight_id, import_id, *cells),
    )
    return True


def _import_of(db: sqlite3.Connection, said: Described, when: str) -> int:
    """Find the import that a file's sources belong to, or make it."""
    found = [db.execute("SELECT import_id FROM source WHERE sha256 = ?", (d,)).fetchone() for d, *_ in said.sources]
    known = next((int(row[0]) for row in found if row), None)
    if known is None:
        made = db.execute(
            "INSERT INTO import (imported_at, answers) VALUES (?, ?)", (when, said.metadata.get("answers", ""))
        )
        known = int(made.lastrowid or 0)
    db.executemany(
        "INSERT OR IGNORE INTO source VALUES (?, ?, ?, ?)", [(d, known, name, size) for d, name, size in said.sources]
    )
    return known


def utc_text(moment: datetime | None) -> str | None:
    """Write an instant with a fixed width, so that the order of texts is the order of times."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds") if moment else None


def parts_of(folder: Path, flight_ids: Sequence[str]) -> Iterator[tuple[Path, Path]]:
    """Temporary and final path of each flight's file."""
    for flight_id in flight_ids:
        yield folder / f"{flight_id}{PART}", folder / f"{flight_id}{ENDING}"


def _is_ours(folder: Path, flight_id: str) -> bool:
    import pyarrow.parquet as pq

    if not is_id(flight_id):
        return False
    try:
        found = pq.read_metadata(plain(folder / f"{flight_id}{ENDING}")).metadata or {}
    except (OSError, ValueError):
        return False
    return bool(found.get(b"format", b"").startswith(b"spooldown telemetry"))
