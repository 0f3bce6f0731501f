"""The desk as a web application: its routes, what each request is given, and how whatever stops one is told."""

from __future__ import annotations

import os
import secrets
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from importers.refusal import Refusal
from spooldown.desk.guard import TOKEN_FIELD, Guard, Keys
from spooldown.desk.incoming import Incoming
from spooldown.desk.jobs import Jobs
from spooldown.desk.serve import Place
from spooldown.desk.templates import Views
from spooldown.desk.undo import Undo
from spooldown.logbook.book import Logbook
from spooldown.problems import NotFoundProblem, Problem

INCOMING = "spooldown-desk-"
"""Temporary folders with files on their way in begin with this and the process that owns them."""
MOST_FIELDS = 2_000
"""Fields that a form may have."""
MOST_FIELD_BYTES = 1 << 20
"""Size that one field of a form may have, a file aside."""


@dataclass(slots=True)
class Desk:
    """What lives as long as the desk: the logbook's folder, keys, jobs, files on their way in, what can be undone."""

    folder: Path
    place: Place
    lan: Place | None = None
    keys: Keys = field(default_factory=Keys)
    jobs: Jobs = field(default_factory=Jobs)
    undo: Undo = field(default_factory=Undo)
    views: Views = field(default_factory=Views)
    name: str = field(default_factory=lambda: secrets.token_hex(8))
    door: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    incoming: Incoming = field(
        default_factory=lambda: Incoming(Path(tempfile.mkdtemp(prefix=f"{INCOMING}{os.getpid()}-")))
    )
    stop: Callable[[], None] = lambda: None
    app: Any = None

    def book(self) -> Logbook:
        """Open the logbook; each request opens it for itself and closes it."""
        return Logbook(self.folder)

    @property
    def pages(self) -> Path:
        """Where the built pages are."""
        return self.folder / "pages"

    def close(self) -> None:
        """Let go of everything."""
        self.jobs.close()
        shutil.rmtree(self.incoming.folder, ignore_errors=True)


def own_folder() -> Path:
    """Make the temporary folder for files on their way in; its name tells whose it is."""
    return Path(tempfile.mkdtemp(prefix=f"{INCOMING}{os.getpid()}-"))


def make(folder: Path, place: Place, hosts: list[str], *, lan: Place | None = None) -> Desk:
    """Make the application for one logbook.

    Parameters
    ----------
    folder : Path
        The logbook; it need not exist yet.
    place : Place
        Where this machine's own browser reaches it.
    hosts : list of str
        What the ``Host`` header of a request may be.
    lan : Place or None
        Where phones reach it, if they may.
    """
    from spooldown.desk import aircraft, flights, home, logs, upkeep

    sweep()
    desk = Desk(folder, place, lan)
    routes: list[BaseRoute] = [
        Route("/alive", _alive), Route("/enter", _enter), Route("/pair", _pair, methods=["GET", "POST"]),
        *home.ROUTES, *logs.ROUTES, *flights.ROUTES, *aircraft.ROUTES, *upkeep.ROUTES,
    ]  # fmt: skip
    inside = Starlette(
        routes=routes,
        exception_handlers={
            HTTPException: _http_problem, Refusal: _refused, Problem: _refused, Exception: _fault,
        },
    )  # fmt: skip
    inside.state.desk = desk
    desk.app = Guard(inside, desk.keys, hosts, f"desk-{place.port}")
    return desk


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
        raise HTTPException(403, "This form is out of date. Open the page again and repeat the change.")


def shown(request: Request, template: str, status: int = 200, **context: Any) -> Response:
    """A page of the desk."""
    desk = desk_of(request)
    return desk.views.page(request, template, status, undo=desk.undo.last(request.state.key), **context)


def to(path: str) -> RedirectResponse:
    """Send the browser on after a change, so that loading again does not change again."""
    return RedirectResponse(path, 303)


def sweep() -> None:
    """Take away what desks that were killed left behind."""
    for left in Path(tempfile.gettempdir()).glob(f"{INCOMING}*"):
        owner = left.name.removeprefix(INCOMING).partition("-")[0]
        if owner.isdigit() and not _lives(int(owner)):
            shutil.rmtree(left, ignore_errors=True)


def _lives(process: int) -> bool:
    if os.name != "posix":
        return True  # asking is not safe there: signal 0 would end it
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


async def _alive(request: Request) -> Response:
    return JSONResponse({"name": desk_of(request).name})


async def _enter(request: Request) -> Response:
    """Let this machine's own browser in, by the code the terminal shows, or by the private door a second desk knows."""
    desk = desk_of(request)
    code = request.query_params.get("code", "")
    door = request.query_params.get("door", "")
    if door and secrets.compare_digest(door, desk.door):
        code = desk.keys.code(own=True)
    key = desk.keys.pair(code, "this machine") if code else None
    if key is None:
        if request.state.device is not None:  # the address was opened again
            return to("/")
        return PlainTextResponse("This way in was used or is too old. Start `spooldown desk` again for a new one.", 403)
    return _let_in(request, key)


async def _pair(request: Request) -> Response:
    desk = desk_of(request)
    if request.method == "GET":
        return desk.views.page(request, "pair.html", 200, code=request.query_params.get("code", "")[:40], bare=True)
    form = await request.form(max_fields=4, max_files=0, max_part_size=1024)
    name = request.headers.get("user-agent", "a phone")
    key = desk.keys.pair(str(form.get("code", "")).replace(" ", ""), name)
    if key is None:
        return desk.views.page(request, "pair.html", 403, code="", bare=True, wrong=True)
    return _let_in(request, key)


def _let_in(request: Request, key: str) -> Response:
    answer = to("/")
    answer.set_cookie(
        f"desk-{desk_of(request).place.port}", key, httponly=True, samesite="strict", path="/", max_age=180 * 86_400
    )
    return answer


async def _http_problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    sentence = {404: "There is no such page.", 405: "That cannot be done here."}.get(error.status_code, error.detail)
    return _problem(request, error.status_code, sentence)


async def _refused(request: Request, error: Exception) -> Response:
    return _problem(request, 404 if isinstance(error, NotFoundProblem) else 422, str(error))


async def _fault(request: Request, error: Exception) -> Response:
    return _problem(request, 500, f"A fault in spooldown itself ({type(error).__name__}: {error}); please report it.")


def _problem(request: Request, status: int, sentence: str) -> Response:
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"problem": sentence}, status)
    with suppress(Exception):
        return shown(request, "problem.html", status, sentence=sentence)
    return PlainTextResponse(sentence, status)
