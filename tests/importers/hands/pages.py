"""From a hand and a number to one log: which columns, in which order, how written, and what is true of them.

A hand is a person or a device with habits: words, units, marks, clocks. What a column means is written in a short
language, so that each hand reads as a list of its headings:

``pack.rx1.voltage_v``          that channel
``a|b``                         either reading is right
``other.tx_v>pack.tx.voltage_v``the signal before ``>``, the channel after it
``-servo_a``                    the signal ``other.servo_a``: no channel
``?``, ``!`` or ``~`` in front  a question is fair; must come; keeping it as no channel is right as well
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from tests.importers.hands import clocks
from tests.importers.hands.flight import Flight, Floats
from tests.importers.hands.truth import SCALES, Accept, Clock, Column, Log


class Item(Struct, frozen=True):
    """One heading of a hand: what it means, the unit and digits it is written with, and the trap in it."""

    heading: str
    means: str
    unit: str = ""
    digits: int = 1
    trap: str = ""
    tail: str = ""
    form: str = ""


Bundle = tuple[Item, ...]
DEVICES = {"links": "left", "rechts": "right"}
UNSAID = ("t", "ts", "time", "timestamp", "clock", "elapsed")
"""Headings of clocks that don't say their unit: a question is fair."""


class Hand(Struct, frozen=True):
    """Somebody's habits.

    Parameters
    ----------
    bundles : tuple of tuple of Item
        Columns that come together; a log takes ``least`` to ``most`` bundles, the first ``always`` of them in any case.
    clocks : tuple of (form, headings)
        Headings are divided by a bar where the form has two columns.
    gaps : float
        Share of empty cells: sensors with rates of their own.
    faults : str
        Words among ``late``, ``repeated``, ``swapped``, ``newest``.
    layout : str
        ``wide``, ``two-row`` (group over quantity, divided by a bar in the heading), ``units`` (a row of units) or
        ``long``, ``blocks`` (the same, one sensor after the other), or ``turns``: each row is of one device, which a
        column names; ``{}`` in a meaning stands for it.
    status : tuple of str
        Words for a status column, and its heading first.
    turns : tuple of str
        Devices that rows take turns with, and the heading of their column first.
    """

    name: str
    half: str
    language: str
    bundles: tuple[Bundle, ...]
    clocks: tuple[tuple[str, str], ...]
    delimiter: str = ","
    decimal: str = "."
    always: int = 1
    least: int = 3
    most: int = 6
    gaps: float = 0.0
    blank: str = ""
    faults: tuple[str, ...] = ()
    layout: str = "wide"
    status: tuple[str, ...] = ()
    turns: tuple[str, ...] = ()
    preamble: tuple[str, ...] = ()
    encoding: str = "utf-8"
    shuffled: bool = True
    clock_last: bool = False
    quoted: bool = False
    steps: tuple[float, ...] = (0.2, 0.5, 1.0)
    logs: int = 8
    seed: int = 0


def columns_of(means: str, flight: Flight) -> tuple[list[str], Floats, bool, str]:
    """Take the short language apart: targets, the signal, whether no channel is right, and whether to ask."""
    ask, extra = "no", False
    while means[0] in "?!~":
        ask = {"?": "may", "!": "must"}.get(means[0], ask)
        extra = extra or means[0] == "~"
        means = means[1:]
    if means[0] == "-":
        return [], flight.get(f"other.{means[1:]}"), True, ask
    source, _, after = means.partition(">")
    targets = (after or source).split("|")
    return targets, flight.get(source.split("|")[0]), extra, ask


def minutes(value: float, places: int, form: str) -> tuple[str, float]:
    """Degrees and minutes, and the degrees they say: ``4704.3412`` (IEC 61162-1) or ``47°04.3412'N``."""
    size = abs(value)
    degrees = int(size)
    rest = round((size - degrees) * 60.0, places)
    if rest >= 60.0:
        degrees, rest = degrees + 1, 0.0
    said = degrees + rest / 60.0
    sign = -1.0 if value < 0 else 1.0
    width = places + 3
    if form == "ddmm":
        return f"{degrees * 100 + rest:.{places}f}", said * sign
    return f"{degrees}°{rest:0{width}.{places}f}'", said * sign


def cells(item: Item, signal: Floats, decimal: str) -> tuple[list[str], Floats]:
    """What is written for a signal, and the canonical values that this says."""
    factor, offset = SCALES.get(item.unit, (1.0, 0.0))
    if item.form.startswith(("ddmm", "minutes")):
        pairs = [minutes(float(v), item.digits, item.form.partition(" ")[0]) for v in signal]
        letters = item.form.partition(" ")[2].removeprefix("apart")
        texts = [p[0] + (letters[int(v < 0)] if letters else "") for p, v in zip(pairs, signal, strict=True)]
        return texts, np.array([p[1] for p in pairs])
    if item.form.startswith("letter"):
        mark = item.form.partition(" ")[2]
        texts = [f"{abs(v):.{item.digits}f} {mark[int(v < 0)]}" for v in signal]
        return texts, np.round(signal, item.digits)
    if item.form == "bool":
        return [("ON" if v else "OFF") for v in signal], signal
    raw = np.round((signal - offset) / factor, item.digits)
    raw = raw + 0.0  # no minus before nought
    texts = [f"{v:.{item.digits}f}".replace(".", decimal) + item.tail for v in raw]
    return texts, raw * factor + offset


def _choose(hand: Hand, rng: np.random.Generator) -> list[Item]:
    """Bundles for one log, no channel claimed twice."""
    rest = list(range(hand.always, len(hand.bundles)))
    rng.shuffle(rest)
    wanted = int(rng.integers(hand.least, hand.most + 1))
    taken: list[Item] = []
    claimed: set[str] = set()
    used = 0
    for i in [*range(hand.always), *rest]:
        if used >= wanted and i >= hand.always:
            break
        bundle = hand.bundles[i]
        # A heading may claim any of its readings; two columns for one channel would be a question of its own.
        claims = [m for item in bundle for m in item.means.lstrip("?!~").rpartition(">")[2].split("|")]
        headings = {item.heading for item in bundle} & {t.heading for t in taken}
        if (set(claims) & claimed or headings) and hand.shuffled:
            continue
        claimed.update(claims)
        taken.extend(bundle)
        used += 1
    return taken


def write(hand: Hand, number: int) -> Log:
    """One log of a hand; the same number gives the same bytes."""
    rng = np.random.default_rng([hand.seed, zlib.crc32(hand.name.encode()), number])
    flight = Flight(rng, int(rng.integers(80, 320)), float(rng.choice(hand.steps)))
    items = _choose(hand, rng)
    if hand.shuffled and rng.random() < 0.4:
        blocks = [items[i : i + 3] for i in range(0, len(items), 3)]
        items = [i for b in rng.permutation(len(blocks)) for i in blocks[int(b)]]
    form, headings = hand.clocks[number % len(hand.clocks)]
    stamps, clock = clocks.write(form, rng, flight.t, hand.decimal, hand.language)
    if form in ("s", "ms", "us", "min") and headings.casefold() in UNSAID:
        clock = replace(clock, ask="may")
    names = headings.split("|")
    table: list[tuple[str, list[str]]] = []
    columns: list[Column] = []
    if hand.layout == "turns":
        return _turns(hand, number, items, flight, list(zip(names, stamps, strict=True)), clock)
    for item in items:
        if item.form == "pair":
            heading, texts, column = _pair(item, flight)
        else:
            targets, signal, extra, ask = columns_of(item.means, flight)
            texts, values = cells(item, signal, hand.decimal)
            if hand.gaps and not item.form:
                gone = rng.random(len(texts)) < hand.gaps
                gone[:2] = gone[-2:] = False
                texts = [hand.blank if g else x for g, x in zip(gone, texts, strict=True)]
                values = np.where(gone, np.nan, values)
            heading = item.heading
            accepts = tuple(Accept(t, values) for t in targets)
            column = Column(heading, accepts, extra, ask, item.trap)
        table.append((heading, texts))
        columns.append(column)
        if item.form.startswith("ddmm apart"):
            table, columns = _apart(item, flight, table, columns)
    if hand.status:
        words = hand.status[1:]
        spans = np.minimum((flight.t / flight.t[-1] * len(words)).astype(int), len(words) - 1)
        table.append((hand.status[0], [words[i] for i in spans]))
        columns.append(Column(hand.status[0], (), True, trap="status text"))
    time = [(n, c) for n, c in zip(names, stamps, strict=True)]
    truth = [Column(n, clock=True) for n in names]
    if hand.clock_last:
        table, columns = table + time, columns + truth
    else:
        table, columns = time + table, truth + columns
    if hand.layout in ("long", "blocks"):
        return _long(hand, number, table, columns, clock)
    order = _faulty(hand.faults, flight.rows, rng)
    if hand.faults:
        clock = replace(clock, trap=" and ".join(hand.faults) + " rows")
    elif any(i.trap == "another clock" for i in items):
        clock = replace(clock, trap="another clock beside it")
    units = [next((i.unit for i in items if i.heading == h), "") for h, _ in table]
    lines = [*hand.preamble, *_header([h for h, _ in table], units, hand)]
    lines += [join([c[i] for _, c in table], hand) for i in order]
    name = f"{hand.name} {number + 1}"
    data = ("\n".join(lines) + "\n").encode(hand.encoding)
    return Log(name, hand.name, hand.half, hand.language, data, tuple(columns), clock, _answers(clock), hand.layout)


def _answers(clock: Clock) -> dict[str, str]:
    if clock.form == "slashes_open":
        return {"date_order": "day-first"}
    return {"time_unit": clock.form} if clock.form in ("s", "ms", "us", "min") else {}


def _pair(item: Item, flight: Flight) -> tuple[str, list[str], Column]:
    """Latitude and longitude in one cell, divided by the mark in ``tail``."""
    lat = np.round(flight.get("position.latitude_deg"), item.digits)
    lon = np.round(flight.get("position.longitude_deg"), item.digits)
    texts = [f"{a:.{item.digits}f}{item.tail}{o:.{item.digits}f}" for a, o in zip(lat, lon, strict=True)]
    accepts = (Accept("position.latitude_deg", lat), Accept("position.longitude_deg", lon))
    return item.heading, texts, Column(item.heading, accepts, False, "may", item.trap, every=True)


def _apart(
    item: Item, flight: Flight, table: list[tuple[str, list[str]]], columns: list[Column]
) -> tuple[list[tuple[str, list[str]]], list[Column]]:
    """The letter of the hemisphere in a column of its own, as IEC 61162-1 sentences have it."""
    heading, texts = table[-1]
    signal = flight.get(item.means.lstrip("?!~"))
    marks = "NS" if "latitude" in item.means else "EW"
    bare = [x.strip("NSEW") for x in texts]
    table[-1] = (heading, bare)
    table.append(("N/S" if marks == "NS" else "E/W", [marks[int(v < 0)] for v in signal]))
    columns.append(Column(table[-1][0], clock=True))
    return table, columns


def _faulty(faults: Sequence[str], rows: int, rng: np.random.Generator) -> list[int]:
    """Rows as a bad link delivers them: about one in 25 late, repeated or swapped."""
    order = list(range(rows))
    if "newest" in faults:
        return order[::-1]
    for fault in faults:
        for at in sorted(
            rng.choice(np.arange(5, len(order) - 8), size=max(1, rows // 25), replace=False), reverse=True
        ):
            i = int(at)
            if fault == "late":
                order.insert(i + int(rng.integers(2, 7)), order.pop(i))
            elif fault == "repeated":
                order.insert(i + 1, order[i])
            elif fault == "swapped":
                order[i], order[i + 1] = order[i + 1], order[i]
    return order


def _header(headings: Sequence[str], units: Sequence[str], hand: Hand) -> list[str]:
    if hand.layout == "two-row":
        tops = [h.partition("|")[0] if "|" in h else "" for h in headings]
        shown = [t if i == 0 or t != tops[i - 1] else "" for i, t in enumerate(tops)]
        return [join(shown, hand), join([h.rpartition("|")[2] for h in headings], hand)]
    if hand.layout == "units":
        printed = {"1": "", "bool": "", "C": "°C", "F": "°F", "kt": "kn"}
        return [join(list(headings), hand), join([printed.get(u, u) for u in units], hand)]
    return [join(list(headings), hand)]


def join(fields: Sequence[str], hand: Hand) -> str:
    """One line of a file."""
    d = hand.delimiter
    return d.join(f'"{f}"' if hand.quoted or d in f or '"' in f else f for f in fields)


def _turns(
    hand: Hand, number: int, items: Sequence[Item], flight: Flight, time: list[tuple[str, list[str]]], clock: Clock
) -> Log:  # fmt: skip
    """Rows of several devices in turn, each instant once for each of them."""
    head, *devices = hand.turns
    columns = [*(Column(n, clock=True) for n, _ in time), Column(head, clock=True)]
    written: list[list[list[str]]] = []
    for item in items:
        texts, accepts = [], []
        for device in devices:
            targets, signal, _, _ = columns_of(item.means.format(DEVICES.get(device, device.casefold())), flight)
            some, values = cells(item, signal, hand.decimal)
            texts.append(some)
            accepts.append(Accept(targets[0], values))
        written.append(texts)
        columns.append(Column(item.heading, tuple(accepts), ask="may", trap="devices in turn", every=True))
    lines = [join([c.heading for c in columns], hand)]
    for row in range(flight.rows):
        for k, device in enumerate(devices):
            lines.append(join([*(c[row] for _, c in time), device, *(w[k][row] for w in written)], hand))
    data = ("\n".join(lines) + "\n").encode(hand.encoding)
    name = f"{hand.name} {number + 1}"
    return Log(name, hand.name, hand.half, hand.language, data, tuple(columns), clock, _answers(clock), "turns")


def _long(
    hand: Hand, number: int, table: list[tuple[str, list[str]]], columns: list[Column], clock: Clock
) -> Log:  # fmt: skip
    """One row a reading: time, sensor, value."""
    time = [i for i, c in enumerate(columns) if c.clock]
    rest = [i for i, c in enumerate(columns) if not c.clock]
    heads = {"en": ("sensor", "value"), "de": ("Sensor", "Wert"), "fr": ("capteur", "valeur"),
             "es": ("sensor", "valor"), "it": ("sensore", "valore")}[hand.language]  # fmt: skip
    lines = [*hand.preamble, join([*(table[i][0] for i in time), *heads], hand)]
    places = [(row, k) for row in range(len(table[0][1])) for k in rest]
    if hand.layout == "blocks":
        places.sort(key=lambda place: place[1])
    lines += [
        join([*(table[i][1][row] for i in time), table[k][0], table[k][1][row]], hand)
        for row, k in places if table[k][1][row] != hand.blank
    ]  # fmt: skip
    data = ("\n".join(lines) + "\n").encode(hand.encoding)
    name = f"{hand.name} {number + 1}"
    return Log(name, hand.name, hand.half, hand.language, data, tuple(columns[i] for i in rest), clock,
               _answers(clock), "long")  # fmt: skip
