"""Events validated: one by one or many at once, each real, a nuisance or a sensor's fault, with a reason."""

from __future__ import annotations

from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from analyser.core.events import Event, Level
from analyser.programme.marks import Verdict
from analyser.record import FlightRecord
from reports.words.catalogue import message, text
from reports.words.names import heading
from reports.words.times import clock
from reports.words.vocabulary import kind_words, level_word
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, changing
from spooldown.desk.views.programme.common import owner_of, today
from spooldown.judging.marks import KIND, by_flight
from spooldown.logbook.book import Logbook
from spooldown.problems import Problem
from spooldown.programme import snags
from spooldown.programme.flights import Followed, follow
from spooldown.programme.validation import forget, limit_of, mark

FLIGHTS = 10
"""So many newest flights are shown at once; one flight by its own address."""
MOST = 300


def listed(request: Request, problem: str = "") -> Response:
    """Events of the newest flights, or of one, with boxes to tick."""
    with desk_of(request).book() as book:
        name = owner_of(request, book)
        followed = follow(book, register.readable(book), name)
        records = _records(followed, request.query_params.get("flight", ""))
        astray = [m for m in by_flight(book).get("", []) if m.flight_id]
    kind = request.query_params.get("kind", "")
    rows = [
        {
            "key": f"{f.flight_id}/{n}", "flight": f.flight_id, "number": f.number, "level": level_word(e.level),
            "at": clock(e.start_s), "kind": kind_words(e.kind), "part": heading(e.subject) if "." in e.subject else "",
            "limit": limit_of(e), "mark": message(f"mark.{e.mark}") if e.mark else "", "what": text(e.summary),
        }
        for f in records
        for n, e in enumerate(f.result.events(), 1)
        if (e.level > Level.FINE or e.mark) and kind in ("", e.kind)
    ]  # fmt: skip
    kinds = sorted({e.kind for f in records for e in f.result.events() if e.level > Level.FINE or e.mark})
    return shown(
        request, "programme/marks.html", 422 if problem else 200, aircraft=name, rows=rows[:MOST],
        more=max(len(rows) - MOST, 0), verdicts=[(str(v), message(f"mark.{v}")) for v in Verdict], problem=problem,
        left_out=book.left_out, kinds=[(k, kind_words(k)) for k in kinds], chosen=kind,
        flight=request.query_params.get("flight", ""),
        astray=[(m.flight_id, kind_words(m.kind), clock(m.start_s), message(f"mark.{m.verdict}"), m.reason)
                for m in astray], here="programme",
    )  # fmt: skip


def _records(followed: Followed, flight_id: str) -> list[FlightRecord]:
    ids = list(followed.entries.ids)
    if flight_id and flight_id not in ids:
        raise HTTPException(404)
    return [followed.record(i) for i in reversed([flight_id] if flight_id else ids[-FLIGHTS:])]


async def save(request: Request) -> Response:
    """Mark what is ticked."""
    form = await form_of(request)
    return await run_in_threadpool(_save, request, form)


def _save(request: Request, form: dict[str, list[str]]) -> Response:
    desk = desk_of(request)
    verdict = (form.get("verdict") or [""])[-1]
    if verdict not in (*Verdict, "none", "snag"):
        return listed(request, message("marks.no_verdict", found=verdict, known=tuple(str(v) for v in Verdict)))
    try:
        with desk.book() as book:
            name = owner_of(request, book)
            followed = follow(book, register.load(book), name)
            chosen = _chosen(followed, form.get("event", []))
            if not chosen:
                return listed(request, message("desk.programme.none_ticked"))
            if verdict == "snag":
                return _as_snag(request, book, chosen[0])
            with changing(book, KIND) as changed:
                if verdict == "none":
                    forget(book, chosen)
                else:
                    reason = (form.get("reason") or [""])[-1].strip()[:200]
                    mark(book, chosen, Verdict(verdict), reason, today().isoformat())
    except Problem as problem:
        return listed(request, str(problem))

    def back() -> None:
        with desk.book() as book:
            changed.put_back(book)
        build_pages(desk)

    desk.undo.keep(request.state.key, Change(back, str(request.url.path)))
    build_pages(desk)
    return to(request.url.path + (f"?{request.url.query}" if request.url.query else ""))


def _as_snag(request: Request, book: Logbook, chosen: tuple[FlightRecord, Event]) -> Response:
    """Make a snag of the first event that is ticked."""
    desk, (record, event) = desk_of(request), chosen
    which = next(n for n, e in enumerate(record.result.events(), 1) if e is event)
    day = book.flight(record.flight_id).day or today()
    with changing(book, snags.KIND) as changed:
        kept = snags.add(book, snags.from_event(record, which, day))

    def back() -> None:
        with desk.book() as again:
            changed.put_back(again)
        build_pages(desk)

    place = f"/programme/{quote(kept.aircraft, safe='')}"
    desk.undo.keep(request.state.key, Change(back, place))
    build_pages(desk)
    return to(place)


def _chosen(followed: Followed, keys: list[str]) -> list[tuple[FlightRecord, Event]]:
    """The events that were ticked; what is not there is passed over."""
    wanted: dict[str, set[int]] = {}
    for key in keys:
        flight_id, _, number = key.rpartition("/")
        if number.isdecimal():
            wanted.setdefault(flight_id, set()).add(int(number))
    there = set(followed.entries.ids)
    out = []
    for flight_id, numbers in wanted.items():
        if flight_id in there:
            record = followed.record(flight_id)
            out += [(record, e) for n, e in enumerate(record.result.events(), 1) if n in numbers]
    return out


ROUTES = [
    Route("/programme/{aircraft}/events", listed),
    Route("/programme/{aircraft}/events", save, methods=["POST"]),
]
