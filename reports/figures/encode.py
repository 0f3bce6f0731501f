"""Arrays small enough for a page: quantised to 16 bits, base64, decoded again by ``plots.js``.

A packed array is ``{"q": "i2", "b": <base64, little endian>, "s": step, "o": offset}``, value = offset + step · code,
with the code −32768 standing for "no value"; a packed time axis is ``{"q": "t2", ...}``, the running sum of unsigned
steps. The error is at most half a step: 1/131 068 of the range of the values, 0.5 ms of time in most flights.
"""

from __future__ import annotations

import base64
import math
from typing import Any

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from reports.markup import Base64

NO_VALUE = -32768
_TOP = 32767


def _text(codes: npt.NDArray[Any]) -> Base64:
    return Base64(base64.b64encode(codes.tobytes()), "ascii")


def pack_values(values: FloatArray) -> dict[str, Any]:
    """Pack a curve; NaN and infinities become holes."""
    values = np.asarray(values, float)
    good = np.isfinite(values)
    known = values if good.all() else values[good]
    if not known.size:
        return {"q": "i2", "b": _text(np.full(values.size, NO_VALUE, "<i2")), "s": 1.0, "o": 0.0}
    low, high = float(known.min()), float(known.max())
    offset = (low + high) / 2
    step = (high - low) / (2 * _TOP) or 1.0
    codes = np.minimum(np.maximum(np.rint((known - offset) / step), -_TOP), _TOP).astype("<i2")
    if known is not values:
        whole = np.full(values.size, NO_VALUE, "<i2")
        whole[good] = codes
        codes = whole
    return {"q": "i2", "b": _text(codes), "s": float(f"{step:.9g}"), "o": float(f"{offset:.9g}")}


def pack_times(time_s: FloatArray) -> dict[str, Any]:
    """Pack an ascending time axis, in seconds."""
    time_s = np.asarray(time_s, float)
    if time_s.size == 0:
        return {"q": "t2", "b": Base64(), "s": 0.001, "o": 0.0}
    start = float(time_s[0])
    longest = float((time_s[1:] - time_s[:-1]).max()) if time_s.size > 1 else 0.0
    step = max(0.001, math.ceil(longest / 65.0) / 1000.0)
    ticks = np.rint((time_s - start) / step).astype(np.int64)
    ticks[1:] -= ticks[:-1].copy()
    return {"q": "t2", "b": _text(ticks.astype("<u2")), "s": step, "o": round(start, 4)}


def unpack(packed: dict[str, Any]) -> FloatArray:
    """Undo either packing, as the page does; used by tests."""
    raw = base64.b64decode(packed["b"])
    if packed["q"] == "t2":
        return np.asarray(packed["o"] + packed["s"] * np.cumsum(np.frombuffer(raw, "<u2").astype(float)), float)
    codes = np.frombuffer(raw, "<i2").astype(float)
    return np.asarray(np.where(codes == NO_VALUE, np.nan, packed["o"] + packed["s"] * codes), float)


def html_free(text: str) -> str:
    """Text for plotly.js, which reads a little HTML in labels: nothing from a file may be markup there."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
