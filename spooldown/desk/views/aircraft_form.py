"""The form of an aircraft and its packs: a field for each key of its file, checked by the register as you type."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from tomlkit.exceptions import ParseError

from importers.refusal import Refusal
from reports.words.catalogue import message
from spooldown import register
from spooldown.desk.forms.fields import KINDS, aircraft_block, block, label_of
from spooldown.desk.forms.found import found_in
from spooldown.desk.forms.toml_text import counts_of, values_of, with_typed
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.views.aircraft import NEW, Newer, files_of, holds, mark_of, store
from spooldown.problems import Problem

ADDRESS = re.compile(r"(aircraft|(?:engines|tanks|receivers|packs)\.\d{1,2})\.[a-z0-9_.]{1,60}")
"""What may be a field of this form; anything else in a request is left aside."""


def _text(request: Request) -> str:
    name = request.path_params["file"]
    if name == NEW:
        return ""
    with desk_of(request).book() as book:
        files = files_of(book)
    if name not in files:
        raise HTTPException(404)
    return files[name].decode("utf-8", "replace")


def page(request: Request) -> Response:
    """The form, with what the file says; a new one with what the logs of ``?of=NAME`` show."""
    text = _text(request)
    name = request.path_params["file"]
    if name != NEW:
        try:
            values_of(text)
        except ParseError:
            return to(f"/aircraft/{name}")  # the text view says what is wrong with it
        return _page(request, text, {}, mark_of(text.encode()))
    of = request.query_params.get("of")
    with desk_of(request).book() as book:
        flights = [f for f in book.flights() if f.aircraft == of]
        # A new file has no digest of its own: that of what there is tells a draft that was saved from one that was not.
        mark = mark_of("/".join(files_of(book)).encode())
    return _page(request, "", found_in(flights, of) if of is not None else {}, mark, found_from=len(flights))


def _page(
    request: Request, text: str, typed: Mapping[str, str], mark: str, *, more: str = "", status: int = 200, **told: Any
) -> Response:
    values = {**values_of(text), **typed}
    there = counts_of(text)
    groups = {}
    for group, kind in KINDS.items():
        last = max((int(k.split(".")[1]) for k in values if k.startswith(f"{group}.")), default=-1)
        groups[group] = [
            block(kind, group, f"{group}.{n}", _below(values, f"{group}.{n}"), there=n < there[group])
            for n in range(max(last + 1, there[group]) + (group == more))
        ]
    loose = bool(text) and "aircraft" not in _tables(text)
    plane = None if loose else aircraft_block(_below(values, "aircraft"), there=bool(text))
    names = {
        "tank": [b.title for b in groups["tanks"] if b.title], "engine": [b.title for b in groups["engines"] if b.title]
    }  # fmt: skip
    layouts = [(n, str(x.get("name", "")), x.get("since")) for n, x in enumerate(_tables(text).get("layouts", ()))]
    told = {"problem": "", "at": "", "found_from": 0, **told}
    return shown(
        request, "aircraft_form.html", status, file=request.path_params["file"], plane=plane, groups=groups,
        names=names, layouts=layouts, mark=mark, here="aircraft", **told,
    )  # fmt: skip


def _tables(text: str) -> dict[str, Any]:
    import tomllib

    return tomllib.loads(text)


def _below(values: Mapping[str, str], path: str) -> dict[str, str]:
    return {k.removeprefix(f"{path}."): v for k, v in values.items() if k.startswith(f"{path}.")}


def _typed(form: Mapping[str, list[str]]) -> dict[str, str]:
    return {k: v[-1].strip() for k, v in form.items() if ADDRESS.fullmatch(k)}


def _taken_out(form: Mapping[str, list[str]]) -> frozenset[str]:
    return frozenset(v for v in form.get("out", ()) if ADDRESS.fullmatch(f"{v}.name"))


def _where(refusal: Refusal) -> str:
    """The field that a refusal is about: ``engines[2].max_rpm`` is ``engines.1.max_rpm`` here."""
    return re.sub(r"\[(\d+)\]", lambda m: f".{int(m[1]) - 1}", refusal.column or "")


def _sentence_of(refusal: Refusal, typed: Mapping[str, str]) -> str:
    """A refusal without lines and keys of a file nobody sees."""
    at = _where(refusal)
    group, _, rest = at.partition(".")
    number, _, key = rest.partition(".")
    if group in KINDS and number.isdigit():
        named = typed.get(f"{group}.{number}.name") or str(int(number) + 1)
        place = f"{message(f'desk.part.{group}')} {named}"
    else:
        place, key = message("desk.part.aircraft"), rest
    where = f"{place}, {label_of(key)}" if key else place
    return str(Refusal(where, refusal.code, **refusal.values))


async def try_out(request: Request) -> Response:
    """Check the form as it is typed; says what it describes, or what is wrong and where."""
    form = await form_of(request)
    typed = _typed(form)
    if request.path_params["file"] == NEW and not any(typed.values()):
        return JSONResponse({"problem": "", "holds": []})
    try:
        text = with_typed(_text(request), typed, _taken_out(form))
        found = register.parse(text.encode(), request.path_params["file"])
    except Refusal as refusal:
        return JSONResponse({"problem": _sentence_of(refusal, typed), "at": _where(refusal)})
    except ParseError as error:
        return JSONResponse({"problem": str(error), "at": ""})
    return JSONResponse({"problem": "", "holds": holds(found)})


async def save(request: Request) -> Response:
    """Keep what was typed, or show the form again with one part more."""
    form = await form_of(request)
    return await run_in_threadpool(_save, request, form)


def _save(request: Request, form: Mapping[str, list[str]]) -> Response:
    typed, mark = _typed(form), (form.get("mark") or [""])[0]
    text = _text(request)
    if "more" in form:
        return _page(request, text, typed, mark, more=form["more"][0])
    if not text and not any(typed.values()):
        return _page(request, text, typed, mark, status=422, problem=message("desk.form.empty"), at="aircraft.name")
    try:
        store(request, request.path_params["file"], with_typed(text, typed, _taken_out(form)), mark)
    except Newer as newer:
        # What was typed is shown over the newer file: saving again changes only the fields that differ.
        theirs = newer.theirs.decode("utf-8", "replace")
        differs = {k: v for k, v in values_of(theirs).items() if k in typed and typed[k] != v}
        return _page(request, theirs, typed, mark_of(newer.theirs), status=409, theirs=_worded(differs))
    except Refusal as refusal:
        return _page(request, text, typed, mark, status=422, problem=_sentence_of(refusal, typed), at=_where(refusal))
    except (Problem, ParseError) as problem:
        return _page(request, text, typed, mark, status=422, problem=str(problem))
    return to("/aircraft")


def _worded(values: Mapping[str, str]) -> list[tuple[str, str]]:
    """Fields of a file in words, for whoever compares."""
    out = []
    for name, value in values.items():
        group, _, rest = name.partition(".")
        number, _, key = rest.partition(".") if group in KINDS else ("", "", rest)
        place = message(f"desk.part.{group}") + (f" {int(number) + 1}" if number else "")
        out.append((f"{place}, {label_of(key)}", value))
    return out


ROUTES = [
    Route("/aircraft/{file}/form", page),
    Route("/aircraft/{file}/form", save, methods=["POST"]),
    Route("/aircraft/{file}/form/check", try_out, methods=["POST"]),
]
