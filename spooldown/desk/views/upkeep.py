"""Settings, devices, and stopping the desk."""

from __future__ import annotations

from collections.abc import Mapping

import segno
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reports.words.catalogue import LANGUAGES, message, reader
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.templates import LANGUAGE_COOKIE
from spooldown.desk.undo import Change, unless

YEAR_S = 365 * 86_400


def settings(request: Request, *, code: str = "", picture: str = "") -> Response:
    """How the owner reads, and the devices that may use the desk."""
    from spooldown.preferences import CHOICES, preferences

    desk = desk_of(request)
    with desk.book() as book:
        title = book.setting("title") if book.exists else ""
        chosen = preferences(book) if book.exists else dict.fromkeys(CHOICES, "")
    chosen["language"] = reader().language
    choices = [(name, values, chosen[name] or values[0]) for name, values in CHOICES.items()]
    return shown(
        request, "settings.html", folder=str(desk.folder), title=title, lan=desk.lan.url if desk.lan else "",
        devices=list(desk.keys.devices.items()), code=code, picture=picture, choices=choices, here="settings",
    )  # fmt: skip


async def keep(request: Request) -> Response:
    """Keep the settings: of this browser the language, of the logbook everything."""
    form = await form_of(request)
    return await run_in_threadpool(_keep, request, form)


def _keep(request: Request, form: Mapping[str, list[str]]) -> Response:
    from spooldown.preferences import CHOICES, preferences, remember

    chosen = {name: form[name][-1] for name in CHOICES if form.get(name)}
    title = (form.get("title") or [""])[-1].strip()[:80]
    desk = desk_of(request)
    with desk.book() as book, book.writing():
        old = preferences(book), book.setting("title")
        remember(book, chosen)
        book.set_setting("title", title)
        now = preferences(book), book.setting("title")

    def back() -> None:
        with desk.book() as book, book.writing():
            unless((preferences(book), book.setting("title")) != now)
            for name, value in old[0].items():
                book.set_setting(name, value)
            book.set_setting("title", old[1])
        build_pages(desk)

    desk.undo.keep(request.state.key, Change(back, "/settings"))
    build_pages(desk)
    answer = to("/settings")
    if chosen.get("language") in LANGUAGES:
        answer.set_cookie(LANGUAGE_COOKIE, chosen["language"], max_age=YEAR_S, samesite="strict", httponly=True)
    return answer


async def pairing(request: Request) -> Response:
    """Show a code, once, that lets a phone in; only this machine's own browser may."""
    form = await form_of(request)
    desk = desk_of(request)
    if desk.lan is None or not request.state.device.own:
        raise HTTPException(403, message("desk.settings.own_pairs"))
    code = desk.keys.code(writes="writes" in form, digits=True)
    address = f"{desk.lan.url}/pair?code={code}"
    drawn = segno.make(address, error="m").svg_inline(scale=5, border=3, dark="#000", light="#fff")
    picture = Markup(drawn)  # the address is in it as modules only  # nosec B704
    return await run_in_threadpool(settings, request, code=f"{code[:4]} {code[4:]}", picture=picture)


async def revoke(request: Request) -> Response:
    """Take a device's key away."""
    form = await form_of(request)
    if not request.state.device.own:
        raise HTTPException(403, message("desk.settings.own_manages"))
    desk, which = desk_of(request), (form.get("which") or [""])[0]
    if gone := desk.keys.devices.get(which):
        desk.say(message("desk.terminal.shut_out", name=gone.name))
    desk.keys.revoke(which)
    return to("/settings")


async def stop(request: Request) -> Response:
    """Stop the desk."""
    await form_of(request)
    if not request.state.device.own:
        raise HTTPException(403, message("desk.settings.own_stops"))
    answer = shown(request, "stopped.html", bare=True)
    desk_of(request).stop()
    return answer


ROUTES = [
    Route("/settings", settings),
    Route("/settings", keep, methods=["POST"]),
    Route("/settings/pairing", pairing, methods=["POST"]),
    Route("/settings/revoke", revoke, methods=["POST"]),
    Route("/stop", stop, methods=["POST"]),
]
