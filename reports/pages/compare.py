"""Flights side by side, any of them: the page, and of each flight a small file that the page loads when it is chosen.

A page opened from a disk may not read files beside it, but it may load scripts; so each flight's file is a script that
lays its data under the flight's name. ``compare.js`` puts them side by side.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.compare import circumstances, compared
from analyser.core.channels import parse
from analyser.core.events import Level
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.statistics.sampling import usual_step_s
from reports.addresses import slug
from reports.figures.encode import pack_values
from reports.figures.traces import owner_of
from reports.headlines import SUBJECTS
from reports.markup import script_json
from reports.model import FlightPage, Site
from reports.opened import Opened
from reports.pages.flight import path_of
from reports.render import Shell, page
from reports.words.catalogue import interval, message, quantity, written
from reports.words.names import brief, channel_label, heading, names_in_flight, naming, said, with_owner
from reports.words.times import clock
from reports.words.units import conversion
from reports.words.vocabulary import group_word, kind_words

LISTED = 300
"""So many of the newest flights are to choose from; older ones are chosen on the page of their year."""
_MOST_STEPS = 800
_ENDINGS = (
    *("voltage_v", "current_a", "rssi_dbm", "signal_percent", "link_quality_percent", "egt_c", "speed_rpm"),
    *("altitude_m", "height_m", "airspeed_m_s", "ground_speed_m_s", "throttle_percent", "flow_ml_per_min"),
)
_TRACES = ("residual", "burn_rate")
_KEY = frozenset(
    {
        *("burned", "rate", "imbalance", "margin"),
        *("airborne_mah_per_min", "lowest_v", "deepest_sag_v", "value_mohm"),
        *("lost_frames", "lost_per_min", "fades", "lowest_margin_db"),
        *("run_min", "max_egt_c"),
    }
)
"""Fields shown first; every other figure waits folded below them."""


def data_path_of(flight_id: str) -> str:
    """Path of one flight's data from the root."""
    return f"compare/{slug(flight_id)}.js"


def address_of(flight_ids: list[str], root: str = "") -> str:
    """Address of the comparison of these flights, the first one being the reference."""
    return f"{root}compare.html#f={','.join(slug(i) for i in flight_ids)}"


def render(site: Site, shell: Shell) -> str:
    """Make the page; flights that could not be worked out are not among those to choose."""
    flights = [
        {"key": slug(f.flight_id), "title": site.title_of(f.flight_id), "aircraft": f.aircraft}
        for f in site.listed[:LISTED]
    ]
    return page(
        "compare.html",
        replace(shell, here="compare"),
        title=message("page.compare.title"),
        plots={"plots": {}},
        flights=flights,
        aircraft=sorted({str(f["aircraft"]) for f in flights}),
        listed=script_json(flights),
    )


def data(opened: Opened) -> str:
    """Make one flight's file; raises :class:`~reports.model.Unreadable` where its telemetry cannot be read now."""
    with naming(names_in_flight(opened.record.context)):
        return _script(slug(opened.record.flight_id), _data(opened))


def without_data(flight: FlightPage, why: str) -> str:
    """Make the file of a flight that cannot be shown, which says why."""
    return _script(slug(flight.record.flight_id), {"title": flight.title, "failed": why})


def _script(key: str, content: Any) -> str:
    return f"(globalThis.spooldownFlights ||= {{}})[{script_json(key)}]={script_json(content)};\n"


def _data(opened: Opened) -> dict[str, Any]:
    flight, record = opened.page, opened.record
    return {
        "title": flight.title,
        "brief": f"{record.aircraft} {record.number}".strip() if record.number else flight.title,
        "href": path_of(record.flight_id),
        "facts": [[said(c.name), written(c.values[0]) or ""] for c in circumstances([record])],
        "marks": _marks(opened),
        "groups": {group: group_word(group) for group, _ in SUBJECTS},
        "figures": [
            _figure(group, path, figure)
            for group, _ in SUBJECTS
            for (path, _), figure in compared(opened.figures[group]).items()
            if figure.value is not None
        ],
        **_curves(opened),
    }


def _figure(group: str, path: str, figure: Figure) -> dict[str, Any]:
    """A figure as it is written, and as numbers in the reader's unit to take differences of."""
    to = conversion(figure.unit)
    out: dict[str, Any] = {
        "g": group,
        "p": f"{path} {to.unit}",
        "n": with_owner(figure.label, owner_of(path)),
        "u": to.unit,
        "s": quantity(figure),
        "v": to.value(figure.value or 0.0),
        "d": figure.digits + to.digits,
    }
    if path.rpartition(".")[2] in _KEY and "by_sensor" not in path:
        out["first"] = 1
    if figure.low is not None and figure.high is not None:
        out |= {"i": interval(figure), "l": to.value(figure.low), "h": to.value(figure.high), "c": figure.confidence}
    elif figure.method in (Method.MEASURED, Method.ENTERED):
        out["r"] = to.scale * 10.0**-figure.digits
    return out


def _marks(opened: Opened) -> list[list[Any]]:
    """Moments to align on: ``[seconds, key, name, clock]``; a key is alike in every flight."""
    phases = opened.record.result.phases
    out: list[list[Any]] = [[0.0, "start", message("compare.at_start"), clock(0.0)]]
    for at, key in ((phases.take_off_s, "take_off"), (phases.touch_down_s, "landing")):
        if at is not None:
            out.append([round(at, 2), key, message(f"compare.at_{key}"), clock(at)])
    for e in opened.events:
        if e.level >= Level.NOTE:
            words = f"{kind_words(e.kind)}, {heading(e.subject)}"
            out.append([round(e.start_s, 2), f"{e.kind}:{e.subject}", words, clock(e.start_s)])
    return out


class _Curve(Struct, frozen=True):
    key: str
    group: str
    title: str
    unit: str
    digits: int
    time_s: FloatArray
    values: FloatArray


def _curves(opened: Opened) -> dict[str, Any]:
    """Every curve on one grid of steps: mean, lowest and highest of each step."""
    duration = max(1.0, float(opened.record.result.duration_s))
    step = max(1.0, np.ceil(duration / _MOST_STEPS))
    curves = list(_found(opened))
    together: dict[int, list[_Curve]] = {}
    for curve in curves:  # sensors of a log share most axes of times
        together.setdefault(id(curve.time_s), []).append(curve)
    packed: dict[str, dict[str, Any]] = {}
    for same in together.values():
        steps = Steps(same[0].time_s, step, int(duration // step) + 1)
        values = np.stack([c.values for c in same])
        for curve, finest, *binned in zip(same, resolutions(values), *steps.binned(values), strict=True):
            if found := _packed(curve, finest, *binned):
                packed[curve.key] = found
    return {"step": step, "curves": {c.key: packed[c.key] for c in curves if c.key in packed}}


def _packed(
    curve: _Curve, finest: float | None, mean: FloatArray, low: FloatArray, high: FloatArray
) -> dict[str, Any] | None:
    """A curve as ``compare.js`` reads it; ``None`` where too few steps have a value."""
    known = mean[np.isfinite(mean)]
    if known.size < 2:
        return None
    packed: dict[str, Any] = {
        "g": curve.group,
        "n": curve.title,
        "u": curve.unit,
        "d": curve.digits,
        "m": pack_values(mean),
    }
    if np.fmax.reduce(high - low) > 1e-3 * (known.max() - known.min()):
        packed |= {"l": pack_values(low), "h": pack_values(high)}
    if finest is not None:
        packed["r"] = float(f"{finest:.3g}")
    return packed


def _found(opened: Opened) -> Iterator[_Curve]:
    for found in (*opened.traces["fuel"], *opened.traces["link"]):
        if found.field in _TRACES:
            owner = found.owner if ".antenna" in found.owner else f"{found.subject}.{found.owner}"
            title = f"{message(f'panel.{found.field}')}, {brief(owner)}"
            yield _curve(f"{found.field}:{owner}", found.subject, title, found.trace.unit, found.trace)
    telemetry = opened.telemetry
    for name in telemetry.channels:
        parsed = parse(name)
        if parsed is not None and name.endswith(_ENDINGS):
            group = parsed.channel.subject
            yield _curve(name, group, channel_label(name), parsed.channel.unit, telemetry.series(name))


def _curve(key: str, group: str, title: str, unit: str, series: Any) -> _Curve:
    to = conversion(unit)
    values = np.asarray(series.values, float)
    time_s, good = np.asarray(series.time_s, float), np.isfinite(values)
    if not good.all():
        time_s, values = time_s[good], values[good]
    shown = to.array(values)
    reach = float(np.ptp(shown)) if shown.size else 0.0
    digits = 0 if reach > 200 else 1 if reach > 10 else 2
    return _Curve(key, group, title, to.unit, digits, time_s, shown)


def binned(
    time_s: FloatArray, values: FloatArray, step_s: float, steps: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean, lowest and highest value of each step of time.

    A step without a sample lies on the straight line between its neighbours where the sensor's usual spacing explains
    it (not longer than two seconds or eight times that spacing), else it is a hole.

    Parameters
    ----------
    time_s, values : ndarray, shape (n,)
        Ascending times from the first row, and the curve without NaN.
    step_s, steps : float, int
        Length and number of the steps.

    Returns
    -------
    tuple of three ndarray, shape (steps,)
    """
    return Steps(time_s, step_s, steps).binned(values)


class Steps:
    """Equal steps of time, and what of a time axis falls into each: most sensors of a log share one.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Ascending times from the first row.
    step_s, steps : float, int
        Length and number of the steps.
    """

    def __init__(self, time_s: FloatArray, step_s: float, steps: int) -> None:
        self._steps = steps
        first, last = time_s.searchsorted([0.0, steps * step_s]).tolist()
        self._inside = slice(first, last)
        time_s = time_s[self._inside]
        at = (time_s // step_s).astype(np.intp)
        new = np.ones(at.size, bool)
        np.not_equal(at[1:], at[:-1], out=new[1:])
        self._starts = np.flatnonzero(new)
        self._hit = hit = at[self._starts]
        self._counts = np.empty(hit.size, np.intp)
        self._bridged = np.empty(0, np.intp)
        if not hit.size:
            return
        self._counts[:-1], self._counts[-1] = self._starts[1:] - self._starts[:-1], at.size - self._starts[-1]
        usual = max(2.0, 8.0 * usual_step_s(time_s)) / step_s if at.size > 1 else 0.0
        # Steps without a sample between two that have one, not too far apart.
        wide = hit[1:] - hit[:-1]
        free = np.ones(steps, bool)
        free[: hit[0]] = free[hit[-1] :] = free[hit] = False
        for k in np.flatnonzero(wide > max(usual, 1.0)).tolist():  # holes, never samples
            free[hit[k] : hit[k + 1]] = False
        self._bridged = np.flatnonzero(free)

    def binned(self, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Mean, lowest and highest value of each step of some curves on these times, without NaN.

        Parameters
        ----------
        values : ndarray, shape (..., n)

        Returns
        -------
        tuple of three ndarray, shape (..., steps)
        """
        mean, low, high = np.full((3, *values.shape[:-1], self._steps), np.nan)
        if not self._hit.size:
            return mean, low, high
        values, hit, starts = values[..., self._inside], self._hit, self._starts
        mean[..., hit] = means = np.add.reduceat(values, starts, axis=-1) / self._counts
        low[..., hit] = np.minimum.reduceat(values, starts, axis=-1)
        high[..., hit] = np.maximum.reduceat(values, starts, axis=-1)
        if (at := self._bridged).size:
            left = np.searchsorted(hit, at) - 1
            slopes = (means[..., left + 1] - means[..., left]) / (hit[left + 1] - hit[left])
            line = slopes * (at - hit[left]) + means[..., left]
            mean[..., at] = low[..., at] = high[..., at] = line
        return mean, low, high


def resolution(values: FloatArray) -> float | None:
    """Find the step a sensor's readings come in; ``None`` where they come in none.

    Examples
    --------
    >>> resolution(np.array([7.4, 7.5, 7.4, 7.2, 7.5, 7.4, 7.2, 7.2]))
    0.1
    """
    return next(resolutions(values[None]))


def resolutions(curves: FloatArray) -> Iterator[float | None]:
    """The same of some curves, shape (curves, n)."""
    ordered = np.sort(np.round(curves, 6), axis=-1)
    for steps in np.diff(ordered, axis=-1):
        gaps = steps[steps > 0.0]
        levels = gaps.size + 1
        if levels < 2 or levels > curves.shape[-1] / 2:
            yield None
            continue
        finest = float(gaps.min())
        counts = gaps / finest
        even = np.abs(counts - np.round(counts)) < 0.05 * np.maximum(1.0, counts)
        yield float(f"{finest:.6g}") if even.mean() > 0.95 else None
