"""Maps of body directions as inline SVG: drawn when the page is made, so that they need no script and no library.

Weak is dark and strong is bright in both schemes; a direction never seen is hatched, so that it is never taken for a
weak one. The colours are Cividis, which looks alike with and without colour-blindness (Nuñez, Anderton and Renslow
2018, https://doi.org/10.1371/journal.pone.0199239; the ten anchors as plotly tabulates them).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from analyser.core.figures import FloatArray
from analyser.link.maps import AntennaMap
from reports.words.catalogue import message, number

_ANCHORS = np.array(
    [
        [int(c[i : i + 2], 16) for i in (0, 2, 4)]
        for c in ["00224e", "123570", "3b496c", "575d6d", "707173", "8a8678", "a59c74", "c3b369", "e1cc55", "fee838"]
    ],
    float,
)


_CHANGES = np.array([[140, 56, 0], [214, 136, 66], [244, 241, 234], [92, 155, 201], [10, 66, 120]], float)
"""Worse to better: brown over paper to blue, apart for every eye; a test simulates them."""


def colour(share: float, *, change: bool = False) -> str:
    """Colour of a share of the scale as ``#rrggbb``: 0 darkest, 1 brightest; of a change 0 worse, 1 better."""
    return colours_of(np.array([share]), change=change)[0]


def colours_of(shares: FloatArray, *, change: bool = False) -> list[str]:
    """Colour of each of many shares, shape (n,)."""
    anchors = _CHANGES if change else _ANCHORS
    at = np.clip(shares, 0.0, 1.0) * (len(anchors) - 1)
    low = np.minimum(at.astype(np.intp), len(anchors) - 2)
    mixed = anchors[low] + (at - low)[:, None] * (anchors[low + 1] - anchors[low])
    text = np.rint(mixed).astype(np.uint8).tobytes().hex()
    return [f"#{text[k : k + 6]}" for k in range(0, len(text), 6)]


def colours(*, change: bool = False, steps: int = 32) -> list[str]:
    """The whole scale in steps, for a script to pick from."""
    return colours_of(np.arange(steps) / (steps - 1), change=change)


def elevation_edges_deg(antenna: AntennaMap) -> FloatArray:
    """Edges of a map's bins in degrees of elevation."""
    return np.degrees(np.arcsin(np.clip(antenna.edges_sin_elevation, -1, 1)))


def _share(value: FloatArray, low: float, high: float, worse_is_high: bool) -> FloatArray:
    share = (value - low) / (high - low)
    return 1.0 - share if worse_is_high else share


def _text(x: float, y: float, words: str, anchor: str = "middle") -> Markup:
    return Markup('<text x="{}" y="{}" text-anchor="{}">{}</text>').format(f"{x:g}", f"{y:g}", anchor, words)


def heat(
    antenna: AntennaMap,
    low: float,
    high: float,
    *,
    worse_is_high: bool,
    label: str,
    small: bool = False,
    change: bool = False,
) -> Markup:
    """A map of body directions: nose in the middle, tail at both ends, above at the top.

    Parameters
    ----------
    low, high : float
        Ends of the colour scale, in the map's unit.
    label : str
        What the picture is, for whoever cannot see it.
    small : bool
        A picture to be looked at among others: without names of sides.
    change : bool
        The map is a difference: + and − stand where it is sure, its interval leaving zero out.
    """
    left, bottom = (0, 0) if small else (54, 16)
    width, height = 360 + left, 180 + bottom
    out = [
        Markup(
            '<svg class="map" role="img" aria-label="{}" viewBox="0 0 {} {}"><g shape-rendering="crispEdges">'
        ).format(label, width, height),
        Markup('<rect x="{}" y="0" width="360" height="180" class="unseen" fill="url(#unseen)"/>').format(left),
    ]
    azimuth, elevation = antenna.edges_azimuth_deg, elevation_edges_deg(antenna)
    values = np.asarray(antenna.gain_db, float)
    a, e = np.nonzero(np.isfinite(values))
    fills = colours_of(_share(values[a, e], low, high, worse_is_high), change=change)
    sides = (
        left + 180 + azimuth[a],
        90 - elevation[e + 1],
        azimuth[a + 1] - azimuth[a] + 0.3,
        elevation[e + 1] - elevation[e] + 0.3,
    )
    rows = zip(*(s.tolist() for s in sides), fills, strict=True)
    # Numbers alone: there is nothing to escape, and there are thousands.
    rects = (f'<rect x="{x:.5g}" y="{y:.5g}" width="{w:.4g}" height="{h:.4g}" fill="{f}"/>' for x, y, w, h, f in rows)
    out.append(Markup("".join(rects)))  # nosec B704
    if change:
        out.append(_signs(antenna, left, worse_is_high))
    if not small:
        for at in (90, 180, 270):
            out.append(Markup('<path d="M{} 0V180" class="grid"/>').format(left + at))
        out.append(Markup('<path d="M{} 90h360" class="grid"/>').format(left))
        fades = (
            f'<circle cx="{left + 180 + f:.4g}" cy="{90 - g:.4g}" r="2.4" class="fade"/>' for f, g in _fades(antenna)
        )
        out.append(Markup("".join(fades)))  # numbers again  # nosec B704
        for at, side in ((0, "tail"), (90, "left"), (180, "nose"), (270, "right"), (360, "tail")):
            anchor = "start" if at == 0 else "end" if at == 360 else "middle"
            out.append(_text(left + at, 192, message(f"side.{side}"), anchor))
        for at, words in ((-60, message("side.below")), (0, message("side.level")), (60, message("side.above"))):
            out.append(_text(left - 4, 93 - at, words, "end"))
    out.append(Markup("</g></svg>"))
    return Markup("").join(out)


def _signs(antenna: AntennaMap, left: float, worse_is_high: bool) -> Markup:
    """A plus where it surely became better, a minus where it surely became worse."""
    azimuth, elevation = antenna.edges_azimuth_deg, elevation_edges_deg(antenna)
    out = []
    for a, e in zip(*np.nonzero((antenna.low_db > 0) | (antenna.high_db < 0)), strict=True):
        x, y = left + 180 + (azimuth[a] + azimuth[a + 1]) / 2, 90 - (elevation[e] + elevation[e + 1]) / 2
        better = bool(antenna.low_db[a, e] > 0) != worse_is_high
        across = f"M{x:.4g} {y - 3:.4g}v6" if better else ""
        out.append(f'<path d="M{x - 3:.4g} {y:.4g}h6{across}" class="sign"/>')
    return Markup("".join(out))  # numbers again  # nosec B704


def _fades(antenna: AntennaMap) -> list[tuple[float, float]]:
    if antenna.fade_azimuth_deg is None or antenna.fade_elevation_deg is None:
        return []
    return list(zip(antenna.fade_azimuth_deg.tolist(), antenna.fade_elevation_deg.tolist(), strict=True))


def scale_bar(unit: str, low: float, high: float, *, worse_is_high: bool, change: bool = False) -> Markup:
    """The colours of :func:`heat`, once for all maps that share them, with what was never seen beside them."""
    steps = 40
    ends = f"{unit}, {message('plot.change_ends')}" if change else _ends(unit, worse_is_high)
    out = [Markup('<svg class="scale" viewBox="0 0 420 44" role="img" aria-label="{}">').format(ends)]
    middles = low + (np.arange(steps) + 0.5) / steps * (high - low)
    fills = enumerate(colours_of(_share(middles, low, high, worse_is_high), change=change))
    rects = (f'<rect x="{k * 300 / steps:.5g}" y="2" width="7.8" height="12" fill="{fill}"/>' for k, fill in fills)
    out.append(Markup("".join(rects)))  # numbers again  # nosec B704
    for at in (0.0, 0.25, 0.5, 0.75, 1.0):
        anchor = "start" if at == 0 else "end" if at == 1 else "middle"
        out.append(_text(300 * at, 26, number(low + at * (high - low), 0 if high - low > 8 else 1), anchor))
    out.append(_text(0, 40, ends, "start"))
    out.append(Markup('<rect x="320" y="2" width="24" height="12" class="unseen" fill="url(#unseen)"/>'))
    out.append(_text(349, 12, message("side.never_seen"), "start"))
    out.append(Markup("</svg>"))
    return Markup("").join(out)


def _ends(unit: str, worse_is_high: bool) -> str:
    return f"{unit}, {message('plot.missed_ends' if worse_is_high else 'plot.signal_ends')}"


def cuts(named: Sequence[tuple[str, AntennaMap, bool]], low: float, high: float, label: str) -> Markup | None:
    """A polar cut in the airframe's own horizon: the row of bins nearest to elevation zero, nose up.

    Parameters
    ----------
    named : sequence of (name, map, whether planned)
        Curves to lay over each other; planned ones are dotted.
    low, high : float
        What the middle and the rim stand for, in the maps' unit.
    """
    curves = []
    for name, antenna, planned in named:
        middle = (antenna.edges_sin_elevation[:-1] + antenna.edges_sin_elevation[1:]) / 2
        values = np.asarray(antenna.gain_db, float)[:, int(np.abs(middle).argmin())]
        if np.isfinite(values).any():
            azimuth = (antenna.edges_azimuth_deg[:-1] + antenna.edges_azimuth_deg[1:]) / 2
            curves.append((name, azimuth, values, planned))
    if not curves:
        return None
    radius = 130.0
    height = 320 + 18 * len(curves)
    out = [Markup('<svg class="cut" role="img" aria-label="{}" viewBox="-200 -160 400 {}">').format(label, height)]
    for share in (0.25, 0.5, 0.75, 1.0):
        out.append(Markup('<circle r="{}" class="grid"/>').format(f"{radius * share:g}"))
        out.append(_text(3, -radius * share + 10, number(low + share * (high - low), 0), "start"))
    out.append(Markup('<path d="M-{0} 0H{0}M0 -{0}V{0}" class="grid"/>').format(f"{radius:g}"))
    for x, y, side, anchor in ((0, -136, "nose", "middle"), (0, 145, "tail", "middle")):
        out.append(_text(x, y, message(f"side.{side}"), anchor))
    out.append(_text(135, 4, message("side.right"), "start"))
    out.append(_text(-135, 4, message("side.left"), "end"))
    for n, (name, azimuth, values, planned) in enumerate(curves):
        path = _around(azimuth, np.clip((values - low) / (high - low), 0.0, 1.0) * radius)
        kind = f"s{n % 8}{' planned' if planned else ''}"
        out.append(Markup('<path d="{}" class="curve {}"/>').format(path, kind))
        y = 172 + 18 * n
        out.append(Markup('<path d="M-180 {}h28" class="curve {}"/>').format(y - 4, kind))
        out.append(_text(-146, y, name, "start"))
    out.append(Markup("</svg>"))
    return Markup("").join(out)


def _around(azimuth_deg: FloatArray, radius: FloatArray) -> str:
    """A closed path round the middle, nose up and clockwise, broken where nothing was seen."""
    pieces, pen = [], "M"
    for a, r in zip(np.r_[azimuth_deg, azimuth_deg[:1]].tolist(), np.r_[radius, radius[:1]].tolist(), strict=True):
        if not math.isfinite(r):
            pen = "M"
            continue
        turn = math.radians(a)
        pieces.append(f"{pen}{r * math.sin(turn):.1f} {-r * math.cos(turn):.1f}")
        pen = "L"
    return "".join(pieces)
