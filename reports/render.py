"""Templates into pages: escaping, the page's head with its Content-Security-Policy, and how figures are written."""

from __future__ import annotations

import base64
import functools
import hashlib
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from analyser.core.events import Level
from analyser.core.figures import Figure, Method
from analyser.core.findings import Finding, Text
from reports import words
from reports.names import neutral, slug
from reports.words.catalogue import text as worded

NARROW_SPACE = "\u202f"
# All that plotly.js 3 asks of the style policy: one empty <style> element that it fills rule by rule, empty style
# attributes on colour bars, and one fixed image-rendering attribute on a probe image, allowed by their hashes.
_PLOTLY_STYLES = (
    "'unsafe-hashes' 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
    " 'sha256-ji27qzEtxXZW+7dun6UwjHXJ18e6WAin1VvNtkzIE/o='"
)
SHARED = ("style.css", "plots.js", "tables.js")


@dataclass(frozen=True, slots=True)
class Shell:
    """What surrounds every page: where the root is, what the site is called, whether one file must hold it all."""

    site_title: str
    labelled: str = ""
    root: str = ""
    single: bool = False
    here: str = ""
    links: Mapping[str, str] = field(default_factory=dict)


def number(value: float, digits: int) -> str:
    """Write a number: a true minus sign, thin spaces between thousands, no negative zero."""
    if not math.isfinite(value):
        return "∞" if value > 0 else "−∞" if value < 0 else "not a number"
    text = f"{value:,.{digits}f}".replace(",", NARROW_SPACE)
    if text.startswith("-"):
        text = text[1:] if not text.strip("-0.,") else "−" + text[1:]
    return text


def quantity(figure: Figure) -> str:
    """Value and unit of a figure, or ``not available``."""
    if figure.value is None:
        return "not available"
    unit = f"\u00a0{figure.unit}" if figure.unit and figure.unit != "1" else ""
    return number(figure.value, figure.digits) + unit


def interval(figure: Figure) -> str:
    """The interval of a figure, ``198 to 226``; empty where it has none."""
    if figure.low is None or figure.high is None:
        return ""
    return f"{number(figure.low, figure.digits)} to {number(figure.high, figure.digits)}"


def clock(seconds: float | None) -> str:
    """Seconds from the log's first row as ``m:ss.s`` or ``h:mm:ss.s``."""
    if seconds is None or not math.isfinite(seconds):
        return "unknown"
    sign = "−" if seconds < 0 else ""
    tenths = round(abs(seconds) * 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    head = f"{hours}:{minutes:02d}" if hours else f"{minutes}"
    return f"{sign}{head}:{rest / 10:04.1f}"


def span(seconds: float) -> str:
    """A length of time in plain words: ``a moment``, ``0.4 s``, ``12 s``, ``8 min 04 s``."""
    if seconds < 0.05:
        return "a moment"
    if seconds < 10:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s"


def when(start: datetime | None) -> str:
    """Date and time of day as written on pages, in UTC."""
    return f"{start:%Y-%m-%d %H:%M} UTC" if start else "Date unknown"


def script_json(data: Any) -> Markup:
    """JSON that cannot end the script element it stands in."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for char in "<>&\u2028\u2029":
        text = text.replace(char, f"\\u{ord(char):04x}")
    return Markup(text)


def level_badge(level: Level | None) -> Markup:
    """Word and shape of a level; never colour alone."""
    if level is None:
        key, word = "none", "No data"
    else:
        key, word = str(int(level)), words.LEVEL_WORD[level]
    return Markup(
        '<span class="level level-{0}"><svg aria-hidden="true"><use href="#shape-{0}"/></svg>{1}</span>'
    ).format(key, word)


def term(word: str, shown: str = "") -> Markup:
    """A glossary word with its meaning on hover."""
    meaning = words.GLOSSARY.get(word)
    if meaning is None:
        return escape(shown or word)
    return Markup('<abbr title="{}">{}</abbr>').format(meaning, shown or word)


@functools.cache
def _glossary_pattern() -> re.Pattern[str]:
    known = sorted((w for key in words.GLOSSARY for w in key.split(", ")), key=len, reverse=True)
    return re.compile(r"(?<![\w-])(" + "|".join(re.escape(w) for w in known) + r")(s?)(?![\w-])", re.IGNORECASE)


def gloss(said: Text) -> Markup:
    """Put the meaning of the first glossary word behind it, to be read on hover; the text is escaped."""
    text = worded(said)
    found = _glossary_pattern().search(text)
    if not found:
        return escape(text)
    key = next(k for k in words.GLOSSARY if found[1].lower() in [w.lower() for w in k.split(", ")])
    before, after = text[: found.start()], text[found.end() :]
    return Markup('{}<abbr title="{}">{}</abbr>{}').format(before, words.GLOSSARY[key], found[0], after)


def code(text: str) -> Markup:
    """Text with what stands between backticks set as code; everything is escaped."""
    parts = text.split("`")
    if len(parts) % 2 == 0:
        return escape(text)
    return Markup("").join(Markup("<code>{}</code>").format(p) if n % 2 else escape(p) for n, p in enumerate(parts))


@functools.cache
def asset(name: str) -> str:
    """Text of one of our own assets."""
    return resources.files("reports").joinpath("assets", name).read_text("utf-8")


@functools.cache
def plotly_script() -> str:
    """The plotting script, from the plotly package."""
    return resources.files("plotly").joinpath("package_data", "plotly.min.js").read_text("utf-8")


@functools.cache
def _hash(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii") + "'"


def policy(single: bool) -> str:
    """The Content-Security-Policy of a page.

    Nothing by default; our own scripts and style sheet only (by hash where they stand inside the page); images only
    as ``data:`` (plotly.js draws heat maps into one). No connections, frames, forms, plugins or base address. A page
    opened from a disk has an opaque origin, which ``'self'`` need not match (CSP Level 3, "Does url match expression
    in origin with redirect count?"); by that same algorithm the scheme source ``file:`` does. Firefox (tried: 153)
    lets files beside a page pass any policy, and holds to the rest of it.
    """
    scripts = styles = "'self' file:"
    if single:
        scripts = " ".join(_hash(text) for text in (plotly_script(), asset("plots.js"), asset("tables.js")))
        styles = _hash(asset("style.css"))
    return (
        f"default-src 'none'; script-src {scripts}; style-src {styles} {_PLOTLY_STYLES}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _shown(value: Any) -> Any:
    """Word a finding; leave nothing on a page that hides or turns a line round, our own scripts and styles aside."""
    if isinstance(value, Finding):
        value = worded(value)
    if not isinstance(value, str) or isinstance(value, _Own):
        return value
    return type(value)(neutral(value))


class _Own(Markup):
    """Text of our own assets, whose hash the page's policy names."""


@functools.cache
def _environment() -> Environment:
    env = Environment(
        finalize=_shown,
        loader=PackageLoader("reports", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters.update(
        quantity=quantity,
        interval=interval,
        clock=clock,
        span=span,
        when=when,
        badge=level_badge,
        slug=slug,
        gloss=gloss,
        kind=words.kind_words,
        channels=lambda said, **how: words.channel_words(worded(said), **how),
        say=worded,
        code=lambda said: code(worded(said)),
        num=number,
        lower_first=lambda said: words.lower_first(worded(said)),
        upper_first=lambda said: words.upper_first(worded(said)),
        without=lambda said, name: worded(said).removeprefix(f"{name}: "),
        num_of=lambda f: number(f.value, f.digits) + ("\u00a0%" if f.unit == "%" else ""),
    )
    env.globals.update(
        term=term,
        plural=words.plural,
        cautions=words.CAUTIONS,
        glossary=words.GLOSSARY,
        chemistry=words.CHEMISTRY_WORD,
        LEVEL_WORD=words.LEVEL_WORD,
        LEVEL_MEANS=words.LEVEL_MEANS,
        METHOD_MEANS=words.METHOD_MEANS,
        Method=Method,
        Level=Level,
        raw_asset=lambda name: _Own(asset(name)),
        raw_plotly=lambda: _Own(plotly_script()),
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


@functools.cache
def own_version() -> str:
    """Digest of this package's own files: pages are made again when their makers change."""
    digest = hashlib.sha256()

    def walk(node: Any) -> None:
        for item in sorted(node.iterdir(), key=lambda i: i.name):
            if item.is_dir():
                if item.name != "__pycache__":
                    walk(item)
            elif item.name.endswith((".py", ".html", ".css", ".js")):
                digest.update(item.name.encode() + b"\0" + item.read_bytes())

    walk(resources.files("reports"))
    return digest.hexdigest()[:16]
