"""What is taken away: pages for a USB stick, one flight in one file, telemetry, a blank field sheet, paper to print."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

from starlette.background import BackgroundTask
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from reports.words.catalogue import message
from reports.words.reader import reading
from reports.write import built
from spooldown import register
from spooldown.desk.session import desk_of, shown
from spooldown.desk.views.keeping import FORMS
from spooldown.problems import LogbookProblem
from spooldown.scratch import owned

PRINTED = ("field-sheet.html", "labels.html")
"""Built pages that are made for paper; every flight's card besides."""


def page(request: Request) -> Response:
    """Everything that can be taken away."""
    desk = desk_of(request)
    with desk.book() as book:
        latest = book.latest(1)
        checks = bool(book.range_checks())
    return shown(
        request, "takeaway.html", built=(desk.pages / "index.html").is_file(), printed=PRINTED, latest=latest,
        checks=checks, here="settings",
    )  # fmt: skip


def stick(request: Request) -> Response:
    """The built pages as one archive: unpacked anywhere, they open without the desk."""
    desk = desk_of(request)
    listed = sorted(built(desk.pages))
    if not listed:
        raise HTTPException(404, message("desk.takeaway.no_pages"))
    place = tempfile.TemporaryDirectory(prefix=owned())
    file = Path(place.name, "pages.zip")
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name in listed:
            if (desk.pages / name).is_file():
                archive.write(desk.pages / name, f"pages/{name}")
    return FileResponse(file, filename="pages.zip", background=BackgroundTask(place.cleanup))


def single(request: Request) -> Response:
    """One flight's page in one file, to send to somebody."""
    from reports.model import Unreadable
    from reports.site import build_single_flight
    from spooldown.preferences import reader_of
    from spooldown.site import site_of

    flight_id = request.path_params["flight"]
    place = tempfile.TemporaryDirectory(prefix=owned())
    file = Path(place.name, "flight.html")
    with desk_of(request).book() as book, reading(reader_of(book)):
        known = book.flight(flight_id).flight_id
        site = site_of(book, register.load(book))
        if whys := [f.why for f in site.failed if f.flight_id == known]:
            raise LogbookProblem(str(whys[0]))
        try:
            build_single_flight(site, known, file)
        except Unreadable as unreadable:
            raise LogbookProblem(str(unreadable)) from unreadable
    return FileResponse(file, filename=f"{known}.html", background=BackgroundTask(place.cleanup))


def telemetry(request: Request) -> Response:
    """One flight's telemetry as the logbook keeps it."""
    from spooldown.work.export import encode_table

    form = request.path_params["form"]
    if form not in FORMS:
        raise HTTPException(404)
    with desk_of(request).book() as book:
        known = book.flight(request.path_params["flight"]).flight_id
        data = encode_table(book.telemetry(known).table, form)
    return _file(data, f"{known}.{form}", FORMS[form])


def checks(request: Request) -> Response:
    """Range checks as a table."""
    from spooldown.site import range_results
    from spooldown.work.export import encode, range_rows

    form = request.path_params["form"]
    if form not in FORMS:
        raise HTTPException(404)
    with desk_of(request).book() as book:
        listed = book.range_checks()
        data = encode(range_rows(listed, range_results(book, {who for _, who, _ in listed})), form)
    return _file(data, f"range-checks.{form}", FORMS[form])


def blank(request: Request) -> Response:
    """A field sheet with a row for each flight that is not noted yet."""
    from spooldown.sheets.field import blank_sheet

    with desk_of(request).book() as book:
        noted = book.notes()
        text = blank_sheet([f for f in book.flights() if f.flight_id not in noted], register.load(book))
    return _file(text.encode(), "field_sheet.csv", FORMS["csv"])


def _file(data: bytes, name: str, kind: str) -> Response:
    return Response(data, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})


ROUTES = [
    Route("/take-away", page),
    Route("/take-away/pages.zip", stick),
    Route("/take-away/range-checks.{form}", checks),
    Route("/take-away/field_sheet.csv", blank),
    Route("/flights/{flight}/single.html", single),
    Route("/flights/{flight}/telemetry.{form}", telemetry),
]
