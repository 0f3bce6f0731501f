"""Walked range checks on the desk: guided by antenna and side, with what each implied and how it changed."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from msgspec import Struct
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from analyser.core.aircraft import Aircraft
from importers.refusal import Refusal
from reports.words.catalogue import message
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, unless
from spooldown.problems import Problem

if TYPE_CHECKING:
    from analyser.season.link.range_check import RangeCheck, RangeCheckLine

CHECK_FIELDS = ("day", "receiver", "antenna", "distance_m", "reduction_db", "orientation", "remarks")
SIDES = {
    "nose": "nose to pilot", "tail": "tail to pilot", "left": "left side to pilot", "right": "right side to pilot",
}  # fmt: skip
"""The sides to walk from, and the words in which checks mostly name them."""


class Walk(Struct, frozen=True):
    """One antenna seen from one side: what to write into the form, and the latest check, where it was walked."""

    cells: dict[str, str]
    line: RangeCheckLine | None

    @property
    def address(self) -> str:
        """The form with this antenna and side filled in."""
        return f"/range-checks?{urlencode(self.cells)}"


def range_checks(request: Request, problem: str = "", cells: dict[str, str] | None = None) -> Response:
    """Walked range checks, antenna by antenna and side by side, and a form for a further one."""
    with desk_of(request).book() as book:
        known = register.load(book)
        kept = book.range_checks()
    given = {k: v for k, v in request.query_params.items() if k in (*CHECK_FIELDS, "aircraft")}
    last = kept[-1][2] if kept else None
    usual = {"day": date.today().isoformat(), "reduction_db": f"{last.reduction_db:g}" if last else ""}
    return shown(
        request, "range.html", 422 if problem else 200, checks=list(reversed(kept)), aircraft=sorted(known.aircraft),
        problem=problem, cells=cells or {**usual, **given}, fields=CHECK_FIELDS, here="aircraft",
        walks={name: walks(a, [c for _, who, c in kept if who == name]) for name, a in known.aircraft.items()},
        sides=[message(f"desk.range.side.{s}") for s in SIDES],
    )  # fmt: skip


def walks(aircraft: Aircraft, checks: list[RangeCheck]) -> list[tuple[str, list[Walk]]]:
    """Every antenna of the layout in use, and from each side what was walked last.

    Older checks in words of their own stay in the list below.
    """
    from analyser.link.maps import antenna_key
    from analyser.season.link.layouts import last_moved
    from analyser.season.link.range_check import analyse_range_checks

    lines = {
        (line.antenna, line.orientation.casefold()): line
        for line in analyse_range_checks(checks, None, last_moved(aircraft)).lines
    }
    layout = max(aircraft.layouts, key=lambda x: x.since or date.min, default=None)
    out = []
    for antenna in layout.antennas if layout else ():
        row = []
        for side, usual in SIDES.items():
            words = [message(f"desk.range.side.{side}"), usual]
            key = antenna_key(antenna.receiver, antenna.number)
            line = next((found for w in words if (found := lines.get((key, w.casefold())))), None)
            cells = {
                "aircraft": aircraft.name, "receiver": antenna.receiver, "antenna": str(antenna.number),
                "orientation": line.orientation if line else words[0],
            }  # fmt: skip
            row.append(Walk(cells, line))
        out.append((antenna.name or f"{antenna.receiver} {antenna.number}", row))
    return out


async def add_range_check(request: Request) -> Response:
    """Keep a walked range check."""
    form = await form_of(request)
    cells = {k: v[-1].strip() for k, v in form.items() if v[-1].strip()}
    return await run_in_threadpool(_add_range_check, request, cells)


def _add_range_check(request: Request, cells: dict[str, str]) -> Response:
    from spooldown.sheets.range_checks import check_in
    from spooldown.sheets.rows import Row

    desk = desk_of(request)
    try:
        with desk.book() as book:
            row = Row("the form", None, {k: v for k, v in cells.items() if k in CHECK_FIELDS})
            kept = check_in(row, register.load(book), cells.get("aircraft", ""))
            with book.writing():
                new = book.add_range_checks([(kept.aircraft, kept.check)])
                number = max(n for n, _, c in book.range_checks() if c == kept.check)
    except (Refusal, Problem, ValueError) as problem:
        return range_checks(request, str(problem), cells)

    def back() -> None:
        with desk.book() as book, book.writing():
            unless((number, kept.aircraft, kept.check) not in book.range_checks())
            book.remove_range_check(number)

    if new:
        desk.undo.keep(request.state.key, Change(back, "/range-checks"))
        build_pages(desk)
    return to("/range-checks")


ROUTES = [
    Route("/range-checks", range_checks),
    Route("/range-checks", add_range_check, methods=["POST"]),
]
