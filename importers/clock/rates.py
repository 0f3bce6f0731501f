"""Logs without a clock that say how many rows there are in a second; some number them, too."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from analyser.core.findings import say
from importers.clock.codes import ClockCode
from importers.clock.forms import Open
from importers.clock.model import NO_COLUMN, NUMBER_FORM, Clock
from importers.meaning.columns import Heading
from importers.meaning.words import fold

_COUNTS = {
    "sample", "samples", "index", "idx", "row", "record", "records", "frame", "frames", "nr", "no", "number", "count",
    "counter", "num", "n", "i", "point", "reading", "scan", "zeile", "nummer", "lfd", "laufende", "messwert",
    "messung", "messungen", "datensatz", "satz", "zahler", "bild", "ligne", "numero", "echantillon", "echantillons",
    "mesure", "mesures", "enregistrement", "compteur", "trame", "fila", "muestra", "muestras", "contador", "medida",
    "medicion", "registro", "trama", "punto", "lectura", "linea", "riga", "campione", "campioni", "indice",
    "contatore", "misura", "misure", "lettura", "at", "of", "de", "des", "der", "di", "del",
}  # fmt: skip
"""Words of a column that counts rows, in five languages."""
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


_NUMBER = r"(\d+(?:[.,]\d+)?)"
_SECOND = r"(?:s|sec|sek|seg|second|sekunde|seconde|segundo|secondo)\b\.?"
_SO_MANY = re.compile(
    rf"{_NUMBER}\s*(?:(k?)hz\b|(?:[a-z]+\s*)?(?:/|\b(?:per|pro|je|in der|par|por|al|alla|a)\s)\s*{_SECOND})"
)
"""So many in a second: "10 Hz", "10 je Sekunde", "5 samples per second"."""
_EVERY = re.compile(
    rf"(?:every|alle|aller|jede|cada|tou(?:s|tes) les|chaque|ogni)\s+{_NUMBER}\s*(ms|msec|us|{_SECOND}|sekunden|seconds"
    r"|secondes|segundos|secondi)(?![a-z])"
)
"""One in so long: "alle 100 ms"."""


def _spoken(text: str) -> tuple[float, str] | None:
    """Rows in a second that a folded text speaks of, and the text without it; None where it does not."""
    for pattern in (_SO_MANY, _EVERY):
        found = pattern.search(text)
        number = float(found.group(1).replace(",", ".")) if found else 0.0
        if not found or number <= 0:
            continue
        rest = f"{text[: found.start()]} {text[found.end() :]}"
        if pattern is _EVERY:
            return 1 / (number * _SECONDS.get(found.group(2), 1.0)), rest
        return number * (1000.0 if found.group(2) else 1.0), rest
    return None


def stated(heading: str, preamble: Mapping[str, str]) -> tuple[float, str] | None:
    """Rows in a second as a heading or a line above the header says it, and these words; None where nothing does."""
    if spoken := _spoken(fold(heading)):
        return spoken[0], heading
    for key, value in preamble.items():
        words = set(re.findall("[a-z]+", fold(key)))
        if not words & (_RATES | _STEPS):
            continue
        if spoken := _spoken(fold(value)):
            return spoken[0], f"{key}: {value}"
        said = _VALUE.search(fold(value))
        number, unit = (float(said.group(1).replace(",", ".")), said.group(2) or "") if said else (0.0, "")
        if number <= 0:
            continue
        if unit in _PER_SECOND:
            return number * _PER_SECOND[unit], f"{key}: {value}"
        if unit in _SECONDS:
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


def counts_rows(heading: Heading, cells: Sequence[str]) -> bool:
    """Whether a column numbers the rows, by its heading and its values: each is one more than that above."""
    text = fold(heading.text)
    spoken = _spoken(text)
    words = set(re.findall("[a-z]+", spoken[1] if spoken else text))
    values = [c for c in cells if c]
    if words - _COUNTS or len(values) < 2 or len(values) < len(cells):
        return False
    if not all(v.isdecimal() and len(v) < 16 for v in values):
        return False
    steps = np.diff(np.array(values, np.int64))
    return bool((steps >= 1).all() and (steps == 1).mean() >= 0.9)


def counted(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], preamble: Mapping[str, str]
) -> tuple[Clock, list[Open]] | None:
    """The clock that a column of row numbers makes; its rate is asked where nothing states it.

    A column without a heading counts rows only where a rate is stated.
    """
    for i, heading in enumerate(headings):
        if not counts_rows(heading, cells[i]):
            continue
        if rate := stated(heading.text, preamble):
            why = say(ClockCode.ROWS, column=heading.text, rate=rate[1])
            return Clock(i, NUMBER_FORM, per_second=rate[0], why=why), []
        if heading.text.strip():
            asked = Open("rate", say(ClockCode.ASK_RATE, heading=heading.text), ())
            return Clock(i, NUMBER_FORM, why=say(ClockCode.UNIT_UNKNOWN)), [asked]
    return None
