"""Service on the desk: what every component ran and has left, services noted, components added and moved."""

from __future__ import annotations

import math
from collections.abc import Callable
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from analyser.programme.service import UNITS, Component, Fit, Used
from reports.words.catalogue import message, text
from reports.words.vocabulary import level_word
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import Desk, desk_of, form_of, shown, to
from spooldown.desk.undo import Change, changing
from spooldown.desk.views.programme.common import day_of, owner_of, owners, today
from spooldown.logbook.book import Logbook
from spooldown.problems import Problem, UsageProblem
from spooldown.programme import service
from spooldown.programme.flights import follow
from spooldown.work.overview import overview

KINDS = ("engine", "pack", "receiver", "switch", "other")


def listed(request: Request, problem: str = "", cells: dict[str, str] | None = None) -> Response:
    """Components that sit in one aircraft, and a form for a further one."""
    with desk_of(request).book() as book:
        name = owner_of(request, book)
        known, names = register.readable(book), owners(book)
        whole = overview(book, known, failures=[])
        followed = [follow(book, known, one, whole=whole) for one in names]
        states = service.states(book, known, followed, today(), name)
    rows = [
        (s.component, level_word(s.level), s.total, s.last, [text(d.sentence) for d in s.due]) for s in states
    ]  # fmt: skip
    return shown(
        request, "programme/service.html", 422 if problem else 200, aircraft=name, rows=rows, problem=problem,
        left_out=book.left_out, cells=cells or {}, kinds=[(k, message(f"desk.programme.component.{k}")) for k in KINDS],
        units=[(u, message(f"service.unit.{u}")) for u in UNITS], others=[n for n in names if n != name],
        today=today().isoformat(), here="programme",
    )  # fmt: skip


async def save(request: Request) -> Response:
    """Add a component, note a service, or move one."""
    form = await form_of(request)
    return await run_in_threadpool(_save, request, {k: v[-1].strip() for k, v in form.items()})


def _save(request: Request, cells: dict[str, str]) -> Response:
    desk = desk_of(request)
    try:
        with desk.book() as book:
            name = owner_of(request, book)
            known = register.load(book)
            with changing(book, service.KIND) as changed:
                match cells.get("do", ""):
                    case "add":
                        service.keep(book, _typed(name, cells))
                    case "done":
                        day = day_of(cells.get("day", ""))
                        service.serviced(book, known, cells.get("component", ""), day, cells.get("what", ""))
                    case "move":
                        if cells.get("aircraft", "") not in owners(book):
                            raise UsageProblem(message("desk.programme.which_aircraft"))
                        place = (cells["aircraft"], cells.get("part", ""))
                        day = day_of(cells.get("day", ""))
                        service.moved(book, known, cells.get("component", ""), place, day)
                    case _:
                        raise HTTPException(422)
    except Problem as problem:
        return listed(request, str(problem), cells)
    return _done(request, desk, changed.put_back, name)


def _typed(aircraft: str, cells: dict[str, str]) -> Component:
    kind = next((k for k in KINDS if k == cells.get("kind")), "other")
    every = {u: _number(cells[u], u) for u in UNITS if cells.get(u)}
    since = day_of(cells["since"]) if cells.get("since") else None
    fit = Fit(aircraft, cells.get("part", ""), since)
    return Component(cells.get("name", ""), kind, (fit,), every, Used(), since)  # type: ignore[arg-type]


def _number(typed: str, unit: str) -> float:
    try:
        found = float(typed.replace(",", "."))
    except ValueError:
        found = math.nan
    if not (math.isfinite(found) and found > 0):
        raise UsageProblem(message("service.no_interval", unit=message(f"service.unit.{unit}")))
    return found


def _done(request: Request, desk: Desk, undo: Callable[[Logbook], None], aircraft: str) -> Response:
    def back() -> None:
        with desk.book() as book:
            undo(book)
        build_pages(desk)

    place = f"/programme/{quote(aircraft, safe='')}/service"
    desk.undo.keep(request.state.key, Change(back, place))
    build_pages(desk)
    return to(place)


ROUTES = [
    Route("/programme/{aircraft}/service", listed),
    Route("/programme/{aircraft}/service", save, methods=["POST"]),
]
