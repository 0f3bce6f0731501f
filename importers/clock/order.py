"""Rows in the order they were measured: counters carried on, late rows put in their place, flights told apart.

Radio telemetry brings packets late, twice, swapped and in bursts. The line of a log's clock is what grows from row to
row; a row that falls below it either fills a hole in it (it came late), comes again, or shows that the clock was set
back or started anew. Nothing here ever makes a log longer than its own stamps say, but for a clock that was set back.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field

from analyser.core.findings import Finding, say
from importers.clock.codes import ClockCode
from importers.clock.setting import STAYS, Setting

FloatArray = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.intp]

GAP_S = 60.0
"""A silence this long ends a flight (or twenty usual steps, whichever is longer)."""
LONGEST_GAP_S = 1800.0
"""A silence this long ends a flight whatever its steps."""
LATE_S = 30.0
"""How late a row may come and still be put in its place (or fifty usual steps, whichever is longer)."""
LATEST_S = 600.0
"""How late rows may come that fill a hole."""
FILLS = 0.1
"""Rows fill a hole where the line has not even this share of their number among them."""
HOLE_STEPS = 5
HELD_FOR_HOLES = 50_000
"""Rows held back because what fills a hole before them may still come."""
SMALL_STEP_BACK_S = 2.0
"""A clock set back by less than this was corrected; by more, it started anew."""
WINDOW = 17
"""Rows among which a stray shows."""
EVEN_WITHIN = 0.05
"""Steps of an even clock are whole multiples of the usual one to within this share of it."""
OLD_ROWS = 20
"""Rows of a late burst from long ago; more of them are another flight."""
HELD_ROWS = 200_000
COARSE_FROM = 0.1
"""A clock of which this share of rows repeats a stamp is coarse: equal stamps are no sign that a row came again."""
DAYS = (86_400, 43_200)
LAP_STEPS = 3
HOUR_S = 3600.0
UNSET_S = 300.0
"""How long a clock that began at 00:00:00 may run until it is set."""
HOUR_WITHIN_S = 0.05
MOST_HOURS = 14
"""No zone is further from UTC (ISO 8601 has no limit; the time zone database ends at 14 h)."""

RESET = say(ClockCode.RESET)
"""Why a flight begins where a clock falls back far."""


class Part(Struct, frozen=True):
    """Rows of one flight in time order.

    ``rows`` are places in what was given, ``times`` their seconds, ``why`` the flight begins here (None where it
    goes on).
    """

    rows: Rows
    times: FloatArray
    why: Finding | None = None


class Settled(Struct, frozen=True):
    """What is known of some rows.

    The last of the ``parts`` may go on: only its first ``ripe`` rows are final. ``held`` rows wait for what comes, with
    their ``held_times``.
    """

    parts: Sequence[Part]
    ripe: int
    held: Rows
    held_times: FloatArray
    plain: bool = False
    """Whether the rows are simply all of those given, as they came."""


class Order(Struct):
    """The clock of one file, block by block.

    Parameters
    ----------
    per_second : float
        Units of a reading in a second.
    wraps : tuple of int
        Values at which the clock starts anew by itself.
    local : bool
        Whether its hours may jump where summer time begins or ends.
    """

    per_second: float = 1
    wraps: tuple[int, ...] = ()
    local: bool = False
    laps: tuple[int, ...] = ()
    """Round numbers at which it may start anew, where it does so to the step."""
    wall: bool = False
    """Whether it tells the time of day: such a clock may be set, but is never started anew."""
    of_day: bool = False
    """Whether its readings count from midnight, without a date."""
    phase_s: float = 0.0
    """The common zero of its readings, seconds after a full hour."""
    offset: float = 0.0
    last: float | None = None
    step: float = 0.0
    changes: list[tuple[float, float]] = field(default_factory=list)
    """Where summer time began or ended: the second, and by how much readings were moved from there on."""
    notes: dict[ClockCode, int] = field(default_factory=dict)
    setting: Setting = field(default_factory=Setting)
    _highest: float = -np.inf
    _moved: float = 0.0
    _first: float | None = None
    _carried: int = 0
    _early: FloatArray = field(default_factory=lambda: np.empty(0))
    """Stamps of rows held that lie ahead of the line."""

    @property
    def gap_s(self) -> float:
        """The silence that ends a flight; rows further apart than this as a rule are no telemetry of one."""
        return GAP_S if self.step > GAP_S else min(max(GAP_S, 20 * self.step), LONGEST_GAP_S)

    @property
    def reach_s(self) -> float:
        """How late a row may be."""
        return min(max(LATE_S, 50 * self.step), LATEST_S)

    def unwrap(self, raw: FloatArray) -> FloatArray:
        """Readings in native units, from one common zero and without NaN, to seconds on one line, shape (n,)."""
        if not raw.size:
            return raw
        unit = float(self.per_second)
        d = np.diff(raw, prepend=raw[0] if self.last is None else self.last)
        self.last = float(raw[-1])
        ahead = d[d > 0]
        step = float(np.median(ahead)) if ahead.size else self.step * unit
        shift = np.zeros(raw.size)
        for modulus in self.wraps:
            if modulus not in DAYS and max(self._highest, float(raw.max())) >= modulus:
                continue
            reach = self._reach(modulus, step)
            free = shift == 0
            on = free & (d + modulus >= 0) & (d + modulus <= reach)
            # A late row from before the counter started anew.
            back = free & (d - modulus < 0) & (d - modulus >= -min(reach, LATE_S * unit))
            shift[on], shift[back] = modulus, -modulus
            if self.notes or on.any():
                self.note(ClockCode.CARRIED, int(on.sum()) - int(back.sum()))
            if modulus == DAYS[0]:  # a date that stood still is carried on above, until it catches up
                net = self._carried + np.cumsum(on.astype(int) - back)
                caught = free & (d >= modulus) & (d - modulus <= max(3 * step, 2 * unit)) & (net > 0)
                shift[caught] = -modulus
                self._carried = int(net[-1]) - int(caught.sum())
        self._lap(raw, d, step, shift)
        before = None if self._highest == -np.inf else float(raw[0] - d[0])
        moves, from_start = self.setting.jumps(raw, before, step)
        if moves.any():
            at = int(np.flatnonzero(moves)[0])
            self.note(ClockCode.SET, at if from_start else raw.size - at)
            shift += moves
            if from_start:
                shift[0] -= moves[at]
            else:
                self._moved += float(moves.sum())
                self.changes.append((float(raw[at] + self.offset + shift[: at + 1].sum()) / unit, self._moved / unit))
        self._highest = max(self._highest, float(raw.max()))
        if self.of_day and before is None:
            self._from_midnight(raw, d, step, shift)
        if self.local:
            self._summer(raw, d, step, shift)
        if self.wall:
            self._hours(raw, d, step, shift)
        if shift.any():
            times = (raw + self.offset + np.cumsum(shift)) / unit
            self.offset += float(shift.sum())
            return np.asarray(times)
        moved = raw + self.offset if self.offset else raw
        return np.asarray(moved / unit if unit != 1 else moved)

    def _lap(self, raw: FloatArray, d: FloatArray, step: float, shift: FloatArray) -> None:
        """Carry on counters that start anew at a round number: one that begins far from 0 has not just been started."""
        if self._first is None:
            self._first = float(raw[0])
        if self._first <= LAP_STEPS * step or not (d < 0).any():
            return
        for modulus in self.laps:
            if max(self._highest, float(raw.max())) >= modulus:
                continue
            near = LAP_STEPS * step
            on = (shift == 0) & (d < 0) & (d + modulus > 0) & (d + modulus <= near) & (raw < near)
            shift[on] = modulus
            self.note(ClockCode.CARRIED, int(on.sum()))

    def _summer(self, raw: FloatArray, d: FloatArray, step: float, shift: FloatArray) -> None:
        """Undo the hour that summer time adds or takes: clocks jump from the end of an hour to the start of one."""
        near = max(2.0, 3 * step)
        for i in np.flatnonzero(np.abs(np.abs(d) - HOUR_S) <= near):
            now = raw[i] + self.phase_s
            if shift[i] == 0 and (now - d[i]) % HOUR_S >= HOUR_S - near and now % HOUR_S <= near:
                shift[i] = -HOUR_S if d[i] > 0 else HOUR_S
                self._moved += shift[i]
                self.changes.append((float(raw[i] + self.offset + shift[: i + 1].sum()), self._moved))
                self.note(ClockCode.SUMMER_TIME)

    def _from_midnight(self, raw: FloatArray, d: FloatArray, step: float, shift: FloatArray) -> None:
        """Join the rows of a clock of the day that counts from 00:00:00 until it is set, by a usual step."""
        at = int(np.argmax(d >= HOUR_S))
        if 0 <= raw[0] < 1 and d[at] >= HOUR_S and 0 < raw[at - 1] < UNSET_S and raw.size - at >= STAYS:
            shift[0] += d[at] - step
            shift[at] += step - d[at]
            self.note(ClockCode.SET, at)

    def _hours(self, raw: FloatArray, d: FloatArray, step: float, shift: FloatArray) -> None:
        """Undo whole hours by which a clock was set (a zone chosen in flight): it goes on to the step."""
        unit = float(self.per_second)
        hours = np.rint((d - step) / (HOUR_S * unit))
        rest = d - hours * (HOUR_S * unit)
        near = np.abs(rest - step) <= np.where(hours < 0, max(2 * step, unit * HOUR_WITHIN_S), min(step, unit))
        for i in np.flatnonzero((hours != 0) & (np.abs(hours) <= MOST_HOURS) & near & (shift == 0)):
            moved = -float(hours[i]) * HOUR_S * unit
            shift[i] = moved
            self._moved += moved
            self.changes.append((float(raw[i] + self.offset + shift[: i + 1].sum()) / unit, self._moved / unit))
            self.note(ClockCode.HOURS_SET)

    def moved_s(self, at_s: float) -> float:
        """By how much readings were moved for summer time before an instant."""
        return next((moved for since, moved in reversed(self.changes) if since <= at_s), 0.0)

    def _reach(self, modulus: int, step: float) -> float:
        """How long a step across a wrap may be and still be one."""
        if modulus in DAYS:
            return 6 * HOUR_S if modulus == DAYS[0] else 600.0
        return max(0.05 * modulus if modulus < 10**6 else 0.0, 50 * step,
                   2.0 * self.per_second if modulus > 10**6 else 0)  # fmt: skip

    def note(self, what: ClockCode, count: int = 1) -> None:
        """Count something that was mended."""
        if count > 0:
            self.notes[what] = self.notes.get(what, 0) + count

    def settle(
        self, t: FloatArray, content: Callable[[Rows], npt.NDArray[np.uint64]], *, begun: bool, final: bool
    ) -> Settled:
        """Put rows in order and tell flights apart.

        Parameters
        ----------
        t : ndarray, shape (n,)
            Seconds, as :meth:`unwrap` gives them, in the order of the file; before them what was held the last time.
        content : callable
            Gives, for some rows, a number each that is the same for rows of the same cells but for their time.
        begun : bool
            Whether rows of the first flight have been taken away already.
        final : bool
            Whether nothing more comes.
        """
        d = np.diff(t)
        ahead = d[d > 0]
        if ahead.size:
            self.step = float(np.median(ahead))
        everything = np.arange(t.size)
        nothing = np.empty(0, np.intp), np.empty(0)
        repeated = self._repeated(t, content, falls=bool(d.size and d.min() < 0))
        early = np.isin(t, self._early) if self._early.size else np.zeros(t.size, bool)
        if repeated is None and not early.any() and (d.size == 0 or (d.min() >= 0 and d.max() <= self.gap_s)):
            part, self._early = Part(everything, t), np.empty(0)
            return Settled([part], t.size if final else self._ripe(t, t[-1]), *nothing, plain=True)
        live = everything if repeated is None else np.flatnonzero(~repeated)
        line = _Line(self, t[live].copy(), early[live], final)
        parts: list[Part] = []
        edges = [0, *(at for at, _ in line.cuts), line.stop]
        whys = [None, *(why for _, why in line.cuts)]
        for k, (start, stop) in enumerate(itertools.pairwise(edges)):
            closed = final or k < len(edges) - 2
            for rows, times, why in line.part(start, stop, whys[k], closed=closed, begun=begun and k == 0):
                parts.append(Part(live[rows], times, why))
        held = live[line.stop :]
        top = line.top(edges[-2], line.stop)
        last = parts[-1].times if parts else np.empty(0)
        ripe = last.size if final else self._ripe(last, top)
        self._early = last[last > top]
        return Settled(parts, ripe, held, line.x[line.stop :])

    def _ripe(self, times: FloatArray, top: float) -> int:
        """How many rows nothing late can come before; at least the last two stamps wait for the next."""
        if not times.size:
            return 0
        previous = np.searchsorted(times, times[-1])
        cut = int(np.searchsorted(times, times[max(previous - 1, 0)]))
        late = int(np.searchsorted(times, top - self.reach_s))
        since = max(int(np.searchsorted(times, top - LATEST_S)), times.size - HELD_FOR_HOLES)
        holes = np.flatnonzero(np.diff(times[since : late + 1]) > HOLE_STEPS * self.step)
        late = since + int(holes[0]) + 1 if holes.size else late
        return min(cut, int(np.searchsorted(times, times[min(late, times.size - 1)])))

    def _repeated(
        self, t: FloatArray, content: Callable[[Rows], npt.NDArray[np.uint64]], *, falls: bool
    ) -> Mask | None:
        """Rows that came before with the same stamp and the same cells; None where there are none.

        Stamps equal to the furthest one before mean nothing where the clock is coarse. A long run of rows that never
        change may as well be another flight's.
        """
        line = np.maximum.accumulate(t) if falls else t
        touching = t[1:] == line[:-1]
        beside = 0 < np.count_nonzero(touching) <= COARSE_FROM * touching.size
        if not (falls or beside):
            return None
        below = t < line if falls else np.zeros(t.size, bool)
        if beside:
            below[1:] |= touching
        candidates = np.flatnonzero(np.isin(t, np.unique(t[below])))
        codes = content(candidates)
        order = np.lexsort((candidates, codes, t[candidates]))
        stamp, code = t[candidates][order], codes[order]
        again, first = np.zeros(t.size, bool), np.zeros(t.size, np.intp)
        alike = (np.diff(stamp) == 0) & (code[1:] == code[:-1])
        again[candidates[order][1:][alike]] = True
        first[candidates[order][1:][alike]] = candidates[order][:-1][alike]
        again &= below
        if not again.any():
            return None
        starts, stops = _runs(below)
        for a, b in zip(starts, stops, strict=True):  # runs of rows; another flight has some that are alike by chance
            from_before = again[a:b] & (first[a:b] < a)
            if b - a > OLD_ROWS and from_before.mean() < 0.8:
                again[a:b] &= ~from_before
        of = np.zeros(t.size, np.uint64)
        of[candidates] = codes
        starts, stops = _runs(again)
        for a, b in zip(starts, stops, strict=True):
            if b - a > 2 and np.unique(of[a:b]).size < 3:
                again[a:b] = False
        if not again.any():
            return None
        self.note(ClockCode.AGAIN, int(again.sum()))
        return again


class _Line:
    """The line of a clock through some rows: which rows are on it, late or astray, and where flights begin."""

    def __init__(self, order: Order, x: FloatArray, early: Mask, final: bool) -> None:
        self.order, self.x, self.final = order, x, final
        n = x.size
        self.highest = np.full(n, -np.inf)
        """The line up to and with each row, from the beginning of its flight."""
        self.late = np.zeros(n, bool)
        self.stop = n
        self.far = np.zeros(n, bool)
        self.filling = np.zeros(n, bool)
        """Late rows that fill a hole of the line, however late."""
        self.stray = self._strays() | early
        self.cuts: list[tuple[int, Finding]] = []
        self._walk()

    def _strays(self) -> Mask:
        """Rows off the line for a moment: far from the middle of those around them, or before rows that come first.

        A running median keeps the edges where a clock starts anew or a silence lies.
        """
        from scipy import ndimage  # slow to load, and few logs need it

        x, n = self.x, self.x.size
        off = x - ndimage.median_filter(x, min(WINDOW, n), mode="reflect")
        far = np.abs(off) > self.order.reach_s
        if not self.final and far[-WINDOW:].any():  # what comes may show that it is no stray
            self.stop = n - min(WINDOW, n) + int(np.argmax(far[-WINDOW:]))
            far[self.stop :] = False
        self.far = far
        ahead = np.flatnonzero((off > WINDOW / 2 * self.order.step) & ~far)
        after = x[np.minimum(ahead[:, None] + np.arange(1, WINDOW), n - 1)]
        stray = far.copy()
        stray[ahead[(after < x[ahead][:, None]).mean(axis=1) > 0.5]] = True
        return stray

    def _walk(self) -> None:
        """Go along the rows; all at once up to the next row that only a closer look settles."""
        x, n = self.x, self.stop
        at, size, top, begin = 0, 1024, -np.inf, 0
        while at < n:
            stop = min(at + size, n)
            own = np.where(self.stray[at:stop], -np.inf, x[at:stop])
            line = np.maximum.accumulate(np.concatenate([[top], own]))
            self.highest[at:stop] = line[1:]
            below = (own < line[:-1]) & ~self.stray[at:stop]
            starts, stops = _runs(below)
            self.late[at:stop] = below
            event = False
            for a, b in zip(starts, stops, strict=True):
                opened = b == stop - at
                if b - a < 3 and not opened:
                    continue
                if opened and stop < n:
                    self.late[at + a : stop] = False
                    at, top, size, event = at + int(a), float(line[a]), size * 2, True
                    break
                verdict = self._judge(begin, at + int(a), at + int(b), float(line[a]), opened)
                if verdict == "late":
                    continue
                event = True
                self.late[at + a : stop] = False
                first = at + int(a)
                if verdict == "wait":
                    self.stop = first
                    return
                if verdict == "set back":
                    moved = float(line[a]) - x[first] + self.order.step
                    x[first:] += moved
                    self.order.offset += moved * self.order.per_second
                    self.order.note(ClockCode.SET_BACK)
                    at, top, size = first, float(line[a]), 1024
                else:
                    self.cuts.append((first, RESET))
                    at, top, size, begin = first, -np.inf, 1024, first
                break
            if not event:
                at, top, size = stop, float(line[-1]), size * 2

    def _judge(self, begin: int, a: int, b: int, top: float, opened: bool) -> str:
        """What a run of rows below the line is: ``late``, ``set back``, ``anew``, or ``wait`` for more rows."""
        run = self.x[a:b]
        low, high = float(run.min()), float(run.max())
        depth, reach = top - low, self.order.reach_s
        deep = depth > reach
        if opened and not self.final and run.size < HELD_ROWS and not (deep and run.size > OLD_ROWS):
            return "wait"
        if run.size < 3:
            return "late"
        stamps = np.unique(run)
        line = self.highest[begin:a]
        inside = line[np.searchsorted(line, low, "right") : np.searchsorted(line, high)]
        between = int((np.diff(inside) > 0).sum()) + 1 if inside.size else 0
        if deep and depth <= LATEST_S and line.size and low > line[0] and between <= FILLS * stamps.size:
            self.filling[a:b] = True
            return "late"
        if deep:
            return "late" if run.size <= OLD_ROWS and not opened else "anew"
        covered = stamps.size >= 3 and between >= 0.5 * (stamps.size - 2)
        if covered and (run.size > OLD_ROWS or self._climbs(a, b, opened)):
            small = depth <= (reach if self.order.wall else SMALL_STEP_BACK_S)
            return "set back" if small and not self._zero(run[0], top) else "anew"
        before = low < float(line[0]) if line.size else True
        return "anew" if before and (opened or run.size > OLD_ROWS) else "late"

    def _climbs(self, a: int, b: int, opened: bool) -> bool:
        """Whether a run goes step by step, up to the line where it meets it again; what came late leaps there."""
        steps = np.diff(self.x[a : b + (not opened)])
        usual = 1.5 * self.order.step
        return bool((opened or steps[-1] <= usual) and ((steps >= 0) & (steps <= usual)).mean() >= 0.8)

    def _zero(self, first: float, top: float) -> bool:
        return bool(first == 0 and top > 1.0)

    def top(self, start: int, stop: int) -> float:
        """The furthest stamp of the line among some rows."""
        return float(self.highest[stop - 1]) if stop > start else -np.inf

    def part(
        self, start: int, stop: int, why: Finding | None, *, closed: bool, begun: bool
    ) -> list[tuple[Rows, FloatArray, Finding | None]]:
        """The rows of one flight in time order, cut where it is silent for long."""
        x, order = self.x[start:stop], self.order
        late, stray, line = self.late[start:stop], self.stray[start:stop], self.highest[start:stop]
        if not x.size:
            return []
        reach = order.reach_s
        keep = ~self.far[start:stop] & (~late | (line - x <= reach) | self.filling[start:stop])
        keep &= ~stray | ((x - line <= reach) & ((x <= line[-1]) | (not closed)))
        if not begun and late.any():
            keep &= self._near(x, late | stray, keep)
        x = self._between(x, late, stray & keep, line)
        order.note(ClockCode.FAR, int((~keep).sum()))
        order.note(ClockCode.LATE, int((late & keep).sum()))
        rows = np.flatnonzero(keep)
        rows = rows[np.argsort(x[rows], kind="stable")]
        times = x[rows]
        silences = np.flatnonzero(np.diff(times) > order.gap_s) + 1
        out, edges = [], [0, *silences.tolist(), times.size]
        for k, (a, b) in enumerate(itertools.pairwise(edges)):
            reason = say(ClockCode.SILENCE, seconds=float(times[a] - times[a - 1])) if k else why
            out.append((rows[a:b] + start, times[a:b], reason))
        return out

    def _near(self, x: FloatArray, off: Mask, keep: Mask) -> Mask:
        """Rows before a flight's first on the line count only where no hole lies between."""
        first = x[~off][0] if (~off).any() else x[0]
        early = np.sort(x[off & keep & (x < first)])
        holes = np.flatnonzero(np.diff(np.append(early, first)) > 5 * self.order.step)
        return np.asarray(x >= (early[holes[-1] + 1] if holes.size and holes[-1] + 1 < early.size else
                                first if holes.size else -np.inf))  # fmt: skip

    def _between(self, x: FloatArray, late: Mask, stray: Mask, line: FloatArray) -> FloatArray:
        """Place single rows of an even clock with a damaged stamp: they leave a hole where they came and fill none."""
        step = self.order.step
        off = late | stray
        steps = np.diff(line[~off & np.isfinite(line)])
        steps = steps[(steps > 0) & np.isfinite(steps)]
        if not steps.size or (np.abs(steps / step - np.rint(steps / step)) < EVEN_WITHIN).mean() < 0.9:
            return x  # where steps differ, a late row's own stamp is the better witness
        at = np.flatnonzero(off[1:-1] & ~off[:-2] & ~off[2:]) + 1 if x.size > 2 else np.empty(0, np.intp)
        hole = x[at + 1] - line[at]
        at = at[(hole > 1.5 * step) & (hole < 2.5 * step)]
        if not at.size:
            return x
        right = np.searchsorted(line, x[at])
        inside = (right > 0) & (right < line.size)
        at, right = at[inside], right[inside]
        low, high = line[right - 1], line[right]
        places = (x[at] - low) / step
        at = at[(high - low <= 1.25 * step) | (np.abs(places - np.rint(places)) > EVEN_WITHIN)]
        out = x.copy()
        out[at] = (line[at] + x[at + 1]) / 2
        late[at] = False
        self.order.note(ClockCode.BETWEEN, int(at.size))
        return out


def _runs(mask: Mask) -> tuple[Rows, Rows]:
    """Where runs of true begin and end."""
    edges = np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def spread(times: FloatArray, rows_before: int = 0) -> FloatArray:
    """Spread rows that share a stamp evenly up to the next stamp; a partial first group ends where the next begins.

    A gap longer than usual is not filled, unless more rows than usual come before it: a clock that stood still.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Not falling.
    rows_before : int
        Rows the stamp before the first one had; 0 where the first is the very first.
    """
    if times.size < 2:
        return times
    times = np.maximum.accumulate(times)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(times) > 0]))
    counts = np.diff(np.concatenate([starts, [times.size]]))
    if counts.max() == 1:
        return times
    stamps = times[starts]
    gaps = np.diff(stamps)
    usual = float(np.median(gaps)) if gaps.size else 1.0
    width = counts.astype(float)
    room = np.minimum(np.append(gaps, np.inf), usual * np.maximum(width / np.median(width), 1.0))
    lead = np.zeros(counts.size)
    if counts.size > 1:
        if not rows_before and counts[0] < counts[1]:
            width[0], lead[0] = counts[1], counts[1] - counts[0]
        width[-1] = max(counts[-1], counts[-2])
    group = np.repeat(np.arange(counts.size), counts)
    rank = np.arange(times.size) - starts[group]
    out = times + (rank + lead[group]) * (room / width)[group]
    return np.asarray(out, float)
