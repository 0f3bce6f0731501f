"""Limits as text: checked as they are typed, tried on all past flights, then kept."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from analyser.core.aircraft import Aircraft
from analyser.programme.starting import starting_set
from importers.refusal import Refusal
from reports.words.catalogue import message, text
from reports.words.vocabulary import level_word
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, unless
from spooldown.desk.views.aircraft import Newer
from spooldown.desk.views.programme.common import owner_of
from spooldown.judging.files import parse_limits, path_of, save, text_of, written
from spooldown.logbook.book import Logbook
from spooldown.problems import Problem

if TYPE_CHECKING:
    from analyser.programme.trial import Trial

SHOWN = 40


def edit(request: Request) -> Response:
    """The aircraft's limits, or a starting set where it has none."""
    with desk_of(request).book() as book:
        name = owner_of(request, book)
        there = text_of(book, name)
        described = register.load(book).aircraft.get(name, Aircraft(name))
    return _page(request, name, there or written(name, starting_set(described)), _mark(there), kept=bool(there))


def _page(
    request: Request,
    name: str,
    shown_text: str,
    mark: str,
    *,
    kept: bool,
    problem: str = "",
    trial: Trial | None = None,
) -> Response:
    changes = [
        (c.flight_id, level_word(c.before), level_word(c.after), text(c.event.summary))
        for c in (trial.changes[-SHOWN:] if trial else ())
    ]
    return shown(
        request, "programme/limits.html", 422 if problem else 200, aircraft=name, text=shown_text, mark=mark, kept=kept,
        problem=problem, tried=trial is not None, changes=changes, tallies=trial.tallies if trial else (),
        flights=trial.flights if trial else 0, count=len(trial.changes) if trial else 0, here="programme",
    )  # fmt: skip


def _mark(there: str) -> str:
    return hashlib.sha256(there.encode()).hexdigest()[:16]


async def check(request: Request) -> Response:
    """Say of a text as it is typed how many limits it holds, or what is wrong."""
    form = await form_of(request)
    with desk_of(request).book() as book:
        name = owner_of(request, book)
    try:
        found = parse_limits((form.get("text") or [""])[0], message("desk.programme.the_text"), name)
    except Refusal as refusal:
        return JSONResponse({"problem": str(refusal), "line": refusal.line})
    return JSONResponse({"problem": "", "holds": [message("desk.programme.holds", count=len(found))]})


async def keep(request: Request) -> Response:
    """Try the text on all past flights, or keep it."""
    form = await form_of(request)
    typed = (form.get("text") or [""])[0].replace("\r\n", "\n")
    return await run_in_threadpool(_keep, request, typed, (form.get("mark") or [""])[0], "try" in form)


def _unchanged(book: Logbook, name: str, mark: str) -> None:
    if mark != _mark(there := text_of(book, name)):
        raise Newer(there.encode())


def _keep(request: Request, typed: str, mark: str, only_try: bool) -> Response:
    from spooldown.programme.trial import try_text

    desk = desk_of(request)
    with desk.book() as book:
        name = owner_of(request, book)
        old = text_of(book, name)
        try:
            if only_try:
                trial = try_text(book, register.load(book), name, typed, message("desk.programme.the_text"))
                return _page(request, name, typed, mark, kept=bool(old), trial=trial)
            save(book, name, typed, lambda: _unchanged(book, name, mark))
        except Newer as newer:
            theirs = newer.theirs.decode()
            said = message("desk.form.newer_text")
            return _page(request, name, typed, _mark(theirs), kept=bool(theirs), problem=said)
        except (Refusal, Problem) as problem:
            return _page(request, name, typed, mark, kept=bool(old), problem=str(problem))

    def back() -> None:
        with desk.book() as book, book.writing():
            unless(text_of(book, name) != (typed if typed.strip() else ""))
            if old:
                book.keep_text(path_of(book, name), old.encode())
            else:
                book.drop_text(path_of(book, name))
        build_pages(desk)

    desk.undo.keep(request.state.key, Change(back, request.url.path))
    build_pages(desk)
    return to(request.url.path)


ROUTES = [
    Route("/programme/{aircraft}/limits", edit),
    Route("/programme/{aircraft}/limits", keep, methods=["POST"]),
    Route("/programme/{aircraft}/limits/check", check, methods=["POST"]),
]
