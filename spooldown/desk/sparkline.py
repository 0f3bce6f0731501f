"""A column's data as a small picture."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

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
        '<svg class="spark" viewBox="0 0 {} {}" width="{}" height="{}" role="img" aria-label="{:.5g} … {:.5g}">'
        '<path d="{}"/></svg><span class="ends">{:.5g} … {:.5g}</span>'
    ).format(WIDTH, HEIGHT, WIDTH, HEIGHT, low, high, "".join(path), low, high)
