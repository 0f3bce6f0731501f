"""A second pool of logs: people and devices whose headings stand in ``open.txt`` and ``sealed.txt``, with their truth.

Written from imagination before a look at the importer or at the other hands, with a flight of its own (``flight.py``).
``sealed.txt`` is by other people than ``open.txt`` and measures what was mended with it. A persona begins with
``[name] kind | style; style``; each line is one column, in blocks that come together::

    heading | the same in other words => channel *factor +offset .decimals !sentinel

A channel may have alternatives (``a/b``); ``?a`` says that nobody could tell, so that it must be asked or stay unknown;
``a/?a`` that a question is fair; ``x_name`` that it is no channel. ``*`` stands for a name that the heading does not
say, ``~unit`` behind a heading for the row of units, ``; third *2`` for what holds of the third wording only.
"""

from __future__ import annotations

import csv
import io
import re
from functools import lru_cache
from pathlib import Path

import numpy as np
from msgspec import Struct

from tests.importers.hands.flight import Floats
from tests.importers.hands.truth import Accept, Clock, Log
from tests.importers.hands.truth import Column as Truth
from tests.importers.strangers.flight import Flight

HERE = Path(__file__).parent
EACH = 4
"""Logs of each persona."""


class Column(Struct, frozen=True):
    """One column as a persona means it; ``ask`` where nobody could say for sure what it is."""

    heading: str
    unit: str
    channels: tuple[str, ...]
    signal: str
    ask: bool
    factor: float
    offset: float
    decimals: int
    sentinel: str


class Persona(Struct, frozen=True):
    """Somebody's habits: blocks of lines, and how the file is written."""

    name: str
    kind: str
    style: dict[str, str]
    blocks: tuple[tuple[str, ...], ...]


def personas(part: str) -> list[Persona]:
    """The personas of ``open`` or ``sealed``."""
    out = []
    for chunk in re.split(r"^(?=\[)", (HERE / f"{part}.txt").read_text(encoding="utf-8"), flags=re.MULTILINE):
        head, _, body = chunk.partition("\n")
        if found := re.match(r"\[(\S+)\] (\w+) \| (.*)", head):
            blocks = (tuple(x for x in b.splitlines() if x.strip()) for b in re.split(r"\n\s*\n", body))
            out.append(Persona(found[1], found[2], _style(found[3]), tuple(b for b in blocks if b)))
    return out


def _style(text: str) -> dict[str, str]:
    parts = (p.strip().partition("=") for p in text.replace("delim=;", "delim=semicolon").split(";"))
    return {key: value or "yes" for key, _, value in parts if key}


def _column(line: str, pick: int) -> Column:
    """One line in one of its wordings."""
    heads, _, rest = line.partition(" => ")
    names = heads.split(" | ")
    main, *special = rest.split(" ; ")
    tokens = main.split()
    for which, *more in (s.split() for s in special):
        tokens += more if {"second": 1, "third": 2}[which] == pick else []
    truth = next((t[6:] for t in tokens if t.startswith("truth=")), tokens[0])
    told = {t[0]: t[1:] for t in tokens[1:] if not t.startswith("truth=")}
    options = truth.split("/")
    name, _, unit = names[min(pick, len(names) - 1)].strip().partition(" ~")
    return Column(
        name, unit, tuple(o for o in options if o[0] not in "?-"), options[0].lstrip("?-"),
        any(o[0] == "?" for o in options), float(told.get("*", 1)), float(told.get("+", 0)), int(told.get(".", 0)),
        told.get("!", ""),
    )  # fmt: skip


def _chosen(persona: Persona, rng: np.random.Generator) -> list[str]:
    blocks = persona.blocks
    if len(blocks) == 1:  # single lines, none of which needs another
        lines = blocks[0]
        return [lines[i] for i in sorted(rng.permutation(len(lines))[: max(6, len(lines) // 2)])]
    want, out = int(rng.integers(5, 9)), []
    for i in rng.permutation(len(blocks)):
        if sum(len(blocks[k]) for k in out) < want:
            out.append(int(i))
    out = sorted(out) if rng.random() < 0.5 else out
    return [line for i in out for line in blocks[i]]


def _names(channel: str) -> list[str]:
    """What a channel may be called: a pack or receiver by number or letter may have ``rx`` in front."""
    parts = channel.split(".")
    if len(parts) < 3:
        return [channel]
    subject, who, quantity = parts
    who = {"pack": "any1", "bus": "any1"}.get(subject, "main") if who == "*" else who
    if subject == "link" and (antenna := re.fullmatch(r"antenna(\d)_(.*)", quantity)):
        quantity = f"antenna:{antenna[1]}.{antenna[2]}"
    also = [f"rx{who}"] if who in ("1", "2") else [f"rx_{who}"] if who in ("a", "b") else []
    also = also if subject in ("pack", "bus", "link") else []
    return [f"{subject}.{w}.{quantity}" for w in (who, *also)]


def _truth(persona: Persona, column: Column, texts: list[str]) -> Truth:
    def number(text: str) -> float:
        try:
            return (float(text.replace(",", ".")) - column.offset) / column.factor
        except ValueError:
            return float("nan")

    whole = np.array([number(t) for t in texts])
    good = np.array([np.nan if t == column.sentinel else v for t, v in zip(texts, whole, strict=True)])
    values: tuple[Floats, ...] = (whole, good) if column.sentinel else (whole,)
    nothing = column.signal.startswith("x_")
    names = [] if nothing else [n for c in column.channels or (column.signal,) for n in _names(c)]
    open_ = "may" if column.channels or nothing else "must"
    ask = "may" if "dead" in persona.style else open_ if column.ask else "no"
    trap = persona.name if persona.kind == "trap" else ""
    return Truth(column.heading, tuple(Accept(n, v) for n in names for v in values), nothing, ask, trap)


def write(persona: Persona, number: int, seed: int = 0) -> Log:
    """One log of a persona; the same numbers give the same bytes."""
    style = persona.style
    rng = np.random.default_rng([20261126 + seed, number, len(persona.name), ord(persona.name[0])])
    flight = Flight(int(rng.integers(1_000_000)), float(style.get("rate", 5)), float(rng.integers(150, 260)))
    columns = [_column(line, number % 3) for line in _chosen(persona, rng)]
    mark, cells = style.get("dec", "."), []
    for column in columns:
        values = flight.of(column.signal)
        if "dead" in style and rng.random() < 0.4:
            values = np.zeros(values.size)
        texts = [f"{v:.{column.decimals}f}".replace(".", mark) for v in values * column.factor + column.offset]
        for start in rng.integers(0, values.size - 30, 5) if column.sentinel else ():
            width = int(rng.integers(3, 25))
            texts[start : start + width] = [column.sentinel] * width
        cells.append(texts)
    form, _, headings = style["time"].partition(":")
    stamps = {
        "s": [f"{t:.2f}".replace(".", mark) for t in flight.t],
        "ms": [f"{round(t * 1000)}" for t in flight.t],
        "clock": [f"13:{7 + int(t // 60):02d}:{t % 60:06.3f}" for t in flight.t],
    }[form]
    out = io.StringIO()
    delimiter = {"semicolon": ";", "tab": "\t"}.get(style.get("delim", ""), ",")
    rows = csv.writer(out, delimiter=delimiter, lineterminator="\r\n" if number % 2 else "\n")
    if "title" in style:
        rows.writerows([[f"Vuelo {number + 1}"], []])
    clocks = headings.split("|")
    clock = clocks[number % len(clocks)]
    rows.writerow([clock, *(c.heading for c in columns)])
    if "unitrow" in style:
        rows.writerow(["s", *(c.unit for c in columns)])
    rows.writerows(zip(stamps, *cells, strict=True))
    encoding = "utf-8-sig" if number == 3 else "cp1252" if number == 2 and delimiter == ";" else "utf-8"
    truths = (_truth(persona, c, t) for c, t in zip(columns, cells, strict=True))
    return Log(
        f"{persona.name} {number + 1}", persona.name, "strangers", style.get("lang", "en"),
        out.getvalue().encode(encoding, "replace"), (Truth(clock, clock=True), *truths),
        Clock(form, flight.t.copy(), 0.01, ask="may"), {},
    )  # fmt: skip


@lru_cache(maxsize=4)
def logs(part: str = "open", seed: int = 0) -> tuple[Log, ...]:
    """Every log of the ``open`` or the ``sealed`` personas; another seed gives other flights and columns."""
    return tuple(write(persona, n, seed) for persona in personas(part) for n in range(EACH))
