"""Settings, devices, and stopping the desk."""

from __future__ import annotations

import segno
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reports.words.catalogue import LANGUAGES
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.templates import LANGUAGE_COOKIE

YEAR_S = 365 * 86_400


def settings(request: Request) -> Response:
    """Language, title, devices."""
    desk = desk_of(request)
    with desk.book() as book:
        title = book.setting("title")
    return shown(
        request, "settings.html", folder=str(desk.folder), title=title, lan=desk.lan.url if desk.lan else "",
        devices=list(desk.keys.devices.items()), code="", picture="", here="settings",
    )  # fmt: skip


async def keep(request: Request) -> Response:
    """Keep the settings."""
    form = await form_of(request)
    answer = to("/settings")
    language = (form.get("language") or [""])[0]
    if language in LANGUAGES:
        answer.set_cookie(LANGUAGE_COOKIE, language, max_age=YEAR_S, samesite="strict", httponly=True)
    return answer


async def pairing(request: Request) -> Response:
    """Show a code, once, that lets a phone in; only this machine's own browser may."""
    form = await form_of(request)
    desk = desk_of(request)
    if desk.lan is None or not request.state.device.own:
        raise HTTPException(403, "Phones can be paired on the desk's own machine, when it was started with --lan.")
    code = desk.keys.code(writes="writes" in form, digits=True)
    address = f"{desk.lan.url}/pair?code={code}"
    picture = Markup(segno.make(address, error="m").svg_inline(scale=5, border=3, dark="#000", light="#fff"))
    with desk.book() as book:
        title = book.setting("title")
    return shown(
        request, "settings.html", folder=str(desk.folder), title=title, lan=desk.lan.url,
        devices=list(desk.keys.devices.items()), code=f"{code[:4]} {code[4:]}", picture=picture, here="settings",
    )  # fmt: skip


async def revoke(request: Request) -> Response:
    """Take a device's key away."""
    form = await form_of(request)
    if not request.state.device.own:
        raise HTTPException(403, "Devices are managed on the desk's own machine.")
    desk_of(request).keys.revoke((form.get("which") or [""])[0])
    return to("/settings")


async def stop(request: Request) -> Response:
    """Stop the desk."""
    await form_of(request)
    if not request.state.device.own:
        raise HTTPException(403, "The desk is stopped on its own machine.")
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
