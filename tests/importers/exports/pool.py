"""The logs of the open and of the sealed hands, with truth as the scorer of `tests.importers.hands` wants it."""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np

from tests.importers.exports import fourth_hands, open_hands, sealed_hands, third_hands
from tests.importers.exports.rules import Column, Hand, log_of
from tests.importers.exports.rules import Log as Export
from tests.importers.hands.truth import Accept, Clock, Log
from tests.importers.hands.truth import Column as Truth

HALVES = {
    "open": open_hands.HANDS,
    "sealed": sealed_hands.HANDS,
    "third": third_hands.HANDS,
    "fourth": fourth_hands.HANDS,
}
LANGUAGES = {
    "tabelle": "de", "kurz": "de", "tableur": "fr", "aeroclub": "fr", "hoja": "es", "mezcla": "es", "foglio": "it",
    "langname": "de", "verein": "de", "chameau": "fr", "atelier": "fr", "culebra": "es", "corto": "it",
    "stellwerk": "de", "cammello": "it", "taller": "es", "phrases": "fr",
}  # fmt: skip
_LEFT = ["l", "left", "lh", "port", "g", "gauche", "gche", "izq", "izquierda", "sx", "sinistra", "li", "links"]
_RIGHT = [
    "r",
    "right",
    "rh",
    "starboard",
    "stbd",
    "d",
    "droite",
    "dte",
    "der",
    "dcha",
    "derecha",
    "dx",
    "destra",
    "re",
    "rechts",
]
_ORDINALS = {"first": "1", "second": "2"}
_RECEIVER = re.compile(r"(?i)rx|receiver|empf|\be-akku|réc|recept|ricev|\bric\b|rcvr|\brec\b")
_BATTERY = re.compile(r"(?i)bat|akku|accu|pack|pila|pile|celda")


def said(subject: str, role: str, heading: str) -> list[str]:
    """The names that a part's token says, any of which is right."""
    token = role.strip(" _#.").casefold()
    if token == "one":
        token = ""
    if token in _LEFT or token in _RIGHT:
        token = "left" if token in _LEFT else "right"
    tokens = [token, _ORDINALS[token]] if token in _ORDINALS else [token]
    if subject in ("pack", "bus"):
        if re.search(r"(?i)ecu|eng(?!er)|turb|jet", heading):
            return [f"ecu_{t}".strip("_") for t in tokens]
        if re.match(r"E-Akku", heading):  # the receiver's pack in a club's words
            return [*(t or "any" for t in tokens), *(f"rx{t}" for t in tokens)]
        if _RECEIVER.search(heading):
            tokens = [t.removeprefix("rx") for t in tokens]
            return [f"rx{t}" if t.isdigit() else f"rx_{t}".strip("_") for t in tokens]
        return [t or "any" for t in tokens]
    return [t or "any" for t in tokens]


def accepts(column: Column) -> tuple[Accept, ...]:
    """Every right reading of a column."""
    out = []
    for channel in column.channels:
        assert column.truth is not None
        names = [channel]
        if found := re.search(r"\.\{(.*?)\}\.", channel):
            subject = channel.partition(".")[0]
            names = [channel.replace(f"{{{found[1]}}}", n) for n in said(subject, found[1], column.heading)]
            if subject == "pack" and not _BATTERY.search(column.heading):
                names += [n.replace("pack.", "bus.") for n in names if n.endswith(("voltage_v", "current_a"))]
        for name in names:
            out.append(Accept(re.sub(r"antenna<(.*?)>_", r"antenna:\1.", name), column.truth))
    return tuple(out)


_UNITS = re.compile(
    r"(?i)(?<![a-z])(?:m|ft|feet|meters?|km/?h|kmh|kph|mph|kts?|mps|ms|m_?s|cms|m/s|cm_s|fpm|ml|fl\.? ?oz|l|%)(?![a-z])"
    r"|Ml|Kmh|Kph|Mps|Ms$|M$|MeterS|Meters|feet|metre|miles|percent|millilit|MLMIN|mlmin|mlpm|rel_alt|alt_agl"
)


def fair(column: Column, export: Export, unit_row: bool) -> bool:
    """Whether a careful person would ask: a unit is not said where several are usual, or a receiver may be an antenna.

    A height, speed, volume or flow without a unit; a signal by a number or letter in a log whose other columns of
    the link name no receiver so.
    """
    if column.fair_ask or not column.channels:
        return column.fair_ask
    quantity = column.channels[0].rpartition(".")[2]
    if not unit_row and quantity.endswith(("_m", "_m_s", "_ml", "_per_min")) and not _UNITS.search(column.heading):
        return True
    if re.fullmatch(r"link\.\{(?!one).*\}\.(?:rssi_dbm|lost_frames|signal_percent)", column.channels[0]):
        links = [c for c in export.columns if c.channels and c.channels[0].startswith("link.")]
        named = any(
            "quality" in c.channels[0] or "failsafe" in c.channels[0] or _RECEIVER.search(c.heading) for c in links
        )
        return not named
    return False


def truth(export: Export, hand: Hand, half: str) -> Log:
    """An export with the truth of its columns and of its clock."""
    columns = tuple(
        Truth(
            c.heading,
            accepts(c),
            extra=not c.channels or c.unknown_too,
            ask="may" if fair(c, export, hand.unit_row) else "no",
            clock=c.clock,
        )
        for c in export.columns
    )
    size = len(export.columns[0].cells)
    clock = Clock("as written", np.arange(size) / 2.0, 0.01)
    language = LANGUAGES.get(hand.name, "en")
    return Log(export.name, hand.name, half, language, export.text.encode(), columns, clock, {})


@lru_cache(maxsize=4)
def logs(half: str, seed: int = 0) -> tuple[Log, ...]:
    """Every log of one half, hand by hand; another seed draws others."""
    return tuple(truth(log_of(h, n + 100 * seed), h, half) for h in HALVES[half] for n in range(1, h.logs + 1))
