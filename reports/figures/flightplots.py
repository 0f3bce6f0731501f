"""The flight page's plots: every channel and derived curve in small linked panels, the line of events, the track."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analyser.core.channels import Between, parse
from analyser.core.events import Event, Level
from analyser.core.figures import FloatArray
from analyser.core.findings import Text
from analyser.core.phases import PhaseName
from analyser.core.telemetry import Telemetry
from analyser.flight import FlightResult
from reports.figures.decimate import keep, silences, with_gaps
from reports.figures.encode import pack_times, pack_values
from reports.figures.traces import traces_of
from reports.words.catalogue import has, lower_first, message, reader, word
from reports.words.names import Names, brief, channel_label, heading, said
from reports.words.units import conversion
from reports.words.vocabulary import group_of, kind_words, level_word, method_word

_AIR = {PhaseName.TAKE_OFF, PhaseName.FLIGHT, PhaseName.LANDING}
_MOST_SERIES = 8


@dataclass(slots=True)
class Panel:
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


def html_free(text: str) -> str:
    """Text for plotly.js, which reads a little HTML in labels: nothing from a file may be markup there."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _whose(owner: str) -> str:
    """Whose a curve is, briefly, for a legend."""
    return brief(owner) if owner else ""


def _short(name: str) -> str:
    parsed = parse(name)
    if parsed is None:
        return name
    if parsed.number is not None and "cell" not in parsed.channel.quantity:
        return brief(f"{parsed.instance}.antenna{parsed.number}")
    if parsed.number is not None:  # such a panel shows one pack, named in its heading
        return message("panel.cell", number=parsed.number)
    return brief(f"{parsed.channel.subject}.{parsed.instance}") if parsed.instance else channel_label(name)


def _curve(
    name: str,
    t: FloatArray,
    v: FloatArray,
    points: int,
    spans: Sequence[tuple[float, float]],
    digits: int,
    how: str = "",
) -> dict[str, Any]:
    good = np.isfinite(v)
    if not good.all():
        t, v = t[good], v[good]
    chosen = keep(t, v, points, spans)
    x, y = with_gaps(t[chosen], v[chosen], silences(t))
    out: dict[str, Any] = {"n": html_free(name), "t": pack_times(x), "v": pack_values(y), "d": digits}
    if how:
        out["how"] = how
    return out


def _digits(unit: str) -> int:
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


def time_panels(
    result: FlightResult, telemetry: Telemetry, events: Sequence[Event], points: int
) -> tuple[list[Panel], list[Panel]]:
    """Make the panels of one flight: what the analyser knows, and the columns it kept without knowing them."""
    spans: dict[str, list[tuple[float, float]]] = {}
    for event in events:
        spans.setdefault(event.subject.partition(".")[0], []).append((event.start_s, event.end_s))
    made: dict[str, Panel] = {}

    def panel(key: str, title: str, unit: str, head: str, **more: Any) -> Panel:
        heads = frozenset(
            {head, "downlink"} if head == "link" else {"pack", "bus"} if head in ("pack", "bus") else {head}
        )
        if key not in made:
            made[key] = Panel(f"plot-{len(made)}", title, unit, head, heads, **more)
        return made[key]

    for found in (
        f
        for part in ("fuel", "packs", "link", "turbine")
        for f in traces_of({"packs": "pack", "turbine": "engine"}.get(part, part), getattr(result, part))
    ):
        trace = found.trace
        if trace.time_s.size == 0 or not np.isfinite(trace.values).any():
            continue
        owner = _whose(
            found.owner if ".antenna" in found.owner else f"{found.subject}.{found.owner}" if found.owner else ""
        )
        to = conversion(trace.unit)
        if found.subject == "pack" and found.field == "load_free":
            target = panel("pack.voltage_v", message("channel.pack.voltage_v"), "V", "pack")
            owner = message("panel.without_load", whose=owner)
        else:
            target = panel(
                f"{found.subject}/{found.field}/{trace.unit}",
                _trace_title(found.field, trace.label),
                to.unit,
                found.subject,
            )
        near = spans.get(found.subject, [])
        curve = _curve(
            owner or said(trace.label),
            trace.time_s,
            to.array(trace.values),
            points,
            near,
            _digits(trace.unit) + to.digits,
        )
        if found.field == "load_free":
            curve["dash"] = True
        if trace.low is not None and trace.high is not None:
            chosen = keep(trace.time_s, np.nan_to_num(trace.values), min(points, 400))
            curve |= {
                "bt": pack_times(trace.time_s[chosen]),
                "lo": pack_values(to.array(trace.low[chosen])),
                "hi": pack_values(to.array(trace.high[chosen])),
            }
        target.add(found.owner, curve, to.array(trace.values))
        how = f", {said(trace.how)}" if trace.how else ""
        note = f"{said(trace.label)}: {method_word(trace.method)}{how}."
        if note not in target.notes:
            target.notes.append(note)

    for name in telemetry.channels:
        parsed = parse(name)
        if parsed is None or name in ("position.latitude_deg", "position.longitude_deg"):
            continue
        t, v = telemetry.series(name)
        if t.size == 0:
            continue
        channel = parsed.channel
        head, quantity = channel.subject, channel.quantity
        if quantity.startswith("cell"):
            key = f"pack.cell/{parsed.instance}"
            title = message("panel.cells", pack=brief(f"pack.{parsed.instance}"))
        elif channel.unit == "bool":
            key, title = f"states/{head}", message(f"panel.states_{'control' if head == 'control' else 'link'}")
        elif head == "control":
            key, title = f"control/{channel.unit}", message("panel.control")
        elif head == "attitude":
            key, title = "attitude", message("panel.attitude")
        elif quantity.startswith("accel"):
            key, title = "accel", message("panel.acceleration")
        else:
            key, title = f"{head}.{quantity}", channel_label(name, whose=False).removesuffix(f" {parsed.number}")
        to = conversion("" if channel.unit in ("1", "bool") else channel.unit)
        if key in made and made[key].unit != to.unit:
            key = f"{key}/{channel.unit}"
        target = panel(
            key,
            title,
            to.unit,
            head,
            **({"state": True} if channel.unit == "bool" else {}),
        )
        many = head in ("control", "attitude") or quantity.startswith("accel")
        short = channel_label(name, whose=False) if many else _short(name)
        curve = _curve(short, t, to.array(v), points, spans.get(head, []), _digits(channel.unit) + to.digits)
        if channel.between is not Between.CONTINUOUS:
            curve["step"] = True
        target.add(parsed.instance if quantity == "voltage_v" else "", curve, to.array(v))

    others: list[Panel] = []
    for name in telemetry.extras:
        try:
            t, v = telemetry.series(name)
        except (ValueError, TypeError, ArithmeticError, NotImplementedError):
            continue  # a column of words: listed, not drawn
        if t.size > 1:
            extra = Panel(f"extra-{len(others)}", channel_label(name), "", "extra", frozenset())
            extra.series.append(_curve(channel_label(name), t, v, min(points, 600), (), 2))
            others.append(extra)
    ordered = [p for k in sorted(made, key=_rank) for p in (_by_level(made[k]) if k == "pack.voltage_v" else [made[k]])]
    split: list[Panel] = []
    for p in ordered:
        for n, start in enumerate(range(0, len(p.series), _MOST_SERIES)):
            part = p.series[start : start + _MOST_SERIES]
            title = p.title if n == 0 else message("panel.more", title=p.title)
            split.append(
                Panel(f"{p.id}-{n}", title, p.unit, p.subject, p.heads, part, p.notes if n == 0 else [], p.state)
            )
    return split, others[:24]


_APART = 1.25


def _by_level(panel: Panel) -> list[Panel]:
    """Packs of other voltage in panels of their own: on one axis the sags of 8 V vanish beside 12 V."""
    levels = panel.levels()
    ranked = sorted(levels, key=lambda c: levels[c])
    cuts = [n for n in range(1, len(ranked)) if levels[ranked[n]] > _APART * levels[ranked[n - 1]]]
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


def lane(events: Sequence[Event]) -> dict[str, Any]:
    """The line of events, a row a subject."""
    rows = list(dict.fromkeys(row_of(e) for e in events))
    return {"kind": "lane", "unit": "", "rows": rows, "words": [level_word(k) for k in sorted(Level)]}


def row_of(event: Event) -> str:
    """Which row of the line of events an event sits in; short, for a phone."""
    return html_free(brief(event.subject) if ".antenna" in event.subject else lower_first(_thing(event.subject)))


def _thing(subject: str) -> str:
    name = reader().name
    return heading(subject).partition(" (")[0] if isinstance(name, Names) else heading(subject)


def event_specs(events: Sequence[Event]) -> list[dict[str, Any]]:
    """Events as ``plots.js`` reads them."""
    return [
        {
            "s": round(e.start_s, 3),
            "e": round(e.end_s, 3),
            "l": int(e.level),
            "r": row_of(e),
            "h": f"{kind_words(e.kind)}, {html_free(heading(e.subject))}",
        }
        for e in events
    ]


def phase_specs(result: FlightResult) -> list[dict[str, Any]]:
    """Phases as ``plots.js`` reads them."""
    return [
        {"s": round(p.start_s, 2), "e": round(p.end_s, 2), "n": word("phase", p.name.value), "a": p.name in _AIR}
        for p in result.phases.phases
    ]


_EARTH_M = 6_371_000.0  # mean radius; good enough to draw a field-sized map


def track(
    result: FlightResult,
    telemetry: Telemetry,
    events: Sequence[Event],
    pilot: tuple[float | None, float | None],
    points: int,
) -> tuple[dict[str, Any], list[tuple[str, str]]] | None:
    """Make the ground track and the list of channels that may colour it; ``None`` without positions."""
    t, latitude = telemetry.series("position.latitude_deg")
    if t.size < 2 or not telemetry.has("position.longitude_deg"):
        return None
    longitude = telemetry.at("position.longitude_deg", t, max_gap_s=5.0)
    good = np.isfinite(longitude)
    t, latitude, longitude = t[good], latitude[good], longitude[good]
    if t.size < 2:
        return None
    lat0, lon0, origin = pilot[0], pilot[1], message("panel.pilot")
    if lat0 is None or lon0 is None:
        lat0, lon0, origin = float(latitude[0]), float(longitude[0]), message("panel.first_position")
    east_all = np.radians(longitude - lon0) * _EARTH_M * math.cos(math.radians(lat0))
    north_all = np.radians(latitude - lat0) * _EARTH_M
    # A track keeps the extremes of both directions, so that the outline stays true.
    chosen = np.union1d(keep(t, east_all, points // 2), keep(t, north_all, points // 2))
    at, east, north = t[chosen], east_all[chosen], north_all[chosen]
    channels: list[dict[str, Any]] = []
    names: list[tuple[str, str]] = []

    def offer(name: str, unit: str, values: FloatArray) -> None:
        if np.isfinite(values).sum() >= 2 and len(channels) < 24:
            to = conversion(unit)
            digits = _digits(unit) + to.digits
            channels.append({"u": html_free(to.unit), "v": pack_values(to.array(values)), "d": digits})
            names.append((str(len(channels) - 1), name))

    for found in [f for part in ("link", "fuel") for f in traces_of(part, getattr(result, part))]:
        trace = found.trace
        if trace.time_s.size > 1:
            ok = np.isfinite(trace.values)
            if ok.sum() > 1:
                values = np.interp(at, trace.time_s[ok], trace.values[ok], left=np.nan, right=np.nan)
                offer(said(trace.label), trace.unit, values)
    wanted = (
        "antenna",
        "rssi_dbm",
        "signal_percent",
        "altitude_m",
        "ground_speed_m_s",
        "voltage_v",
        "speed_rpm",
        "egt_c",
        "flow_ml_per_min",
        "airspeed_m_s",
        "current_a",
        "roll_deg",
    )
    usable = [n for n in telemetry.channels if parse(n) and any(w in n for w in wanted) and "lost" not in n]
    for name in sorted(usable, key=lambda n: next(i for i, w in enumerate(wanted) if w in n)):
        parsed = parse(name)
        if parsed is not None:
            offer(channel_label(name), parsed.channel.unit, telemetry.at(name, at, max_gap_s=5.0))
    marks = [
        {
            "i": i,
            "e": round(float(np.interp(e.start_s, t, east_all)), 1),
            "n": round(float(np.interp(e.start_s, t, north_all)), 1),
        }
        for i, e in enumerate(events)
        if e.level >= 1 and t[0] <= e.start_s <= t[-1]
    ][:200]
    spec = {
        "kind": "track",
        "e": pack_values(east),
        "n": pack_values(north),
        "t": pack_times(at),
        "channels": channels,
        "marks": marks,
        "origin": origin,
    }
    return spec, names


def moment(seconds: float) -> str:
    """The part of an address that leads to a moment of a flight."""
    return f"#t={seconds:.2f}"
