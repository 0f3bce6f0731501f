"""Sensor truth: stuck, spiking, impossible, reset and saturated values, flagged and kept out of the analysis.

Raw values stay in the table; only masks are laid over it. The rules are deliberately slow to accuse: a
real sag, fade or surge looks like a spike too, so only channels whose physics forbids a one-sample jump
are searched for spikes (temperatures, tank contents, position, height), and a channel is called stuck only
when it stands still far longer than it ever does otherwise while the flight goes on.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyser.channels import Between, ChannelName, label, parse
from analyser.figures import FloatArray
from analyser.telemetry import Series, Suspect, Telemetry

Mask = npt.NDArray[np.bool_]

SLOW = {
    ("pack", "temperature_c"),
    ("fuel", "remaining_ml"),
    ("fuel", "remaining_percent"),
    ("engine", "egt_c"),
    ("engine", "speed_rpm"),
    ("position", "latitude_deg"),
    ("position", "longitude_deg"),
    ("position", "altitude_m"),
    ("position", "height_m"),
    ("position", "ground_speed_m_s"),
    ("motion", "airspeed_m_s"),
    ("motion", "pressure_altitude_m"),
    ("air", "temperature_c"),
    ("air", "pressure_pa"),
}
"""Channels that can't jump and return within one sample: inertia, heat or volume forbids it."""

LIVE = {
    ("pack", "voltage_v"),
    ("pack", "current_a"),
    ("pack", "cell<n>_v"),
    ("fuel", "flow_ml_per_min"),
    ("fuel", "remaining_ml"),
    ("engine", "speed_rpm"),
    ("engine", "egt_c"),
    ("link", "rssi_dbm"),
    ("link", "antenna<n>_rssi_dbm"),
    ("position", "latitude_deg"),
    ("position", "longitude_deg"),
    ("position", "altitude_m"),
    ("position", "ground_speed_m_s"),
    ("attitude", "roll_deg"),
    ("attitude", "pitch_deg"),
    ("motion", "airspeed_m_s"),
    ("motion", "accel_z_m_s2"),
}
"""Channels that never stand still for long in flight."""

SPIKE_SIGMA = 12.0
STUCK_SECONDS = 20.0
STUCK_SAMPLES = 20
STUCK_RATIO = 10.0


def screen(telemetry: Telemetry) -> Telemetry:
    """Flag samples that are not to be believed; raw values stay in the table.

    Parameters
    ----------
    telemetry : Telemetry
        As stored.

    Returns
    -------
    Telemetry
        The same table with :attr:`Telemetry.masks` and :attr:`Telemetry.suspects` filled.
    """
    masks: dict[str, Mask] = {}
    suspects: list[Suspect] = []
    moving = _moving_span(telemetry)
    for name in telemetry.channels:
        parsed = parse(name)
        if parsed is None:  # pragma: no cover - channels are known by definition
            continue
        column = telemetry.table.column(name)
        rows = np.flatnonzero(np.asarray(column.is_valid().to_numpy(zero_copy_only=False), bool))
        series = telemetry.series(name, raw=True)
        if rows.size != series.time_s.size:  # non-finite values stored as numbers
            raw = np.asarray(column.to_numpy(zero_copy_only=False), float)
            rows = np.flatnonzero(np.isfinite(raw))
        bad = np.zeros(series.time_s.size, bool)
        for kind, found, note, excluded in _findings(parsed, series, moving):
            if not found.any():
                continue
            at = series.time_s[found]
            suspects.append(
                Suspect(name, kind, float(at[0]), float(at[-1]), int(found.sum()), f"{label(name)}: {note}", excluded)
            )
            if excluded:
                bad |= found
        if bad.any():
            mask = np.zeros(telemetry.table.num_rows, bool)
            mask[rows[bad]] = True
            masks[name] = mask
    return telemetry.screened(masks, suspects)


def _findings(parsed: ChannelName, series: Series, moving: tuple[float, float]) -> list[tuple[str, Mask, str, bool]]:
    channel = parsed.channel
    t, v = series
    key = (channel.subject, channel.quantity)
    out: list[tuple[str, Mask, str, bool]] = []
    impossible = (v < channel.low) | (v > channel.high)
    if impossible.any():
        worst = v[impossible][np.abs(v[impossible]).argmax()]
        out.append(
            (
                "impossible",
                impossible,
                f"{int(impossible.sum())} samples outside {channel.low:g} to {channel.high:g} {channel.unit}, "
                f"for example {worst:g}; left out",
                True,
            )
        )
    if channel.between is Between.COUNTER:
        falls = np.r_[False, np.diff(v) < 0]
        if falls.any():
            out.append(
                ("reset", falls, f"the count fell {int(falls.sum())} times; counted on from each new start", False)
            )
        return out
    if channel.between is Between.HOLD:
        return out
    good = ~impossible
    if key in SLOW:
        spikes = np.zeros(v.size, bool)
        spikes[good] = _spikes(t[good], v[good])
        if spikes.any():
            out.append(
                ("spike", spikes, f"{int(spikes.sum())} single samples stand alone far off both neighbours", True)
            )
            good &= ~spikes
    if key in LIVE:
        stuck = np.zeros(v.size, bool)
        stuck[good] = _stuck(t[good], v[good], moving)
        if stuck.any():
            at = t[stuck]
            out.append(
                ("stuck", stuck, f"did not move from {at[0]:.0f} s to {at[-1]:.0f} s while the flight went on", True)
            )
    saturated = _saturated(v[good], channel.low, channel.high)
    if saturated:
        at_end = good & ((v == v[good].max()) if saturated > 0 else (v == v[good].min()))
        level = v[at_end][0]
        out.append(
            ("saturated", at_end, f"rests at its end value {level:g} {channel.unit}; the truth may lie beyond", False)
        )
    return out


def _moving_span(telemetry: Telemetry) -> tuple[float, float]:
    """First and last instant at which anything shows the aircraft or its engines at work; empty where nothing does."""
    limits = {"position.ground_speed_m_s": 8.0, "motion.airspeed_m_s": 8.0}
    for side in telemetry.instances("engine"):
        limits[f"engine.{side}.speed_rpm"] = 20_000.0
    spans = []
    for name, limit in limits.items():
        t, v = telemetry.series(name)
        at = t[v > limit]
        if at.size:
            spans.append((float(at[0]), float(at[-1])))
    return (min(s for s, _ in spans), max(e for _, e in spans)) if spans else (0.0, -1.0)


def _spikes(t: FloatArray, v: FloatArray) -> Mask:
    """Single samples that jump away from both neighbours and back, far beyond the channel's own roughness."""
    out = np.zeros(v.size, bool)
    if v.size < 8:
        return out
    left, right = np.diff(v)[:-1], np.diff(v)[1:]
    there_and_back = np.minimum(np.abs(left), np.abs(right)) * (np.sign(left) != np.sign(right))
    # How far the neighbours themselves moved: a real manoeuvre shows there, a glitch does not.
    across = np.abs(v[2:] - v[:-2])
    steps = np.abs(np.diff(v))
    moved = steps[steps > 0]
    scale = max(float(np.quantile(moved, 0.9)) if moved.size else 0.0, 1e-9)
    out[1:-1] = (there_and_back > SPIKE_SIGMA * scale / 3.0) & (there_and_back > 4.0 * across)
    # Neighbours must be close in time, or the jump may be real motion nobody sampled.
    gap = np.diff(t)
    typical = float(np.median(gap))
    out[1:-1] &= (gap[:-1] < 3 * typical) & (gap[1:] < 3 * typical)
    return out


def _stuck(t: FloatArray, v: FloatArray, moving: tuple[float, float]) -> Mask:
    """Runs of one identical value, far longer than this channel's others, inside the span of motion."""
    out = np.zeros(v.size, bool)
    if v.size < 2 * STUCK_SAMPLES or moving[1] <= moving[0]:
        return out
    start = np.flatnonzero(np.r_[True, np.diff(v) != 0])
    stop = np.r_[start[1:], v.size]
    lo = np.maximum(t[start], moving[0])
    hi = np.minimum(t[stop - 1], moving[1])
    length = hi - lo
    inside = length > 0
    others = length[inside]
    if others.size == 0:
        return out
    usual = float(np.quantile(others, 0.9)) if others.size > 10 else 0.0
    long = (length > max(STUCK_SECONDS, STUCK_RATIO * usual)) & ((stop - start) >= STUCK_SAMPLES)
    delta = np.zeros(v.size + 1, int)
    np.add.at(delta, start[long], 1)
    np.add.at(delta, stop[long], -1)
    held = np.cumsum(delta[:-1]) > 0
    return np.asarray(held & (t >= moving[0]) & (t <= moving[1]), bool)


def _saturated(v: FloatArray, low: float, high: float) -> int:
    """+1 or −1 where the channel piles up at its own highest or lowest value away from the range's ends; else 0.

    A pile of identical extremes that is many times as common as the values next to it means the sensor ran
    out of range. Percent at 0 or 100 and quantities at rest at zero are legitimate ends.
    """
    if v.size < 200 or np.unique(v).size < 30:
        return 0
    for sign in (1, -1):
        w = sign * v
        end = float(w.max())
        if sign * end in (low, high, 0.0):
            continue
        at_end = w == end
        band = (w < end) & (w >= end - 0.05 * np.ptp(w))
        runs = int((at_end[1:] & at_end[:-1]).sum())
        if at_end.mean() > 0.02 and at_end.sum() > 5 * max(int(band.sum()), 1) and runs > 20:
            return sign
    return 0
