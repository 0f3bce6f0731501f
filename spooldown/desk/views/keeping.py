"""Keeping the logbook: flights out and back, tables to take away, a backup, a check of every file."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Literal, cast

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from reports.words.catalogue import message
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.jobs import Job
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change
from spooldown.scratch import owned

TABLES = ("figures", "events", "flights")
FORMS = {"csv": "text/csv; charset=utf-8", "json": "application/json", "parquet": "application/vnd.apache.parquet"}


async def remove(request: Request) -> Response:
    """Put a flight into the bin."""
    await form_of(request)
    desk, flight_id = desk_of(request), request.path_params["flight"]

    def work() -> None:
        with desk.book() as book:
            book.flight(flight_id)
            book.remove([flight_id])

    def back() -> None:
        with desk.book() as book:
            book.bring_back([flight_id])
        build_pages(desk)

    await run_in_threadpool(work)
    desk.undo.keep(request.state.key, Change(back, "/flights"))
    build_pages(desk)
    return to("/flights")


def bin_page(request: Request) -> Response:
    """What was taken out."""
    with desk_of(request).book() as book:
        removed = book.removed() if book.exists else []
    return shown(request, "bin.html", removed=removed, here="settings")


async def bring_back(request: Request) -> Response:
    """Take a flight out of the bin."""
    await form_of(request)
    desk, flight_id = desk_of(request), request.path_params["flight"]

    def work() -> None:
        with desk.book() as book:
            book.bring_back([flight_id])

    await run_in_threadpool(work)
    build_pages(desk)
    return to("/bin")


async def empty(request: Request) -> Response:
    """Delete what is in the bin for good; the box beside the button must be ticked."""
    form = await form_of(request)
    desk = desk_of(request)
    if "sure" in form:

        def work() -> None:
            with desk.book() as book:
                book.empty_bin()

        await run_in_threadpool(work)
    return to("/bin")


def table(request: Request) -> Response:
    """A table of results to take away."""
    from spooldown.work.export import HEADINGS, encode, rows_of
    from spooldown.work.results import analysed

    what, form = request.path_params["what"], request.path_params["form"]
    if what not in TABLES or form not in FORMS:
        raise HTTPException(404)
    with desk_of(request).book() as book:
        found = analysed(book, register.readable(book), failures=[])
    together = (
        "all" not in request.query_params
    )  # as in the terminal: events alike are one row, unless each is asked for
    rows = rows_of(found, cast(Literal["figures", "events", "flights"], what), together=together)
    data = encode(rows, form, HEADINGS[what])
    name = f'attachment; filename="{next(t for t in TABLES if t == what)}.{next(f for f in FORMS if f == form)}"'
    return Response(data, media_type=FORMS[form], headers={"content-disposition": name})


def backup(request: Request) -> Response:
    """The whole logbook in one archive, verified."""
    from spooldown.logbook.archive import back_up

    place = tempfile.TemporaryDirectory(prefix=owned())
    file = Path(place.name, "logbook.zip")
    with desk_of(request).book() as book:
        if not book.exists:
            place.cleanup()
            raise HTTPException(404, message("desk.refused.no_logbook"))
        back_up(book, file)
    return FileResponse(file, filename="logbook.zip", background=BackgroundTask(place.cleanup))


async def check(request: Request) -> Response:
    """Verify every file of the logbook, as a job; nothing is written."""
    await form_of(request)
    desk = desk_of(request)

    def work(job: Job) -> None:
        from spooldown.upkeep.checking import check as verify

        def step(name: str, done: int, whole: int) -> None:
            job.step, job.done, job.whole = name, done, whole

        job.failed.extend(str(damage) for damage in verify(desk.folder, progress=step))
        job.to = "/settings"

    return to(f"/jobs/{desk.jobs.start('check', work).name}")


ROUTES = [
    Route("/flights/{flight}/remove", remove, methods=["POST"]),
    Route("/bin", bin_page),
    Route("/bin/empty", empty, methods=["POST"]),
    Route("/bin/{flight}/restore", bring_back, methods=["POST"]),
    Route("/export/{what}.{form}", table),
    Route("/backup", backup),
    Route("/check", check, methods=["POST"]),
]
