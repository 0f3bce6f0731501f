"""What lives as long as the desk, and what every view of it needs: the desk of a request, its form, its answer."""

from __future__ import annotations

import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from msgspec import Struct, field
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from analyser.core.findings import Text
from reports.words.catalogue import message
from reports.words.reader import Reader
from spooldown.desk.guard import TOKEN_FIELD, Keys
from spooldown.desk.incoming import Incoming
from spooldown.desk.jobs import Jobs
from spooldown.desk.recording import RECORDINGS, Recordings
from spooldown.desk.templates import Views
from spooldown.desk.undo import Undo
from spooldown.logbook.book import Logbook
from spooldown.logbook.catalogue import CATALOGUE
from spooldown.problems import Problem
from spooldown.scratch import owned

MOST_FIELDS = 2_000
"""Fields that a form may have."""
MOST_FIELD_BYTES = 1 << 20
"""Size that one field of a form may have, a file aside."""


class Place(Struct, frozen=True):
    """Where the desk listens and how it is reached."""

    address: str
    port: int

    @property
    def url(self) -> str:
        """The desk's address for a browser."""
        return f"http://{self.address}:{self.port}"


def own_folder() -> Path:
    """Make the temporary folder for files on their way in; its name tells whose it is."""
    return Path(tempfile.mkdtemp(prefix=owned()))


class Desk(Struct):
    """What lives as long as the desk: the logbook's folder, keys, jobs, files on their way in, what can be undone."""

    folder: Path
    place: Place
    lan: Place | None = None
    keys: Keys = field(default_factory=Keys)
    jobs: Jobs = field(default_factory=Jobs)
    undo: Undo = field(default_factory=Undo)
    views: Views = field(default_factory=Views)
    seen_pages: set[str] = field(default_factory=set)
    """Pages that a manifest has listed: while they are built anew it lists them later than they can be read."""
    name: str = field(default_factory=lambda: secrets.token_hex(8))
    door: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    incoming: Incoming = field(default_factory=lambda: Incoming(own_folder()))
    stop: Callable[[], None] = lambda: None
    say: Callable[[str], None] = lambda _: None
    """Tells the terminal who is connected."""
    app: Any = None
    _recordings: Recordings | None = None
    _readers: dict[str, tuple[object, Reader]] = field(default_factory=dict)

    def book(self) -> Logbook:
        """Open the logbook; each request opens it for itself and closes it."""
        return Logbook(self.folder)

    def reader(self, language: str) -> Reader:
        """Who reads: this language, with the units, clock and dates that the logbook remembers."""
        from spooldown.preferences import reader_of

        # What changed meanwhile, from here or from the command line, shows in these files.
        files = (self.folder / CATALOGUE, self.folder / f"{CATALOGUE}-wal")
        state = tuple(f.stat().st_mtime_ns if f.is_file() else 0 for f in files)
        known = self._readers.get(language)
        if known is None or known[0] != state:
            try:
                with self.book() as book:
                    made = reader_of(book, language)
            except Problem:  # what is wrong with the logbook is told by the page itself
                made = Reader(language)
            known = self._readers[language] = (state, made)
        return known[1]

    @property
    def recordings(self) -> Recordings:
        """What is being recorded, and looked at."""
        if self._recordings is None:
            self._recordings = Recordings(self.folder / RECORDINGS)
        return self._recordings

    @property
    def pages(self) -> Path:
        """Where the built pages are."""
        return self.folder / "pages"

    def close(self) -> None:
        """Let go of everything."""
        if self._recordings is not None:
            self._recordings.close()
        self.jobs.close()
        shutil.rmtree(self.incoming.folder, ignore_errors=True)


def desk_of(request: Request) -> Desk:
    """The desk that a request came to."""
    found: Desk = request.app.state.desk
    return found


async def form_of(request: Request) -> dict[str, list[str]]:
    """Read a form and check its token.

    Raises
    ------
    HTTPException
        403 where the token is missing or not this browser's.
    """
    form = await request.form(max_fields=MOST_FIELDS, max_files=0, max_part_size=MOST_FIELD_BYTES)
    found: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        found.setdefault(name, []).append(str(value))
    check(request, found)
    return found


def check(request: Request, form: dict[str, list[str]]) -> None:
    """Refuse a change whose form or header does not carry this browser's token."""
    keys = desk_of(request).keys
    given = (form.pop(TOKEN_FIELD, None) or [""])[0]
    if not (request.state.trusted or keys.good(request.state.key, given)):
        raise HTTPException(403, message("desk.refused.out_of_date"))


def shown(
    request: Request, template: str, status: int = 200, left_out: Iterable[Text] = (), **context: Any
) -> Response:
    """A page of the desk.

    Parameters
    ----------
    left_out : iterable of str or Finding
        Why the page lacks something: what of the logbook does not read, or could not be worked out.
    """
    desk = desk_of(request)
    last = desk.undo.last(request.state.key)
    return desk.views.page(request, template, status, undo=last, left_out=[*left_out], **context)


def to(path: str) -> RedirectResponse:
    """Send the browser on after a change, so that loading again does not change again."""
    return RedirectResponse(path, 303)
