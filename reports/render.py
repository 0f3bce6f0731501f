"""Templates into pages: escaping, the page's head with its Content-Security-Policy, and how figures are written."""

from __future__ import annotations

import base64
import functools
import hashlib
from collections.abc import Mapping
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from msgspec import Struct, field

from analyser.core.events import Level
from analyser.core.figures import Method
from reports.addresses import slug
from reports.markup import Ready, code, gloss, level_badge, script_json, shown, term
from reports.tables import bare, figure_rows, marked, supported
from reports.words.catalogue import interval, lower_first, message, number, reader, texts, upper_first, word
from reports.words.compiled import compiled
from reports.words.generator import Direct
from reports.words.names import brief, channel_label, heading, said
from reports.words.times import clock, span, when
from reports.words.units import conversion
from reports.words.vocabulary import (
    cautions,
    glossary,
    group_word,
    kind_words,
    level_means,
    level_word,
    method_means,
    method_word,
)

# All that plotly.js 3 asks of the style policy: one empty <style> element that it fills rule by rule, empty style
# attributes on colour bars, and one fixed image-rendering attribute on a probe image, allowed by their hashes.
_PLOTLY_STYLES = (
    "'unsafe-hashes' 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
    " 'sha256-ji27qzEtxXZW+7dun6UwjHXJ18e6WAin1VvNtkzIE/o='"
)
SHARED = ("style.css", "plots.js", "tables.js", "timer.js", "compare.js", "airframe.js", "season.js")


class Shell(Struct, frozen=True):
    """What surrounds every page: where the root is, what the site is called, whether one file must hold it all."""

    site_title: str
    labelled: str = ""
    root: str = ""
    single: bool = False
    here: str = ""
    links: Mapping[str, str] = field(default_factory=dict)


@functools.cache
def asset(name: str) -> str:
    """Text of one of our own assets."""
    return resources.files("reports").joinpath("assets", *name.split("/")).read_text("utf-8")


@functools.cache
def plotly_script() -> str:
    """The plotting script: plotly.js 4.1.1, its basic bundle (lines and bars), as published under the MIT licence."""
    return asset("vendor/plotly-basic.min.js")


@functools.cache
def _hash(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii") + "'"


def policy(single: bool) -> str:
    """The Content-Security-Policy of a page.

    Nothing by default; our own scripts and style sheet only (by hash where they stand inside the page); images only
    as ``data:`` and ``blob:`` (a plot saved as a picture). No connections, frames, forms, plugins or base address. A
    page
    opened from a disk has an opaque origin, which ``'self'`` need not match (CSP Level 3, "Does url match expression
    in origin with redirect count?"); by that same algorithm the scheme source ``file:`` does. Firefox (tried: 153)
    lets files beside a page pass any policy, and holds to the rest of it.
    """
    scripts = styles = "'self' file:"
    if single:
        scripts = " ".join(_hash(text) for text in (plotly_script(), asset("plots.js"), asset("tables.js")))
        styles = _hash(asset("style.css"))
    return (
        f"default-src 'none'; script-src {scripts}; style-src {styles} {_PLOTLY_STYLES}; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )


def _difference(figure: Any) -> str:
    """A difference of two figures with its interval, its unit standing elsewhere."""
    to = conversion(figure.unit)
    digits = figure.digits + to.digits
    ends = [number(to.value(v, difference=True), digits) for v in (figure.low, figure.high) if v is not None]
    around = f" ({message('core.range', low=ends[0], high=ends[1])})" if len(ends) == 2 else ""
    return number(to.value(figure.value, difference=True), digits) + around


def script_words() -> Markup:
    """The texts that the pages' own scripts show, for the reader."""
    return _script_words(reader().language)


@functools.cache
def _script_words(language: str) -> Markup:
    every = texts(language)
    return script_json({key.removeprefix("script."): every[key] for key in every if key.startswith("script.")})


@functools.cache
def _environment() -> Environment:
    env = Environment(
        finalize=shown,
        loader=PackageLoader("reports", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        optimized=False,
        auto_reload=False,
        bytecode_cache=compiled(),
    )
    env.code_generator_class = Direct
    env.filters.update(
        quantity=marked,
        interval=interval,
        clock=clock,
        span=span,
        when=when,
        badge=level_badge,
        slug=slug,
        gloss=gloss,
        kind=kind_words,
        word=lambda value, kind: word(kind, value),
        group=group_word,
        method=method_word,
        method_means=method_means,
        level=level_word,
        level_means=level_means,
        chemistry=lambda key: word("chemistry", key),
        said=said,
        heading=heading,
        brief=brief,
        part=lambda part: reader().name(part),
        channel=channel_label,
        code=code,
        num=number,
        lower_first=lower_first,
        upper_first=upper_first,
        unit=lambda unit: conversion(unit).unit,
        bare=bare,
        difference=_difference,
    )
    env.globals.update(
        t=message,
        figure_rows=figure_rows,
        supported=supported,
        term=term,
        cautions=cautions,
        glossary=glossary,
        language=lambda: reader().language,
        Level=Level,
        Method=Method,
        script_words=script_words,
        raw_asset=lambda name: Ready(asset(name)),
        raw_plotly=lambda: Ready(plotly_script()),
    )
    return env


def page(template: str, shell: Shell, *, title: str, plots: Mapping[str, Any] | None = None, **context: Any) -> str:
    """Render one page.

    Parameters
    ----------
    plots : mapping or None
        What ``plots.js`` draws; pages without plots carry no plotting script.
    """
    return (
        _environment()
        .get_template(template)
        .render(
            shell=shell,
            title=title,
            policy=policy(shell.single),
            plots_json=script_json(plots) if plots is not None else None,
            **context,
        )
    )


def piece(template: str, **context: Any) -> str:
    """Render what a page includes, by itself."""
    return _environment().get_template(template).render(**context)


@functools.cache
def own_version() -> str:
    """Digest of this package's own files: pages are made again when their makers change."""
    digest = hashlib.sha256()

    def walk(node: Any) -> None:
        for item in sorted(node.iterdir(), key=lambda i: i.name):
            if item.is_dir():
                if item.name != "__pycache__":
                    walk(item)
            elif item.name.endswith((".py", ".html", ".css", ".js", ".toml")):
                digest.update(item.name.encode() + b"\0" + item.read_bytes())

    walk(resources.files("reports"))
    return digest.hexdigest()[:16]
