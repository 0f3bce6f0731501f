"""The owner's checklist on the desk: written once for an aircraft, ticked before each flight."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reports.words.catalogue import message
from spooldown import register
from spooldown.bench import checklist
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, changing
from spooldown.problems import Problem, not_found


def edit(request: Request, problem: str = "", typed: str | None = None) -> Response:
    """An aircraft's list, one item a line."""
    name = request.path_params["aircraft"]
    with desk_of(request).book() as book:
        known = register.load(book)
        items = checklist.checklists(book).get(name, [])
    if name not in known.aircraft and not items:
        raise not_found("aircraft", name, known.aircraft, remedy="remedy.describe")
    begun = items or checklist.starting_list()
    return shown(
        request, "checklist.html", 422 if problem else 200, problem=problem, name=name, say=message, new=not items,
        text="\n".join(begun) if typed is None else typed, here="aircraft",
    )  # fmt: skip


async def keep(request: Request) -> Response:
    """Keep an aircraft's list."""
    form = await form_of(request)
    typed = (form.get("items") or [""])[0]
    return await run_in_threadpool(_keep, request, typed)


def _keep(request: Request, typed: str) -> Response:
    desk, name = desk_of(request), request.path_params["aircraft"]
    try:
        items = checklist.items_in(typed)
        with desk.book() as book:
            if name not in register.load(book).aircraft:
                raise not_found("aircraft", name, register.load(book).aircraft, remedy="remedy.describe")
            with changing(book, checklist.LISTS) as changed:
                checklist.keep(book, name, items)
    except Problem as problem:
        return edit(request, str(problem), typed)

    def back() -> None:
        with desk.book() as book:
            changed.put_back(book)

    desk.undo.keep(request.state.key, Change(back, "/aircraft"))
    build_pages(desk)
    return to("/aircraft")


def ticks(request: Request) -> Response:
    """The list of a flight's aircraft, to be ticked."""
    flight_id = request.path_params["flight"]
    with desk_of(request).book() as book:
        flight = book.flight(flight_id)
        items = checklist.shown_on(checklist.checklists(book), checklist.ticks(book), flight.aircraft, flight_id)
    return shown(
        request, "ticks.html", flight=flight_id, items=items, owner=flight.aircraft, say=message, here="flights"
    )


async def tick(request: Request) -> Response:
    """Keep what was ticked."""
    form = await form_of(request)
    desk, flight_id = desk_of(request), request.path_params["flight"]

    def work() -> None:
        with desk.book() as book, changing(book, checklist.TICKS) as changed:
            checklist.tick(book, flight_id, form.get("item", []))

        def back() -> None:
            with desk.book() as again:
                changed.put_back(again)

        desk.undo.keep(request.state.key, Change(back, f"/flights/{flight_id}/checklist"))

    await run_in_threadpool(work)
    build_pages(desk)
    return to(f"/flights/{flight_id}/note")


ROUTES = [
    Route("/checklist/{aircraft}", edit),
    Route("/checklist/{aircraft}", keep, methods=["POST"]),
    Route("/flights/{flight}/checklist", ticks),
    Route("/flights/{flight}/checklist", tick, methods=["POST"]),
]
