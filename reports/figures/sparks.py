"""Small trend pictures as inline SVG: how a figure went over flights, with its limit; no script and no library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from markupsafe import Markup
from msgspec import Struct

from analyser.core.figures import Figure
from reports.words.catalogue import message, number
from reports.words.units import conversion

_WIDTH, _HEIGHT, _PAD = 120.0, 34.0, 4.0
_TALL = 60.0
_MOST = 60


def trace(label: str, unit: str, time_s: Sequence[float], values: Sequence[float]) -> Markup:
    """Draw one channel over time, with its lowest and highest value in words beside it."""
    to = conversion(unit)
    shown = [to.value(v) for v in values]
    low, high, end = min(shown), max(shown), max(time_s[-1] - time_s[0], 1e-9)
    reach = (high - low) or 1.0
    across, up = (2 * _WIDTH - 2 * _PAD) / end, (_TALL - 2 * _PAD) / reach
    points = (
        f"{_PAD + across * (t - time_s[0]):.1f} {_TALL - _PAD - up * (v - low):.1f}"
        for t, v in zip(time_s, shown, strict=True)
    )
    digits = 2 if high < 100 else 0
    words = message("core.range", low=number(low, digits), high=number(high, digits))
    return Markup(
        '<figure class="trace"><svg class="spark wide" role="img" aria-label="{}: {}{}" viewBox="0 0 240 60">'
        '<path d="M{}" class="curve s0"/></svg><figcaption>{} <small>{}{}</small></figcaption></figure>'
    ).format(label, words, to.behind, "L".join(points), label, words, to.behind)


class Spark(Struct, frozen=True):
    """A small picture: what it shows, its latest value in words, the drawing, and where it leads."""

    title: str
    latest: str
    svg: Markup
    href: str


def spark(
    title: str, named: Mapping[str, Sequence[Figure | None]], href: str, *, limit: float | None = None
) -> Spark | None:
    """Draw one figure over flights, a line a row (a tank, a pack); the newest flights where there are many.

    Parameters
    ----------
    named : mapping of str to sequence of Figure or None
        Lines by their name, parallel to the flights, oldest first.
    limit : float or None
        The owner's limit, in the figures' unit; drawn where it lies near the curves.
    """
    rows = [list(row)[-_MOST:] for row in named.values()]
    known = [f for row in rows for f in row if f is not None and f.value is not None]
    if len(known) < 2:
        return None
    to = conversion(known[0].unit)
    digits = known[0].digits + to.digits
    values = [to.value(f.value or 0.0) for f in known]
    low, high = min(values), max(values)
    bound = to.value(limit) if limit is not None else None
    if bound is not None and bound <= high + 2 * (high - low + 1e-9) and bound >= low - 2 * (high - low + 1e-9):
        low, high = min(low, bound), max(high, bound)
    reach = (high - low) or abs(high) or 1.0
    longest = max(len(row) for row in rows)

    def place(n: int, value: float) -> tuple[float, float]:
        x = _PAD + (_WIDTH - 2 * _PAD) * (n / max(1, longest - 1))
        return x, _HEIGHT - _PAD - (_HEIGHT - 2 * _PAD) * (value - low) / reach

    out: list[Markup] = []
    if bound is not None and low <= bound <= high:
        y = f"{place(0, bound)[1]:.1f}"
        out.append(Markup('<path d="M0 {}H120" class="limit"/>').format(y))
    ends = []
    for k, (name, row) in enumerate(zip(named, rows, strict=True)):
        points = [place(n, to.value(f.value)) for n, f in enumerate(row) if f is not None and f.value is not None]
        if not points:
            continue
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        x, y = (f"{v:.1f}" for v in points[-1])
        out.append(Markup('<path d="{}" class="curve s{}"/>').format(path, k % 6))
        out.append(Markup('<circle cx="{}" cy="{}" r="2.6" class="dot s{}"/>').format(x, y, k % 6))
        last = [f for f in row if f is not None and f.value is not None][-1]
        value = number(to.value(last.value or 0.0), digits)
        ends.append(f"{name} {value}" if len(named) > 1 else value)
    latest = ", ".join(ends) + to.behind
    label = message(
        "spark.label", title=title, low=number(min(values), digits), high=number(max(values), digits), latest=latest
    )
    svg = Markup('<svg class="spark" role="img" aria-label="{}" viewBox="0 0 120 34">{}</svg>').format(
        label, Markup("").join(out)
    )
    return Spark(title, latest, svg, href)
