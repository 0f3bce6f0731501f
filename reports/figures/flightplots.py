"""The flight page's line of events, its phases and its ground track."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from analyser.core.channels import parse
from analyser.core.events import Event, Level
from analyser.core.figures import FloatArray
from analyser.core.phases import PhaseName
from analyser.core.telemetry import Telemetry
from analyser.flight import FlightResult
from reports.figures.decimate import keep
from reports.figures.encode import html_free, pack_times, pack_values
from reports.figures.panels import digits_of
from reports.figures.traces import Found
from reports.words.catalogue import lower_first, message, reader, word
from reports.words.names import Names, brief, channel_label, heading, said
from reports.words.units import conversion
from reports.words.vocabulary import kind_words, level_word

_AIR = {PhaseName.TAKE_OFF, PhaseName.FLIGHT, PhaseName.LANDING}


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
    traces: Iterable[Found],
    telemetry: Telemetry,
    events: Sequence[Event],
    pilot: tuple[float | None, float | None],
    points: int,
) -> tuple[dict[str, Any], list[tuple[str, str]]] | None:
    """Make the ground track and the list of curves and channels that may colour it; ``None`` without positions."""
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
            digits = digits_of(unit) + to.digits
            channels.append({"u": html_free(to.unit), "v": pack_values(to.array(values)), "d": digits})
            names.append((str(len(channels) - 1), name))

    for trace in (found.trace for found in traces):
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
    marked = [i for i, e in enumerate(events) if e.level >= 1 and t[0] <= e.start_s <= t[-1]][:200]
    moments = [events[i].start_s for i in marked]
    places = (np.interp(moments, t, along).tolist() for along in (east_all, north_all))
    marks = [{"i": i, "e": round(e, 1), "n": round(n, 1)} for i, e, n in zip(marked, *places, strict=True)]
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
