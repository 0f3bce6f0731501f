"""Aircraft and packs: their files, read, checked as you type, and saved with comments kept."""

from __future__ import annotations

import hashlib

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from importers.refusal import Refusal
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change
from spooldown.logbook.book import Logbook
from spooldown.logbook.store import write_whole
from spooldown.problems import Problem

NEW = "new"


def listed(request: Request) -> Response:
    """Every aircraft and pack."""
    with desk_of(request).book() as book:
        known = register.load(book)
        files = _files(book)
    return shown(
        request, "aircraft.html", aircraft=list(known.aircraft.values()), packs=list(known.packs.values()),
        files=sorted(files), here="aircraft",
    )  # fmt: skip


def _files(book: Logbook) -> dict[str, bytes]:
    """The register's files by name: the only ones that can be opened here."""
    folder = book.register_folder
    return {p.name: p.read_bytes() for p in sorted(folder.glob("*.toml"))} if folder.is_dir() else {}


def edit(request: Request) -> Response:
    """One file to edit, or a new one from the example."""
    name = request.path_params["file"]
    with desk_of(request).book() as book:
        files = _files(book)
    if name != NEW and name not in files:
        raise HTTPException(404)
    data = files[name] if name != NEW else register.EXAMPLE.encode()
    return shown(
        request, "edit.html", file=name, text=data.decode("utf-8", "replace"), mark=_mark(data), problem="",
        here="aircraft",
    )  # fmt: skip


def _mark(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


async def try_out(request: Request) -> Response:
    """Check a file as it is typed; says what it holds or what is wrong."""
    form = await form_of(request)
    data = (form.get("text") or [""])[0].encode()
    try:
        found = register.parse(data, request.path_params["file"])
    except Refusal as refusal:
        return JSONResponse({"problem": str(refusal), "line": refusal.line})
    parts = [found.aircraft.name] if found.aircraft else []
    return JSONResponse({"problem": "", "holds": [*parts, *(p.name for p in found.packs)]})


async def save(request: Request) -> Response:
    """Keep a file."""
    form = await form_of(request)
    text = (form.get("text") or [""])[0].replace("\r\n", "\n")
    return await run_in_threadpool(_save, request, text, (form.get("mark") or [""])[0])


def _save(request: Request, text: str, mark: str) -> Response:
    desk, name, data = desk_of(request), request.path_params["file"], text.encode()
    with desk.book() as book:
        try:
            if name == NEW:
                addition = register.add(book, data, "the form")
                saved, old = addition.copy_name, None
            else:
                files = _files(book)
                if name not in files:
                    raise HTTPException(404)
                old = files[name]
                if mark != _mark(old):
                    return shown(
                        request, "edit.html", 409, file=name, text=text, mark=_mark(old), here="aircraft",
                        problem="Somebody changed this file meanwhile. Below is what you typed; saving again puts it in"
                        " the place of what is there now.", theirs=old.decode("utf-8", "replace"),
                    )  # fmt: skip
                register.parse(data, name)
                with book.writing():
                    write_whole(book.register_folder / next(k for k in files if k == name), data)
                try:
                    register.load(book)
                except (Refusal, Problem):
                    write_whole(book.register_folder / name, old)
                    raise
                saved = name
        except (Refusal, Problem) as problem:
            return shown(
                request, "edit.html", 422, file=name, text=text, mark=mark, problem=str(problem), here="aircraft"
            )

    def back() -> None:
        with desk.book() as book, book.writing():
            path = book.register_folder / next(k for k in _files(book) if k == saved)
            if old is None:
                path.unlink()
            else:
                write_whole(path, old)
        build_pages(desk)

    desk.undo.keep(request.state.key, Change(back, "/aircraft"))
    build_pages(desk)
    return to("/aircraft")


ROUTES = [
    Route("/aircraft", listed),
    Route("/aircraft/{file}", edit),
    Route("/aircraft/{file}", save, methods=["POST"]),
    Route("/aircraft/{file}/check", try_out, methods=["POST"]),
]
