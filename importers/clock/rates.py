"""Logs without a clock that say how many rows there are in a second; some number them, too."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from analyser.core.findings import say
from importers.clock.codes import ClockCode
from importers.clock.model import NO_COLUMN, NUMBER_FORM, Clock
from importers.meaning.columns import Heading
from importers.meaning.words import fold

_COUNTS = {"sample", "samples", "index", "idx", "row", "record", "frame", "nr", "no", "number", "count", "counter",
           "num", "n", "i", "zeile", "nummer", "lfd", "messwert", "ligne", "numero", "echantillon", "fila", "muestra",
           "riga", "campione", "indice", "hz", "at"}  # fmt: skip
_RATES = {"rate", "frequency", "freq", "hz", "fs", "abtastrate", "messrate", "frequenz", "frequence",
          "frecuencia", "frequenza", "sampling", "cadence", "cadencia", "cadenza"}  # fmt: skip
_STEPS = {"interval", "period", "step", "dt", "intervall", "intervalle", "intervalo", "intervallo", "periode",
          "periodo", "schritt", "pas", "paso", "passo"}  # fmt: skip
_VALUE = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*"
    r"(khz|hz|1/s|/s|sps|(?:samples?|rows?)(?:/s| per second)|ms|msec|us|s|sec|sek)?\b"
)
_PER_SECOND = {"khz": 1000.0, **dict.fromkeys(("hz", "1/s", "/s", "sps"), 1.0)}
_PER_SECOND |= {f"{n}{per}": 1.0 for n in ("sample", "samples", "row", "rows") for per in ("/s", " per second")}
_SECONDS = {"ms": 0.001, "msec": 0.001, "us": 1e-6, "s": 1.0, "sec": 1.0, "sek": 1.0}


def stated(heading: str, preamble: Mapping[str, str]) -> tuple[float, str] | None:
    """Rows in a second as a heading or a line above the header says it, and these words; None where nothing does."""
    found = re.search(r"(\d+(?:[.,]\d+)?)\s*hz\b", fold(heading))
    if found and float(found.group(1).replace(",", ".")) > 0:
        return float(found.group(1).replace(",", ".")), heading
    for key, value in preamble.items():
        words = set(re.findall("[a-z]+", fold(key)))
        said = _VALUE.search(fold(value))
        if not said or not words & (_RATES | _STEPS):
            continue
        number, unit = float(said.group(1).replace(",", ".")), said.group(2) or ""
        if number <= 0:
            continue
        if unit in _PER_SECOND and words & (_RATES | _STEPS):
            return number * _PER_SECOND[unit], f"{key}: {value}"
        if unit in _SECONDS and words & (_STEPS | _RATES):
            return 1 / (number * _SECONDS[unit]), f"{key}: {value}"
    return None


def with_rate(preamble: Mapping[str, str], said: str) -> dict[str, str]:
    """What the lines above the header say, and before them what a person says of the rate: "10", or "20 ms"."""
    plain = re.fullmatch(r"\s*\d+(?:[.,]\d+)?\s*", said)
    return {**({"rate": f"{said.strip()} Hz" if plain else said} if said else {}), **preamble}


def by_rows(preamble: Mapping[str, str]) -> Clock | None:
    """The clock of a log that has none, but says above its header how many rows there are in a second."""
    rate = stated("", preamble)
    return rate and Clock(NO_COLUMN, NUMBER_FORM, per_second=rate[0], why=say(ClockCode.ROWS_AT, rate=rate[1]))


def counted(headings: Sequence[Heading], cells: Sequence[Sequence[str]], preamble: Mapping[str, str]) -> Clock | None:
    """The clock that a column of row numbers and a stated rate make; None where either is missing."""
    for i, heading in enumerate(headings):
        words = set(re.findall("[a-z]+", fold(heading.plain)))
        values = [c for c in cells[i] if c]
        if words - _COUNTS or len(values) < 2 or len(values) < len(cells[i]):
            continue
        if not all(v.isdecimal() and len(v) < 16 for v in values):
            continue
        steps = np.diff(np.array(values, np.int64))
        if (steps < 1).any() or (steps == 1).mean() < 0.9:
            continue
        if rate := stated(heading.plain, preamble):
            return Clock(i, NUMBER_FORM, per_second=rate[0], why=say(ClockCode.ROWS, column=heading.text, rate=rate[1]))
    return None
