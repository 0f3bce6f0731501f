"""The flight page's time plots: every channel and derived curve in small linked panels."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.channels import Between, ChannelName, parse
from analyser.core.events import Event
from analyser.core.figures import FloatArray
from analyser.core.findings import Text
from analyser.core.telemetry import Telemetry
from reports.figures.decimate import keep, silences, with_gaps
from reports.figures.encode import html_free, pack_times, pack_values
from reports.figures.traces import Found
from reports.words.catalogue import has, message
from reports.words.names import brief, channel_label, said
from reports.words.units import conversion
from reports.words.vocabulary import group_of, method_word

MOST_SERIES, MOST_OTHERS = 8, 24
"""Curves in one panel, and panels of unknown columns, at most."""


class Panel(Struct):
    """One time plot: its heading, unit, curves, and the event subjects whose bands it shows."""

    id: str
    title: str
    unit: str
    subject: str
    heads: frozenset[str]
    series: list[dict[str, Any]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    state: bool = False
    colours: dict[str, int] = field(default_factory=dict)
    values: dict[int, FloatArray] = field(default_factory=dict)

    @property
    def group(self) -> str:
        """The subject it is shown under."""
        return group_of(self.subject)

    def add(self, owner: str, curve: dict[str, Any], values: FloatArray) -> None:
        """Add a curve; two curves of one owner (a voltage and its load-free reference) share a colour."""
        key = owner or f"curve {len(self.series)}"
        curve["c"] = self.colours.setdefault(key, len(self.colours))
        self.values[curve["c"]] = values
        self.series.append(curve)

    def levels(self) -> dict[int, float]:
        """Where the curves of each colour lie: the median of the last one, for those that have any value."""
        known = {colour: values[np.isfinite(values)] for colour, values in self.values.items()}
        return {colour: float(np.median(values)) for colour, values in known.items() if values.size}

    def spec(self, events: Sequence[Event]) -> dict[str, Any]:
        """The panel as ``plots.js`` reads it."""
        shown = [i for i, e in enumerate(events) if e.subject.partition(".")[0] in self.heads]
        if len(shown) > 150:
            shown = sorted(sorted(shown, key=lambda i: (-events[i].level, -events[i].duration_s))[:150])
        return {
            "kind": "time",
            "unit": html_free(self.unit),
            "series": self.series,
            "events": shown,
            "state": self.state,
        }


def _short(name: str) -> str:
    parsed = parse(name)
    if parsed is None:
        return name
    if parsed.number is not None and "cell" not in parsed.channel.quantity:
        return brief(f"{parsed.instance}.antenna{parsed.number}")
    if parsed.number is not None:  # such a panel shows one pack, named in its heading
        return message("panel.cell", number=parsed.number)
    return brief(f"{parsed.channel.subject}.{parsed.instance}") if parsed.instance else channel_label(name)


def curve(
    name: str,
    t: FloatArray,
    v: FloatArray,
    points: int,
    spans: Sequence[tuple[float, float]],
    digits: int,
    how: str = "",
) -> dict[str, Any]:
    """A curve as ``plots.js`` reads it.

    Parameters
    ----------
    t, v : ndarray, shape (n,)
        Seconds, and values in the reader's unit.
    spans : sequence of (float, float)
        Stretches, in seconds, in which more points are kept.
    """
    good = np.isfinite(v)
    if not good.all():
        t, v = t[good], v[good]
    chosen = keep(t, v, points, spans)
    x, y = with_gaps(t[chosen], v[chosen], silences(t))
    out: dict[str, Any] = {"n": html_free(name), "t": pack_times(x), "v": pack_values(y), "d": digits}
    if how:
        out["how"] = how
    return out


def digits_of(unit: str) -> int:
    """Decimals that a curve's values are shown with."""
    return {"V": 2, "A": 2, "mL/min": 0, "mL": 0, "rpm": 0, "°C": 0, "mAh": 0, "1": 0, "counts": 0, "dBm": 1}.get(
        unit, 1
    )


# Panels in the order a reader wants them; what is not named here follows.
_ORDER = [
    "fuel/burn_rate",
    "fuel/remaining",
    "pack.voltage_v",
    "bus.voltage_v",
    "pack.cell",
    "pack.current_a",
    "link.residual",
    "link/residual",
    "link.antenna",
    "link.rssi",
    "link.signal",
    "link.link_quality",
    "link.lost_frames",
    "link.failsafe",
    "engine.speed_rpm",
    "engine.egt_c",
    "engine.pump",
    "engine.throttle",
    "position.altitude_m",
    "position.height",
    "motion.airspeed",
    "position.ground_speed",
    "motion.vario",
    "link/range",
    "fuel.",
    "pack.",
    "control",
    "states",
    "attitude",
    "accel",
]


def _rank(key: str) -> int:
    return next((i for i, head in enumerate(_ORDER) if key.startswith(head)), len(_ORDER))


def _trace_title(field: str, label: Text) -> str:
    code = f"panel.{field}"
    return message(code) if has(code) else said(label).partition(",")[0]


class Panels:
    """The panels of one flight, made as curves come.

    Parameters
    ----------
    events : sequence of Event
        Near them curves keep more of their points.
    points : int
        So many points a curve has at most.
    """

    def __init__(self, events: Sequence[Event], points: int) -> None:
        self._points = points
        self._made: dict[str, Panel] = {}
        self._spans: dict[str, list[tuple[float, float]]] = {}
        for event in events:
            self._spans.setdefault(event.subject.partition(".")[0], []).append((event.start_s, event.end_s))

    def _panel(self, key: str, title: str, unit: str, head: str, *, state: bool = False) -> Panel:
        if key not in self._made:
            heads = {"link": {head, "downlink"}, "pack": {"pack", "bus"}, "bus": {"pack", "bus"}}.get(head, {head})
            self._made[key] = Panel(f"plot-{len(self._made)}", title, unit, head, frozenset(heads), state=state)
        return self._made[key]

    def _curve(self, name: str, head: str, unit: str, t: FloatArray, v: FloatArray) -> dict[str, Any]:
        to = conversion("" if unit in ("1", "bool") else unit)
        return curve(name, t, to.array(v), self._points, self._spans.get(head, []), digits_of(unit) + to.digits)

    def add_trace(self, found: Found) -> None:
        """Add a curve that the analyser worked out, with its interval; the load-free voltage beside the measured."""
        trace, load_free = found.trace, found.subject == "pack" and found.field == "load_free"
        if trace.time_s.size == 0 or not np.isfinite(trace.values).any():
            return
        to = conversion(trace.unit)
        owner = found.owner
        if owner and ".antenna" not in owner:
            owner = f"{found.subject}.{owner}"
        whose = brief(owner) if owner else ""
        if load_free:
            target = self._panel("pack.voltage_v", message("channel.pack.voltage_v"), "V", "pack")
            whose = message("panel.without_load", whose=whose)
        else:
            title = _trace_title(found.field, trace.label)
            target = self._panel(f"{found.subject}/{found.field}/{trace.unit}", title, to.unit, found.subject)
        drawn = self._curve(whose or said(trace.label), found.subject, trace.unit, trace.time_s, trace.values)
        if found.field == "load_free":
            drawn["dash"] = True
        if trace.low is not None and trace.high is not None:
            chosen = keep(trace.time_s, np.nan_to_num(trace.values), min(self._points, 400))
            drawn |= {
                "bt": pack_times(trace.time_s[chosen]),
                "lo": pack_values(to.array(trace.low[chosen])),
                "hi": pack_values(to.array(trace.high[chosen])),
            }
        target.add(found.owner, drawn, to.array(trace.values))
        how = f", {said(trace.how)}" if trace.how else ""
        note = f"{said(trace.label)}: {method_word(trace.method)}{how}."
        if note not in target.notes:
            target.notes.append(note)

    def add_channel(self, name: str, telemetry: Telemetry) -> None:
        """Add a channel as it was logged."""
        parsed = parse(name)
        if parsed is None or name in ("position.latitude_deg", "position.longitude_deg"):
            return
        t, v = telemetry.series(name)
        if t.size == 0:
            return
        channel = parsed.channel
        key, title = _place_of(name, parsed)
        to = conversion("" if channel.unit in ("1", "bool") else channel.unit)
        if key in self._made and self._made[key].unit != to.unit:
            key = f"{key}/{channel.unit}"
        target = self._panel(key, title, to.unit, channel.subject, state=channel.unit == "bool")
        many = channel.subject in ("control", "attitude") or channel.quantity.startswith("accel")
        short = channel_label(name, whose=False) if many else _short(name)
        drawn = self._curve(short, channel.subject, channel.unit, t, v)
        if channel.between is not Between.CONTINUOUS:
            drawn["step"] = True
        target.add(parsed.instance if channel.quantity == "voltage_v" else "", drawn, to.array(v))

    def in_order(self) -> list[Panel]:
        """The panels as a reader wants them, with no more curves in one than eyes can tell apart."""
        ordered: list[Panel] = []
        for key in sorted(self._made, key=_rank):
            ordered += by_level(self._made[key]) if key == "pack.voltage_v" else [self._made[key]]
        return [part for panel in ordered for part in _split(panel)]


def _place_of(name: str, parsed: ChannelName) -> tuple[str, str]:
    """Key and heading of the panel that a channel is drawn in."""
    head, quantity = parsed.channel.subject, parsed.channel.quantity
    if quantity.startswith("cell"):
        return f"pack.cell/{parsed.instance}", message("panel.cells", pack=brief(f"pack.{parsed.instance}"))
    if parsed.channel.unit == "bool":
        return f"states/{head}", message(f"panel.states_{'control' if head == 'control' else 'link'}")
    if head == "control":
        return f"control/{parsed.channel.unit}", message("panel.control")
    if head == "attitude":
        return "attitude", message("panel.attitude")
    if quantity.startswith("accel"):
        return "accel", message("panel.acceleration")
    return f"{head}.{quantity}", channel_label(name, whose=False).removesuffix(f" {parsed.number}")


def _split(panel: Panel) -> Iterator[Panel]:
    """A panel in parts of at most :data:`MOST_SERIES` curves."""
    for n, start in enumerate(range(0, len(panel.series), MOST_SERIES)):
        title = panel.title if n == 0 else message("panel.more", title=panel.title)
        series, notes = panel.series[start : start + MOST_SERIES], panel.notes if n == 0 else []
        yield Panel(f"{panel.id}-{n}", title, panel.unit, panel.subject, panel.heads, series, notes, panel.state)


def _others(telemetry: Telemetry, points: int) -> Iterator[Panel]:
    """A panel for each column of numbers that is kept without being known; columns of words are listed, not drawn."""
    for name in telemetry.extras:
        try:
            t, v = telemetry.series(name)
        except (ValueError, TypeError, ArithmeticError, NotImplementedError):
            continue
        if t.size > 1:
            yield Panel(
                "", channel_label(name), "", "extra", frozenset(), [curve(channel_label(name), t, v, points, (), 2)]
            )


def time_panels(
    traces: Iterable[Found], telemetry: Telemetry, events: Sequence[Event], points: int
) -> tuple[list[Panel], list[Panel]]:
    """Make the panels of one flight: what the analyser knows, and the columns it kept without knowing them.

    Parameters
    ----------
    traces : iterable of Found
        Curves that the analyser worked out.
    points : int
        So many points a curve has at most.
    """
    panels = Panels(events, points)
    for found in traces:
        panels.add_trace(found)
    for name in telemetry.channels:
        panels.add_channel(name, telemetry)
    others = [replace(p, id=f"extra-{n}") for n, p in enumerate(_others(telemetry, min(points, 600)))]
    return panels.in_order(), others[:MOST_OTHERS]


APART = 1.25


def by_level(panel: Panel) -> list[Panel]:
    """Packs of other voltage in panels of their own: on one axis the sags of 8 V vanish beside 12 V."""
    levels = panel.levels()
    ranked = sorted(levels, key=lambda c: levels[c])
    cuts = [n for n in range(1, len(ranked)) if levels[ranked[n]] > APART * levels[ranked[n - 1]]]
    if not cuts:
        return [panel]
    out = []
    for n, (a, b) in enumerate(zip([0, *cuts], [*cuts, len(ranked)], strict=True)):
        own = set(ranked[a:b])
        series = [s for s in panel.series if s["c"] in own]
        names = ", ".join(dict.fromkeys(s["n"] for s in series if not s.get("dash")))
        part = Panel(f"{panel.id}{chr(97 + n)}", f"{panel.title}: {names}", panel.unit, panel.subject, panel.heads)
        part.series, part.notes = series, panel.notes if n == 0 else []
        out.append(part)
    return out
