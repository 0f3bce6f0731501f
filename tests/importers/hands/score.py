"""Score the importer on the hands.

``python -m tests.importers.hands.score [PART] [--wrong] [--hand NAME] [--seed N]``, where PART is ``open``, ``held``,
``sealed``, ``fresh``, ``strangers``, ``sealed strangers`` or ``all`` hands;
``--markdown`` prints the tables of ``docs/import.md``.

Every column comes out as one of:

``right``     the true channel with the true values, or no channel where there is none
``asked``     a question was fair, or the certainty shown is below the threshold of doubt
``wrong``     a wrong channel, instance, unit or value, without a question: nobody looks again
``needless``  a question about an ordinary column that the log settles
``missed``    a channel kept as unknown, without a question; a start that the log tells and nobody hears
``refused``   the file was refused
"""

from __future__ import annotations

import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
from msgspec import Struct
from scipy.stats import binomtest

from importers.model import ColumnPlan
from tests.importers.hands.flight import Floats
from tests.importers.hands.reader import DOUBT, Seen, look
from tests.importers.hands.truth import Accept, Column, Log, fits

OUTCOMES = ("right", "asked", "wrong", "needless", "missed", "refused")
HALVES = ("open", "held", "sealed", "fresh")
NO_START = "the start that the log tells is not known"
BINS = (0.0, 0.25, 0.5, 0.7, 0.8, 0.9, 0.95, 1.01)


class Mark(Struct, frozen=True):
    """How one column, or the clock of one log, came out."""

    log: Log
    heading: str
    trap: str
    outcome: str
    certainty: float | None
    right: bool
    made: str
    truth: str
    why: str = ""

    @property
    def kind(self) -> str:
        """``ordinary`` or ``trap``."""
        return "trap" if self.trap else "ordinary"


def same_values(true: Floats, got: Floats) -> bool:
    """Whether two sets of readings agree: cell by cell where none was left out, else by their spread."""
    a, b = np.sort(true[np.isfinite(true)]), np.sort(got[np.isfinite(got)])
    if not a.size or not b.size:
        return a.size == b.size
    near = 2e-5 * float(np.abs(a).max()) + 1e-9
    if a.size == b.size:
        return bool(np.all(np.abs(a - b) <= near))
    if not 0.85 * a.size <= b.size <= 1.03 * a.size:  # a repeated row is the clock's mistake
        return False
    spread = float(a[-1] - a[0])
    at = np.linspace(0.0, 1.0, 21)
    if np.any(np.abs(np.quantile(a, at) - np.quantile(b, at)) > 0.03 * spread + near):
        return False
    i = np.clip(np.searchsorted(a, b), 1, a.size - 1) if a.size > 1 else np.zeros(b.size, dtype=int)
    gap = np.minimum(np.abs(a[i] - b), np.abs(a[np.maximum(i - 1, 0)] - b))
    return float(np.mean(gap <= near)) >= 0.98


def same_name(accept: Accept, channel: str) -> tuple[bool, str, str]:
    """Whether a channel's name says what the hand said; its instance and antenna, for what must be alike in a log."""
    parts = channel.split(".")
    subject, instance, quantity = parts[0], ".".join(parts[1:-1]), parts[-1]
    antenna = ""
    if accept.antenna:
        if found := re.fullmatch(r"antenna_?([a-z0-9_]+?)_(rssi_dbm|signal_percent|signal_counts|lost)", quantity):
            antenna, quantity = found[1], found[2]
        elif len(parts) == 4:
            instance, antenna = parts[1], parts[2].removeprefix("antenna").strip("_:")
        if not antenna or (accept.antenna.isdigit() and antenna != accept.antenna):
            return False, instance, antenna
    ok = subject == accept.subject and quantity == accept.quantity
    ok = ok and (not accept.instance or fits(subject, accept.instance, instance))
    return ok, instance, antenna


def judge(column: Column, plans: Sequence[ColumnPlan], seen: Seen) -> tuple[bool, list[tuple[Accept, str]], str]:
    """Whether a column was read rightly, by which readings, and why not."""
    channels = [p.channel for p in plans if p.channel and not p.channel.startswith("extra.") and p.channel != "time_s"]
    if not channels:
        return column.extra or column.clock, [], "kept as no channel"
    if not column.accepts:
        return False, [], "no channel in truth"
    taken: list[tuple[Accept, str]] = []
    why = ""
    for accept in column.accepts:
        for channel in channels:
            ok, _, _ = same_name(accept, channel)
            if not ok:
                why = why or "name"
            elif channel in seen.values and not same_values(accept.values, seen.values[channel]):
                why = "values"
            else:
                taken.append((accept, channel))
    if column.every:
        return len({a.target for a, _ in taken}) == len(column.accepts), taken, why
    return bool(taken) and len(channels) == 1, taken[:1], why


def _inconsistent(taken: dict[int, tuple[Accept, str]]) -> set[int]:
    """Columns whose instance is not that of the same pack, tank or receiver elsewhere, or that two share."""
    votes: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for accept, channel in taken.values():
        if accept.instance:
            votes[accept.subject, accept.instance][same_name(accept, channel)[1]] += 1
    chosen = {k: v.most_common(1)[0][0] for k, v in votes.items()}
    shared = Counter((k[0], v) for k, v in chosen.items())
    bad = set()
    for i, (accept, channel) in taken.items():
        if not accept.instance:
            continue
        instance = same_name(accept, channel)[1]
        key = accept.subject, accept.instance
        if instance != chosen[key] or shared[accept.subject, instance] > 1:
            bad.add(i)
    return bad


def _outcome(column: Column, right: bool, asked: bool, doubt: bool, silent: bool) -> str:
    if asked or (doubt and not right):
        return "asked" if column.ask != "no" or column.trap or not right else "needless"
    if right and column.ask != "must":
        return "right"
    if silent:  # a word of two meanings may as well stay unknown
        return "asked" if column.ask == "must" else "missed"
    return "wrong"


def marks(log: Log, seen: Seen | None = None) -> list[Mark]:
    """How every column of a log came out, and its clock (heading ``clock``)."""
    seen = seen or look(log)
    truths = [" | ".join(a.target for a in c.accepts) or "no channel" for c in log.columns]
    if seen.refused:
        return [Mark(log, c.heading, c.trap, "refused", None, False, "", t, seen.refused)
                for c, t in zip(log.columns, truths, strict=True) if not c.clock] + [_clock(log, seen)]  # fmt: skip
    rights, taken, whys = [], {}, []
    for i, c in enumerate(log.columns):
        right, how, why = judge(c, seen.plans[i], seen)
        rights.append(right)
        whys.append(why)
        if right and how and not c.every:
            taken[i] = how[0]
    odd = _inconsistent(taken)
    out = []
    for i, c in enumerate(log.columns):
        plans = seen.plans[i]
        channels = [
            p.channel for p in plans if p.channel and not p.channel.startswith("extra.") and p.channel != "time_s"
        ]
        if c.clock and not channels:
            continue
        right = rights[i] and i not in odd
        sure = min((p.confidence for p in plans if p.channel in channels), default=None)
        asked = i in seen.asked
        doubt = sure is not None and sure < DOUBT
        outcome = _outcome(c, right, asked, doubt, not channels)
        why = "" if right else ("inconsistent name" if i in odd else whys[i])
        shown = sure if not asked or i in seen.doubted else None
        out.append(Mark(log, c.heading, c.trap, outcome, shown, right, " + ".join(channels) or "extra", truths[i], why))
    return [*out, _clock(log, seen)]


def _clock(log: Log, seen: Seen) -> Mark:
    c = log.clock
    true = f"{c.seconds[-1]:.3f} s from {c.utc or c.local or 'an unknown day'}"

    def mark(outcome: str, why: str = "", made: str = "") -> Mark:
        return Mark(log, "clock", c.trap, outcome, None, outcome == "right", made, f"{c.form}: {true}", why)

    if seen.refused or seen.read_refused:
        return mark("refused", seen.refused or seen.read_refused)
    asked = [q for q in seen.layout if q.key.partition(".")[0] not in ("unit", "meaning", "column", "duplicate")]
    if seen.seconds is None:
        return mark("refused", "nothing read")
    made = f"{seen.seconds[-1]:.3f} s, {seen.flights} flight(s), from {seen.utc or seen.local or '?'}"
    if asked:
        return mark("asked" if c.ask != "no" or c.trap else "needless", ", ".join(q.key for q in asked), made)
    why = _clock_wrong(log, seen)
    if why:
        return mark("missed" if why == NO_START else "wrong", why, made)
    return mark("wrong" if c.ask == "must" else "right", "should have been asked" if c.ask == "must" else "", made)


def _clock_wrong(log: Log, seen: Seen) -> str:
    c = log.clock
    assert seen.seconds is not None
    slack = 2.0 * c.resolution_s + 1e-6
    if seen.flights != 1:
        return f"{seen.flights} flights"
    if abs(float(seen.seconds[-1] - c.seconds[-1])) > slack:
        return "duration"
    i = np.clip(np.searchsorted(c.seconds, seen.seconds), 1, c.seconds.size - 1)
    off = np.minimum(np.abs(c.seconds[i] - seen.seconds), np.abs(c.seconds[i - 1] - seen.seconds))
    # A clock coarser than its rows has them spread evenly: within one tick of the truth.
    if float(off.max()) > slack:
        return "times of rows"
    if c.utc and not seen.utc and not seen.local:
        return NO_START
    if c.utc and (not seen.utc or abs(seen.utc - c.utc) > timedelta(seconds=1 + slack)):
        return "start"
    if not c.utc and seen.utc:
        return "a start that the log does not tell"
    if c.local and seen.local:
        got = datetime.fromisoformat(seen.local[:26].replace("Z", "")).replace(tzinfo=None)
        if abs(got - c.local) > timedelta(seconds=1 + slack):
            return "local start"
    if c.local and not seen.local:
        return NO_START
    return ""


def table(all_marks: Iterable[Mark], by: str = "kind") -> str:
    """A table of outcomes; ``by`` names an attribute of a mark, or ``hand``, ``language``."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for m in all_marks:
        key = getattr(m.log, by) if by in ("hand", "language") else getattr(m, by) or "ordinary"
        counts[key][m.outcome] += 1
    wide = max([len(k) for k in counts] + [8])
    lines = [f"{by:<{wide}} {'columns':>8}" + "".join(f"{o:>10}" for o in OUTCOMES)]
    for key in sorted(counts):
        c, n = counts[key], sum(counts[key].values())
        lines.append(f"{key:<{wide}} {n:>8}" + "".join(f"{c[o]:>10}" for o in OUTCOMES))
    return "\n".join(lines)


def once(all_marks: Iterable[Mark]) -> list[Mark]:
    """Each heading of a hand once, as in its first log: its other logs are no independent trials of it."""
    first: dict[tuple[str, str, str], Mark] = {}
    for m in all_marks:
        if m.certainty is not None:
            first.setdefault((m.log.hand, m.heading, m.truth), m)
    return list(first.values())


def reliability(all_marks: Iterable[Mark]) -> list[tuple[float, float, int, int, float, float, float]]:
    """Certainty shown against rightness.

    Returns
    -------
    list of (low, high, shown, right, mean certainty, interval low, interval high)
        One for each bin that holds columns; the interval is the 95 % one of Clopper and Pearson (Biometrika 26, 1934).
    """
    some = [m for m in all_marks if m.certainty is not None]
    out = []
    for low, high in pairwise(BINS):
        inside = [m for m in some if low <= (m.certainty or 0.0) < high]
        if inside:
            good = sum(m.right for m in inside)
            interval = binomtest(good, len(inside)).proportion_ci(0.95, method="exact")
            mean = float(np.mean([m.certainty for m in inside]))
            out.append((low, high, len(inside), good, mean, float(interval.low), float(interval.high)))
    return out


def _reliable(name: str, some: Sequence[Mark]) -> str:
    lines = [f"{name:<14} columns     right    95 % interval    mean shown"]
    for low, high, n, good, mean, a, b in reliability(some):
        lines.append(f"{low:.2f} – {min(high, 1.0):.2f}   {n:>7} {good / n:>8.1%}   {a:>6.1%} – {b:>6.1%} {mean:>11.1%}"
                     + ("" if a <= mean <= b else "  over" if mean > b else "  under"))  # fmt: skip
    return "\n".join(lines)


def line(m: Mark) -> str:
    """One mark in one line."""
    shown = "" if m.certainty is None else f", {m.certainty:.0%}"
    trap = f" [{m.trap}]" if m.trap else ""
    return f"{m.outcome:<8} {m.log.name:<26} {m.heading!r:<36} {m.made} for {m.truth} ({m.why[:90]}{shown}){trap}"


def report(logs: Sequence[Log], wrong: bool = False) -> str:
    """All tables of some logs, as text."""
    every = [m for log in logs for m in marks(log)]
    columns = [m for m in every if m.heading != "clock"]
    clock = [m for m in every if m.heading == "clock"]
    parts = [f"{len(logs)} logs, {len(columns)} columns"]
    parts += [table(columns, by) for by in ("kind", "hand", "language", "trap")]
    parts += ["Clocks", table(clock), table(clock, "trap"), "Certainty shown against rightness"]
    parts += [_reliable(kind, [m for m in columns if m.kind == kind]) for kind in ("ordinary", "trap")]
    parts += [_reliable("all", columns), _reliable("headings once", once(columns))]
    if wrong:
        parts.append("\n".join(line(m) for m in every if m.outcome not in ("right", "asked")))
    return "\n\n".join(parts)


def markdown(parts: dict[str, Sequence[Log]]) -> str:
    """The two tables of ``docs/import.md``: outcomes by part and kind, and certainty against rightness."""
    every = {part: [m for log in some for m in marks(log) if m.heading != "clock"] for part, some in parts.items()}
    names = ("how many", "right", "asked", "wrong and sure", "asked needlessly", "kept as unknown", "refused")
    out = [f"| hands | columns | {' | '.join(names)} |", "| --- | --- |" + " --: |" * 7]
    for part, some in every.items():
        for kind in ("ordinary", "trap"):
            counts = Counter(m.outcome for m in some if m.kind == kind)
            cells = [part, kind, sum(counts.values()), *(counts[o] for o in OUTCOMES)]
            out.append("| " + " | ".join(f"{c:,}" if isinstance(c, int) else c for c in cells) + " |")
    out += ["", "| certainty shown | headings | right | 95 % interval | mean shown |", "| --- |" + " --: |" * 4]
    for low, high, n, good, mean, a, b in reliability(once(m for some in every.values() for m in some)):
        bounds = f"{low:.0%} to {min(high, 1.0):.0%}"
        out.append(f"| {bounds} | {n} | {good / n:.1%} | {a:.1%} to {b:.1%} | {mean:.1%} |")
    return re.sub(r" ?%", " %", "\n".join(out))


def main(arguments: Sequence[str]) -> None:
    """Print the tables."""
    from tests.importers.hands.logs import logs

    half = next(
        (a for a in arguments if a in (*HALVES, "strangers", "later strangers", "sealed strangers", "all")), "open"
    )
    seed = int(arguments[arguments.index("--seed") + 1]) if "--seed" in arguments else 0
    some = logs(half, seed)
    if "--hand" in arguments:
        name = arguments[arguments.index("--hand") + 1]
        some = tuple(log for log in some if name in log.hand)
    if "--markdown" in arguments:
        print(
            markdown({part: logs(part, seed) for part in (*HALVES, "strangers", "later strangers", "sealed strangers")})
        )
        return
    print(report(some, "--wrong" in arguments))


if __name__ == "__main__":
    main(sys.argv[1:])
