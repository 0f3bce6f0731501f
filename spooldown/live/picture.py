"""What a live view shows, in the reader's words: voltages with sags, fuel and burn, signals, engines, what happened.

The terminal and the desk draw the same picture.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Iterable
from datetime import datetime
from typing import Any

import numpy as np
from msgspec import Struct, field, to_builtins

from analyser.core.channels import parse
from analyser.core.figures import Figure, FloatArray, Method
from reports.addresses import neutral
from reports.words.catalogue import has, interval, message, quantity, text
from reports.words.names import channel_label, heading, names_on, naming
from spooldown.live.limits import Passed
from spooldown.live.state import SAG_S, Now, State, burn
from spooldown.live.watch import Watch

OLD_S = 5.0
"""A value older than this, or than twenty of its usual pauses, is shown as old."""
QUIET_S = 3.0
_DIGITS = {"V": 2, "A": 1}
_EVENTS = 8


class Line(Struct, frozen=True):
    """One line of the picture: ``beside`` says what belongs to the value, ``trace`` are the last two minutes."""

    channel: str
    label: str
    value: str
    beside: str = ""
    passed: bool = False
    old: bool = False
    trace: tuple[float | None, ...] = ()


class Group(Struct, frozen=True):
    """Lines of one subject."""

    kind: str
    title: str
    lines: tuple[Line, ...]


class Picture(Struct, frozen=True):
    """Everything a view shows.

    ``count`` grows with each limit that is passed, so that who draws it knows when to make a sound; ``warn`` says that
    the state itself asks for attention.
    """

    source: str
    file: str
    state: str
    elapsed: str
    elapsed_s: float
    size: str
    warn: bool
    groups: tuple[Group, ...] = ()
    hints: tuple[str, ...] = ()
    spoken: tuple[str, ...] = ()
    passed: tuple[str, ...] = ()
    events: tuple[str, ...] = ()
    count: int = 0
    ended: bool = False
    caution: str = field(default_factory=lambda: message("live.caution"))

    def plain(self) -> dict[str, Any]:
        """As what JSON can hold."""
        plain: dict[str, Any] = to_builtins(self)
        return plain


def picture(watch: Watch, *, traces: bool = False, answers: bool = True) -> Picture:
    """What there is to see now; ``answers`` where whoever looks can answer what is asked on the command line."""
    with watch.lock, naming(names_on(watch.aircraft)):
        state, live = watch.state, watch.live
        since = time.time() - watch.came_at
        heard = watch.bytes > 0
        warn = False
        if watch.ended:
            said = message("live.state.ended")
        elif not heard:
            said = message("live.state.waiting")
        elif since > QUIET_S:
            said, warn = message("live.state.silent", seconds=since), True
        elif live.plan is None:
            said = message("live.state.not_understood")
        else:
            said = message("live.state.running")
        passed = set(watch.watchman.now)
        return Picture(
            source=_source(watch.source), file=watch.path.name, state=said, elapsed=duration(state.now_s),
            elapsed_s=round(state.now_s, 1), warn=warn,
            size=message("live.size", mb=watch.bytes / 1e6, rows=state.rows),
            groups=tuple(_groups(state, {name for _, name in passed}, traces)), hints=tuple(_hints(watch, answers)),
            spoken=tuple(f"{_hour(at)} {_passing(p)}" for at, p in list(watch.spoken)[-_EVENTS:][::-1]),
            passed=tuple(_passing(p) for p in watch.watchman.now.values()),
            events=tuple(event_text(e) for e in list(watch.events)[-_EVENTS:][::-1]),
            count=watch.count, ended=watch.ended,
        )  # fmt: skip


def duration(seconds: float) -> str:
    """Minutes and seconds, ``12:05``; with hours from one on."""
    whole = int(max(seconds, 0.0))
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02}:{whole % 60:02}" if hours else f"{minutes}:{whole % 60:02}"


def passed_text(passed: Passed) -> str:
    """A limit that was passed, as a sentence."""
    return _passing(passed)


def event_text(event: dict[str, Any]) -> str:
    """An event of a journal as a line; what it quotes is made harmless."""
    code = f"live.event.{event['event']}"
    try:
        at = datetime.fromisoformat(str(event.get("at", ""))).astimezone()
        when = f"{at:%H:%M:%S} "
    except ValueError:
        when = ""
    if not re.fullmatch(r"[a-z_]+", str(event["event"])) or not has(code):
        return when + neutral(str(event["event"]))[:40]
    values = {k: neutral(v)[:200] if isinstance(v, str) else v for k, v in event.items() if k != "event"}
    values["source"] = _source(str(event.get("source", "")))
    try:
        return when + message(code, **values)
    except Exception:  # a journal that another version or hand wrote lacks a value
        return when + neutral(str(event["event"]))


def _source(name: str) -> str:
    return message("live.standard_input") if name == "-" else neutral(name)


def _hints(watch: Watch, answers: bool) -> Iterable[str]:
    live = watch.live
    if watch.fault:
        yield message("live.hint.fault", why=neutral(watch.fault))
    if live.plan is None and live.why is not None:
        yield message("live.hint.refused", why=neutral(str(live.why)))
    for question in live.asks:
        asked = neutral(str(text(question.text)))
        if answers:
            yield message("live.hint.asks", key=question.key, text=asked, answers=tuple(question.answers))
        else:
            yield message("live.hint.asks_later", text=asked)
    recent = [e["event"] for e in list(watch.events)[-3:]]
    if "garbage" in recent:
        yield message("live.hint.garbage")
    if watch.passed_over:
        yield message("live.hint.passed_over", mb=watch.passed_over / 1e6)


def _groups(state: State, passed: set[str], traces: bool) -> Iterable[Group]:
    for kind, lines in (
        ("voltage", _voltages(state, passed, traces)), ("fuel", _fuel(state, passed, traces)),
        ("signal", _signals(state, passed, traces)), ("engine", _engines(state, passed, traces)),
    ):  # fmt: skip
        if lines:
            yield Group(kind, message(f"live.group.{kind}"), tuple(lines))


def _voltages(state: State, passed: set[str], traces: bool) -> list[Line]:
    out = []
    for name, now in _named(state, r"(pack|bus)\.[^.]+\.voltage_v"):
        beside = message("live.lowest_of", seconds=SAG_S, v=_written(now, now.lowest_of(SAG_S, state.now_s)),
                         all=_written(now, now.lowest), at=duration(now.lowest_s))  # fmt: skip
        current = state.channels.get(f"{name.removesuffix('.voltage_v')}.current_a")
        if current is not None and not _is_old(state, current):
            beside = message("live.current", a=_written(current, current.last)) + beside
        cells = [c for _, c in _named(state, re.escape(name.rpartition(".")[0]) + r"\.cell\d+_v")]
        if cells:
            weakest = min(cells, key=lambda c: c.last)
            which = parse(weakest.name)
            beside += message("live.weakest", n=which.number if which else 0, v=_written(weakest, weakest.last))
            passed = passed | {name} if any(c.name in passed for c in cells) else passed
        out.append(_line(state, now, beside, passed, traces))
    return out


def _fuel(state: State, passed: set[str], traces: bool) -> list[Line]:
    out = []
    tanks = sorted({n.split(".")[1] for n in state.channels if n.startswith("fuel.")})
    for tank in tanks:
        left = next((state.channels[n] for q in ("remaining_ml", "remaining_percent", "used_ml", "flow_ml_per_min")
                     if (n := f"fuel.{tank}.{q}") in state.channels), None)  # fmt: skip
        if left is None:
            continue
        burned = burn(state, tank, "")
        beside = message("live.no_burn") if burned.value is None else message(
            "live.burn", burn=quantity(burned), between=interval(burned))  # fmt: skip
        out.append(_line(state, left, beside, passed, traces, also=f"fuel.{tank}."))
    return out


def _signals(state: State, passed: set[str], traces: bool) -> list[Line]:
    """Each antenna with what it missed; then each receiver, its failsafe by itself only while it is on."""
    out = []
    told: set[str] = set()
    for name, now in _named(state, r"link\.[^.]+\.((antenna\d+_)?(rssi_dbm|signal_percent|signal_counts)|"
                                   r"link_quality_percent)|downlink\.[^.]+\.(rssi_dbm|signal_percent)"):  # fmt: skip
        beside = message("live.weakest_of", seconds=SAG_S, v=_written(now, now.lowest_of(SAG_S, state.now_s)))
        missed = re.sub(r"(antenna\d+)_.*", r"\1_lost", name)
        if missed != name and missed in state.channels:
            told.add(missed)
            counter = state.channels[missed]
            beside += message("live.missed", n=_more(state, counter), all=_written(counter, counter.last))
        out.append(_line(state, now, beside, passed, traces, also=missed if missed in told else ""))
    for name, now in _named(state, r"link\.[^.]+\.(lost_frames|antenna\d+_lost)"):
        if name in told:
            continue
        beside = message("live.more_in", n=_more(state, now))
        safe = state.channels.get(f"{name.rpartition('.')[0]}.failsafe") if name.endswith("lost_frames") else None
        if safe is not None and safe.last <= 0.5:
            told.add(safe.name)
            beside += message("live.failsafe_is_off")
        out.append(_line(state, now, beside, passed, traces=False))
    for name, now in _named(state, r"link\.[^.]+\.failsafe"):
        if name not in told:
            on = now.last > 0.5
            shown = message("live.failsafe_on" if on else "live.failsafe_off")
            out.append(Line(name, _label(name), shown, "", name in passed or on, _is_old(state, now)))
    return out


def _more(state: State, counter: Now) -> int:
    """By how much a counter grew in the last minute."""
    _, v = counter.ring.since(state.now_s - 60.0)
    return int(np.clip(np.diff(v), 0, None).sum())


def _engines(state: State, passed: set[str], traces: bool) -> list[Line]:
    out = []
    for _, now in _named(state, r"engine\.[^.]+\.(speed_rpm|egt_c)"):
        beside = message("live.highest", v=_written(now, now.highest), at=duration(now.highest_s))
        out.append(_line(state, now, beside, passed, traces))
    return out


def _line(state: State, now: Now, beside: str, passed: set[str], traces: bool, also: str = "") -> Line:
    old = _is_old(state, now)
    if old:
        beside = message("live.old", seconds=state.now_s - now.last_s)
    hit = now.name in passed or (bool(also) and any(n.startswith(also) for n in passed))
    trace = _plain(now.traced(state.now_s)) if traces else ()
    return Line(now.name, _label(now.name), _written(now, now.last), beside, hit, old, trace)


def _is_old(state: State, now: Now) -> bool:
    t, _ = now.ring.since(state.now_s - 60.0)
    usual = float(np.median(np.diff(t))) if t.size > 4 else 0.0
    return state.now_s - now.last_s > max(OLD_S, 20 * usual)


def _label(name: str) -> str:
    found = re.fullmatch(r"(link\.[^.]+\.antenna\d+)_(?:rssi_dbm|signal_percent|signal_counts)", name)
    return heading(found[1]) if found else channel_label(name)


def _written(now: Now, value: float) -> str:
    if not math.isfinite(value):
        return "–"
    unit = "" if now.unit in ("1", "bool") else now.unit
    return quantity(Figure("", value, unit, Method.MEASURED, digits=_DIGITS.get(now.unit, 0)))


def _passing(passed: Passed) -> str:
    known = parse(passed.channel)
    unit = known.channel.unit if known else ""
    digits = _DIGITS.get(unit, 0)
    value, limit = (quantity(Figure("", v, "" if unit in ("1", "bool") else unit, Method.MEASURED, digits=digits))
                    for v in (passed.value, passed.limit.value))  # fmt: skip
    code = "live.passed.below" if passed.limit.sign == "<" else "live.passed.above"
    return message(code, what=_label(passed.channel), v=value, limit=limit, at=duration(passed.at_s))


def _named(state: State, pattern: str) -> list[tuple[str, Now]]:
    return sorted((n, c) for n, c in state.channels.items() if re.fullmatch(pattern, n))


def _plain(values: FloatArray) -> tuple[float | None, ...]:
    return tuple(float(f"{v:.5g}") if math.isfinite(v) else None for v in values)


def _hour(at: float) -> str:
    return f"{datetime.fromtimestamp(at):%H:%M:%S}"
