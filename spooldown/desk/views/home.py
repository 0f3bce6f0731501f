"""The desk's first page, the built pages of the logbook, jobs, and taking a change back."""

from __future__ import annotations

import mimetypes
from functools import lru_cache
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from reports.words.catalogue import message
from reports.write import MANIFEST, built
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.views.flights import marked

STATIC = Path(__file__).parents[1] / "static"


def home(request: Request) -> Response:
    """What a person came for: drop logs, note a flight, read."""
    desk = desk_of(request)
    with desk.book() as book:
        flights, count = book.latest(20), len(book.flight_ids())
        noted, first = book.noted(), marked(book, flights[:6])
    return shown(
        request,
        "home.html",
        flights=[(f, f.flight_id in noted, damage) for f, damage in first],
        count=count,
        unnoted=sum(f.flight_id not in noted for f in flights),
        built=(desk.pages / "index.html").is_file(),
        folder=str(desk.folder),
        here="home",
    )


@lru_cache(maxsize=4)
def _known(pages: str, _state: tuple[int, int]) -> frozenset[str]:
    """Paths of the built pages, as their own manifest lists them."""
    return built(Path(pages))


def pages(request: Request) -> Response:
    """One built page: only what the manifest lists is served, so no path of a request reaches the disk."""
    desk = desk_of(request)
    wanted = request.path_params["path"] or "index.html"
    try:
        state = (desk.pages / MANIFEST).stat()
        known = _known(str(desk.pages), (state.st_mtime_ns, state.st_size))
    except OSError:
        known = frozenset()
    desk.seen_pages |= known
    # The manifest's own text, not the request's.
    name = next((k for k in desk.seen_pages if k == wanted), "")
    file = desk.pages / name
    if not name or not file.is_file():
        if wanted == "index.html":
            return to("/")
        raise HTTPException(404)
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    if kind != "text/html":
        return FileResponse(file, media_type=kind, headers={"cache-control": "no-cache"})
    try:
        html = file.read_text("utf-8")
    except OSError as error:
        raise HTTPException(404) from error
    bar = bytes(desk.views.page(request, "bar.html", flight=_flight_in(name)).body).decode()
    # The page's own policy stands in its head; the answer's only adds that nobody may frame it.
    return HTMLResponse(
        html.replace('<header class="site">', bar + '<header class="site">', 1),
        headers={"content-security-policy": "frame-ancestors 'none'", "cache-control": "no-cache"},
    )


def _flight_in(name: str) -> str:
    folder, _, file = name.partition("/")
    return file.removesuffix(".html") if folder == "flights" and not file.endswith("-card.html") else ""


def static(request: Request) -> Response:
    """The desk's own script and style, and the pages' style."""
    from reports.render import asset

    name = request.path_params["name"]
    if name == "style.css":
        return Response(asset("style.css"), media_type="text/css")
    known = {p.name: p for p in STATIC.iterdir() if p.is_file()}
    if name not in known:
        raise HTTPException(404)
    return FileResponse(known[name], headers={"cache-control": "no-cache"})


def icon(request: Request) -> Response:  # noqa: ARG001
    """Browsers ask for one; there is none."""
    return Response(status_code=204)


async def build(request: Request) -> Response:
    """Build the pages."""
    await form_of(request)
    return to(f"/jobs/{build_pages(desk_of(request)).name}")


def job(request: Request) -> Response:
    """How far a job is."""
    found = desk_of(request).jobs.get(request.path_params["name"])
    if found is None:
        raise HTTPException(404)
    if request.path_params.get("form") == "json":
        return JSONResponse(found.snapshot())
    if found.state == "finished" and not found.failed and found.to:
        return to(found.to)
    return shown(request, "job.html", job=found)


async def undo(request: Request) -> Response:
    """Take a change back."""
    form = await form_of(request)
    desk = desk_of(request)
    change = desk.undo.take((form.get("change") or [""])[0])
    if change is None:
        raise HTTPException(409, message("desk.refused.undone"))
    await run_in_threadpool(change.back)
    return to(change.to)


ROUTES = [
    Route("/", home),
    Route("/pages/{path:path}", pages),
    Route("/static/{name}", static),
    Route("/favicon.ico", icon),
    Route("/build", build, methods=["POST"]),
    Route("/jobs/{name}.{form}", job),
    Route("/jobs/{name}", job),
    Route("/undo", undo, methods=["POST"]),
]
