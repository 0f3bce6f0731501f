"""Three views of an airframe with its antennas, drawn as SVG; a script may then move them.

Body axes: x forward, y right, z down (ISO 1151-1). Arranged as drawings are: from above with the nose up, from the left
side with the nose to the left, from the front with the right wing on the left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from analyser.core.aircraft import Antenna

VIEWS: dict[str, tuple[tuple[int, int], tuple[int, int]]] = {
    "top": ((1, 1), (0, -1)),
    "side": ((0, -1), (2, 1)),
    "front": ((1, -1), (2, 1)),
}
"""For each view the body axis and its sign that runs to the right, and the ones that run down the screen."""
LEAST_M = 1.2
"""Half of a view's width, at least."""
ARM = 0.26
"""Length of an antenna's drawn wire, in half widths."""

# An outline that shows which way is which: it is nobody's airframe. In half lengths, x forward, then the other axis.
_OUTLINES = {
    "top": (
        "M.98 0C.8 .07 .5 .09 .2 .1L-.05 .16L-.42 .72L-.55 .72L-.5 .16L-.7 .12L-.86 .36L-.95 .36L-.9 .07L-.9 -.07"
        "L-.95 -.36L-.86 -.36L-.7 -.12L-.5 -.16L-.55 -.72L-.42 -.72L-.05 -.16L.2 -.1C.5 -.09 .8 -.07 .98 0Z"
    ),
    "side": (
        "M.98 .02C.8 -.06 .6 -.1 .45 -.17C.3 -.22 .15 -.14 0 -.11L-.55 -.1L-.78 -.44L-.95 -.44L-.88 -.08L-.9 .06"
        "L-.1 .12C.3 .12 .7 .1 .98 .02Z"
    ),
    "front": (
        "M0 -.16C.09 -.16 .14 -.08 .14 0L.74 .05L.74 .08L.14 .07C.12 .13 .06 .15 0 .15C-.06 .15 -.12 .13 -.14 .07"
        "L-.74 .08L-.74 .05L-.14 0C-.14 -.08 -.09 -.16 0 -.16ZM-.015 -.15L-.015 -.44L.015 -.44L.015 -.15Z"
    ),
}


def half_width_m(antennas: Sequence[Antenna]) -> float:
    """Half the width of every view, so that all antennas are in it with room to move, m."""
    farthest = max((abs(v) for a in antennas for v in a.position_m if math.isfinite(v)), default=0.0)
    return max(LEAST_M, 1.3 * farthest)


def view(name: str, antennas: Sequence[Antenna], half_m: float, label: str) -> Markup:
    """Draw one view; one unit is one percent of half the width.

    Every antenna is a group with its wire, the dot of its place and the handle at its wire's end.
    """
    (right, right_sign), (down, down_sign) = VIEWS[name]
    turn = {"top": "matrix(0 -92 92 0 0 0)", "side": "matrix(-92 0 0 92 0 0)", "front": "matrix(-92 0 0 92 0 0)"}[name]
    out = [
        Markup('<svg class="airframe" data-view="{}" viewBox="-112 -112 224 224" role="group" aria-label="{}">').format(
            name, label
        ),
        Markup('<path class="axes" d="M-110 0H110M0 -110V110"/>'),
        Markup('<path class="outline" transform="{}" d="{}" vector-effect="non-scaling-stroke"/>').format(
            turn, _OUTLINES[name]
        ),
    ]
    for n, antenna in enumerate(antennas):
        length = math.hypot(*antenna.axis)
        at = antenna.position_m
        x, y = 100 * right_sign * at[right] / half_m, 100 * down_sign * at[down] / half_m
        u, v = (100 * ARM * s * antenna.axis[i] / length for i, s in ((right, right_sign), (down, down_sign)))
        out.append(
            Markup(
                '<g class="antenna c{}" data-antenna="{}"><path class="wire" d="M{} {}L{} {}"/>'
                '<circle class="turn" cx="{}" cy="{}" r="3.4"/><circle class="place" cx="{}" cy="{}" r="4.6"/>'
                '<text x="{}" y="{}">{}</text></g>'
            ).format(
                n % 6, n, *(f"{c:.2f}" for c in (x - u, y - v, x + u, y + v, x + u, y + v, x, y, x + 6, y - 6)), n + 1
            )
        )
    out.append(Markup("</svg>"))
    return Markup("").join(out)
