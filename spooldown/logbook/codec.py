"""Records to JSON and back, exactly: arrays as base64 of their bytes, NaN as a word.

Who keeps what is written here packs it whole: to pack each array first took half of the time that writing takes.
"""

from __future__ import annotations

import math
from binascii import a2b_base64, b2a_base64
from collections.abc import Callable, Hashable
from datetime import date, datetime
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, TypeVar, cast, get_origin, get_type_hints

import numpy as np
import orjson
from msgspec import Struct

from analyser.core.figures import Figure
from analyser.core.findings import Finding, Part, Text
from reports.words.compiled import compiled
from spooldown.logbook.plans import LEAVES, NoPlan, Plans, name_of

if TYPE_CHECKING:
    from cattrs.preconf.orjson import OrjsonConverter

T = TypeVar("T")


def _is_array(kind: Any) -> bool:
    origin = get_origin(kind)
    named = getattr(origin, "__value__", None)  # NumPy 2.5 names its type of arrays by a statement (PEP 695)
    return np.ndarray in (kind, origin, get_origin(named))


def _array_out(array: Any) -> dict[str, Any]:
    array = np.ascontiguousarray(array)
    # Neighbouring samples share their high bytes: laid side by side they pack three times better, whoever packs them.
    planes = np.frombuffer(array.tobytes(), np.uint8).reshape(-1, array.itemsize).T.tobytes()
    return {"dtype": array.dtype.str, "shape": array.shape, "planes": b2a_base64(planes, newline=False).decode()}


def _array_in(data: Any, _kind: Any) -> Any:
    kind = _kind_named(data["dtype"])
    if "base64" in data:  # as an earlier version wrote short ones
        return np.frombuffer(bytearray(a2b_base64(data["base64"])), kind).reshape(data["shape"])
    planes = np.frombuffer(a2b_base64(data["planes"]), np.uint8)
    return planes.reshape(kind.itemsize, -1).T.copy().view(kind).reshape(data["shape"])


@cache
def _kind_named(name: str) -> np.dtype[Any]:
    return np.dtype(name)


def _is_named_tuple(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, tuple) and hasattr(kind, "_fields")


def _named_tuple_in(data: Any, kind: Any) -> Any:
    # cattrs does not resolve the postponed annotations of a NamedTuple.
    hints = get_type_hints(kind)
    return kind(*(converter().structure(item, hints[name]) for name, item in zip(kind._fields, data, strict=True)))


def _float_out(value: Any) -> Any:
    number = float(value)
    return number if math.isfinite(number) else repr(number)


def _value_out(value: Any) -> Any:
    """A finding's value with its kind beside it, where JSON alone would not tell."""
    kind = type(value)
    if kind in _AS_IS or (kind is float and math.isfinite(value)):
        return value
    if isinstance(value, Part):
        return {"part": str(value)}
    if isinstance(value, Finding):
        return {"finding": _finding_out(value)}
    if isinstance(value, Figure):
        return {"figure": _writer(Figure)(value)}
    if isinstance(value, datetime):
        return {"datetime": value.isoformat()}
    if isinstance(value, date):
        return {"date": value.isoformat()}
    if isinstance(value, tuple | list):
        return [_value_out(item) for item in value]
    if isinstance(value, str):
        return str(value)
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    number = _float_out(value)
    return {"float": number} if isinstance(number, str) else number


def _figure_in(data: Any) -> Figure:
    made: Figure = _reader(Figure)(data)
    return made


_IN: dict[str, Callable[[Any], Any]] = {
    "finding": lambda data: _finding_in(data, Finding),
    "figure": _figure_in,
    "part": Part,
    "datetime": datetime.fromisoformat,
    "date": date.fromisoformat,
    "float": float,
}


def _value_in(data: Any) -> Any:
    if isinstance(data, dict):
        ((kind, body),) = data.items()
        return _IN[kind](body)
    return tuple(_value_in(item) for item in data) if isinstance(data, list) else data


def _finding_out(said: Finding) -> str:
    """A finding as JSON inside a string: most are said again in every flight, and are then read only once."""
    if not said.values:
        return _bare_out(str(said.code))
    if (known := _WRITTEN.get(id(said))) is not None:
        return known[1]
    if len(_WRITTEN) >= _MOST_WRITTEN:
        _WRITTEN.clear()
    text = _filled_out(said)
    _WRITTEN[id(said)] = said, text
    return text


_WRITTEN: dict[int, tuple[Finding, str]] = {}
"""Findings written lately, which nobody changes: many figures of a result share one, and its brief shares most."""
_MOST_WRITTEN = 2048


@lru_cache(maxsize=1 << 12)
def _bare_out(code: str) -> str:
    return _filled_out(Finding(code))


def _filled_out(said: Finding) -> str:
    values = {
        name: value
        if (kind := type(value)) in _AS_IS or (kind is float and math.isfinite(value))
        else _value_out(value)
        for name, value in said.values.items()
    }
    return orjson.dumps({"code": str(said.code), "values": values}).decode()


_AS_IS = frozenset({str, int, bool})
"""Kinds of values that JSON tells by themselves."""


def _finding_in(data: Any, _kind: Any) -> Finding:
    return _finding_of(data)


@lru_cache(maxsize=1 << 15)
def _finding_of(text: str) -> Finding:
    data = orjson.loads(text)
    return Finding(data["code"], {name: _value_in(value) for name, value in data["values"].items()})


def text_out(said: Any) -> Any:
    """Encode a finding, a part or a plain text."""
    if isinstance(said, Finding):
        return _finding_out(said)
    if isinstance(said, Part):
        return {"part": said}
    return {"text": str(said)} if said.startswith("{") else str(said)


def text_in(data: Any, _kind: Any) -> Text:
    """Decode what :func:`text_out` encoded."""
    if isinstance(data, dict):
        return Part(data["part"]) if "part" in data else str(data["text"])
    return _finding_of(data) if data.startswith("{") else str(data)


@cache
def converter() -> OrjsonConverter:
    """Return the one converter; building it once lets it keep its compiled hooks."""
    from cattrs.preconf.orjson import make_converter  # slow to load, and few things need it

    made = make_converter(detailed_validation=False)
    made.register_structure_hook_func(_is_array, _array_in)
    made.register_unstructure_hook_func(_is_array, _array_out)
    made.register_structure_hook_func(_is_named_tuple, _named_tuple_in)
    made.register_unstructure_hook_func(_is_named_tuple, lambda t: [converter().unstructure(item) for item in t])
    # numpy scalars slip into float, int and bool fields; JSON knows only the plain ones.
    made.register_unstructure_hook(float, _float_out)
    made.register_unstructure_hook(int, int)
    made.register_unstructure_hook(bool, bool)
    made.register_structure_hook(Finding, _finding_in)
    made.register_unstructure_hook(Finding, _finding_out)
    made.register_structure_hook_func(lambda kind: kind in (Text, Finding | str, str | Finding), text_in)
    made.register_unstructure_hook_func(lambda kind: kind in (Text, Finding | str, str | Finding), text_out)
    return made


def _leaf_of(kind: Any) -> str:
    if kind in (Text, Finding | str, str | Finding):
        return "text"
    if kind is Finding:
        return "finding"
    return "array" if _is_array(kind) else LEAVES.get(kind, "")


_PLAINLY: dict[Hashable, Callable[[Any], Any]] = {
    cast(Hashable, type(None)): lambda value: value, str: lambda value: value, bool: lambda value: value,
    int: lambda value: value, float: _float_out, Finding: _finding_out,
}  # fmt: skip
"""What needs no plan and no converter, which is slow to load."""


def _any_out(value: Any) -> Any:
    return _plain(value)


_PLANS = Plans(
    {
        "float": (float, _float_out),
        "int": (int, int),
        "str": (str, lambda value: value),
        "bool": (bool, bool),
        "datetime": (datetime.fromisoformat, datetime.isoformat),
        "date": (date.fromisoformat, date.isoformat),
        "any": (lambda data: data, _any_out),
        "array": (lambda data: _array_in(data, None), _array_out),
        "text": (lambda data: text_in(data, None), text_out),
        "finding": (_finding_of, _finding_out),
    },
    _leaf_of,
)


@cache
def _planned(kind: Hashable) -> bool:
    """Whether a class's plan is known now; it is kept from one run to the next."""
    if not isinstance(kind, type) or not issubclass(kind, Struct) or kind is Finding:
        return False
    try:
        _PLANS.take(compiled().kept(f"plan {name_of(kind)}", lambda: _PLANS.told(kind)))
    except NoPlan:
        return False
    return True


@cache
def _writer(kind: Hashable) -> Callable[[Any], Any]:
    if not _planned(kind):
        return _PLAINLY.get(kind) or converter().unstructure
    known = cast(type, kind)
    return _PLANS.writer(known, compiled().kept(f"writer {name_of(known)}", lambda: _PLANS.writing(known)))


@cache
def _reader(kind: Hashable) -> Callable[[Any], Any]:
    if not _planned(kind):
        return lambda data: converter().structure(data, cast(Any, kind))
    known = cast(type, kind)
    return _PLANS.reader(known, compiled().kept(f"reader {name_of(known)}", lambda: _PLANS.reading(known)))


def _plain(value: Any) -> Any:
    """Take a value apart as what it is; where nothing says what it is to be."""
    if type(value) in (tuple, list):
        return [_plain(item) for item in value]
    if type(value) is dict:
        return {str(key): _plain(item) for key, item in value.items()}
    return _writer(cast(Hashable, type(value)))(value)


def to_json(value: Any, *, sort: bool = False) -> bytes:
    """Encode a record; ``sort`` for bytes that do not depend on the order of mappings."""
    return orjson.dumps(_plain(value), option=orjson.OPT_SORT_KEYS if sort else 0)


def from_json(data: bytes | memoryview | str, kind: type[T]) -> T:
    """Decode what :func:`to_json` encoded."""
    made: T = _reader(cast(Hashable, kind))(orjson.loads(data))
    return made
