"""Logs in: drop files, review each layout once, settle what is open, import, or read flights again."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from analyser.core.channels import VOCABULARY
from importers.refusal import Refusal
from reports.words.catalogue import message
from spooldown import register
from spooldown.desk.building import build_now, build_pages
from spooldown.desk.incoming import Batch
from spooldown.desk.session import check, desk_of, form_of, shown, to
from spooldown.desk.undo import Change
from spooldown.intake.adding import LogFile
from spooldown.problems import OpenQuestion, Problem

if TYPE_CHECKING:
    from spooldown.desk.jobs import Job
    from spooldown.desk.session import Desk
    from spooldown.logbook.book import Logbook

LEAVE_OUT = "-"
"""Typed in the place of a channel: leave this column out."""


def _batch(request: Request) -> Batch:
    batch = desk_of(request).incoming.get(request.path_params["batch"])
    if batch is None:
        raise HTTPException(404, message("desk.review.gone"))
    return batch


async def begin(request: Request) -> Response:
    """Begin a batch; the script asks this before it sends files one by one."""
    check(request, {})
    return JSONResponse({"batch": desk_of(request).incoming.begin().name})


async def put(request: Request) -> Response:
    """Take one file in, streamed."""
    check(request, {})
    arrival = await desk_of(request).incoming.take(
        _batch(request), request.query_params.get("name", "log.csv"), request.stream()
    )
    return JSONResponse({"name": arrival.name, "size": arrival.size})


async def drop(request: Request) -> Response:
    """Take files in from a plain form, for a browser without scripts."""
    incoming = desk_of(request).incoming
    async with request.form(max_files=200, max_fields=20, max_part_size=1 << 20) as form:
        check(request, {"token": [str(form.get("token", ""))]})
        batch = incoming.begin()
        for item in form.getlist("files"):
            if not isinstance(item, str) and item.filename:

                async def chunks(upload=item) -> AsyncIterator[bytes]:  # type: ignore[no-untyped-def]
                    while data := await upload.read(1 << 20):
                        yield data

                await incoming.take(batch, item.filename, chunks())
    if not batch.files:
        incoming.drop(batch)
        return to("/")
    return to(f"/logs/{batch.name}")


def review(request: Request, problem: str = "") -> Response:
    """Show what the files are taken for, and what each answer to an open question would mean."""
    from importers.plan import plan
    from spooldown.desk.review.consequences import consequences
    from spooldown.desk.review.layouts import answers_of, look

    batch, desk = _batch(request), desk_of(request)
    with desk.book() as book:
        known = register.load(book)
        found = look(batch, book, known)
        saved = book.mapping_files()
    told = {}
    for layout in found.layouts:
        answers = answers_of(batch, layout.mark)
        for q in layout.questions:
            told[layout.mark, q.key] = consequences(
                q,
                lambda said, q=q, layout=layout, answers=answers: plan(  # type: ignore[misc]
                    layout.plan.origin, mappings=saved, answers={**layout.plan.answers, **answers, q.key: said}
                ),
            )
    unit_lists = list(dict.fromkeys(c.units for layout in found.layouts for c in layout.columns if c.units))
    return shown(
        request, "review.html", 422 if problem else 200, batch=batch, review=found, aircraft=sorted(known.aircraft),
        channels=_channel_list(), consequences=told, unit_lists=unit_lists, problem=problem, here="logs",
    )  # fmt: skip


async def settle(request: Request) -> Response:
    """Keep what was said of the layouts, and import if that was asked for."""
    form = await form_of(request)
    return await run_in_threadpool(_settle, request, form)


def _settle(request: Request, form: Mapping[str, list[str]]) -> Response:
    from importers.layout import corrections

    batch, desk = _batch(request), desk_of(request)
    problem = ""
    for name, values in form.items():
        kind, _, rest = name.partition(":")
        mark, _, what = rest.partition(":")
        said = values[-1].strip()
        if kind == "remember":
            _put(batch.remember, mark, said[:60])
        elif kind == "answer":
            _put(batch.answers.setdefault(mark, {}), what, said)
        elif kind in ("column", "unit"):
            into = batch.columns if kind == "column" else batch.units
            one = {what: "" if said == LEAVE_OUT else said} if said else {}
            try:
                corrections.check(corrections.as_answers(*((one, {}) if kind == "column" else ({}, one))))
            except Refusal as refusal:
                problem = problem or str(refusal)
                continue
            kept = into.setdefault(mark, {})
            kept.pop(what, None)
            kept.update(one)
    batch.aircraft = (form.get("aircraft") or [batch.aircraft])[0].strip()
    batch.join = "join" in form
    batch.again |= {int(n) for n in form.get("again", ()) if n.isdecimal() and int(n) < len(batch.files)}
    if problem:
        return review(request, problem)
    if "import" not in form:
        return to(f"/logs/{batch.name}")
    return to(f"/jobs/{desk.jobs.start('import', lambda job: bring_in(desk, batch, job, request.state.key)).name}")


def _put(into: dict[str, str], key: str, said: str) -> None:
    if said:
        into[key] = said
    else:
        into.pop(key, None)


def together(request: Request, problem: str = "") -> Response:
    """Lay the files of a batch over each other, to see and set how far their clocks are apart."""
    from spooldown.desk.review.overlay import overlays

    batch, desk = _batch(request), desk_of(request)
    found = []
    with desk.book() as book:
        try:
            found = overlays(batch, book, register.load(book))
        except (Refusal, Problem) as refused:
            problem = problem or str(refused)
    return shown(
        request, "together.html", 422 if problem else 200, batch=batch, overlays=found, problem=problem, here="logs"
    )


async def lay_over(request: Request) -> Response:
    """Keep the offsets, and import the files as one flight if that was asked for."""
    form = await form_of(request)
    return await run_in_threadpool(_lay_over, request, form)


def _lay_over(request: Request, form: Mapping[str, list[str]]) -> Response:
    from spooldown.desk.review.overlay import offsets_from

    batch, desk = _batch(request), desk_of(request)
    typed = [
        (int(k.partition(":")[2]), v[-1].strip())
        for k, v in form.items()
        if k.startswith("offset:") and k.partition(":")[2].isdecimal()
    ]
    try:
        batch.offsets = offsets_from(typed, len(batch.files) - 1)
    except Problem as problem:
        return together(request, str(problem))
    if "import" not in form:
        return to(f"/logs/{batch.name}/together")
    batch.join = True
    return to(f"/jobs/{desk.jobs.start('import', lambda job: bring_in(desk, batch, job, request.state.key)).name}")


async def throw_away(request: Request) -> Response:
    """Forget a batch."""
    await form_of(request)
    desk_of(request).incoming.drop(_batch(request))
    return to("/")


def bring_in(desk: Desk, batch: Batch, job: Job, key: str) -> None:
    """Import a batch, build the pages, and lead to the flight; the browser that asked may take it back."""
    added: list[str] = []
    with desk.book() as book:
        job.whole = max(batch.size, 1)
        before = {f.flight_id for f in book.flights()} if book.exists else set()
        _papers(book, batch, job, "toml")
        known = register.load(book)
        added = _joined(book, batch, known) if batch.join else _one_by_one(book, batch, known, job)
        for kind in ("sheet", "checks"):
            _papers(book, batch, job, kind)
        new = [i for i in added if i not in before]
    if new:

        def back() -> None:
            with desk.book() as book:
                book.remove(new)
            build_pages(desk)

        desk.undo.keep(key, Change(back, "/flights"))
    build_now(desk, job)
    job.to = f"/flights/{added[-1]}/note" if len(added) == 1 else "/" if not added else "/flights"
    if not job.failed:
        desk.incoming.drop(batch)


def _papers(book: Logbook, batch: Batch, job: Job, kind: str) -> None:
    """Take in what is no log: aircraft files before the logs, sheets of notes and range checks after them."""
    from spooldown.desk.review.layouts import kind_of
    from spooldown.sheets.field import apply_sheet
    from spooldown.sheets.range_checks import read_range_sheet

    for file in batch.logs():
        if kind_of(file) != kind:
            continue
        data = file.path.read_bytes()
        try:
            if kind == "toml":
                register.add(book, data, file.name)
            elif kind == "sheet":
                apply_sheet(book, register.load(book), data, file.name)
            else:
                rows = read_range_sheet(data, file.name, register.load(book), batch.aircraft)
                book.add_range_checks([(r.aircraft, r.check) for r in rows])
            state = {"toml": "registered", "sheet": "noted", "checks": "checks"}[kind]
            job.lines.append(f"{file.name}: {message(f'desk.job.{state}')}")
        except (Refusal, Problem) as problem:
            job.failed.append(str(problem))


def _joined(book: Logbook, batch: Batch, known: register.Register) -> list[str]:
    from spooldown.desk.review.layouts import answers_of, planned
    from spooldown.intake.joining import add_joined

    saved = book.mapping_files()
    answers: dict[str, str] = {}
    for file in batch.logs():
        answers |= answers_of(batch, planned(batch, file, saved, known).fingerprint)
    others = range(len(batch.files) - 1)
    offsets = [batch.offsets[n] for n in others] if all(n in batch.offsets for n in others) else []
    outcomes = add_joined(
        book, batch.logs(), known, aircraft=batch.aircraft, answers=answers, mappings=saved, offsets_s=offsets
    )
    return [i for o in outcomes for i in o.flight_ids]


def _one_by_one(book: Logbook, batch: Batch, known: register.Register, job: Job) -> list[str]:
    from importers.table.source import Source
    from spooldown.desk.review.layouts import answers_of, kind_of, planned
    from spooldown.intake.adding import add_file, already
    from spooldown.intake.mappings import remember
    from spooldown.intake.remapping import remap

    saved = book.mapping_files()
    added: list[str] = []
    before = 0
    for n, arrival in enumerate(batch.files):
        file = LogFile(arrival.path, arrival.name)
        if kind_of(file):
            before += arrival.size
            continue
        job.step = file.name
        try:
            if n in batch.again:
                there = already(book, Source(file.path, file.name))
                earlier = book.answers(there[0]) if there else {}
                said = answers_of(batch, planned(batch, file, saved, known, earlier).fingerprint)
                remap(book, there, known, [file.path], answers=said, mappings=saved)
                added += there
                state = "again"
            else:
                said = answers_of(batch, planned(batch, file, saved, known).fingerprint)
                outcome = add_file(
                    book, file, known, aircraft=batch.aircraft, answers=said, mappings=saved,
                    progress=lambda n, start=before: setattr(job, "done", start + n),  # type: ignore[misc]
                )  # fmt: skip
                added += outcome.flight_ids
                if outcome.plan and (name := batch.remember.pop(outcome.plan.fingerprint, "")):
                    remember(book, name, [outcome.plan])
                    job.lines.append(message("desk.review.remembered", name=name))
                state = outcome.state if outcome.state in ("imported", "known") else "aside"
            job.lines.append(f"{file.name}: {message(f'desk.job.{state}')}")
        except OpenQuestion as question:
            job.failed.append(str(question))
        except (Refusal, Problem) as problem:
            job.failed.append(str(problem))
        before += arrival.size
        job.done = before
    return added


def _channel_list() -> list[tuple[str, str]]:
    return [
        (f"{c.subject}.{'NAME.' if c.has_instance else ''}{c.quantity.replace('<n>', '1')}", f"{c.label} ({c.unit})")
        for c in VOCABULARY
    ]


ROUTES = [
    Route("/logs", begin, methods=["POST"]),
    Route("/logs/drop", drop, methods=["POST"]),
    Route("/logs/{batch}/file", put, methods=["PUT"]),
    Route("/logs/{batch}/discard", throw_away, methods=["POST"]),
    Route("/logs/{batch}/together", together),
    Route("/logs/{batch}/together", lay_over, methods=["POST"]),
    Route("/logs/{batch}", settle, methods=["POST"]),
    Route("/logs/{batch}", review),
]
