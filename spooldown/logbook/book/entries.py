"""What people enter: notes, owners, range checks, settings, records of any kind, and the files they may edit."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from spooldown.logbook import entered
from spooldown.logbook.book.cells import note_of
from spooldown.logbook.book.reading import Reader
from spooldown.logbook.book.writing import Writer
from spooldown.logbook.catalogue import answers
from spooldown.logbook.plain import plain
from spooldown.problems import LogbookProblem, NotFoundProblem

if TYPE_CHECKING:
    from analyser.season.link.range_check import RangeCheck
    from spooldown.logbook.note import FlightNote

TEXT = "text"
"""Kind of the records that hold digests of files a person may edit."""


def digest_of(path: Path) -> str:
    """SHA-256 of a file's content, '' where there is none to read."""
    try:
        return hashlib.sha256(plain(path).read_bytes()).hexdigest()
    except OSError:
        return ""


def texts_of(book: Reader) -> dict[str, dict[str, str]]:
    """Digests that are known of each file that a person may edit, by its name in the logbook."""
    found = {}
    for name, body in sorted(book.records(TEXT).items()):
        with suppress(ValueError, KeyError, TypeError):
            known = json.loads(body)
            found[name] = {"sha256": known["sha256"], **known}
    return found


def lost_texts(book: Reader, folder: Path | None = None) -> list[str]:
    """Files that a person may edit and that are not there any more, those of a folder where one is named."""
    start = f"{folder.name}/" if folder else ""
    # Without a digest from before, its writer may have died before there was a file.
    known = (name for name, of in texts_of(book).items() if of.get("before") and name.startswith(start))
    return [name for name in known if not (book.folder / name).exists()]


class Entries(Writer):
    """What takes in what was entered by hand; each change is kept a second time beside the catalogue."""

    def note(self, notes: Mapping[str, FlightNote], *, forget: bool = False) -> dict[str, FlightNote]:
        """Put these notes over what was noted for their flights, all or none; returns what is noted now.

        Reading and writing are one transaction: two who note different things of one flight at once both have them.

        Parameters
        ----------
        forget : bool
            Drop what was noted before.
        """
        from spooldown.logbook.codec import to_json
        from spooldown.logbook.note import FlightNote

        merged = {}
        with self.writing() as db:
            for flight_id, newer in notes.items():
                rows = answers(db, "SELECT body FROM note WHERE flight_id = ?", (flight_id,))
                before = note_of(flight_id, rows[0][0]) if rows and not forget else FlightNote()
                note = merged[flight_id] = before.updated(newer)
                self.enter(["note", flight_id, to_json(note).decode() if note else None])
        return merged

    def set_notes(self, notes: Mapping[str, FlightNote]) -> None:
        """Put these notes in the place of what was noted for their flights; all or none."""
        self.note(notes, forget=True)

    def assign(self, flight_ids: Iterable[str], aircraft: str) -> None:
        """Say whose flights these are; their ids stay."""
        with self.writing():
            for flight_id in flight_ids:
                self.enter(["owner", flight_id, aircraft])

    def change_records(self, kind: str, change: Callable[[dict[str, str]], Mapping[str, str | None]]) -> None:
        """Change what was entered of one kind; reading and writing are one transaction, all or none.

        Parameters
        ----------
        kind : str
            A word for the kind: ``snag``, ``load test``.
        change : callable
            Given what there is, JSON by name, returns what to put: JSON by name, ``None`` to take one out. What it
            raises undoes everything.
        """
        with self.writing():
            there, spoilt = self._records(kind)
            if spoilt:  # what does not know of one may take its name
                raise LogbookProblem("logbook.repairable", what=spoilt[0])
            for name, body in change(there).items():
                self.enter(["record", kind, name, body])

    def set_setting(self, name: str, value: str) -> None:
        """Set one setting of this logbook."""
        with self.writing():
            self.enter(["setting", name, value])

    def add_range_checks(self, checks: Iterable[tuple[str, RangeCheck]]) -> int:
        """Keep range checks, each with whose it is; returns how many were new. All or none."""
        with self.writing() as db:
            before = db.execute("SELECT count(*) FROM range_check").fetchone()[0]
            for who, c in checks:
                day = c.day.isoformat()
                self.enter(
                    ["range_check", who, day, c.receiver, c.number, c.distance_m, c.reduction_db, c.orientation, c.note]
                )
            return int(db.execute("SELECT count(*) FROM range_check").fetchone()[0] - before)

    def remove_range_check(self, *numbers: int) -> None:
        """Take range checks out, all or none.

        Raises
        ------
        NotFoundProblem
            If there is none with such a number.
        """
        with self.writing() as db:
            for number in numbers:
                row = db.execute(
                    f"SELECT {entered.RANGE_CHECK} FROM range_check WHERE range_check_id = ?", (number,)
                ).fetchone()
                if row is None:
                    raise NotFoundProblem("problem.no_range_check", number=number)
                self.enter(["no_range_check", *row])

    def keep_text(self, path: Path, data: bytes, fits: Callable[[], None] = lambda: None) -> None:
        """Write a file of the logbook that a person may edit, whole or not at all, and remember its digest.

        Parameters
        ----------
        fits : callable
            Raises where the file does not fit what is there by then; nobody else writes in between.
        """
        from spooldown.logbook.store import write_whole

        name = path.relative_to(self.folder).as_posix()
        # The digest first, beside that of what is there: a kill in between leaves a file that is one of the two, or
        # none where there was none before.
        for write in (False, True):
            with self.writing():
                fits()
                if write:
                    path.parent.mkdir(exist_ok=True)
                    write_whole(path, data)
                body = {"sha256": hashlib.sha256(data).hexdigest(), "before": digest_of(path)}
                self.enter(["record", TEXT, name, json.dumps(body)])

    def drop_text(self, path: Path) -> None:
        """Take a file out that a person may edit, and expect it no longer."""
        with self.writing():
            self.enter(["record", TEXT, path.relative_to(self.folder).as_posix(), None])
            path.unlink(missing_ok=True)
