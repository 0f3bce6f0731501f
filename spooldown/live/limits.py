"""Limits that the owner sets and that speak while a stream is watched. They are no alarm to fly by."""

from __future__ import annotations

import fnmatch
import math
import re
from collections.abc import Iterable, Sequence

from msgspec import Struct, field

from analyser.core.channels import VOCABULARY, parse
from reports.words.catalogue import message
from spooldown.live.state import State
from spooldown.problems import UsageProblem, nearest

SETTING = "live_limits"
"""The logbook's setting that keeps them, one a line."""
AGAIN_S = 10.0
"""A limit that was kept for so long speaks again when it is passed."""
MOST = 50
_FORM = re.compile(r"\s*([a-z0-9_.*?]+)\s*([<>])\s*([+-]?\d+(?:[.,]\d+)?)\s*")


class Limit(Struct, frozen=True):
    """``channel`` may hold ``*``; it speaks below (``<``) or above (``>``) ``value``, in the channel's own unit."""

    channel: str
    sign: str
    value: float

    def worse(self, value: float, than: float) -> bool:
        """Whether a value lies further on the wrong side than another."""
        return value < than if self.sign == "<" else value > than

    def __str__(self) -> str:
        return f"{self.channel}{self.sign}{self.value:g}"


class Passed(Struct, frozen=True):
    """A limit was passed: by which channel, when and with what value."""

    limit: Limit
    channel: str
    at_s: float
    value: float


def parse_limit(word: str) -> Limit:
    """Take a limit apart, such as ``pack.rx1.voltage_v<7.2`` or ``fuel.*.remaining_ml<600``.

    Raises
    ------
    UsageProblem
        If it is none, or names no channel that there may be.
    """
    found = _FORM.fullmatch(word)
    value = float(found[3].replace(",", ".")) if found else math.nan
    if not found or not math.isfinite(value):
        raise UsageProblem(message("live.refused.no_limit", word=word))
    name = found[1]
    plain = re.sub(r"[*?]+", "x", re.sub(r"(cell|antenna)[*?]", r"\g<1>1", name))
    if parse(plain) is None:
        ours = [f"{c.subject}.{'*.' if c.has_instance else ''}{c.quantity.replace('<n>', '1')}" for c in VOCABULARY]
        raise UsageProblem(message("live.refused.no_channel", word=name, alike=nearest(name, ours, cutoff=0.4)))
    return Limit(name, found[2], value)


def parse_all(words: Iterable[str]) -> tuple[Limit, ...]:
    """Take several apart; blank ones are left out, each counts once.

    Raises
    ------
    UsageProblem
        If one is no limit, or there are too many.
    """
    out = tuple(dict.fromkeys(parse_limit(w) for w in words if w.strip()))
    if len(out) > MOST:
        raise UsageProblem(message("live.refused.many_limits", most=MOST))
    return out


class Watchman(Struct):
    """Looks whether limits are passed; says each passing once, until it was kept for a while."""

    limits: Sequence[Limit]
    now: dict[tuple[str, str], Passed] = field(default_factory=dict)
    """What is passed at present, by limit and channel, with the worst value since it was."""
    _looked_s: float = float("-inf")
    _past_s: dict[tuple[str, str], float] = field(default_factory=dict)

    def look(self, state: State) -> list[Passed]:
        """What has been passed since the last look."""
        since, self._looked_s = self._looked_s, state.now_s
        fresh: list[Passed] = []
        for limit in self.limits:
            for name in [n for n in state.channels if n == limit.channel or fnmatch.fnmatchcase(n, limit.channel)]:
                t, v = state.channels[name].ring.since(since)
                t, v = t[t > since], v[t > since]
                key = (str(limit), name)
                if not v.size:
                    continue
                at = int(v.argmin() if limit.sign == "<" else v.argmax())
                if limit.worse(float(v[at]), limit.value):
                    passed, before = Passed(limit, name, float(t[at]), float(v[at])), self.now.get(key)
                    if before is None:
                        fresh.append(passed)
                    if before is None or limit.worse(passed.value, before.value):
                        self.now[key] = passed
                    self._past_s[key] = float(t[-1])
                elif key in self.now and state.now_s - self._past_s[key] > AGAIN_S:
                    del self.now[key]
        return fresh

    def begin_again(self) -> None:
        """Forget what was passed: the stream is read from its start again."""
        self.now.clear()
        self._past_s.clear()
        self._looked_s = float("-inf")
