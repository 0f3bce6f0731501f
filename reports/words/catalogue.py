"""The one catalogue of words: what the analyser found, said in the reader's language.

A language is a folder of TOML files beside this module (``en/``, ``de/``), one a subject. A finding's code
``fuel.landed_below`` is the key ``landed_below`` of the table ``[fuel]``, in whichever file it stands. A text is a
Jinja template filled by the finding's values; figures, parts, moments and findings inside it are written as that
language writes them. A text that differs by count uses the filter ``plural``.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Callable, Iterable, Mapping
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import date, datetime
from importlib import resources
from typing import Any

from babel import Locale
from jinja2 import Environment, StrictUndefined, Template, meta

from analyser.core.figures import Figure
from analyser.core.findings import Finding, Part, Text

LANGUAGES = ("en", "de")
"""Every language there are words for; the first is used where the reader's own is not among them."""

NARROW_SPACE = "\u202f"
NO_BREAK = "\u00a0"
MINUS = "\N{MINUS SIGN}"


def _own_name(part: str) -> str:
    return part.rpartition(".")[2].replace("_", " ")


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads: the language, and how things of the aircraft are named.

    Parameters
    ----------
    language : str
        One of :data:`LANGUAGES`.
    name : callable
        From a part (``link.rx2.antenna2``) to its name inside a sentence (``the fin antenna (rx2, antenna 2)``).
    """

    language: str = LANGUAGES[0]
    name: Callable[[str], str] = field(default=_own_name, compare=False)


_READER: ContextVar[Reader | None] = ContextVar("reader", default=None)


def reader() -> Reader:
    """Who reads what is being written now; English with plain names until somebody says otherwise."""
    return _READER.get() or Reader()


class reading:
    r"""Write for this reader inside a ``with`` block.

    Examples
    --------
    >>> with reading(Reader("de")):
    ...     number(1234.5, 1)
    '1\u202f234,5'
    """

    def __init__(self, who: Reader) -> None:
        self._who = who

    def __enter__(self) -> Reader:
        self._token = _READER.set(self._who)
        return self._who

    def __exit__(self, *_: object) -> None:
        _READER.reset(self._token)


def number(value: float, digits: int) -> str:
    r"""Write a number as the reader's language does: its decimal mark, a true minus sign, thin spaces in thousands.

    Examples
    --------
    >>> number(-1234.5, 1)
    '−1\u202f234.5'
    """
    text = f"{value:,.{digits}f}".replace(",", NARROW_SPACE)
    mark = _decimal_mark(reader().language)
    if mark != ".":
        text = text.replace(".", mark)
    if text.startswith("-"):
        text = text[1:] if not text.strip(f"-0{mark}{NARROW_SPACE}") else MINUS + text[1:]
    return text


@functools.cache
def _decimal_mark(language: str) -> str:
    return str(Locale(language).number_symbols["latn"]["decimal"])


def quantity(figure: Figure) -> str:
    """Write a figure's value and unit, or that it is not available."""
    if figure.value is None:
        return text(Finding("core.not_available"))
    unit = f"{NO_BREAK}{figure.unit}" if figure.unit and figure.unit != "1" else ""
    return number(figure.value, figure.digits) + unit


def text(said: Text, **more: Any) -> str:
    """Put what is said in the reader's words; a plain string is a name and stays as it is.

    Raises
    ------
    KeyError
        If the catalogue of the reader's language lacks the code.

    Examples
    --------
    >>> text(Finding("core.not_available"))
    'not available'
    """
    if isinstance(said, str):
        return reader().name(said) if isinstance(said, Part) else said
    return message(said.code, **said.values, **more)


def message(code: str, **values: Any) -> str:
    """Put the message of this code in the reader's words."""
    return _template(reader().language, code).render(values)


def written(value: Any) -> Any:
    """How a value inside a text is written."""
    if isinstance(value, Figure):
        return quantity(value)
    if isinstance(value, Finding | Part):
        return text(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, float):
        shown = f"{value:.12g}"
        return number(value, len(shown.partition(".")[2]) if "e" not in shown else 0)
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, tuple | list):
        return listed(value)
    return value


def listed(items: Iterable[Any], last: str = "core.and") -> str:
    """Write a list: ``a``, ``a and b``, ``a, b and c``."""
    words = [str(written(i)) for i in items]
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + f" {message(last)} " + words[-1]


def joined(items: Iterable[Any], between: str = "; ") -> str:
    """Write things one after another: ``a; b; c``."""
    return between.join(str(written(i)) for i in items)


def plural(count: float | Figure, one: str, many: str) -> str:
    """Write a count with its noun: ``1 flight``, ``3 flights``."""
    n = count.value if isinstance(count, Figure) else count
    return f"{written(count)}{NO_BREAK}{one if n == 1 else many}"


def _upper_first(words: str) -> str:
    return words[:1].upper() + words[1:]


@functools.cache
def environment() -> Environment:
    """The environment that texts are compiled in: nothing escaped here, everything escaped where a page shows it."""
    env = Environment(undefined=StrictUndefined, finalize=written, autoescape=False)
    env.filters.update(
        num=number,
        plural=plural,
        listed=listed,
        joined=joined,
        upper_first=_upper_first,
        bare=lambda figure: number(figure.value, figure.digits),
        size=lambda figure: quantity(figure).lstrip(MINUS),
    )
    return env


@functools.cache
def _template(language: str, code: str) -> Template:
    return environment().from_string(texts(language)[str(code)])


@functools.cache
def texts(language: str) -> Mapping[str, str]:
    """Every text of a language by its code.

    Raises
    ------
    ValueError
        If a code stands twice.
    """
    found: dict[str, str] = {}
    for file in sorted(resources.files("reports.words").joinpath(language).iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            for key, words in _flat(tomllib.loads(file.read_text("utf-8"))):
                if key in found:
                    raise ValueError(f"{file.name}: the text {key!r} stands twice in {language!r}")
                found[key] = words
    return found


def _flat(table: Mapping[str, Any], before: str = "") -> Iterable[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", str(value)


def names_in(language: str, code: str) -> frozenset[str]:
    """Names of the values that a text uses."""
    return frozenset(meta.find_undeclared_variables(environment().parse(texts(language)[code])))
