"""Change one thing in a log that is understood; the result must be right, asked, kept as no channel, or refused.

``python -m tests.importers.hands.mutate POOL [--wrong]`` prints how each kind of change comes out; POOL is ``open``,
``held``, ``sealed``, ``all`` of these, ``strangers``, ``nasty`` or ``exports``.
*New wrong* counts columns that are wrong and sure in the changed log and were not so before: nobody looks again.

``renamed``     one heading becomes a code that says nothing (``K17``)
``swapped``     two columns trade their headings, where neither's values can be the other's
``traded``      the same of two that belong together: volts and amperes, used and remaining, shaft and exhaust, place
                and place, height and speed; each could be the other, but not beside what else the log says
``reordered``   the columns stand in another order
``dropped``     one column is missing
``thousandfold`` one column is written a thousand times too large: impossible for every channel
``thousandth``  one column is written a thousand times too small, where that can't be
``otherwise``   one column is written in another unit than its heading says: °F, feet, knots, mAh for Ah, ten times
"""

from __future__ import annotations

import csv
import io
import sys
import zlib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from tests.importers.exports.pool import logs as exports
from tests.importers.hands.logs import hands, logs
from tests.importers.hands.pages import Hand, join
from tests.importers.hands.score import OUTCOMES, Mark, line, marks
from tests.importers.hands.truth import Column, Log
from tests.importers.nasty.logs import nasty

PLAUSIBLE = {
    "pack.voltage_v": (2.0, 75.0), "bus.voltage_v": (2.0, 75.0), "pack.current_a": (0.0, 300.0),
    "engine.speed_rpm": (5000.0, 350_000.0), "engine.egt_c": (150.0, 1300.0), "air.pressure_pa": (30_000.0, 120_000.0),
    "fuel.flow_ml_per_min": (10.0, 10_000.0), "fuel.remaining_ml": (50.0, 100_000.0), "air.temperature_c": (0.0, 70.0),
    "position.ground_speed_m_s": (3.0, 250.0), "motion.airspeed_m_s": (3.0, 250.0), "position.altitude_m": (0.0, 12e3),
    "position.latitude_deg": (0.0, 90.0), "position.longitude_deg": (0.0, 180.0), "link.rssi_dbm": (5.0, 150.0),
    "control.throttle_percent": (0.0, 150.0), "control.aileron_percent": (0.0, 150.0),
    "link.link_quality_percent": (0.0, 100.0), "link.signal_percent": (0.0, 100.0),
}  # fmt: skip
"""Bounds of the largest size that a channel reaches in any flight, canonical units; common practice, no source."""
SMALL = ("pack.voltage_v", "engine.speed_rpm", "engine.egt_c", "air.pressure_pa")
"""Of these a thousandth can't be: a pack of millivolts, a shaft that hardly turns, cold exhaust, vacuum."""


class Sheet(Struct):
    """A log taken apart: rows of cells, and the truth of each column."""

    log: Log
    hand: Hand
    rows: list[list[str]]
    columns: list[Column]

    def whole(self) -> Log:
        """The log put together again."""
        data = "\n".join(join(r, self.hand) for r in self.rows) + "\n"
        return replace(self.log, data=data.encode(self.hand.encoding), columns=tuple(self.columns))

    def copy(self) -> Sheet:
        """A copy to change."""
        return Sheet(self.log, self.hand, [list(r) for r in self.rows], list(self.columns))


def _guessed(log: Log) -> Hand:
    """The habits of a hand that is no list of habits, as far as they matter here; ``long`` where they are unusual."""
    encoding = "utf-8" if not log.data.startswith("\ufeff".encode()) else "utf-8-sig"
    text = log.data.decode(encoding, errors="replace")
    first, second = [*text.splitlines(), "", ""][:2]
    delimiter = max(";\t,", key=first.count)
    decimal = "," if delimiter != "," and "," in second and "." not in second else "."
    plainly = next(csv.reader([first], delimiter=delimiter), []) == [c.heading for c in log.columns]
    plainly = plainly and log.shape == "wide" and "\ufffd" not in text
    return Hand(log.hand, log.half, log.language, (), (), delimiter, decimal, encoding=encoding,
                layout="wide" if plainly else "long")  # fmt: skip


def _hand(log: Log) -> Hand:
    return next((h for h in hands() if h.name == log.hand), None) or _guessed(log)


def sheet(log: Log) -> Sheet:
    """Take a wide log apart."""
    hand = _hand(log)
    text = log.data.decode(hand.encoding)
    rows = list(csv.reader(io.StringIO(text), delimiter=hand.delimiter))
    return Sheet(log, hand, rows, list(log.columns))


def plain(log: Log) -> bool:
    """Whether the log is one that changes are made to: wide, one row of headings, rows in order."""
    hand = _hand(log)
    return hand.layout == "wide" and not hand.faults and not hand.preamble


def _channels(column: Column) -> set[str]:
    return {f"{a.subject}.{a.quantity}" for a in column.accepts}


def _measured(s: Sheet) -> list[int]:
    """Columns of one plain channel, which may be changed."""
    plainly = [c.accepts and not c.every and not c.trap for c in s.columns]
    return [i for i, cell in enumerate(s.rows[1]) if plainly[i] and _digits(cell, s.hand)]


def _digits(cell: str, hand: Hand) -> bool:
    return cell.lstrip("-").replace(hand.decimal, "").isdigit()


def _impossible(s: Sheet, values: int, heading: int) -> bool:
    """Whether the numbers of one column can't be what another's heading says, in that heading's unit."""
    column = s.columns[heading]
    raw = np.array(_numbers(s, heading))
    true = column.accepts[0].values[np.isfinite(column.accepts[0].values)]
    if raw.size != true.size or np.ptp(raw) == 0.0:
        return False
    slope, offset = np.polyfit(raw, true, 1)
    largest = float(np.abs(np.array(_numbers(s, values)) * slope + offset).max())
    known = [PLAUSIBLE[c] for c in _channels(column) if c in PLAUSIBLE]
    return bool(known) and all(not low <= largest <= high for low, high in known)


def renamed(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """A heading that says nothing: asking and keeping it as no channel are both right, so is the true channel."""
    for i in rng.permutation(_measured(s))[:2]:
        out = s.copy()
        out.rows[0][i] = f"K{int(rng.integers(11, 99))}"
        out.columns[i] = replace(s.columns[i], heading=out.rows[0][i], extra=True, ask="may")
        yield out


def _numbers(s: Sheet, i: int) -> list[float]:
    cells = [r[i].replace(s.hand.decimal, ".") for r in s.rows[1:] if r[i] not in ("", s.hand.blank)]
    return [float(c) for c in cells]


def swapped(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """Headings trade places between columns whose numbers can't be what the other's heading says."""
    able = _measured(s)
    pairs = [(a, b) for a in able for b in able if a < b]
    done = 0
    for k in rng.permutation(len(pairs)):
        a, b = pairs[int(k)]
        if not (_impossible(s, a, b) and _impossible(s, b, a)):
            continue
        out = s.copy()
        out.rows[0][a], out.rows[0][b] = out.rows[0][b], out.rows[0][a]
        for i in (a, b):
            out.columns[i] = replace(s.columns[i], heading=out.rows[0][i], extra=True, ask="may", trap="swapped")
        yield out
        done += 1
        if done == 2:
            return


TRADED = (
    ("voltage_v", "current_a"), ("used_ml", "remaining_ml"), ("speed_rpm", "egt_c"),
    ("latitude_deg", "longitude_deg"), ("altitude_m", "ground_speed_m_s"), ("height_m", "ground_speed_m_s"),
    ("current_a", "used_mah"), ("flow_ml_per_min", "used_ml"), ("altitude_m", "vario_m_s"), ("height_m", "vario_m_s"),
)  # fmt: skip


def traded(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """Headings trade places between columns that belong together; asking and no channel are right."""
    able = {(a.instance, a.quantity): i for i in _measured(s) for a in s.columns[i].accepts[:1]}
    for one, other in TRADED:
        for (instance, quantity), a in able.items():
            b = able.get((instance, other)) if quantity == one else None
            if b is None:
                continue
            out = s.copy()
            out.rows[0][a], out.rows[0][b] = out.rows[0][b], out.rows[0][a]
            for i in (a, b):
                out.columns[i] = replace(s.columns[i], heading=out.rows[0][i], extra=True, ask="may", trap="traded")
            yield out
            break


def reordered(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """Another order of columns."""
    order = [int(i) for i in rng.permutation(len(s.columns))]
    out = s.copy()
    out.rows = [[r[i] for i in order] for r in s.rows]
    out.columns = [s.columns[i] for i in order]
    yield out


def dropped(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """One column is missing."""
    able = [i for i, c in enumerate(s.columns) if not c.clock]
    if len(able) < 3:
        return
    for i in rng.permutation(able)[:2]:
        out = s.copy()
        out.rows = [[x for k, x in enumerate(r) if k != i] for r in s.rows]
        out.columns = [c for k, c in enumerate(s.columns) if k != i]
        yield out


def _rescaled(s: Sheet, i: int, factor: float, more: float = 0.0) -> Sheet:
    out = s.copy()
    for row in out.rows[1:]:
        if row[i] not in ("", s.hand.blank):
            value = float(row[i].replace(s.hand.decimal, ".")) * factor + more
            row[i] = f"{value:.6f}".rstrip("0").rstrip(".").replace(".", s.hand.decimal)
    # What the heading says of these numbers can't be; that millivolts stand under a heading without a unit, can.
    out.columns[i] = replace(s.columns[i], extra=True, ask="may", trap="rescaled")
    return out


def thousandfold(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """Impossible values under a plain heading."""
    counted = {"link.lost_frames", "link.signal_counts", "position.satellites", "fuel.used_ml", "pack.used_mah"}
    able = [i for i in _measured(s) if max(map(abs, _numbers(s, i))) > 5.0 and not _channels(s.columns[i]) & counted]
    for i in rng.permutation(able)[:2]:
        yield _rescaled(s, int(i), 1000.0)


def thousandth(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """Values far too small under a plain heading."""
    able = [i for i in _measured(s) if _channels(s.columns[i]) & set(SMALL)]
    for i in rng.permutation(able)[:2]:
        yield _rescaled(s, int(i), 0.001)


OTHERWISE = {
    "egt_c": (1.8, 32.0), "temperature_c": (1.8, 32.0), "altitude_m": (1 / 0.3048, 0.0), "height_m": (1 / 0.3048, 0.0),
    "ground_speed_m_s": (3.6, 0.0), "flow_ml_per_min": (0.06, 0.0), "used_mah": (0.001, 0.0), "voltage_v": (10.0, 0.0),
    "pressure_pa": (0.1, 0.0), "speed_rpm": (0.1, 0.0),
}  # fmt: skip
"""By quantity: how many times, and how much more; what is written is no longer what the heading says."""


def otherwise(s: Sheet, rng: np.random.Generator) -> Iterator[Sheet]:
    """Another unit than the heading says."""
    able = [i for i in _measured(s) if s.columns[i].accepts[0].quantity in OTHERWISE and "(" in s.columns[i].heading]
    for i in rng.permutation(able)[:3]:
        factor, more = OTHERWISE[s.columns[i].accepts[0].quantity]
        yield _rescaled(s, int(i), factor, more)


CHANGES: dict[str, Callable[[Sheet, np.random.Generator], Iterator[Sheet]]] = {
    f.__name__: f for f in (renamed, swapped, traded, reordered, dropped, thousandfold, thousandth, otherwise)
}


def changed(some: Sequence[Log], kinds: Sequence[str] = tuple(CHANGES)) -> Iterator[tuple[str, Log, list[Mark]]]:
    """Every change of some logs, seeded by the log's name.

    Yields
    ------
    str, Log, list of Mark
        The kind of change, the changed log, and what is new and wrong in it.
    """
    for log in some:
        if not plain(log):
            continue
        s = sheet(log)
        before = {(m.heading, m.truth) for m in marks(log) if m.outcome == "wrong"}
        rng = np.random.default_rng(zlib.crc32(log.name.encode()))
        for kind in kinds:
            for out in CHANGES[kind](s, rng):
                new = out.whole()
                yield kind, new, [m for m in marks(new) if m.outcome == "wrong" and (m.heading, m.truth) not in before]


def main(arguments: Sequence[str]) -> None:
    """Print the table."""
    pools: dict[str, Callable[[], Sequence[Log]]] = {
        "nasty": lambda: nasty("open") + nasty("sealed"),
        "exports": lambda: [log for half in ("open", "sealed", "third", "fourth") for log in exports(half)],
    }
    half = next((a for a in arguments if a in (*pools, "open", "held", "sealed", "all", "strangers")), "open")
    some = pools[half]() if half in pools else logs(half)
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    lines = []
    for kind, log, wrong in changed(some):
        counts[kind]["logs"] += 1
        counts[kind]["new wrong"] += len(wrong)
        counts[kind].update(m.outcome for m in marks(log) if m.heading != "clock")
        lines += [f"{kind:<13}{line(m)}" for m in wrong]
    names = ("logs", *OUTCOMES, "new wrong")
    print(f"{'change':<14}" + "".join(f"{n:>10}" for n in names))
    for kind, c in counts.items():
        print(f"{kind:<14}" + "".join(f"{c[n]:>10}" for n in names))
    if "--wrong" in arguments:
        print("\n" + "\n".join(lines))


if __name__ == "__main__":
    main(sys.argv[1:])
