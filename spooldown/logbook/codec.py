"""Dataclasses to JSON and back, exactly: arrays as base64 of their bytes, NaN and infinities as words."""

from __future__ import annotations

import base64
import math
from functools import cache
from typing import Any, TypeVar, get_origin, get_type_hints

import numpy as np
import orjson
from cattrs.preconf.orjson import OrjsonConverter, make_converter

T = TypeVar("T")


def _is_array(kind: Any) -> bool:
    return kind is np.ndarray or get_origin(kind) is np.ndarray


def _array_out(array: Any) -> dict[str, Any]:
    array = np.ascontiguousarray(array)
    return {"dtype": array.dtype.str, "shape": array.shape, "base64": base64.b64encode(array.tobytes()).decode()}


def _array_in(data: Any, _kind: Any) -> Any:
    raw = np.frombuffer(base64.b64decode(data["base64"]), np.dtype(data["dtype"]))
    return raw.reshape(data["shape"]).copy()


def _is_named_tuple(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, tuple) and hasattr(kind, "_fields")


def _named_tuple_in(data: Any, kind: Any) -> Any:
    # cattrs does not resolve the postponed annotations of a NamedTuple.
    hints = get_type_hints(kind)
    return kind(*(converter().structure(item, hints[name]) for name, item in zip(kind._fields, data, strict=True)))


def _float_out(value: Any) -> Any:
    number = float(value)
    return number if math.isfinite(number) else repr(number)


@cache
def converter() -> OrjsonConverter:
    """Return the one converter; building it once lets it keep its compiled hooks."""
    made = make_converter()
    made.register_structure_hook_func(_is_array, _array_in)
    made.register_unstructure_hook_func(_is_array, _array_out)
    made.register_structure_hook_func(_is_named_tuple, _named_tuple_in)
    made.register_unstructure_hook_func(_is_named_tuple, lambda t: [converter().unstructure(item) for item in t])
    # numpy scalars slip into float, int and bool fields; JSON knows only the plain ones.
    made.register_unstructure_hook(float, _float_out)
    made.register_unstructure_hook(int, int)
    made.register_unstructure_hook(bool, bool)
    return made


def to_json(value: Any, *, sort: bool = False) -> bytes:
    """Encode a dataclass; ``sort`` for bytes that do not depend on the order of mappings."""
    data = converter().unstructure(value, unstructure_as=type(value))
    return orjson.dumps(data, option=orjson.OPT_SORT_KEYS if sort else 0)


def from_json(data: bytes | str, kind: type[T]) -> T:
    """Decode what :func:`to_json` encoded."""
    return converter().structure(orjson.loads(data), kind)
