"""What a strange log should come to, and how an outcome is judged."""

from __future__ import annotations

import fnmatch
from collections.abc import Mapping

import numpy as np
import pandas as pd
from msgspec import Struct, field

from analyser.core.channels import parse


class Track(Struct, frozen=True):
    """The good samples of one column: instants in seconds, values in the channel's unit, how finely they are written.

    ``channel`` is a pattern (``engine.*.egt_c``) or several with ``|`` between; '' for a column that is no channel.
    """

    heading: str
    channel: str
    time_s: np.ndarray
    values: np.ndarray
    within: float


class Flight(Struct, frozen=True):
    """One flight of a log. ``tick`` is how far a time may be off (the resolution of the printed clock)."""

    tracks: tuple[Track, ...]
    tick: float = 0.0006


class Log(Struct, frozen=True):
    """A strange log and its truth.

    ``fair`` are patterns of question keys that the file really leaves open; ``facts`` what its owner would answer;
    ``refusable`` says that one clear sentence is right too (the file cannot be known, or is none of the shapes
    promised); ``lost`` is how large a share of good samples may be left out.
    """

    name: str
    data: bytes
    flights: tuple[Flight, ...]
    fair: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)
    refusable: bool = False
    lost: float = 0.0
    file: str = "log.csv"


class Outcome(Struct):
    """``word`` is right, asked, needless, refused, needlessly refused, kept, lost, wrong or crash; ``why`` in words."""

    word: str
    why: str = ""


ORDER = ["crash", "wrong", "lost", "needlessly refused", "needless", "kept", "refused", "asked", "right"]


def fits(channel: str, pattern: str) -> bool:
    """Whether a channel is one of those a pattern allows."""
    return any(fnmatch.fnmatchcase(channel, one) for one in pattern.split("|"))


def compare(flights: tuple[Flight, ...], read: list[pd.DataFrame], lost: float) -> Outcome:
    """Hold what was read (``time_s`` and channels, a table a flight) against the truth."""
    if len(flights) != len(read):
        return Outcome("wrong", f"{len(read)} flights, not {len(flights)}")
    worst = Outcome("right")
    for number, (flight, table) in enumerate(zip(flights, read, strict=True), 1):
        one = _flight(flight, table, lost)
        if ORDER.index(one.word) < ORDER.index(worst.word):
            worst = Outcome(one.word, f"flight {number}: {one.why}")
    return worst


def _flight(flight: Flight, table: pd.DataFrame, lost: float) -> Outcome:
    channels = [c for c in table.columns if c != "time_s" and not c.startswith("extra.")]
    time = table["time_s"].to_numpy()
    if not (np.diff(time) > 0).all():
        return Outcome("wrong", "time does not grow")
    taken: dict[int, str] = {}
    kept = []
    for place, track in enumerate(flight.tracks):
        if not track.channel:
            continue
        hit = [c for c in channels if fits(c, track.channel) and c not in taken.values()]
        if len(hit) > 1:
            hit = [c for c in hit if c == track.channel] or hit[:1]
        if not hit:
            kept.append(track.heading)
        else:
            taken[place] = hit[0]
    surplus = [c for c in channels if c not in taken.values()]
    if surplus:
        return Outcome("wrong", f"channels nobody logged: {surplus}")
    if not taken:
        return Outcome("kept", "no channel")
    shift = _shift(flight, table, taken)
    why, missing, total = [], 0, 0
    for place, channel in taken.items():
        track = flight.tracks[place]
        cells = table[channel].astype(float).to_numpy()
        known = parse(channel)
        assert known is not None
        # What no such sensor can measure is kept as logged, and left out by whoever reads it.
        here = (cells >= known.channel.low) & (cells <= known.channel.high)
        bad, absent = _matched(track, time[here] + shift, cells[here], flight.tick)
        total, missing = total + track.time_s.size, missing + absent
        if bad:
            why.append(f"{track.heading}: {bad} of {int(here.sum())} samples wrong in time or value")
    if why:
        return Outcome("wrong", "; ".join(why[:3]))
    if missing > lost * total:
        return Outcome("lost", f"{missing} of {total} samples missing")
    if kept:
        return Outcome("kept", f"not known: {kept}")
    return Outcome("right")


def _shift(flight: Flight, table: pd.DataFrame, taken: Mapping[int, str]) -> float:
    """What to add to the times read; a flight may begin a few rows later where the first were left out."""
    place, channel = next((p, c) for p, c in taken.items())
    track = flight.tracks[place]
    cells = table[channel].astype(float).to_numpy()
    here = ~np.isnan(cells)
    time, cells = table["time_s"].to_numpy()[here], cells[here]
    if not time.size or not track.time_s.size:
        return 0.0
    start = min(t.time_s[0] for t in flight.tracks if t.time_s.size)
    candidates = np.unique(np.concatenate([[start], track.time_s[:60] - time[0]]))
    scores = [_matched(track, time + c, cells, flight.tick)[0] for c in candidates]
    return float(candidates[int(np.argmin(scores))])


def _matched(track: Track, time: np.ndarray, values: np.ndarray, tick: float) -> tuple[int, int]:
    """How many samples read are wrong, and how many good ones are missing."""
    order = np.argsort(track.time_s, kind="stable")
    at, true = track.time_s[order], track.values[order]
    used = np.zeros(at.size, bool)
    bad = 0
    low = np.searchsorted(at, time - tick - 1e-6)
    high = np.searchsorted(at, time + tick + 1e-6, side="right")
    close = low
    single = high - low == 1
    ok = np.zeros(time.size, bool)
    index = np.minimum(close, max(at.size - 1, 0))
    ok[single] = np.abs(true[index[single]] - values[single]) <= track.within
    used[index[single & ok]] = True
    for i in np.flatnonzero(~single):
        fit = [k for k in range(low[i], high[i]) if not used[k] and abs(true[k] - values[i]) <= track.within]
        if fit:
            used[fit[0]] = ok[i] = True
    bad = int((~ok).sum())
    repeated = int(ok.sum()) - int(used.sum())
    return bad + max(repeated, 0), int((~used).sum())
