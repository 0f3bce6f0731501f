"""Pages of the desk from templates: the reader's words, escaping, and the form token in every page."""

from __future__ import annotations

import functools
from datetime import datetime
from typing import Any

from babel import Locale, UnknownLocaleError
from babel.core import negotiate_locale
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from analyser.core.findings import Finding
from reports.addresses import neutral
from reports.tables import marked
from reports.words.catalogue import (
    LANGUAGES,
    has,
    interval,
    message,
    number,
    reader,
    text,
    upper_first,
    written,
)
from reports.words.names import said
from spooldown.logbook.flight import Flight

LANGUAGE_COOKIE = "desk-language"


def language_of(request: Request) -> str:
    """The reader's language: as chosen on the settings page, else as the browser asks for."""
    chosen = request.cookies.get(LANGUAGE_COOKIE, "")
    if chosen in LANGUAGES:
        return chosen
    asked = [part.partition(";")[0].strip() for part in request.headers.get("accept-language", "").split(",")]
    found = negotiate_locale([a for a in asked[:10] if a], list(LANGUAGES), sep="-")
    return found or LANGUAGES[0]


def language_name(language: str) -> str:
    """A language's name in itself: ``Deutsch``."""
    try:
        return str(Locale(language).get_display_name(language)).capitalize()
    except UnknownLocaleError:
        return language


def when(flight: Flight) -> str:
    """When a flight began, in the reader's words, as far as is known."""
    if flight.utc_start:
        return str(written(flight.utc_start))
    if not flight.local_start:
        return message("desk.undated")
    at = datetime.fromisoformat(flight.local_start)
    return str(written(at if "T" in flight.local_start else at.date()))


def _seen(value: Any) -> Any:
    """A finding worded; a text, whoever typed it, with nothing left in it that acts unseen."""
    if isinstance(value, Finding):
        return text(value)
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return neutral(value.replace("\r\n", "\n"))  # as browsers end the lines of what was typed


@functools.cache
def _environment() -> Environment:
    env = Environment(
        loader=PackageLoader("spooldown.desk", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_seen,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals.update(t=lambda code, **values: message(f"desk.{code}", **values), languages=LANGUAGES, has=has)
    env.filters.update(
        when=when,
        quantity=marked,
        interval=interval,
        num=number,
        said=said,
        upper_first=upper_first,
        language_name=language_name,
    )
    return env


class Views:
    """Renders the desk's pages."""

    def page(self, request: Request, template: str, status: int = 200, **context: Any) -> Response:
        """Render a page in the language of whoever asks."""
        language = reader().language
        token = getattr(request.state, "token", "")
        field = Markup('<input type="hidden" name="token" value="{}">').format(token)
        more = {"undo": None, "bare": False, "here": "", "wrong": False, **context}
        html = (
            _environment()
            .get_template(template)
            .render(
                token=token,
                token_field=field,
                language=language,
                device=getattr(request.state, "device", None),
                **more,
            )
        )
        return HTMLResponse(html, status)
