"""A figure beside what is usual for it, as a small inline SVG: a bar for the usual, a mark for the last."""

from __future__ import annotations

from markupsafe import Markup

from analyser.core.figures import Figure

_WIDTH, _HEIGHT, _PAD = 120.0, 18.0, 8.0


def outside(usual: Figure, last: Figure) -> bool:
    """Whether the last value lies outside the usual interval."""
    assert usual.low is not None
    assert usual.high is not None
    assert last.value is not None
    return not usual.low <= last.value <= usual.high


def usual_bar(usual: Figure, last: Figure, words: str) -> Markup:
    """Draw the usual interval with its middle, and the last value on it.

    A ring is inside the interval, a filled triangle outside: shape as well as colour.

    Parameters
    ----------
    usual : Figure
        With both ends of its interval.
    last : Figure
        In the same unit.
    words : str
        The same told in words, for who cannot see the picture.
    """
    assert usual.low is not None
    assert usual.high is not None
    assert usual.value is not None
    assert last.value is not None
    low, high = min(usual.low, last.value), max(usual.high, last.value)
    if low == high:  # always the same: the mark stands in the middle
        low, high = low - 1.0, high + 1.0
    across = (_WIDTH - 2 * _PAD) / (high - low)

    def place(value: float) -> float:
        return _PAD + across * (value - low)

    x, y = place(last.value), _HEIGHT / 2
    mark = (
        Markup('<path d="M{:.1f} {:.1f}l5 9h-10z" class="out"/>').format(x, y - 5)
        if outside(usual, last)
        else Markup('<circle cx="{:.1f}" cy="{:.1f}" r="4" class="in"/>').format(x, y)
    )
    return Markup(
        '<svg class="usual" role="img" aria-label="{}" viewBox="0 0 120 18">'
        '<path d="M{:.1f} 9H{:.1f}" class="span"/><path d="M{:.1f} 4v10" class="middle"/>{}</svg>'
    ).format(words, place(usual.low), place(usual.high), place(usual.value), mark)
