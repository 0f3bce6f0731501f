"""Records to bytes and back, exactly: kept results as MessagePack, what people entered as JSON.

MessagePack holds arrays as bytes, and every number. JSON is for what somebody may want to read without this program;
there an array is base64 of its bytes. A finding holds values of any kind, so it is JSON text by itself in both: most
are said again in every flight, and each is then read only once. Who keeps what is written here packs it.
"""

from __future__ import annotations

import math
from binascii import a2b_base64, b2a_base64
from collections.abc import Callable, Hashable
from datetime import date, datetime
from functools import cache, lru_cache
from typing import Any, TypeVar, cast, get_origin

import msgspec
import numpy as np
from msgspec.msgpack import Ext

from analyser.core.figures import Figure, Method
from analyser.core.findings import Finding, Part

T = TypeVar("T")
_FINDING, _PART = 1, 2
"""Kinds of MessagePack's extensions."""


def to_bytes(value: Any, *, sort: bool = False) -> bytes:
    """Encode a record as MessagePack; ``sort`` for bytes that do not depend on the order of mappings."""
    return (_SORTED if sort else _PACKED).encode(value)


def from_bytes(data: bytes | memoryview, kind: type[T]) -> T:
    """Decode what :func:`to_bytes` encoded.

    Raises
    ------
    msgspec.DecodeError
        If it is nothing of this kind.
    """
    made: T = _unpacking(cast(Hashable, kind)).decode(data)
    return made


def to_json(value: Any) -> bytes:
    """Encode a record as JSON."""
    return _JSON.encode(value)


def from_json(data: bytes | str, kind: type[T]) -> T:
    """Decode what :func:`to_json` encoded, or an earlier version.

    Raises
    ------
    msgspec.DecodeError
        If it is nothing of this kind.
    """
    made: T = _parsing(cast(Hashable, kind)).decode(data)
    return made


def _packed(value: Any) -> Any:
    if isinstance(value, Finding):
        return Ext(_FINDING, finding_out(value).encode())
    if isinstance(value, Part):
        return Ext(_PART, value.encode())
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.shape, _planes(value)
    return _plain(value)


def _unpacked(code: int, data: memoryview) -> Any:
    text = str(data, "utf-8")
    return finding_in(text) if code == _FINDING else Part(text)


def _written(value: Any) -> Any:
    if isinstance(value, Finding):
        return finding_out(value)
    if isinstance(value, np.ndarray):
        planes = b2a_base64(_planes(value), newline=False).decode()
        return {"dtype": value.dtype.str, "shape": value.shape, "planes": planes}
    return _plain(value)


def _plain(value: Any) -> Any:
    """What slips into fields of plain kinds: scalars of NumPy, and texts with a name."""
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, str):
        return str(value)
    raise NotImplementedError(f"a {type(value).__name__} is not written")


def _made(kind: Any, data: Any) -> Any:
    """A value of a kind that msgspec does not know, from what one of the functions above made of it."""
    if np.ndarray in (kind, get_origin(kind)):
        if isinstance(data, list):
            return _array(*data)
        if "base64" in data:  # as an earlier version wrote short ones
            return np.frombuffer(bytearray(a2b_base64(data["base64"])), data["dtype"]).reshape(data["shape"])
        return _array(data["dtype"], data["shape"], a2b_base64(data["planes"]))
    if kind is Finding and isinstance(data, Finding | str):
        return data if isinstance(data, Finding) else finding_in(data)
    raise NotImplementedError(f"a {kind} is not read")


def _planes(array: Any) -> bytes:
    """Bytes of an array: neighbouring samples share their high bytes, which pack better laid side by side."""
    return np.frombuffer(array.tobytes(), np.uint8).reshape(-1, array.itemsize).T.tobytes()


def _array(kind: str, shape: list[int], planes: bytes) -> Any:
    made = _kind_named(kind)
    return np.frombuffer(planes, np.uint8).reshape(made.itemsize, -1).T.copy().view(made).reshape(shape)


@cache
def _kind_named(name: str) -> np.dtype[Any]:
    return np.dtype(name)


def finding_out(said: Finding) -> str:
    """Write a finding as JSON text.

    Examples
    --------
    >>> finding_out(Finding("fuel.tank_full", {"tank": Part("fuel.left"), "times": 2}))
    '{"code":"fuel.tank_full","values":{"tank":{"part":"fuel.left"},"times":2}}'
    """
    values = {name: _value_out(value) for name, value in said.values.items()}
    return _JSON.encode({"code": said.code, "values": values}).decode()


@lru_cache(maxsize=1 << 15)
def finding_in(text: str) -> Finding:
    """Read what :func:`finding_out` wrote.

    Raises
    ------
    ValueError, KeyError, TypeError
        If it is none.
    """
    data = msgspec.json.decode(text)
    return Finding(data["code"], {name: _value_in(value) for name, value in data["values"].items()})


def _value_out(value: Any) -> Any:
    """A finding's value with its kind beside it, where JSON alone would not tell."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, Part):
        return {"part": str(value)}
    if isinstance(value, Finding):
        return {"finding": finding_out(value)}
    if isinstance(value, Figure):
        return {"figure": [_value_out(getattr(value, name)) for name in Figure.__struct_fields__]}
    if isinstance(value, datetime):
        return {"datetime": value.isoformat()}
    if isinstance(value, date):
        return {"date": value.isoformat()}
    if isinstance(value, tuple | list):
        return [_value_out(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return {"float": repr(value)}
    return value


def _value_in(data: Any) -> Any:
    if isinstance(data, list):
        return tuple(map(_value_in, data))
    if isinstance(data, dict):
        ((kind, body),) = data.items()
        return _IN[kind](body)
    return data


def _figure_in(data: list[Any]) -> Figure:
    values = dict(zip(Figure.__struct_fields__, map(_value_in, data), strict=True))
    return Figure(**{**values, "method": Method(values["method"])})


_IN: dict[str, Callable[[Any], Any]] = {
    "finding": finding_in,
    "figure": _figure_in,
    "part": Part,
    "datetime": datetime.fromisoformat,
    "date": date.fromisoformat,
    "float": float,
}

_PACKED = msgspec.msgpack.Encoder(enc_hook=_packed)
_SORTED = msgspec.msgpack.Encoder(enc_hook=_packed, order="deterministic")
_JSON = msgspec.json.Encoder(enc_hook=_written)


@cache
def _unpacking(kind: Any) -> msgspec.msgpack.Decoder[Any]:
    return msgspec.msgpack.Decoder(kind, dec_hook=_made, ext_hook=_unpacked)


@cache
def _parsing(kind: Any) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(kind, dec_hook=_made)
