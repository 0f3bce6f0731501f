"""Snags and remedies: made from an event, a step or by hand; remedies dated, verdicts shown, closed and reopened."""

from __future__ import annotations

import math
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from analyser.programme.measures import BY_ID
from analyser.programme.snags import Came, Remedy, Snag, kind_of_part
from reports.words.catalogue import message, text
from reports.words.names import heading
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import Desk, desk_of, form_of, shown, to
from spooldown.desk.undo import Change, changing
from spooldown.desk.views.programme.common import day_of, owner_of, owners, today
from spooldown.problems import NotFoundProblem, Problem, UsageProblem
from spooldown.programme import snags
from spooldown.programme.flights import Followed, follow
from spooldown.programme.review import offers_of, states_of


def listed(request: Request) -> Response:
    """Every aircraft with its open snags."""
    with desk_of(request).book() as book:
        names = owners(book)
        every = [s for s in snags.all_snags(book) if s.open]
    rows = [(name, [s for s in every if s.aircraft == name]) for name in names]
    return shown(request, "programme/all.html", rows=rows, left_out=book.left_out, here="programme")


def one(request: Request, problem: str = "", cells: dict[str, str] | None = None) -> Response:
    """One aircraft: snags with their remedies and verdicts, steps on offer, and a form for a further snag."""
    with desk_of(request).book() as book:
        name = owner_of(request, book)
        followed = follow(book, register.readable(book), name)
        states = states_of(book, snags.all_snags(book, name), [followed])
        states.sort(key=lambda s: (not s.snag.open, -s.snag.number))
        offers = offers_of(book, followed)
        parts = _parts(followed)
        known = {s.snag.flight_id for s in states if s.snag.came is Came.REMARK}
        remarks = [
            (e.flight.flight_id, e.number, e.context.remarks)
            for e in reversed(followed.flights[-20:])
            if e.context.remarks and e.flight.flight_id not in known
        ]
    lines = [
        (
            s.snag,
            [
                (
                    f.remedy,
                    message(f"verdict.{f.comparison.verdict if f.comparison else 'none'}"),
                    text(f.comparison.sentence) if f.comparison else message("remedies.no_comparison"),
                )
                for f in s.fared
            ],
        )
        for s in states
    ]
    return shown(
        request, "programme/snags.html", 422 if problem else 200, aircraft=name, lines=lines, problem=problem,
        left_out=book.left_out, cells=cells or {},
        offers=[text(s.sentence) for s in offers], remarks=remarks, parts=parts, figures=_figures(),
        today=today().isoformat(), here="programme",
    )  # fmt: skip


def _parts(followed: Followed) -> list[tuple[str, str]]:
    """Parts that the newest flights logged, each with its name."""
    return [(part, heading(part)) for part in followed.parts(10)]


def _figures() -> list[tuple[str, str]]:
    return [(m.id, f"{message(f'desk.programme.kind.{m.of}')}: {message(str(m.code))}") for m in BY_ID.values()]


async def add(request: Request) -> Response:
    """Keep a snag: by hand, or from a step on offer."""
    form = await form_of(request)
    return await run_in_threadpool(_add, request, {k: v[-1].strip() for k, v in form.items()})


def _add(request: Request, cells: dict[str, str]) -> Response:
    desk = desk_of(request)
    try:
        with desk.book() as book:
            name = owner_of(request, book)
            if cells.get("step"):
                offers = offers_of(book, follow(book, register.load(book), name))
                which = int(cells["step"]) if cells["step"].isdecimal() else 0
                if not 1 <= which <= len(offers):
                    raise NotFoundProblem(message("snags.no_offer", which=which, there=len(offers)))
                if "aside" in cells:
                    snags.put_aside(book, offers[which - 1])
                    return to(request.url.path)
                made = snags.from_step(offers[which - 1], name, today())
            elif cells.get("remark"):
                entry = next(
                    (e for e in follow(book, register.load(book), name).entries
                     if e.flight.flight_id == cells["remark"]), None
                )  # fmt: skip
                if entry is None:
                    raise HTTPException(404)
                made = Snag(
                    0, name, "", "", entry.context.remarks[: snags.LONGEST_TEXT], entry.flight.day or today(),
                    Came.REMARK, cells["remark"],
                )  # fmt: skip
            elif cells.get("flight"):
                record = follow(book, register.load(book), name).record(cells["flight"])
                which = int(cells["event"]) if cells.get("event", "").isdecimal() else 0
                made = snags.from_event(record, which, book.flight(cells["flight"]).day or today())
            else:
                made = Snag(
                    0, name, cells.get("part", ""), "", cells.get("title", ""), day_of(cells.get("day", "")), Came.HAND,
                    measure=_figure(cells), worth=_worth(cells.get("worth", "")),
                )  # fmt: skip
            with changing(book, snags.KIND) as changed:
                kept = snags.add(book, made)
    except Problem as problem:
        return one(request, str(problem), cells)

    def back() -> None:
        with desk.book() as book:
            changed.put_back(book)
        build_pages(desk)

    return _done(request, desk, back, kept.aircraft)


def _figure(cells: dict[str, str]) -> str:
    figure, part = cells.get("figure", ""), cells.get("part", "")
    if figure in BY_ID and BY_ID[figure].of != kind_of_part(part):
        raise UsageProblem(message("snags.figure_of_other", figure=message(str(BY_ID[figure].code)), part=part or "–"))
    return figure


def _worth(typed: str) -> float | None:
    if not typed:
        return None
    try:
        found = float(typed.replace(",", "."))
    except ValueError:
        found = math.nan
    if not (math.isfinite(found) and found > 0):
        raise UsageProblem(message("snags.no_worth"))
    return found


async def change(request: Request) -> Response:
    """Date a remedy, add a line, close or reopen."""
    form = await form_of(request)
    return await run_in_threadpool(_change, request, {k: v[-1].strip() for k, v in form.items()})


def _change(request: Request, cells: dict[str, str]) -> Response:
    desk, number = desk_of(request), int(request.path_params["number"])
    try:
        with desk.book() as book:
            name = owner_of(request, book)
            if snags.find_snag(book, str(number)).aircraft != name:
                raise HTTPException(404)
            day = day_of(cells.get("day", ""))
            with changing(book, snags.KIND) as changed:
                match cells.get("do", ""):
                    case "remedy":
                        snags.add_remedy(book, number, Remedy(day, cells.get("what", "")))
                    case "drop":
                        which = int(cells["which"]) if cells.get("which", "").isdecimal() else 0
                        snags.drop_remedy(book, number, which)
                    case "note":
                        snags.tell(book, number, day, cells.get("what", ""))
                    case "close":
                        snags.close(book, number, day, cells.get("what", ""))
                    case "reopen":
                        snags.reopen(book, number)
                    case _:
                        raise HTTPException(422)
    except Problem as problem:
        return one(request, str(problem), cells)

    def back() -> None:
        with desk.book() as book:
            changed.put_back(book)
        build_pages(desk)

    return _done(request, desk, back, name)


def _done(request: Request, desk: Desk, back: Callable[[], None], aircraft: str) -> Response:
    from urllib.parse import quote

    place = f"/programme/{quote(aircraft, safe='')}"
    desk.undo.keep(request.state.key, Change(back, place))
    build_pages(desk)
    return to(place)


ROUTES = [
    Route("/programme", listed),
    Route("/programme/{aircraft}", one),
    Route("/programme/{aircraft}", add, methods=["POST"]),
    Route("/programme/{aircraft}/snags/{number:int}", change, methods=["POST"]),
]
