"""The bench on the desk: each procedure says what to do, takes its readings or the log recorded meanwhile."""

from __future__ import annotations

from collections.abc import AsyncIterator
from datetime import date
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from importers.refusal import Refusal
from reports.words.catalogue import message, word
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import MOST_FIELD_BYTES, check, desk_of, form_of, shown, to
from spooldown.desk.undo import Change, changing
from spooldown.problems import Problem


def overview(request: Request) -> Response:
    """Every procedure, and what was done of each."""
    from analyser.bench.procedures import Procedure
    from spooldown.site import bench_results

    with desk_of(request).book() as book:
        known = register.load(book)
        results = bench_results(book, known)
    lines = sorted(
        ((name, line) for name, result in results.items() for line in result.lines),
        key=lambda pair: (pair[1].record.day, int(pair[1].number)),
        reverse=True,
    )
    done = {line.record.procedure for _, line in lines}
    return shown(
        request, "bench.html", lines=lines, owners=sorted(known.aircraft), say=message, word=word, here="aircraft",
        procedures=[(p.value, word("bench_procedure", p.value), p in done) for p in Procedure],
    )  # fmt: skip


def form(request: Request, problem: str = "", cells: dict[str, str] | None = None) -> Response:
    """One procedure: what to do, and where to write it down."""
    from analyser.bench.analysis import caution
    from analyser.bench.procedures import PROCEDURES, Of
    from reports.words.catalogue import text
    from spooldown.bench.entry import procedure_named, subjects

    try:
        procedure = procedure_named(request.path_params["procedure"])
    except Problem as unknown:
        raise HTTPException(404, str(unknown)) from unknown
    steps = PROCEDURES[procedure]
    with desk_of(request).book() as book:
        known = register.load(book)
    aircraft = sorted(known.aircraft)
    offered = [(name, one) for name in aircraft for one in subjects(procedure, known, name) or [""]]
    if steps.of is Of.PACK:
        offered = [("", name) for name in sorted(known.packs)]
    offered = [pair for pair in offered if pair[1] or steps.of is Of.AIRCRAFT]
    return shown(
        request, "bench_form.html", 422 if problem else 200, problem=problem, cells=cells or {}, steps=steps,
        procedure=procedure.value, today=date.today().isoformat(), offered=offered, say=message, word=word,
        caution=text(caution(steps.of)), here="aircraft",
    )  # fmt: skip


async def keep(request: Request) -> Response:
    """Keep one procedure as it was done."""
    desk = desk_of(request)
    batch = desk.incoming.begin()
    try:
        async with request.form(max_files=1, max_fields=60, max_part_size=MOST_FIELD_BYTES) as given:
            check(request, {"token": [str(given.get("token", ""))]})
            cells = {k: v.strip() for k, v in given.multi_items() if isinstance(v, str) and v.strip() and k != "token"}
            item = given.get("log")
            if item is not None and not isinstance(item, str) and item.filename:
                await desk.incoming.take(batch, item.filename, _chunks(item))
        log = (batch.files[0].path, batch.files[0].name) if batch.files else None
        return await run_in_threadpool(_keep, request, cells, log)
    finally:
        desk.incoming.drop(batch)


async def _chunks(upload: Any) -> AsyncIterator[bytes]:
    while data := await upload.read(1 << 20):
        yield data


def _keep(request: Request, cells: dict[str, str], log: tuple[Path, str] | None) -> Response:
    from spooldown.bench.entry import Typed, procedure_named, record_of
    from spooldown.bench.kept import KIND
    from spooldown.bench.kept import keep as keep_record
    from spooldown.bench.log import read_one

    desk = desk_of(request)
    whose, _, of = cells.get("subject", "").partition("/")
    rest = {k: v for k, v in cells.items() if k not in ("subject", "aircraft", "of", "day", "remarks")}
    try:
        typed = Typed(
            procedure_named(request.path_params["procedure"]),
            cells.get("aircraft", "") or whose,
            cells.get("of", "") or of,
            cells.get("day", ""),
            rest,
            cells.get("remarks", ""),
        )
        telemetry = read_one(log[0], log[1]) if log else None
        with desk.book() as book:
            record = record_of(typed, register.load(book), telemetry, log[1] if log else "")
            with changing(book, KIND) as changed:
                _, new = keep_record(book, record)
    except (Refusal, Problem, ValueError) as problem:
        return form(request, str(problem), cells)

    def back() -> None:
        with desk.book() as book:
            changed.put_back(book)
        build_pages(desk)

    if new:
        desk.undo.keep(request.state.key, Change(back, "/bench"))
        build_pages(desk)
    return to("/bench")


async def remove(request: Request) -> Response:
    """Take a record out; it can be taken back."""
    from spooldown.bench.kept import KIND
    from spooldown.bench.kept import remove as take_out

    await form_of(request)
    desk, number = desk_of(request), request.path_params["number"]

    def work() -> None:
        with desk.book() as book, changing(book, KIND) as changed:
            take_out(book, [number])

        def back() -> None:
            with desk.book() as again:
                changed.put_back(again)
            build_pages(desk)

        desk.undo.keep(request.state.key, Change(back, "/bench"))

    await run_in_threadpool(work)
    build_pages(desk)
    return to("/bench")


ROUTES = [
    Route("/bench", overview),
    Route("/bench/{procedure}", form),
    Route("/bench/{procedure}", keep, methods=["POST"]),
    Route("/bench/records/{number}/remove", remove, methods=["POST"]),
]
