"""A column's data as a small picture."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from reports.words.texts import number

WIDTH, HEIGHT, POINTS = 160, 32, 80


def sparkline(values: np.ndarray) -> Markup:
    """Draw values, shape (n,), as a line; NaN breaks it.

    Examples
    --------
    >>> str(sparkline(np.array([0.0, 1.0])))[:4]
    '<svg'
    """
    values = np.asarray(values, float)
    if not values.size:
        return Markup("")
    starts = np.linspace(0, values.size, min(POINTS, values.size), endpoint=False).astype(np.intp)
    known = np.isfinite(values)
    count = np.add.reduceat(known.astype(float), starts)
    total = np.add.reduceat(np.where(known, values, 0.0), starts)
    middle = np.where(count > 0, total / np.maximum(count, 1.0), np.nan)
    good = np.isfinite(middle)
    if not good.any():
        return Markup("")
    low, high = float(middle[good].min()), float(middle[good].max())
    spread = high - low or 1.0
    x = np.linspace(2, WIDTH - 2, middle.size)
    y = HEIGHT - 3 - (middle - low) / spread * (HEIGHT - 6) if high > low else np.full(middle.size, HEIGHT / 2)
    path, pen = [], "M"
    for a, b, ok in zip(x, y, good, strict=True):
        if ok:
            path.append(f"{pen}{a:.1f} {b:.1f}")
            pen = "L"
        else:
            pen = "M"
    return Markup(
        '<svg class="spark" viewBox="0 0 {0} {1}" width="{0}" height="{1}" role="img" aria-label="{2}">'
        '<path d="{3}"/></svg><span class="ends">{2}</span>'
    ).format(WIDTH, HEIGHT, _ends(low, high), "".join(path))


def _ends(low: float, high: float) -> str:
    """The least and the greatest value, the larger of them to five digits."""
    most = max(abs(low), abs(high))
    if most >= 1e9:
        return f"{low:.2e} … {high:.2e}"
    digits = int(np.clip(4 - np.floor(np.log10(most)), 0, 7)) if most else 0
    return f"{number(low, digits)} … {number(high, digits)}"
