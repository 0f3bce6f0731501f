"""While it happens: recordings listed, begun and ended, watched as they grow, and handed on to the import."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from spooldown import register
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.problems import Problem

CHUNK = 1 << 20


def listed(request: Request, status: int = 200, problem: str = "") -> Response:
    """Every recording, what can be recorded, and the limits that speak."""
    from spooldown.live.limits import SETTING
    from spooldown.live.sources import ports

    desk = desk_of(request)
    with desk.book() as book:
        aircraft = list(register.load(book).aircraft)
        limits = book.setting(SETTING)
        mappings = [p.stem for p in book.mapping_files()]
    return shown(
        request, "live.html", status, recordings=desk.recordings.listed()[:30], running=desk.recordings.running,
        ports=ports.found(), aircraft=aircraft, limits=limits, mappings=mappings, own=request.state.device.own,
        lan=desk.lan.address if desk.lan else "", problem=problem, here="live",
    )  # fmt: skip


async def start(request: Request) -> Response:
    """Begin a recording."""
    form = await form_of(request)
    return await run_in_threadpool(_start, request, form)


def _start(request: Request, form: dict[str, list[str]]) -> Response:
    from spooldown.desk.recording import address_in, headings_in

    desk = desk_of(request)
    try:
        address = address_in(form, own=request.state.device.own, lan=desk.lan.address if desk.lan else "")
        with desk.book() as book:
            name = desk.recordings.start(
                book, address, aircraft=(form.get("aircraft") or [""])[0], headings=headings_in(form, book)
            )
    except Problem as problem:
        return listed(request, 422, str(problem))
    return to(f"/live/{name}")


async def limits(request: Request) -> Response:
    """Keep the limits that speak."""
    form = await form_of(request)
    return await run_in_threadpool(_limits, request, (form.get("limits") or [""])[0])


def _limits(request: Request, text: str) -> Response:
    from spooldown.live.limits import SETTING, parse_all

    desk = desk_of(request)
    try:
        kept = parse_all(text.splitlines())
    except Problem as problem:
        return listed(request, 422, str(problem))
    with desk.book() as book:
        book.set_setting(SETTING, "\n".join(map(str, kept)))
        desk.recordings.limits_changed(book)
    return to("/live")


def one(request: Request) -> Response:
    """One recording as it grows."""
    from spooldown.live.picture import picture

    desk, name = desk_of(request), request.path_params["name"]
    with desk.book() as book:
        watch = desk.recordings.watch(book, name)
    return shown(
        request, "watch.html", name=watch.path.name, now=picture(watch, answers=False),
        ours=desk.recordings.running == name, running=desk.recordings.get(name).running, here="live",
    )  # fmt: skip


def now(request: Request) -> Response:
    """What there is to see of it now."""
    from spooldown.live.picture import picture

    desk = desk_of(request)
    with desk.book() as book:
        watch = desk.recordings.watch(book, request.path_params["name"])
    return JSONResponse(picture(watch, traces=True, answers=False).plain())


async def end(request: Request) -> Response:
    """End the recording that runs here."""
    await form_of(request)
    recordings = desk_of(request).recordings
    found = recordings.get(request.path_params["name"])
    if recordings.running == found.name:
        await run_in_threadpool(recordings.end)
    return to(f"/live/{found.name}")


async def hand_on(request: Request) -> Response:
    """Look at a recording as at any log that was dropped."""
    from spooldown.live.recordings import importable

    await form_of(request)
    desk = desk_of(request)
    found = await run_in_threadpool(desk.recordings.get, request.path_params["name"])
    ready = await run_in_threadpool(importable, found.path)
    batch = desk.incoming.begin()
    batch.aircraft = found.aircraft
    await desk.incoming.take(batch, ready.name, _chunks(ready))
    return to(f"/logs/{batch.name}")


async def _chunks(path: Path) -> AsyncIterator[bytes]:
    with path.open("rb") as file:
        while data := await run_in_threadpool(file.read, CHUNK):
            yield data


ROUTES = [
    Route("/live", listed),
    Route("/live", start, methods=["POST"]),
    Route("/live/limits", limits, methods=["POST"]),
    Route("/live/{name}", one),
    Route("/live/{name}/now", now),
    Route("/live/{name}/end", end, methods=["POST"]),
    Route("/live/{name}/import", hand_on, methods=["POST"]),
]
