"""What is true of a log: per column the channel and its values, and when each row was taken.

Factors are exact by definition unless said: NIST SP 811 (2008), appendix B (mile, foot, knot, US fluid ounce, inch of
mercury, psi, standard gravity); SI Brochure, 9th edition, for the rest. They are written here and not taken from the
importer's registry, so that each checks the other.
"""

from __future__ import annotations

import re
from datetime import datetime

from msgspec import Struct

from tests.importers.hands.flight import Floats

SCALES: dict[str, tuple[float, float]] = {
    "": (1.0, 0.0),
    # packs
    "V": (1.0, 0.0), "mV": (1e-3, 0.0), "cV": (1e-2, 0.0), "dV": (0.1, 0.0), "kV": (1e3, 0.0),
    "A": (1.0, 0.0), "mA": (1e-3, 0.0), "cA": (1e-2, 0.0), "dA": (0.1, 0.0),
    "mAh": (1.0, 0.0), "Ah": (1000.0, 0.0),
    # fuel
    "ml": (1.0, 0.0), "l": (1000.0, 0.0), "cl": (10.0, 0.0), "floz": (29.573_529_562_5, 0.0),
    "ml/min": (1.0, 0.0), "l/h": (1000.0 / 60.0, 0.0), "l/min": (1000.0, 0.0), "ml/s": (60.0, 0.0),
    "floz/min": (29.573_529_562_5, 0.0),
    "%": (1.0, 0.0), "ratio": (100.0, 0.0), "permille": (0.1, 0.0),
    # turbines
    "rpm": (1.0, 0.0), "krpm": (1000.0, 0.0), "rpm/10": (10.0, 0.0), "rpm/100": (100.0, 0.0), "Hz": (60.0, 0.0),
    "C": (1.0, 0.0), "F": (5.0 / 9.0, -160.0 / 9.0), "K": (1.0, -273.15), "dC": (0.1, 0.0), "cC": (0.01, 0.0),
    # link
    "dBm": (1.0, 0.0), "counts": (1.0, 0.0), "bool": (1.0, 0.0), "1": (1.0, 0.0),
    # place and movement
    "deg": (1.0, 0.0), "e7": (1e-7, 0.0), "e6": (1e-6, 0.0), "rad": (57.295_779_513_082_32, 0.0),
    "cdeg": (0.01, 0.0), "ddeg": (0.1, 0.0),
    "m": (1.0, 0.0), "ft": (0.3048, 0.0), "cm": (0.01, 0.0), "dm": (0.1, 0.0), "mm": (0.001, 0.0),
    "m/s": (1.0, 0.0), "km/h": (1.0 / 3.6, 0.0), "mph": (0.447_04, 0.0), "kt": (1852.0 / 3600.0, 0.0),
    "cm/s": (0.01, 0.0), "ft/s": (0.3048, 0.0), "ft/min": (0.00508, 0.0), "dm/s": (0.1, 0.0),
    "m/s2": (1.0, 0.0), "g": (9.806_65, 0.0), "mg": (0.009_806_65, 0.0),
    # air
    "Pa": (1.0, 0.0), "hPa": (100.0, 0.0), "kPa": (1000.0, 0.0), "dhPa": (10.0, 0.0), "bar": (1e5, 0.0),
    "mmHg": (133.322_4, 0.0), "inHg": (3386.389, 0.0), "psi": (6894.757, 0.0),
}  # fmt: skip
"""Unit as the hand writes it → (factor, offset): canonical = written × factor + offset."""

WORDS: dict[str, frozenset[str]] = {
    "pack": frozenset({"pack", "batt", "battery", "main", "bus", "supply", "bec", "akku"}),
    "bus": frozenset({"pack", "batt", "battery", "main", "bus", "supply", "bec"}),
    "fuel": frozenset({"tank", "fuel", "main"}),
    "engine": frozenset({"engine", "turbine", "ecu", "main", "motor", "jet"}),
    "link": frozenset({"rx", "receiver", "link", "main", "radio"}),
    "downlink": frozenset({"main", "link", "rx", "tx", "downlink", "telemetry", "radio", "receiver"}),
}
"""Words that may stand in a name beside what the hand says: they tell nothing wrong."""

SAME: dict[str, frozenset[str]] = {
    "left": frozenset({"left", "l"}), "right": frozenset({"right", "r"}), "rx": frozenset({"rx", "receiver"}),
    "a": frozenset({"a", "1"}), "b": frozenset({"b", "2"}), "c": frozenset({"c", "3"}),
    "ecu": frozenset({"ecu", "turbine", "engine"}),
    "backup": frozenset({"backup", "reserve", "standby", "secondary"}),
    "header": frozenset({"header", "hopper", "uat"}), "main": frozenset({"main", "1"}),
}  # fmt: skip
"""Spellings that stand for one word of a name."""


def words(name: str) -> list[str]:
    """``rx1_left`` → rx, 1, left."""
    return re.findall(r"[^\W\d_]+|\d+", name.casefold())


def fits(subject: str, said: str, instance: str) -> bool:
    """Whether an instance says what the hand said, and nothing that the hand did not say."""
    got = words(instance)
    if said.startswith("any"):  # the hand names nothing: any name, if it is kept apart from the others
        return bool(got)
    needed = [SAME.get(w, frozenset({w})) for w in words(said) if w != "main"]
    if any(not n & set(got) for n in needed):
        return False
    if any(len(n & set(got)) > 1 for n in needed if "ecu" not in n):  # rx_a1 is another than rx_a
        return False
    numbered = any(w.isdigit() or w in ("a", "b", "c", "left", "right") for w in words(said))
    allowed = WORDS.get(subject, frozenset()).union(*needed) | {"main"} | (frozenset() if numbered else {"1"})
    if "rx" in words(said):
        allowed = allowed - {"ecu", "turbine", "engine"}
    return all(w in allowed for w in got)


class Accept(Struct, frozen=True):
    """One right reading of a column.

    ``target`` is a canonical name with the hand's own instance (``pack.rx1.voltage_v``), an antenna as
    ``link.rx1.antenna:B1.rssi_dbm``; ``values`` are canonical, NaN where the cell is empty, in order of time.
    """

    target: str
    values: Floats

    @property
    def subject(self) -> str:
        """``pack`` of ``pack.rx1.voltage_v``."""
        return self.target.partition(".")[0]

    @property
    def instance(self) -> str:
        """``rx1`` of ``pack.rx1.voltage_v``; empty where the subject has none."""
        parts = self.target.split(".")
        return parts[1] if len(parts) > 2 else ""

    @property
    def antenna(self) -> str:
        """The antenna's name as the hand writes it."""
        parts = self.target.split(".")
        return parts[2].partition(":")[2] if len(parts) == 4 else ""

    @property
    def quantity(self) -> str:
        """``voltage_v``; without the antenna."""
        return self.target.rpartition(".")[2]


class Column(Struct, frozen=True):
    """One column of a log and what is true of it.

    Parameters
    ----------
    accepts : tuple of Accept
        Readings any of which is right; all of them are needed where ``every`` (``lat,lon`` in one column).
    extra : bool
        Whether it is right to keep it as no channel.
    ask : str
        ``no`` (a question is needless), ``may`` (fair) or ``must`` (no sure channel is right).
    trap : str
        The mechanism that may mislead a reader; empty for an ordinary column.
    clock : bool
        Whether it tells the time (or its parts, such as a letter N or S): no channel, and nothing lost.
    """

    heading: str
    accepts: tuple[Accept, ...] = ()
    extra: bool = False
    ask: str = "no"
    trap: str = ""
    every: bool = False
    clock: bool = False


class Clock(Struct, frozen=True):
    """When the rows were taken.

    ``seconds`` from the first good row, in order of time, each once; ``resolution_s`` of what is written; ``utc`` the
    start where the log tells it, else ``local`` where it tells a date without a zone, else None.
    """

    form: str
    seconds: Floats
    resolution_s: float
    utc: datetime | None = None
    local: datetime | None = None
    ask: str = "no"
    trap: str = ""


class Log(Struct, frozen=True):
    """One file, its truth, and answers a person would give to what it leaves open."""

    name: str
    hand: str
    half: str
    language: str
    data: bytes
    columns: tuple[Column, ...]
    clock: Clock
    answers: dict[str, str]
    shape: str = "wide"
