"""Aircraft and packs: what is described, and their files as text, checked as you type and saved with comments kept."""

from __future__ import annotations

import hashlib
from contextlib import suppress

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from importers.refusal import Refusal
from reports.words.catalogue import message
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, unless
from spooldown.logbook.book import Logbook
from spooldown.logbook.plain import files_in, plain
from spooldown.problems import Problem, UsageProblem

NEW = "new"


def listed(request: Request) -> Response:
    """Every aircraft and pack, and whose logs are here without a description."""
    with desk_of(request).book() as book:
        known = register.readable(book)
        files = files_of(book)
        owners = book.owners()
    own = {f.aircraft.name: name for name, f in known.files.items() if f.aircraft}
    return shown(
        request, "aircraft.html", aircraft=list(known.aircraft.values()), packs=list(known.packs.values()),
        files=sorted(files), left_out=book.left_out, file_of=own,
        strangers=sorted(o for o in owners if not known.find_aircraft(o)),
        pack_file={p.name: name for name, f in known.files.items() for p in f.packs}, here="aircraft",
    )  # fmt: skip


def files_of(book: Logbook) -> dict[str, bytes]:
    """The register's files by name: the only ones that can be opened here; what cannot be read is no file."""
    found = {}
    for path in files_in(book.register_folder, ".toml"):
        with suppress(OSError):
            found[path.name] = plain(path).read_bytes()
    return found


def edit(request: Request) -> Response:
    """One file to edit, or a new one from the example."""
    name = request.path_params["file"]
    with desk_of(request).book() as book:
        files = files_of(book)
    if name != NEW and name not in files:
        raise HTTPException(404)
    data = files[name] if name != NEW else register.EXAMPLE.encode()
    # A new file has no digest of its own: that of what there is tells a draft that was saved from one that was not.
    mark = mark_of(data if name != NEW else "/".join(files).encode())
    return shown(
        request, "edit.html", file=name, text=data.decode("utf-8", "replace"), mark=mark, problem="",
        here="aircraft",
    )  # fmt: skip


def mark_of(data: bytes) -> str:
    """Digest of a file: tells whether somebody else changed it meanwhile."""
    return hashlib.sha256(data).hexdigest()[:16]


async def try_out(request: Request) -> Response:
    """Check a file as it is typed; says what it holds or what is wrong."""
    form = await form_of(request)
    data = (form.get("text") or [""])[0].encode()
    try:
        found = register.parse(data, request.path_params["file"])
    except Refusal as refusal:
        return JSONResponse({"problem": str(refusal), "line": refusal.line})
    return JSONResponse({"problem": "", "holds": holds(found)})


def holds(found: register.RegisterFile) -> list[str]:
    """Names of what a file describes."""
    parts = [found.aircraft.name] if found.aircraft else []
    return [*parts, *(p.name for p in found.packs)]


class Newer(Exception):
    """Somebody changed the file since the form was opened; ``theirs`` is what it says now."""

    def __init__(self, theirs: bytes) -> None:
        super().__init__()
        self.theirs = theirs


def store(request: Request, name: str, text: str, mark: str) -> str:
    """Check a file and put it into the register; it can be taken back. Flights follow an aircraft to its new name.

    Parameters
    ----------
    name : str
        The register's file, or :data:`NEW`.
    mark : str
        Digest of the file that the form was opened with.

    Returns
    -------
    str
        The file's name.

    Raises
    ------
    Newer
        If the file is another one by now.
    Refusal, Problem
        If the register does not take it.
    """
    desk, data = desk_of(request), text.encode()
    parsed = register.parse(data, "the form" if name == NEW else name)
    with desk.book() as book, book.writing():
        files = files_of(book)
        if name != NEW:
            if name not in files:
                raise HTTPException(404)
            if mark != mark_of(files[name]):
                raise Newer(files[name])
        known = register.readable(book)
        known.refuse_unread(name)
        addition = register.check(book, known, parsed, data, at="" if name == NEW else name)
        if name == NEW and addition.outcome != "added":
            raise UsageProblem(message("desk.refused.described", name=holds(parsed)[0], file=addition.copy_name))
        saved, old = addition.copy_name, files.get(addition.copy_name)
        was = known.files[saved].aircraft if saved in known.files else None
        renamed = (was.name, parsed.aircraft.name) if was and parsed.aircraft else ("", "")
        _follow(book, *renamed)
        register.keep(book, addition)

    def back() -> None:
        with desk.book() as book, book.writing():
            now = files_of(book)
            unless(now.get(saved) != data)
            path = book.register_folder / next(k for k in now if k == saved)
            _follow(book, renamed[1], renamed[0])
            if old is None:
                book.drop_text(path)
            else:
                book.keep_text(path, old)
        build_pages(desk)

    desk.undo.keep(request.state.key, Change(back, "/aircraft"))
    build_pages(desk)
    return saved


def _follow(book: Logbook, old: str, new: str) -> None:
    """Let flights and range checks follow their aircraft to another name."""
    if old == new:
        return
    book.assign([f.flight_id for f in book.flights() if f.aircraft == old], new)
    for number, who, check in book.range_checks():
        if who == old:
            book.add_range_checks([(new, check)])
            book.remove_range_check(number)


async def save(request: Request) -> Response:
    """Keep a file."""
    form = await form_of(request)
    text = (form.get("text") or [""])[0].replace("\r\n", "\n")
    return await run_in_threadpool(_save, request, text, (form.get("mark") or [""])[0])


def _save(request: Request, text: str, mark: str) -> Response:
    name = request.path_params["file"]
    try:
        store(request, name, text, mark)
    except Newer as newer:
        return shown(
            request, "edit.html", 409, file=name, text=text, mark=mark_of(newer.theirs), here="aircraft",
            problem="", theirs=newer.theirs.decode("utf-8", "replace"),
        )  # fmt: skip
    except (Refusal, Problem) as problem:
        return shown(request, "edit.html", 422, file=name, text=text, mark=mark, problem=str(problem), here="aircraft")
    return to("/aircraft")


ROUTES = [
    Route("/aircraft", listed),
    Route("/aircraft/{file}", edit),
    Route("/aircraft/{file}", save, methods=["POST"]),
    Route("/aircraft/{file}/check", try_out, methods=["POST"]),
]
