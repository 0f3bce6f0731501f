"""Things of one type beside each other as inline SVG: a dot with its interval each, and the band of the type."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from markupsafe import Markup
from msgspec import Struct

from analyser.core.figures import Figure
from reports.words.catalogue import message, number, quantity
from reports.words.units import conversion

MOST = 30
"""So many rows are drawn: of more, the lowest and the highest."""
LONGEST = 17
"""Letters of a name that have room; the whole one is read on hover and in the table."""
_WIDTH, _LEFT, _RIGHT, _ROW, _TOP, _FOOT = 360.0, 118.0, 12.0, 19.0, 6.0, 20.0


class Dot(Struct, frozen=True):
    """One thing: its name, its figure, and whether it stands out."""

    name: str
    figure: Figure
    odd: bool


def _short(name: str) -> str:
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"


def shown_of(dots: Sequence[Dot]) -> list[Dot]:
    """Those that are drawn: all, or the lowest and the highest half, with what stands out."""
    known = [d for d in dots if d.figure.value is not None]
    if len(known) <= MOST:
        return known
    return [d for n, d in enumerate(known) if n < MOST // 2 or n >= len(known) - MOST // 2 or d.odd]


def picture(title: str, dots: Sequence[Dot], usual: Figure) -> Markup:
    """Draw one figure of all things of a type, lowest first; at least one must have a value.

    Parameters
    ----------
    title : str
        What it is, for those who do not see it.
    dots : sequence of Dot
        In their order, from the top.
    usual : Figure
        Median of the type, drawn as a band where it is known.
    """
    drawn = shown_of(dots)
    to = conversion(drawn[0].figure.unit)
    digits = drawn[0].figure.digits + to.digits

    def ends(figure: Figure) -> list[float]:
        return [to.value(v) for v in (figure.low, figure.value, figure.high) if v is not None]

    every = [v for d in drawn for v in ends(d.figure)] + (ends(usual) if usual.value is not None else [])
    low, high = min(every), max(every)
    reach = (high - low) or abs(high) or 1.0
    low, high = low - 0.04 * reach, high + 0.04 * reach

    def across(value: float) -> str:
        return f"{_LEFT + (_WIDTH - _LEFT - _RIGHT) * (value - low) / (high - low):.1f}"

    bottom = _TOP + _ROW * len(drawn)
    out: list[Markup] = []
    if usual.value is not None and usual.low is not None and usual.high is not None:
        left, right = float(across(to.value(usual.low))), float(across(to.value(usual.high)))
        out.append(
            Markup('<rect class="usual" x="{:.1f}" y="{}" width="{:.1f}" height="{:.1f}"/>').format(
                left, _TOP, max(right - left, 1.0), bottom - _TOP
            )
        )
        out.append(
            Markup('<path class="limit" d="M{} {}V{:.1f}"/>').format(across(to.value(usual.value)), _TOP, bottom)
        )
    for tick in _ticks(low, high):
        words = number(tick, _digits_of(high - low))
        out.append(Markup('<path class="unseen" d="M{} {}V{:.1f}"/>').format(across(tick), _TOP, bottom))
        out.append(
            Markup('<text x="{}" y="{:.1f}" text-anchor="middle">{}</text>').format(across(tick), bottom + 14.0, words)
        )
    for n, dot in enumerate(drawn):
        y = _TOP + _ROW * (n + 0.5)
        out.append(_row(dot, y, across, to.value))
    known = [to.value(d.figure.value) for d in drawn if d.figure.value is not None]
    label = message(
        "fleet_page.picture", title=title, things=len(drawn), low=number(min(known), digits),
        high=number(max(known), digits) + to.behind, odd=", ".join(d.name for d in drawn if d.odd),
    )  # fmt: skip
    height = bottom + _FOOT
    return Markup('<svg class="standings" role="img" aria-label="{}" viewBox="0 0 {:.0f} {:.0f}">{}</svg>').format(
        label, _WIDTH, height, Markup("").join(out)
    )


def _row(dot: Dot, y: float, across: Callable[[float], str], value_of: Callable[[float], float]) -> Markup:
    figure = dot.figure
    assert figure.value is not None
    css = "odd" if dot.odd else "s0"
    parts = [
        Markup('<text x="{:.1f}" y="{:.1f}" text-anchor="end" class="who{}">{}</text>').format(
            _LEFT - 8.0, y + 3.6, " odd" if dot.odd else "", _short(dot.name)
        )
    ]
    if figure.low is not None and figure.high is not None:
        left, right = across(value_of(figure.low)), across(value_of(figure.high))
        parts.append(
            Markup('<path class="reach {}" d="M{} {:.1f}H{}M{} {:.1f}v6M{} {:.1f}v6"/>').format(
                css, left, y, right, left, y - 3, right, y - 3
            )
        )
    x = float(across(value_of(figure.value)))
    shape = (
        Markup('<path class="spot-odd" d="M{:.1f} {:.1f}h9v9h-9Z"/>').format(x - 4.5, y - 4.5)
        if dot.odd
        else Markup('<circle class="dot s0" cx="{:.1f}" cy="{:.1f}" r="3.6"/>').format(x, y)
    )
    return Markup("<g><title>{}: {}</title>{}{}</g>").format(dot.name, quantity(figure), Markup("").join(parts), shape)


def _step(reach: float) -> float:
    """A round step that gives three to six ticks."""
    rough = reach / 4.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough)


def _ticks(low: float, high: float) -> list[float]:
    step = _step(high - low)
    first = math.ceil(low / step)
    return [n * step for n in range(first, math.floor(high / step) + 1)]


def _digits_of(reach: float) -> int:
    return max(0, -math.floor(math.log10(_step(reach)) + 1e-9))
