"""The one catalogue of words: what the analyser found, said in the reader's language.

A language is a folder of TOML files beside this module (``en/``, ``de/``), one a subject. A finding's code
``fuel.landed_below`` is the key ``landed_below`` of the table ``[fuel]``, in whichever file it stands. A text is a
Jinja template filled by the finding's values; figures, parts, moments and findings inside it are written as that
language writes them. A text that differs by count uses the filter ``plural``.
"""

from __future__ import annotations

import functools
import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from importlib import resources
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined, meta
from jinja2.nodes import EvalContext
from jinja2.runtime import Context

from analyser.core.figures import Figure
from analyser.core.findings import Finding, Part, Text, written_by
from reports.words.compiled import compiled
from reports.words.generator import Direct
from reports.words.reader import MOST_WRITTEN, reader
from reports.words.units import conversion

NARROW_SPACE = "\u202f"
NO_BREAK = "\u00a0"
MINUS = "\N{MINUS SIGN}"


def number(value: float, digits: int) -> str:
    r"""Write a number as the reader's language does: its decimal mark, a true minus sign, thin spaces in thousands.

    Examples
    --------
    >>> number(-1234.5, 1)
    '−1\u202f234.5'
    """
    if not math.isfinite(value):
        return message("core.not_a_number") if math.isnan(value) else "∞" if value > 0 else f"{MINUS}∞"
    return _number(value, digits, reader().language)


@functools.lru_cache(1 << 14)  # a page, its card and its tables write most of a flight's numbers several times
def _number(value: float, digits: int, language: str) -> str:
    text = f"{value:,.{digits}f}".replace(",", NARROW_SPACE)
    mark = _decimal_mark(language)
    if mark != ".":
        text = text.replace(".", mark)
    if text.startswith("-"):
        text = text[1:] if not text.strip(f"-0{mark}{NARROW_SPACE}") else MINUS + text[1:]
    return text


@functools.cache
def _decimal_mark(language: str) -> str:
    return compiled().kept(f"decimal {language}", lambda: {"mark": _latin(language)})["mark"]


def _latin(language: str) -> str:
    from babel import Locale

    return str(Locale(language).number_symbols["latn"]["decimal"])


def quantity(figure: Figure) -> str:
    """Write a figure's value and unit as the reader wants them, or that it is not available."""
    if figure.value is None:
        return message("core.not_available")
    to = conversion(figure.unit)
    return number(to.value(figure.value), figure.digits + to.digits) + to.behind


def interval(figure: Figure) -> str:
    """Write the interval of a figure, ``198 to 226``; empty where it has none."""
    if figure.low is None or figure.high is None:
        return ""
    to = conversion(figure.unit)
    digits = figure.digits + to.digits
    return message("core.range", low=number(to.value(figure.low), digits), high=number(to.value(figure.high), digits))


def figure_text(figure: Figure) -> str:
    """Write a figure with its interval: ``212.4 mL/min (198.0 to 226.1, 95 %)``."""
    said = quantity(figure)
    if figure.value is None or figure.low is None or figure.high is None:
        return said
    return message("core.with_interval", value=said, interval=interval(figure), percent=100 * figure.confidence)


def written_day(day: date) -> str:
    """Write a date as the reader wants it: ``2026-05-17``, or ``17 May 2026`` in the reader's language."""
    if reader().dates == "iso":
        return f"{day:%Y-%m-%d}"
    from babel.dates import format_date

    return format_date(day, "medium", locale=reader().locale)


def written_hour(at: datetime) -> str:
    """Write the time of day on the reader's clock."""
    if reader().clock == "24":
        return f"{at:%H:%M}"
    from babel.dates import format_time

    return format_time(at, "h:mm a", locale="en")


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
        return named("name", said) if isinstance(said, Part) else said
    if more:
        return message(said.code, **said.values, **more)
    known = reader().said
    found = known.get(id(said))
    if found is None:
        if len(known) >= MOST_WRITTEN:
            known.clear()
        known[id(said)] = found = said, message(said.code, **said.values)
    return found[1]


def named(how: str, part: str) -> str:
    """Name a part as the reader does: its ``name``, ``heading`` or ``brief``; few parts are named again and again."""
    who = reader()
    known = who.written.get((how, part))
    if known is None:
        own = who.name if how == "name" else getattr(who.name, how, None)
        plain = who.name(part) if own is None else own(part)
        known = who.remember((how, part), upper_first(plain) if own is None and how == "heading" else plain)
    return known


def message(code: str, **values: Any) -> str:
    """Put the message of this code in the reader's words."""
    who = reader()
    write = _writer(who.language, code)
    if isinstance(write, str):
        return write
    if isinstance(write, _PutIn):
        return write(values)  # as quick as looking whether it was written before
    kinds = tuple(map(type, values.values()))
    if not _PLAIN.issuperset(kinds):
        return write(values)
    key = (code, kinds, *values.items())  # 1 and 1.0 are equal, and not written alike
    known = who.written.get(key)
    return who.remember(key, write(values)) if known is None else known


_PLAIN = frozenset({str, Part, int, float, bool})
"""Kinds of values that tell whether a text was written before: a page says most of its texts many times."""


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
        return f"{written_day(value.date())} {written_hour(value)}"
    if isinstance(value, date):
        return written_day(value)
    if isinstance(value, tuple | list):
        return listed(value)
    return value


def listed(items: Iterable[Any], last: str = "core.and") -> str:
    """Write a list: ``a``, ``a and b``, ``a, b and c``."""
    words = [str(written(i)) for i in items]
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + f" {message(last)} " + words[-1]


def quoted(names: Any) -> str:
    """Put a name from a file between the language's quotation marks; of several, each."""
    if isinstance(names, tuple | list):
        return ", ".join(map(quoted, names))
    shown = repr(str(written(names)))
    return message("core.quoted", name=shown[1:-1]) if reader().language != "en" else shown


def either(items: Iterable[Any]) -> str:
    """Write a choice: ``a``, ``a or b``, ``a, b or c``."""
    return listed(items, "core.or")


def joined(items: Iterable[Any], between: str = "; ") -> str:
    """Write things one after another: ``a; b; c``."""
    return between.join(str(written(i)) for i in items)


def plural(count: float | Figure, one: str, many: str) -> str:
    """Write a count with its noun: ``1 flight``, ``3 flights``."""
    n = count.value if isinstance(count, Figure) else count
    return f"{written(count)}{NO_BREAK}{one if n == 1 else many}"


def _bare(figure: Figure) -> str:
    to = conversion(figure.unit)
    return number(to.value(figure.value or 0.0), figure.digits + to.digits)


def upper_first(words: Any) -> str:
    """The words as a sentence begins."""
    shown = str(written(words))
    return shown[:1].upper() + shown[1:]


def lower_first(words: str) -> str:
    """The words as they stand inside a sentence; a German noun and an abbreviation keep their capital."""
    if reader().language != "en" or words[1:2].isupper():
        return words
    return words[:1].lower() + words[1:]


def has(code: str) -> bool:
    """Whether there is a text for this code."""
    return code in texts(reader().language)


def word(kind: str, value: str) -> str:
    """The word for a value of an enumeration, ``word("phase", "take-off")``; the value itself where none is known."""
    return _word(kind, str(value), reader().language)


@functools.lru_cache(1 << 12)
def _word(kind: str, value: str, language: str) -> str:
    code = f"{kind}.{value.replace(' ', '_').replace('-', '_')}"
    return texts(language).get(code) or value.replace("_", " ")


_MORE: dict[str, Callable[..., str]] = {}


def add_filters(**filters: Callable[..., str]) -> None:
    """Give texts filters whose own words are texts: :mod:`reports.words.names` and its like add theirs."""
    _MORE.update(filters)


def _finished(value: Any) -> str:
    return value if type(value) is str else str(written(value))


class _Filled(Context):
    """The values of one text, as the code that Jinja writes asks for them: a text has no blocks and exports nothing."""

    def __init__(self, evaluation: EvalContext, values: dict[str, Any]) -> None:
        self.environment, self.eval_ctx = evaluation.environment, evaluation
        self.parent, self.vars, self.exported_vars = values, {}, set()


@functools.cache
def environment() -> Environment:
    """The environment that texts are compiled in: nothing escaped here, everything escaped where a page shows it."""
    env = Environment(
        loader=FunctionLoader(_source),
        undefined=StrictUndefined,
        finalize=_finished,
        autoescape=False,
        optimized=False,
        auto_reload=False,
        cache_size=-1,
        bytecode_cache=compiled(),
    )
    env.code_generator_class = Direct
    env.filters.update(
        num=number,
        plural=plural,
        listed=listed,
        joined=joined,
        quoted=quoted,
        quoted_each=lambda names: [quoted(name) for name in names],
        either=either,
        upper_first=upper_first,
        lower_first=lambda words: lower_first(str(written(words))),
        kind=lambda kind: word("kind", kind),
        phase=lambda phase: word("phase", phase),
        word=lambda value, kind: word(kind, value),
        bare=_bare,
        size=lambda figure: quantity(figure).lstrip(MINUS),
        **_MORE,
    )
    return env


@functools.cache
def _writer(language: str, code: str) -> str | Callable[[dict[str, Any]], str]:
    """The text itself where it holds nothing to fill, as most do; else what fills it."""
    words = texts(language)[str(code)]
    if "{" not in words:
        return words
    if "{" not in _PLACE.sub("", words) and not words.endswith("\n"):
        return _PutIn(words)
    template = environment().get_template(f"{language} {code}")
    fill, evaluation = template.root_render_func, EvalContext(environment())
    return lambda values: "".join(fill(_Filled(evaluation, values)))


_PLACE = re.compile(r"\{\{ (\w+) \}\}")


class _PutIn:
    """Fills a text that only has values put in, as half of those with values do: without Jinja."""

    __slots__ = ("_first", "_rest")

    def __init__(self, words: str) -> None:
        self._first, *rest = _PLACE.split(words)
        self._rest = list(zip(rest[::2], rest[1::2], strict=True))

    def __call__(self, values: dict[str, Any]) -> str:
        pieces = [self._first]
        for name, after in self._rest:
            value = values[name]
            pieces += value if type(value) is str else _finished(value), after
        return "".join(pieces)


def _source(name: str) -> str:
    language, _, code = name.partition(" ")
    return texts(language)[code]


@functools.cache
def texts(language: str) -> Mapping[str, str]:
    """Every text of a language by its code.

    Raises
    ------
    ValueError
        If a code stands twice.
    """
    return compiled().kept(f"texts {language}", lambda: _parsed(language))


def _parsed(language: str) -> dict[str, str]:
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


written_by(text)
