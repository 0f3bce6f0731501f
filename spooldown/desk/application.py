"""The desk as a web application: its routes, and how whatever stops a request is told."""

from __future__ import annotations

import secrets
from contextlib import suppress
from http import HTTPStatus
from importlib import import_module
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from importers.refusal import Refusal
from reports.words.catalogue import message
from reports.words.reader import reading
from spooldown.desk.guard import App, Guard, Receive, Scope, Send
from spooldown.desk.jobs import said_of
from spooldown.desk.session import Desk, Place, desk_of, shown, to
from spooldown.desk.templates import language_of
from spooldown.desk.views import (
    aircraft,
    aircraft_form,
    antennas,
    bench,
    checklists,
    flights,
    home,
    keeping,
    live,
    logs,
    ranges,
    takeaway,
    upkeep,
)
from spooldown.problems import NotFoundProblem, Problem
from spooldown.scratch import sweep

VIEWS = (
    home,
    logs,
    flights,
    aircraft,
    aircraft_form,
    antennas,
    bench,
    checklists,
    live,
    keeping,
    ranges,
    takeaway,
    upkeep,
)
"""Every module of screens: each lists its own addresses as ``ROUTES``."""

LATER = ("programme.snags", "programme.marks", "programme.limits", "programme.service")
"""Modules of screens that need the analysis, which takes a second to load: a first request that may be theirs does."""


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
    sweep()
    desk = Desk(folder, place, lan)
    routes: list[BaseRoute] = [
        Route("/alive", _alive), Route("/enter", _enter), Route("/pair", _pair, methods=["GET", "POST"]),
        *(route for view in VIEWS for route in view.ROUTES),
    ]  # fmt: skip
    inside = Starlette(
        routes=routes,
        exception_handlers={
            HTTPException: _http_problem, Refusal: _refused, Problem: _refused, Exception: _fault,
        },
    )  # fmt: skip
    inside.router.default = Late(inside)
    inside.state.desk = desk
    desk.app = Guard(Spoken(inside, desk), desk.keys, hosts, f"desk-{place.port}")
    return desk


class Late:
    """Asked when no screen answers: loads the screens of :data:`LATER`, once, and asks again."""

    def __init__(self, app: Starlette) -> None:
        self.app, self.otherwise, self.loaded = app, app.router.not_found, False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer."""
        if self.loaded:
            await self.otherwise(scope, receive, send)
            return
        routes = await run_in_threadpool(_later)
        if not self.loaded:  # two may have asked at once
            self.app.router.routes.extend(routes)
            self.loaded = True
        await self.app.router(scope, receive, send)


def _later() -> list[BaseRoute]:
    views = (import_module(f"spooldown.desk.views.{name}") for name in LATER)
    return [route for view in views for route in view.ROUTES]


class Spoken:
    """Answers each request in the words and units of whoever asks: also refusals, and jobs that a request starts."""

    def __init__(self, app: App, desk: Desk) -> None:
        self.app, self.desk = app, desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer."""
        if scope["type"] != "http" or scope["path"].startswith("/static/"):
            await self.app(scope, receive, send)
            return
        with reading(await run_in_threadpool(self.desk.reader, language_of(Request(scope)))):
            await self.app(scope, receive, send)


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
        return PlainTextResponse(message("desk.refused.used"), 403)
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
    found = desk_of(request).keys.device(key)
    if found is not None and request.client is not None:
        what = "desk.terminal.let_in" if found.writes else "desk.terminal.let_in_to_read"
        desk_of(request).say(message(what, name=found.name, address=request.client.host))
    answer = to("/")
    answer.set_cookie(
        f"desk-{desk_of(request).place.port}", key, httponly=True, samesite="strict", path="/", max_age=180 * 86_400
    )
    return answer


async def _http_problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    usual = {404: "desk.refused.no_page", 405: "desk.refused.not_here"}.get(error.status_code, "")
    worded = error.detail != HTTPStatus(error.status_code).phrase
    sentence = error.detail if worded or not usual else message(usual)
    return _problem(request, error.status_code, sentence)


async def _refused(request: Request, error: Exception) -> Response:
    return _problem(request, 404 if isinstance(error, NotFoundProblem) else 422, str(error))


async def _fault(request: Request, error: Exception) -> Response:
    return _problem(request, 500, said_of(error))


def _problem(request: Request, status: int, sentence: str) -> Response:
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"problem": sentence}, status)
    with suppress(Exception):
        return shown(request, "problem.html", status, sentence=sentence)
    return PlainTextResponse(sentence, status)
