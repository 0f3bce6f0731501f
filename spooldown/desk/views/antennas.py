"""The antenna screen: place and turn antennas, see the planned map at once, compare ideas, save as a layout."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import asdict
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from importers.refusal import Refusal
from reports.words.catalogue import message, number, reader, text
from spooldown import register
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, unless
from spooldown.desk.views.aircraft import Newer, files_of, mark_of, store
from spooldown.problems import Problem

if TYPE_CHECKING:
    from analyser.core.aircraft import Aircraft, AntennaLayout
    from spooldown.desk.forms.layout import Draft
    from spooldown.logbook.book import Logbook

WITHIN_DB = 10.0
LOW_DB, HIGH_DB = -9.0, 3.0
"""Ends of the maps' colours, dBi."""
TABLE_STEPS, COLOURS = 2_000, 64
MOST_IDEAS = 12


class Planned(Struct, frozen=True):
    """What a layout sees on paper: its map as a picture, the worst direction, the share covered, the sentence."""

    title: str
    picture: Markup
    worst: str
    share: float
    sentence: str
    forget: str = ""
    open: str = ""


def table(request: Request) -> Response:  # noqa: ARG001
    """What the script works with: the analyser's own pattern, directions and names; no formula is kept twice."""
    import numpy as np

    from analyser.core.aircraft import Antenna
    from analyser.link.planned import FLOOR_DB, PEAK_DBI, pattern_dbi
    from analyser.link.sides import name_direction
    from analyser.link.sphere import bin_centres, sub_directions
    from reports.figures.maps import colour

    cosine = np.linspace(0.0, 1.0, TABLE_STEPS + 1)
    along = np.stack([np.sqrt(1 - cosine**2), np.zeros_like(cosine), cosine], axis=-1)
    power = {
        kind: (10 ** (pattern_dbi(Antenna("", 1, (0, 0, 0), (0, 0, 1), kind), along) / 10)).round(6).tolist()
        for kind in ("dipole", "monopole")
    }
    azimuth, elevation = (v.ravel() for v in bin_centres())
    names = [text(name_direction(float(a), float(e))) for a, e in zip(azimuth, elevation, strict=True)]
    worst = message("desk.antennas.worst_is", where="WHERE", gain=0.0).replace(number(0.0, 1), "GAIN")
    return JSONResponse({
        "power": power, "directions": sub_directions().reshape(len(names), -1, 3).round(7).tolist(),
        "names": names, "floorDb": FLOOR_DB, "coveredDb": PEAK_DBI - WITHIN_DB, "lowDb": LOW_DB, "highDb": HIGH_DB,
        "colours": [colour(n / (COLOURS - 1)) for n in range(COLOURS)], "worst": worst,
        "language": reader().language,
    })  # fmt: skip


def _open(request: Request, book: Logbook) -> tuple[str, Aircraft]:
    name = request.path_params["file"]
    known = register.load(book).files.get(name)
    if known is None or known.aircraft is None:
        raise HTTPException(404)
    return name, known.aircraft


def _setting_of(aircraft: str) -> str:
    """Setting of the logbook that holds an aircraft's ideas."""
    return f"antenna ideas of {aircraft}"


def ideas_of(book: Logbook, aircraft: str) -> dict[str, Draft]:
    """Layouts that were kept as ideas, by name."""
    from spooldown.desk.forms.layout import Draft

    try:
        kept = json.loads(book.setting(_setting_of(aircraft)) or "{}")
        return {str(n): Draft(**d) for n, d in kept.items()}
    except (ValueError, TypeError, AttributeError):
        return {}


def page(request: Request) -> Response:
    """The editor on a saved layout (``?layout=N``), an idea (``?idea=NAME``), or what the logs report."""
    from spooldown.desk.forms.layout import draft_of, found_in

    with desk_of(request).book() as book:
        _, plane = _open(request, book)
        ideas = ideas_of(book, plane.name)
        which, idea = request.query_params.get("layout", ""), request.query_params.get("idea", "")
        from_log = False
        if idea in ideas:
            draft = ideas[idea]
        elif plane.layouts:
            wanted = int(which) if which.isdecimal() and len(which) < 4 else len(plane.layouts) - 1
            draft = draft_of(plane.layouts[min(wanted, len(plane.layouts) - 1)])
        else:
            draft = found_in(f for f in book.flights() if f.aircraft == plane.name)
            from_log = bool(draft.antennas)
        return _page(request, book, draft, from_log=from_log)


def _page(request: Request, book: Logbook, draft: Draft, *, status: int = 200, more: str = "", **told: Any) -> Response:
    from reports.figures.maps import scale_bar
    from spooldown.desk.forms.drawing import VIEWS, half_width_m, view
    from spooldown.desk.forms.layout import MOST, layout_of

    name, plane = _open(request, book)
    file = files_of(book)[name]
    told = {"problem": "", "from_log": False, "theirs": "", "mark": mark_of(file), **told}
    layout = None
    try:
        layout = layout_of(draft)
    except Refusal as refusal:
        if not told["problem"]:
            told["problem"], status = sentence_of(refusal), 422
    antennas = list(draft.antennas) + [{"kind": "dipole"}] * (more == "antennas" and len(draft.antennas) < MOST)
    shadows = list(draft.shadows) + [{}] * (more == "shadows" and len(draft.shadows) < MOST)
    placed = layout.antennas if layout else ()
    half = half_width_m(placed)
    drawn = {v: view(v, placed, half, message(f"desk.antennas.{v}")) for v in VIEWS}
    scale = scale_bar("dBi", LOW_DB, HIGH_DB, worse_is_high=False)
    edited = planned(layout, message("desk.antennas.edited")) if layout and layout.antennas else None
    beside = [
        p for n, x in enumerate(plane.layouts)
        if (p := planned(x, message("desk.antennas.flown", name=x.name), open=f"?layout={n}"))
    ]  # fmt: skip
    for idea, kept in ideas_of(book, plane.name).items():
        try:
            p = planned(layout_of(kept), message("desk.antennas.idea", name=idea), forget=idea, open=f"?idea={idea}")
        except Refusal:
            continue
        if p:
            beside.append(p)
    return shown(
        request, "antennas.html", status, file=name, plane=plane, draft=draft, antennas=antennas, shadows=shadows,
        drawn=drawn, scale=scale, half=half, edited=edited, beside=beside,
        within=WITHIN_DB, here="aircraft", **told,
    )  # fmt: skip


def planned(layout: AntennaLayout, title: str, *, forget: str = "", open: str = "") -> Planned | None:
    """A layout's planned map and what it comes to; ``None`` where it has no antenna."""
    from analyser.link.planned import coverage_sentence, planned_best
    from reports.figures.maps import heat

    best = planned_best(layout)
    if best is None:
        return None
    coverage = coverage_sentence(layout, WITHIN_DB)
    worst = message("desk.antennas.worst_is", where=coverage.values["where"], gain=coverage.values["gain"])
    picture = heat(best, LOW_DB, HIGH_DB, worse_is_high=False, label=title)
    return Planned(title, picture, worst, 100 * coverage.values["share"], text(coverage), forget, open)


def sentence_of(refusal: Refusal) -> str:
    """A refusal by the form's own words: which antenna, which of its numbers."""
    steps = (refusal.column or "").replace("]", "").replace("[", ".").split(".")
    where = message("desk.antennas.title")
    if len(steps) > 3 and steps[2] in ("antennas", "shadows"):
        what = message("desk.antennas.number" if steps[2] == "antennas" else "desk.antennas.shadows")
        where = f"{what} {steps[3]}" + (f", {steps[4].replace('_', ' ')}" if len(steps) > 4 else "")
        if len(steps) > 5 and steps[5] in "123":
            where += f" {message('desk.antennas.' + ('forward', 'right', 'down')[int(steps[5]) - 1])}"
    elif len(steps) > 2:
        where = steps[2]
    return str(Refusal(where, refusal.code, **refusal.values))


async def change(request: Request) -> Response:
    """Look, add a row, keep an idea, or save as a layout."""
    form = await form_of(request)
    return await run_in_threadpool(_change, request, form)


def _change(request: Request, form: Mapping[str, list[str]]) -> Response:
    from spooldown.desk.forms.layout import layout_of, typed_draft, with_layout

    desk = desk_of(request)
    draft = typed_draft(form)
    name = request.path_params["file"]
    with desk.book() as book:
        _, plane = _open(request, book)
        if forget := (form.get("forget") or [""])[0]:
            return _forget(request, book, plane.name, forget)
        if "keep" not in form and "save" not in form:
            return _page(request, book, draft, more=(form.get("more") or [""])[0])
        try:
            layout_of(draft)
            if not draft.name:
                return _page(request, book, draft, status=422, problem=message("desk.antennas.unnamed"))
            if "keep" in form:
                with book.writing():
                    ideas = ideas_of(book, plane.name)
                    ideas[draft.name] = draft
                    _change_ideas(request, book, plane.name, dict(list(ideas.items())[-MOST_IDEAS:]))
                return to(f"/aircraft/{name}/antennas?idea={_quoted(draft.name)}")
            old = files_of(book)[name].decode("utf-8", "replace")
            store(request, name, with_layout(old, draft), (form.get("mark") or [""])[0])
        except Newer as newer:
            problem = message("desk.antennas.newer")
            theirs = newer.theirs.decode("utf-8", "replace")
            return _page(request, book, draft, status=409, problem=problem, theirs=theirs)
        except Refusal as refusal:
            return _page(request, book, draft, status=422, problem=sentence_of(refusal))
        except Problem as problem_:
            return _page(request, book, draft, status=422, problem=str(problem_))
    with desk.book() as book:
        _, plane = _open(request, book)
    at = next(n for n, x in enumerate(plane.layouts) if x.name == draft.name)
    return to(f"/aircraft/{name}/antennas?layout={at}")


def _forget(request: Request, book: Logbook, aircraft: str, idea: str) -> Response:
    with book.writing():
        ideas = ideas_of(book, aircraft)
        ideas.pop(idea, None)
        _change_ideas(request, book, aircraft, ideas)
    return to(f"/aircraft/{request.path_params['file']}/antennas")


def _change_ideas(request: Request, book: Logbook, aircraft: str, ideas: Mapping[str, Draft]) -> None:
    """Keep ideas, inside the one writer's transaction; it can be taken back."""
    desk, setting = desk_of(request), _setting_of(aircraft)
    was = book.setting(setting)
    book.set_setting(setting, now := json.dumps({n: asdict(d) for n, d in ideas.items()}, ensure_ascii=False))

    def back() -> None:
        with desk.book() as again, again.writing():
            unless(again.setting(setting) != now)
            again.set_setting(setting, was)

    desk.undo.keep(request.state.key, Change(back, f"/aircraft/{request.path_params['file']}/antennas"))


def _quoted(name: str) -> str:
    from urllib.parse import quote

    return quote(name, safe="")


ROUTES = [
    Route("/antennas/table.json", table),
    Route("/aircraft/{file}/antennas", page),
    Route("/aircraft/{file}/antennas", change, methods=["POST"]),
]
