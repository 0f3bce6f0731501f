"""Logs whose headings are composed: every name of a phrasebook, every part, every style, every unit in turn.

``python -m tests.importers.composed.compose [LOGS] [--seed N] [--language xx] [--list]`` counts how many headings are
understood.
The phrasebooks (``en.toml`` …) hold what people who write one language call each quantity; they were written from the
head, before a look at the importer's own words. Common practice, no source.
"""

from __future__ import annotations

import re
import sys
import tomllib
import unicodedata
from collections import Counter
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct, field

from tests.importers.hands.flight import Flight, Floats
from tests.importers.hands.truth import SCALES, Accept, Clock, Column, Log

LANGUAGES = ("en", "de", "fr", "it", "es")
ROWS, STEP_S = 400, 0.3
UNITS: dict[str, tuple[tuple[str, str], ...]] = {
    "egt_c": (("°C", "C"), ("°C", "C"), ("degC", "C")),
    "temperature_c": (("°C", "C"), ("°C", "C"), ("degC", "C")),
    "pump_v": (("V", "V"), ("V", "V"), ("mV", "mV")),
    "voltage_v": (("V", "V"), ("V", "V"), ("mV", "mV")),
    "cell_v": (("V", "V"), ("mV", "mV")),
    "current_a": (("A", "A"), ("A", "A"), ("mA", "mA")),
    "used_mah": (("mAh", "mAh"),),
    "percent": (("%", "%"),),
    "flow_ml_per_min": (("ml/min", "ml/min"), ("ml/min", "ml/min"), ("L/h", "l/h")),
    "used_ml": (("ml", "ml"), ("mL", "ml"), ("L", "l")),
    "remaining_ml": (("ml", "ml"), ("mL", "ml"), ("L", "l")),
    "dbm": (("dBm", "dBm"),),
    "deg": (("°", "deg"), ("deg", "deg")),
    "m": (("m", "m"), ("m", "m"), ("ft", "ft")),
    "speed": (("m/s", "m/s"), ("km/h", "km/h"), ("kt", "kt"), ("mph", "mph")),
    "vario_m_s": (("m/s", "m/s"), ("ft/min", "ft/min")),
    "accel": (("m/s²", "m/s2"), ("g", "g")),
    "pressure_pa": (("hPa", "hPa"), ("Pa", "Pa"), ("mbar", "hPa")),
}  # fmt: skip
"""By quantity: a unit as written, and as :data:`tests.importers.hands.truth.SCALES` has it."""
PLAIN = {
    "min-1": "upm", "°C": "c", "degC": "degc", "ml/min": "mlmin", "%": "pct", "km/h": "kmh", "m/s": "ms",
    "ft/min": "fpm", "°": "deg", "m/s²": "ms2", "L/h": "lph", "1/min": "rpm", "U/min": "upm", "tr/min": "trmin",
    "giri/min": "rpm",
}  # fmt: skip
"""Units where no signs can stand."""
SILENT = frozenset({"rpm", "V", "A", "C", "deg", "%", "1", "bool", "dBm", "mAh"})
"""Units that need not be said: the quantity or the values tell them."""
DECIMALS = {
    "rpm": 0, "C": 1, "mV": 0, "V": 3, "A": 3, "mA": 0, "mAh": 1, "%": 1, "ml/min": 1, "l/h": 3, "ml": 1, "l": 4,
    "dBm": 0, "deg": 2, "m": 2, "ft": 1, "m/s": 2, "km/h": 1, "kt": 2, "mph": 2, "ft/min": 0, "m/s2": 3, "g": 4,
    "hPa": 2, "Pa": 0, "1": 0,
}  # fmt: skip
GEAR = {
    "en": ("up", "down"), "de": ("eingefahren", "ausgefahren"), "fr": ("rentré", "sorti"), "it": ("su", "giù"),
    "es": ("arriba", "abajo"),
}  # fmt: skip
IN = {"en": "in", "de": "in", "fr": "en", "it": "in", "es": "en"}
STYLES = ("brackets", "first", "comma", "snake", "snake_first", "camel", "upper", "row", "bare", "dotted", "in")
_NAMELESS = ("battery", "akku", "e-akku", "accu", "batteria", "lipo", "bateria")


@cache
def book(language: str) -> dict[str, Any]:
    """The phrasebook of a language."""
    return tomllib.loads((Path(__file__).with_name(f"{language}.toml")).read_text(encoding="utf-8"))


def _plain(text: str) -> str:
    for letter, plain in (
        ("ß", "ss"),
        ("ä", "ae"),
        ("ö", "oe"),
        ("ü", "ue"),
        ("Ä", "Ae"),
        ("Ö", "Oe"),
        ("Ü", "Ue"),
        ("º", ""),
        ("°", ""),
    ):
        text = text.replace(letter, plain)
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def _snake(*pieces: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "_", _plain(" ".join(p for p in pieces if p))).strip("_").lower()


def _camel(*pieces: str) -> str:
    words = re.findall(r"[A-Za-z0-9]+", _plain(" ".join(pieces)))
    return "".join(w[0].upper() + w[1:] for w in words)


def heading(style: str, what: str, part: str, unit: str, language: str) -> str:
    """What a quantity of a part is headed in a style."""
    plain = PLAIN.get(unit, unit.lower() if unit not in ("mV", "mA", "mAh") else unit)
    after, before = " ".join(filter(None, (what, part))), " ".join(filter(None, (part, what)))
    made = {
        "brackets": lambda: f"{after} [{unit}]" if unit else after,
        "first": lambda: f"{before[0].upper() + before[1:]} ({unit})" if unit else before[0].upper() + before[1:],
        "comma": lambda: f"{after}, {unit}" if unit else after,
        "snake": lambda: _snake(what, part, plain),
        "snake_first": lambda: _snake(part, what, plain),
        "camel": lambda: _camel(what, part) + (f"_{plain}" if unit else ""),
        "upper": lambda: f"{after.upper()} ({unit})" if unit else after.upper(),
        "row": lambda: after,
        "bare": lambda: after,
        "dotted": lambda: (f"{part}.{what}" if part else what) + (f" [{unit}]" if unit else ""),
        "in": lambda: f"{after} {IN[language]} {unit}" if unit else after,
    }
    return made[style]()


class _Sheet(Struct):
    """A log on its way: its headings, cells and truth."""

    language: str
    style: str
    rng: np.random.Generator
    flight: Flight
    number: int
    columns: list[Column] = field(default_factory=list)
    cells: list[list[str]] = field(default_factory=list)
    row: list[str] = field(default_factory=list)
    taken: set[str] = field(default_factory=set)

    def pick(self, some: Sequence[Any]) -> Any:
        """One of several in turn, so that each has its log."""
        return some[(self.number + int(self.rng.integers(0, 1_000))) % len(some)]

    def add(self, what: str, part: str, target: str, units: Sequence[tuple[str, str]], asked: bool = False) -> None:
        written, scale = units[int(self.rng.integers(0, len(units)))]
        fair = what.endswith("?") or part.endswith("?") or asked
        what, part = what.rstrip("?"), part.rstrip("?")
        told = self.style not in ("bare",) or scale not in SILENT
        shown = "" if self.style == "row" or not told else written
        text = heading(self.style if told or self.style != "bare" else "bare", what, part, shown, self.language)
        if self.style == "bare" and told:
            text = heading("first", what, part, written, self.language)
        if text.casefold() in self.taken:
            return
        self.taken.add(text.casefold())
        values = self.flight.get(target)
        factor, offset = SCALES[scale]
        if target == "control.gear":
            bare = self.number % 2 and not re.search(
                r"(?i)down|exten|aus|unten|sorti|bas|giù|estratto|abajo|fuera", what
            )
            words = GEAR[self.language] if bare else ("0", "1")
            cells = [words[int(v)] for v in values]
            kept: Floats = values
        else:
            decimals = 7 if target.endswith(("latitude_deg", "longitude_deg")) else DECIMALS.get(scale, 2)
            raw = np.round((values - offset) / factor, decimals)
            cells = [f"{v:.{decimals}f}" for v in raw]
            kept = raw * factor + offset
        self.cells.append(cells)
        self.row.append(written if scale not in ("1", "bool") else "")
        self.columns.append(Column(text, (Accept(target, kept),), ask="may" if fair else "no"))


def compose(language: str, number: int, seed: int = 0) -> Log:
    """One log of a language: its style, parts and names by its number."""
    rng = np.random.default_rng((seed, LANGUAGES.index(language), number))
    words = book(language)
    sheet = _Sheet(language, STYLES[number % len(STYLES)], rng, Flight(rng, ROWS, STEP_S), number)
    twin = bool(rng.integers(0, 2))
    rpm = tuple((u, "rpm") for u in words["units"]["rpm"])
    for subject in ("engine", "fuel"):
        sides = sheet.pick(words["parts"][subject]) if twin else ("",)
        for quantity, names in words[subject].items():
            if quantity in ("pump_percent",) and number % 2:
                continue
            what = sheet.pick(names)
            units = rpm if quantity == "speed_rpm" else UNITS.get(quantity) or UNITS["percent"]
            for k, side in enumerate(sides):
                instance = "main" if not twin else ("1", "2")[k] if side[-1].isdigit() else ("left", "right")[k]
                sheet.add(what, side, f"{subject}.{instance}.{quantity}", units[:1] if twin else units)
    packs = sheet.pick(words["parts"]["pack"])
    many = int(rng.integers(1, 4))
    for quantity in ("voltage_v", "current_a", "used_mah", "temperature_c"):
        what = sheet.pick(words["pack"][quantity])
        if sheet.style in ("bare", "camel") and len(what) == 1:
            continue
        units = UNITS[quantity][int(rng.integers(0, len(UNITS[quantity]))) :][:1]
        for k, pack in enumerate(packs[:many]):
            plain = _plain(packs[0]).casefold().rstrip("? ")
            who = "ecu" if k == 2 else f"rx{k + 1}" if not plain.endswith(" a") else f"rx_{'ab'[k]}"
            if plain[:-2] in _NAMELESS:
                who = f"any{k + 1}"
            sheet.add(what, pack, f"pack.{who}.{quantity}", units)
    cell = sheet.pick(words["pack"]["cell"])
    for n in (1, 2):
        sheet.add(
            cell.format(n=n), packs[0], f"pack.{who if many == 1 else _who(packs)}.cell{n}_v", UNITS["cell_v"][:1]
        )
    receivers = sheet.pick(words["parts"]["receiver"])[: int(rng.integers(1, 3))]
    if number % 3 == 0:
        name = sheet.pick(words["parts"]["antenna"])
        what = sheet.pick(words["link"]["antenna_dbm"])
        for k, letter in enumerate(("A", "B") if number % 2 else ("1", "2")):
            sheet.add(
                what.format(a=f"{name} {letter}"), "", f"link.main.antenna:{letter.casefold()}.rssi_dbm", UNITS["dbm"]
            )
            del k
    else:
        for quantity, unit in (
            ("rssi_dbm", "dbm"),
            ("link_quality_percent", "percent"),
            ("lost_frames", ""),
            ("failsafe", ""),
        ):
            what = sheet.pick(words["link"][quantity])
            for k, receiver in enumerate(receivers):
                who = f"rx_{'ab'[k]}" if receiver[-1] in "AB" else f"rx{k + 1}"
                units = UNITS[unit] if unit else (("", "1"),)
                sheet.add(what, receiver, f"link.{who}.{quantity}", units)
    if number % 2:
        sheet.add(sheet.pick(words["downlink"]["rssi_dbm"]), "", "downlink.main.rssi_dbm", UNITS["dbm"])
    for subject in ("position", "attitude", "motion", "air", "control"):
        for quantity, names in words[subject].items():
            kind = next(
                (k for k in (quantity, "percent", "deg", "accel") if k in UNITS and (k == quantity or k in quantity)),
                "",
            )
            kind = kind or ("speed" if quantity.endswith("speed_m_s") else "m" if quantity.endswith("_m") else "")
            sheet.add(sheet.pick(names), "", f"{subject}.{quantity}", UNITS.get(kind, (("", "1"),)))
    for k in range(5):
        _nothing(sheet, words["none"]["channel"], k)
    return _log(sheet)


def _nothing(sheet: _Sheet, names: Sequence[str], k: int) -> None:
    """Add a column that is no channel: another system, a limit, an extreme."""
    text, _, signal = names[(5 * sheet.number + k) % len(names)].partition("|")
    what, _, unit = text.partition(" [")
    made = heading(
        "first" if sheet.style in ("row", "bare") else sheet.style, what, "", unit.rstrip("]"), sheet.language
    )
    if made.casefold() not in sheet.taken:
        sheet.taken.add(made.casefold())
        sheet.columns.append(Column(made, extra=True, trap="no channel"))
        sheet.cells.append([f"{v:.3f}" for v in sheet.flight.get(f"other.{signal}")])
        sheet.row.append("")


def _who(packs: Sequence[str]) -> str:
    plain = _plain(packs[0]).casefold().rstrip("? ")
    if plain[:-2] in _NAMELESS:
        return "any1"
    return "rx_a" if plain.endswith(" a") else "rx1"


def _log(sheet: _Sheet) -> Log:
    words = book(sheet.language)
    order = sheet.rng.permutation(len(sheet.columns))
    columns = [sheet.columns[i] for i in order]
    head = heading(
        sheet.style, sheet.pick(words["time"]), "", "" if sheet.style in ("row", "bare") else "s", sheet.language
    )
    comma = sheet.language != "en"
    mark = ";" if comma else ","
    rows = [mark.join([f'"{h}"' if mark in h else h for h in [head, *(c.heading for c in columns)]])]
    if sheet.style == "row":
        rows.append(mark.join(["s", *(sheet.row[i] for i in order)]))
    seconds = np.round(sheet.flight.t, 1)
    lines = zip(*([f"{t:.1f}" for t in seconds], *(sheet.cells[i] for i in order)), strict=True)
    rows += [mark.join(line) for line in ([c.replace(".", ",") for c in line] if comma else line for line in lines)]
    hand = f"composed {sheet.language} {sheet.style}"
    truth = (Column(head, clock=True), *columns)
    return Log(f"{hand} {sheet.number}", hand, "composed", sheet.language, ("\n".join(rows) + "\n").encode(), truth,
               Clock("elapsed", seconds, 0.1), {})  # fmt: skip


def main(arguments: Sequence[str]) -> None:
    """Count, and list what is not understood."""
    from tests.importers.hands.score import line, marks, table

    count = next((int(a) for a in arguments if a.isdigit()), 22)
    seed = int(arguments[arguments.index("--seed") + 1]) if "--seed" in arguments else 0
    some = arguments[arguments.index("--language") + 1].split(",") if "--language" in arguments else LANGUAGES
    every = [m for language in some for number in range(count) for m in marks(compose(language, number, seed))]
    if "--list" in arguments:
        print("\n".join(line(m) for m in every if m.outcome not in ("right", "asked")))
        print("asked though wrong")
        print("\n".join(line(m) for m in every if m.outcome == "asked" and not m.right))
    print(table(every, "language"))
    names = Counter(m.log.hand.rpartition(" ")[2] for m in every if m.outcome not in ("right", "asked"))
    print(names)


if __name__ == "__main__":
    main(sys.argv[1:])
