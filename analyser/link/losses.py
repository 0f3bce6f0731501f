"""What a receiver itself says went wrong: counters of lost frames or packets, their bursts, and failsafe."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.events import Event, happened, runs_of
from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import Part, say
from analyser.core.statistics.robust import median
from analyser.core.statistics.sampling import usual_step_s
from analyser.core.statistics.smoothing import summed, unwrap_counter
from analyser.core.telemetry import Series
from analyser.link.codes import LinkCode
from analyser.link.signal_level import hole_s

BURST_GAP_S = 0.5
BURST_FRAMES = 5
BLOCK_S = 10.0
DOWNLINK_GAP_S = 1.0


def running_loss(counter: Series) -> Series:
    """A counter of losses from 0 on: restarts undone, and never falling, since nothing lost is found again."""
    total = np.maximum.accumulate(unwrap_counter(counter.values))
    return Series(counter.time_s, total - total[0] if total.size else total)


class Lost(Struct, frozen=True):
    """What a counter counts, as the codes that name it."""

    label: LinkCode
    per_min: LinkCode
    no_counter: LinkCode
    burst: LinkCode


FRAMES = Lost(LinkCode.LOST_FRAMES, LinkCode.LOST_FRAMES_PER_MIN, LinkCode.NO_COUNTER_FRAMES, LinkCode.BURST_FRAMES)
PACKETS = Lost(
    LinkCode.LOST_PACKETS, LinkCode.LOST_PACKETS_PER_MIN, LinkCode.NO_COUNTER_PACKETS, LinkCode.BURST_PACKETS
)


class Losses(Struct, frozen=True):
    """A counter's total in flight, per minute, and its bursts."""

    total: Figure
    per_min: Figure
    bursts: tuple[Event, ...]


def count_losses(lost: Series, channel: str, subject: str, what: Lost) -> Losses:
    """Count what was lost while airborne.

    Parameters
    ----------
    lost : Series
        From :func:`running_loss`, airborne samples only.
    channel, subject : str
        Named in the figures and events.
    what : Lost
        What is counted: frames of a receiver, or packets of an antenna.
    """
    t, total = lost
    if t.size < 2:
        gone = say(what.no_counter, channel=Part(channel))
        nothing = Figure.unavailable
        return Losses(nothing(say(what.label), "", gone), nothing(say(what.per_min), "1/min", gone), ())
    all_of = float(total[-1])
    seen_min = float((t[-1] - t[0]) / 60.0)
    how = say(LinkCode.COUNTED_AIRBORNE, channel=Part(channel))
    count = Figure(say(what.label), all_of, "", Method.INTEGRATED, how=how, digits=0)
    # Losses come in bursts: the interval is a Poisson count's, widened by the variance of 10 s blocks.
    block = np.diff(np.interp(np.arange(t[0], t[-1] + 1e-9, BLOCK_S), t, total))
    phi = max(1.0, float(block.var(ddof=1) / block.mean())) if block.size > 3 and block.mean() > 0 else 1.0
    half = Z95 * np.sqrt(max(all_of, 1.0) * phi)
    per_min = Figure(
        say(what.per_min), all_of / seen_min, "1/min", Method.ESTIMATED, low=max(all_of - half, 0.0) / seen_min,
        high=(all_of + half) / seen_min, how=say(LinkCode.COUNTED_PER_MIN, how=how, dispersion=phi), digits=2,
    )  # fmt: skip
    return Losses(count, per_min, tuple(_bursts(t, total, subject, what)))


def _bursts(t: FloatArray, total: FloatArray, subject: str, what: Lost) -> list[Event]:
    """Losses close together; what was lost in a hole of the log stands alone, since nobody knows when in it."""
    step, taken = np.diff(total), np.diff(t)
    hit = np.flatnonzero(step > 0)
    if not hit.size:
        return []
    gap = max(BURST_GAP_S, 1.5 * median(taken))
    unseen = taken[hit] > hole_s(t)
    apart = (t[hit[1:]] - t[hit[:-1] + 1] > gap) | unseen[1:] | unseen[:-1]
    first = np.append(0, np.flatnonzero(apart) + 1)
    frames = np.bincount(np.append(0, np.cumsum(apart)), step[hit])
    last = np.append(first[1:], hit.size) - 1
    many = frames >= BURST_FRAMES
    told = (t[hit[first]], t[hit[last] + 1], frames, unseen[first])
    out, label, how = [], say(what.label), say(LinkCode.COUNTER)
    for a, b, lost, hole in zip(*(x[many].tolist() for x in told), strict=True):
        depth = Figure(label, lost, "", Method.INTEGRATED, how=how, digits=0)
        summary = say(what.burst, lost=lost, seconds=b - a, hole=hole)
        out.append(happened("lost_frames", subject, (a, b), summary, size=lost, depth=depth))
    return out


def downlink_hole_s(rows_s: FloatArray) -> float:
    """How long without any row is a hole in the telemetry downlink, s."""
    return max(DOWNLINK_GAP_S, 5 * usual_step_s(rows_s)) if rows_s.size > 1 else DOWNLINK_GAP_S


def find_failsafe(
    state: Series, rows_s: FloatArray, airborne: tuple[float, float], receiver: str
) -> tuple[Figure, list[Event]]:
    """Spans in which a receiver reported failsafe, and their time in flight.

    Parameters
    ----------
    state : Series
        1 in failsafe, 0 not; a state holds until the next one.
    rows_s : ndarray, shape (rows,)
        Every row of the log: where there is none for long, the state was not seen and is not counted.
    airborne : (float, float)
    receiver : str
    """
    t, v = state
    label = say(LinkCode.FAILSAFE_TOTAL)
    if t.size < 2:
        return Figure.unavailable(label, "s", say(LinkCode.NO_FAILSAFE_STATE)), []
    step = np.diff(rows_s)
    watched = summed(np.where(step > downlink_hole_s(rows_s), 0.0, step))
    end = np.append(t[1:], t[-1])
    events, seen, unseen = [], 0.0, 0.0
    for first, past in runs_of(v > 0.5):
        a, b = float(t[first]), float(end[past - 1])
        watched_s = float(np.ptp(np.interp((a, b), rows_s, watched)))
        hole = watched_s < b - a - 0.05
        in_flight = a < airborne[1] and b > airborne[0]
        if in_flight:
            inside = (max(a, airborne[0]), min(b, airborne[1]))
            known = float(np.ptp(np.interp(inside, rows_s, watched)))
            seen, unseen = seen + known, unseen + inside[1] - inside[0] - known
        flown = max(min(b, airborne[1]) - max(a, airborne[0]), 0.0) if in_flight else 0.0
        summary = say(LinkCode.FAILSAFE, receiver=Part(f"link.{receiver}"), seconds=b - a, hole=hole)
        events.append(happened("failsafe", f"link.{receiver}", (a, b), summary, size=flown))
    how = say(LinkCode.FAILSAFE_HOW, unseen=unseen if unseen > 0.05 else 0.0)
    return Figure(label, seen, "s", Method.MEASURED, how=how), events
