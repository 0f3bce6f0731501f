"""Units as people write them, and the exact arithmetic from one to another."""

from __future__ import annotations

import difflib
import re
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Any

from msgspec import Struct

from importers.meaning import factors

# Spellings that are no unit expression of their own, by case-sensitive text, then by case-folded text.
_EXACT = {
    "V": "V", "mV": "mV", "A": "A", "mA": "mA", "C": "degC", "F": "degF", "K": "K", "m": "m", "M": "m", "s": "s",
    "g": "g_0", "G": "g_0", "L": "L", "l": "L", "h": "h", "°": "deg", "W": "W", "N": "N",
}  # fmt: skip
_FOLDED = {
    "v": "V", "volt": "V", "volts": "V", "vdc": "V", "mv": "mV", "millivolt": "mV", "millivolts": "mV", "cv": "cV",
    "dv": "dV", "grad celsius": "degC",
    "a": "A", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "ma": "mA",
    "milliamp": "mA", "milliamps": "mA", "milliampere": "mA", "milliamperes": "mA", "ca": "cA",
    "mah": "mA*h", "milliamp hours": "mA*h", "milliampere hours": "mA*h", "amp hours": "A*h", "ampere hours": "A*h",
     "ah": "A*h", "mas": "mA*s", "as": "A*s",
    "°c": "degC", "degc": "degC", "deg c": "degC", "grad c": "degC", "celsius": "degC", "øc": "degC", "ºc": "degC",
    "℃": "degC", "?c": "degC", "\ufffdc": "degC", "?f": "degF", "\ufffdf": "degF", "\ufffd": "deg",
    "°f": "degF", "degf": "degF", "deg f": "degF",
    "degrees c": "degC", "degrees celsius": "degC", "deg celsius": "degC", "degrees f": "degF",
    "degrees fahrenheit": "degF", "deg fahrenheit": "degF", "degree celsius": "degC",
    "degree fahrenheit": "degF", "fahrenheit": "degF", "ºf": "degF", "℉": "degF",
    "kelvin": "K", "k": "K",
    "ml": "mL", "cc": "mL", "ccm": "mL", "cm3": "cm**3", "cm³": "cm**3", "millilitre": "mL", "milliliter": "mL",
    "millilitres": "mL", "milliliters": "mL", "mililitros": "mL", "millilitri": "mL",
    "l": "L", "litre": "L", "liter": "L", "litres": "L", "liters": "L", "cl": "cL", "dl": "dL",
    "oz": "US_fluid_ounce", "ounces": "US_fluid_ounce", "fluid ounces": "US_fluid_ounce", "us gal": "US_liquid_gallon",
    "us oz": "US_fluid_ounce", "us_fl_oz": "US_fluid_ounce", "uk fl oz": "imperial_fluid_ounce",
    "imp oz": "imperial_fluid_ounce",
    "imp gal": "imperial_gallon", "uk gal": "imperial_gallon", "gallons": "US_liquid_gallon",
    "floz": "US_fluid_ounce", "fl oz": "US_fluid_ounce", "fl.oz": "US_fluid_ounce", "us fl oz": "US_fluid_ounce",
    "imp fl oz": "imperial_fluid_ounce", "gal": "US_liquid_gallon",
    "ml/min": "mL/min", "cc/min": "mL/min", "ccm/min": "mL/min", "ml/s": "mL/s", "l/min": "L/min", "l/h": "L/h",
    "fl oz/min": "US_fluid_ounce/min", "oz per min": "US_fluid_ounce/min", "gph": "US_liquid_gallon/h",
    "gal/h": "US_liquid_gallon/h", "lph": "L/h", "l/hr": "L/h", "ltr/h": "L/h", "l/std": "L/h", "ml/sec": "mL/s",
    "ml/h": "mL/h",
    "cc/s": "mL/s", "ltr": "L", "litern": "L", "litro": "L", "litri": "L", "litros": "L",
    "ml per min": "mL/min", "mlm": "mL/min", "mlmin": "mL/min", "ml/mn": "mL/min", "tr/mn": "rpm", "l/mn": "L/min",
    "mlpm": "mL/min", "ml_per_min": "mL/min",
    "oz/min": "US_fluid_ounce/min", "floz/min": "US_fluid_ounce/min", "us fl oz/min": "US_fluid_ounce/min",
    "m": "m", "metre": "m", "meter": "m", "metres": "m", "meters": "m", "mtr": "m", "ft": "ft", "feet": "ft",
    "pieds": "ft", "pied": "ft", "pi": "ft", "pies": "ft", "piedi": "ft", "fuß": "ft", "fuss": "ft",
    "foot": "ft", "km": "km", "cm": "cm", "mm": "mm", "dm": "dm",
    "m/s": "m/s", "mps": "m/s", "ms-1": "m/s", "m s-1": "m/s", "m_s": "m/s", "m_per_s": "m/s", "km/h": "km/h",
    "kmh": "km/h", "kph": "km/h", "km_h": "km/h", "mph": "mi/h", "mi/h": "mi/h", "kn": "knot", "kt": "knot",
    "kts": "knot", "knots": "knot", "knot": "knot", "ft/s": "ft/s", "fps": "ft/s", "ft/min": "ft/min",
    "fpm": "ft/min", "cm/s": "cm/s", "miles/h": "mi/h", "miles per hour": "mi/h", "km/std": "km/h", "km/hr": "km/h",
    "nds": "knot",
    "m/sec": "m/s", "m/min": "m/min", "ft per min": "ft/min", "ft_per_min": "ft/min", "nudos": "knot", "noeuds": "knot",
    "n\u0153uds": "knot",
    "knoten": "knot", "nodi": "knot",
    "m/s2": "m/s**2", "m/s²": "m/s**2", "m/s^2": "m/s**2", "m_s2": "m/s**2", "m/s/s": "m/s**2", "mss": "m/s**2",
    "mps2": "m/s**2", "mps^2": "m/s**2", "ms-2": "m/s**2", "ms2": "m/s**2", "m/s?": "m/s**2", "m/s\ufffd": "m/s**2",
    "gee": "g_0", "mg": "millig_0",
    "pa": "Pa", "hpa": "hPa", "kpa": "kPa", "mbar": "mbar", "bar": "bar", "psi": "psi",
    "inhg": "inHg_0", "in hg": "inHg_0", "inch hg": "inHg_0", "inches hg": "inHg_0", "\"hg": "inHg_0",
    "mmhg": "mmHg", "mb": "mbar",
    "millibar": "mbar", "millibars": "mbar", "mbars": "mbar", "atm": "atm", "torr": "torr",
    "deg t": "deg", "deg m": "deg", "degt": "deg", "degm": "deg", "°t": "deg", "°m": "deg", "deg true": "deg",
    "deg n": "deg", "deg e": "deg", "°n": "deg", "°e": "deg", "° n": "deg", "° e": "deg",
    "deg mag": "deg", "° t": "deg", "° m": "deg",
    "deg": "deg", "degree": "deg", "degrees": "deg", "grad": "deg", "degré": "deg", "degrés": "deg",
    "grados": "deg", "gradi": "deg",
    "º": "deg", "rad": "rad", "radians": "rad", "mrad": "mrad", "cdeg": "centideg", "cd": "centideg", "cms": "cm/s",
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "sek": "s", "sekunden": "s", "segundos": "s",
    "secondes": "s", "secondi": "s", "secondo": "s", "sekunde": "s", "segundo": "s", "seg": "s", "ms": "ms",
    "msec": "ms", "millis": "ms", "milliseconds": "ms", "millisekunden": "ms",
    "us": "us", "µs": "us", "μs": "us", "usec": "us", "micros": "us", "microseconds": "us", "ns": "ns", "min": "min",
    "minutes": "min", "minuten": "min", "minutos": "min", "minuti": "min", "h": "h", "hours": "h",
    "%": "%", "percent": "%", "pct": "%", "prozent": "%", "perc": "%",
    "percento": "%", "proz": "%", "pourcent": "%", "porciento": "%",
    "ohm": "ohm", "ohms": "ohm", "mohm": "mohm", "milliohm": "mohm", "milliohms": "mohm",
    "mω": "mohm", "ω": "ohm", "wh": "W*h",
    "deg/s": "deg/s", "°/s": "deg/s", "dps": "deg/s", "grad/s": "deg/s", "rad/s": "rad/s", "1/s": "rps",
    "cdegc": "1/100 degC", "ddegc": "1/10 degC",
    "fraction": "fraction", "frac": "fraction", "anteil": "fraction",
    "dbm": "dBm", "db": "dBm", "rpm": "rpm", "u/min": "rpm", "upm": "rpm", "1/min": "rpm", "min-1": "rpm",
    "min^-1": "rpm", "min⁻¹": "rpm", "/min": "rpm", "tr/min": "rpm", "rev/min": "rpm", "r/min": "rpm",
    "t/min": "rpm", "krpm": "krpm", "1000/min": "krpm", "k rpm": "krpm", "rpm x1000": "krpm", "x1000 rpm": "krpm",
    "1000 rpm": "krpm", "rpm*1000": "krpm", "tausend u/min": "krpm", "kupm": "krpm", "giri/min": "rpm", "g/min": "rpm",
    "r p m": "rpm", "cm3/min": "mL/min", "cm³/min": "mL/min",
    "umin": "rpm", "trmin": "rpm", "turns/min": "rpm", "girimin": "rpm",
    "1/m": "rpm", "rpm/1000": "krpm", "ktr/min": "krpm", "rps": "rps", "hz": "rps", "rev/s": "rps",
    "count": "1", "counts": "counts", "cnt": "1", "n": "1", "#": "1", "raw": "counts", "frames": "1", "packets": "1",
    "pkts": "1", "pakete": "1", "trames": "1", "tramas": "1", "anzahl": "1", "bool": "bool", "flag": "bool",
    "on/off": "bool", "0/1": "bool", "true/false": "bool",
}  # fmt: skip
_PREFIXES = ("hecto", "kilo", "milli", "micro", "centi")
_BASES = ("pascal", "volt", "ampere", "metre", "meter", "litre", "liter")
_SPELLED = re.compile(f"({'|'.join(_PREFIXES)})({'|'.join(_BASES)})s?")
"""Prefix and unit written out; pint reads them so."""
_CANONICAL = {
    "V": "V", "A": "A", "mAh": "mA*h", "°C": "degC", "mL": "mL", "%": "%", "mL/min": "mL/min", "rpm": "rpm",
    "dBm": "dBm", "counts": "counts", "1": "1", "bool": "bool", "°": "deg", "m": "m", "m/s": "m/s",
    "m/s²": "m/s**2", "Pa": "Pa",
}  # fmt: skip
_OWN = {
    "%": ("%", 1), "fraction": ("%", 100), "dBm": ("dBm", 1), "rpm": ("rpm", 1), "krpm": ("rpm", 1000),
    "rps": ("rpm", 60), "1": ("1", 1), "counts": ("counts", 1), "bool": ("bool", 1),
}  # fmt: skip
_WRITTEN = {
    "US_fluid_ounce": "fl oz (US)",
    "imperial_fluid_ounce": "fl oz (imperial)",
    "mi/h": "mph",
    "knot": "kn",
    "US_fluid_ounce/min": "fl oz/min (US)",
    "inHg_0": "inHg",
    "degC": "°C",
    "degF": "°F",
    "mA*h": "mAh",
    "A*h": "Ah",
    "g_0": "g",
    "deg": "°",
    "m/s**2": "m/s²",
}


_SPELLED_RATE = re.compile(
    r"([^\W\d_]+)(?:\s*/\s*|\s(?:per|pro|par|por|al|alla|a\sla|\xe0\sl['\u2019])?\s?|\sa\s)([^\W\d_]+)"
)
_SPELLED_PARTS = {
    "km": "kilomet chilomet", "m": "met m\xe8t metr", "ml": "millilit milil", "l": "liter litre litro litri",
    "ft": "feet foot", "mi": "mile", "tr": "turn revolution umdrehung tour giri giro revoluc vuelta",
    "h": "hour stunde heure hora ora", "s": "sec sekunde", "min": "min mn",
}  # fmt: skip
"""Unit \u2192 how its name begins in the five languages."""
_POWER = re.compile(
    r"(?:1e|10\^)(-?\d)\s*[*x]?\s*([^\d\s].*)|(\S*[^\d\s*x])\s*[*x]?\s*(?:1e|10\^|e)(-?\d)", re.IGNORECASE
)
"""A unit with a power of ten before it, "1e-7 deg", or behind it, "degE7": the values are so many times as large."""
_PER = re.compile(r"(\S+)\s(?:per|pro|par|por|al|alla|a la|to the)\s(\S+)", re.IGNORECASE)
_PRODUCT = re.compile(r"([^\W\d_]+)[\s·.*]\s?(min|s|h)\s?(?:\^?-1|⁻¹|\^?-(?=2)|⁻(?=²))([2²]?)", re.IGNORECASE)
"""A rate with a negative power: "mL min^-1", "m s⁻¹" (ISO 80000-1, 7.2.1; from memory)."""
_TIMES = re.compile(r"(\d+(?:[.,]\d+)?|1/\d+)\s*\*?\s*([^\d\s/].*)")
"""A unit with a number before it: "0.1 V", "10 rpm", "1/100 V"."""


_THOUSANDS = re.compile(
    r"(?:x\s?)?(?:thousands?|tausend|mille|milliers|mila|miles)\s(?:(?:of|de|di)\s)?([^\d\s].*)", re.IGNORECASE
)
"""Thousands of a unit, spelled out."""
LONGEST = 40
"""Characters of the longest unit anyone writes."""


class Conversion(Struct, frozen=True, dict=True):
    """``value × num / den + offset``, exact until the last rounding."""

    num: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)

    @cached_property
    def _plain(self) -> tuple[int, int, float]:
        return self.num.numerator, self.num.denominator, float(self.offset)

    @property
    def identity(self) -> bool:
        """Whether nothing changes."""
        return self.num == 1 and self.offset == 0

    def apply(self, value: float) -> float:
        """Convert one number."""
        by, over, offset = self._plain
        return value * by / over + offset


@lru_cache(maxsize=4096)
def understand(text: str) -> str | None:
    """Return the unit a piece of text stands for, as an expression pint reads or a plain own name; None if unknown.

    Only spellings that are known or that pint accepts whole count; a lone word is not taken for a unit lightly.
    """
    text = text.strip().strip("[](){}").strip()
    if not text or len(text) > LONGEST:
        return None
    if thousands := _THOUSANDS.fullmatch(text):
        return "krpm" if (base := understand(thousands.group(1))) == "rpm" else f"1000 {base}" if base else _plain(text)
    if parts := _SPELLED_RATE.fullmatch(text.casefold()):
        over, under = (_named(p) for p in parts.groups())
        if over and under and (rate := _plain(f"{over}/{under}")):
            return rate
    if (both := _PER.fullmatch(text)) and (rate := _plain(f"{both.group(1)}/{both.group(2)}")):
        return rate
    if (power := _POWER.fullmatch(text)) and (base := _plain((power.group(2) or power.group(3)).strip())):
        exponent = int(power.group(1)) if power.group(1) else -abs(int(power.group(4)))
        return f"{Fraction(10) ** exponent} {base}"
    if factors := _PRODUCT.fullmatch(text):
        per = factors.group(2) + factors.group(3).replace("²", "2")
        return _plain(f"{factors.group(1)}/{per}") if _plain(factors.group(1)) else None
    if times := _TIMES.fullmatch(text):
        base = understand(times.group(2)) if times.group(2).casefold() not in ("x", "/") else None
        return (
            f"{Fraction(times.group(1).replace(',', '.'))} {base}" if base and not base[0].isdigit() else _plain(text)
        )
    return _plain(text)


def _named(word: str) -> str:
    """The unit that a word names, as it stands in a rate; '' for none."""
    word = word.replace("\xf3", "o").replace("\xf2", "o")
    return next((u for u, names in _SPELLED_PARTS.items() if any(word.startswith(n) for n in names.split())), "")


def _plain(text: str) -> str | None:
    if text in _EXACT:
        return _EXACT[text]
    folded = re.sub(r"\s+", " ", text.casefold())
    folded = re.sub(r"(?<=\bdeg)\.", "", folded.replace("\u2103", "°c"))
    if folded in _FOLDED:
        return _FOLDED[folded]
    if spelled := _SPELLED.fullmatch(folded):
        return f"{spelled.group(1)}{spelled.group(2)}"
    if (one := re.sub(r"(?<=[a-z]{2})s(?=/|$)", "", folded)) != folded and one in _FOLDED:
        return _FOLDED[one]  # "mls/min", "degs C"
    return _FOLDED.get(folded.replace(" ", "")) or _FOLDED.get(_dotless(folded)) or _FOLDED.get(folded.rstrip("."))


_NO_UNITS = frozenset(["UTC", "GMT", "local", "Z", "GPS", "TAI", "used", "left", "raw", "sum"])
"""Often in brackets, and no unit: pint need not be asked, whose registry takes long to load."""


def _dotless(text: str) -> str:
    """A unit without the points of its abbreviations: "fl. oz."."""
    return re.sub(r"\.\s?", " ", text).strip() if text[:1].isalpha() else text


def looks_up(text: str) -> str | None:
    """Like :func:`understand`, and for text that stands in unit brackets also whatever pint can read."""
    known = understand(text)
    if known is not None or len(text) > LONGEST or text.strip() in _NO_UNITS or not re.search(r"[A-Za-z°µμ]", text):
        return known
    return _pint_reads(text.strip())


def nearest(text: str, wanted: str = "") -> str:
    """The spelling of a unit that is most like a text, of those that become ``wanted`` where it is given; '' for none.

    >>> nearest("mhp", "m/s"), nearest("zorp")
    ('mph', '')
    """
    known = [k for k in _FOLDED if len(k) > 1 and (not wanted or _becomes(_FOLDED[k], wanted))]
    typed = text.strip().casefold()
    swapped = (f"{typed[:i]}{typed[i + 1]}{typed[i]}{typed[i + 2 :]}" for i in range(len(typed) - 1))
    if near := next((s for s in swapped if s in known), ""):
        return near
    close = difflib.get_close_matches(typed, known, 1, 0.6)
    return close[0] if close else ""


def _becomes(found: str, wanted: str) -> bool:
    try:
        return conversion(found, wanted) is not None
    except ValueError:
        return False


def same(one: str, other: str) -> bool:
    """Whether two spellings are of one unit; of unknown ones the text decides."""
    known = looks_up(one), looks_up(other)
    return known[0] == known[1] if any(known) else one.strip().casefold() == other.strip().casefold()


@lru_cache(maxsize=256)
def conversion(found: str, wanted: str) -> Conversion | None:
    """Give the arithmetic from a unit of :func:`understand` to a channel's printed unit; None where they differ in kind."""  # noqa: E501
    target = _CANONICAL.get(wanted, wanted)
    if found == target:
        return Conversion()
    if times := re.fullmatch(r"(\d+(?:/\d+)?) (.+)", found):
        plain = conversion(times.group(2), wanted)
        return plain and Conversion(plain.num * Fraction(times.group(1)), plain.offset)
    if found in _OWN or target in _OWN:
        kind, factor = _OWN.get(found, ("", 0))
        wanted_kind, wanted_factor = _OWN.get(target, ("?", 1))
        if kind != wanted_kind and {kind, wanted_kind} != {"1", "counts"}:
            return None
        return Conversion(Fraction(factor, wanted_factor))
    if found in factors.table() and target in factors.table():
        known = factors.between(found, target)
        return Conversion(*known) if known else None
    try:
        zero = registry().Quantity(Fraction(0), found).to(target).magnitude
        one = registry().Quantity(Fraction(1), found).to(target).magnitude
    except Exception:  # pint raises many kinds; all mean the same here
        return None
    return Conversion(Fraction(one) - Fraction(zero), Fraction(zero))


def written(expression: str) -> str:
    """A unit expression as one would print it."""
    if times := re.fullmatch(r"(\d+(?:/\d+)?) (.+)", expression):
        return f"{float(Fraction(times.group(1))):g} {written(times.group(2))}"
    return _WRITTEN.get(expression, expression)


def expressions() -> frozenset[str]:
    """Every unit that the word list can yield and the registry knows: no own ones, such as %, nor hundredths of one."""
    spelled = (f"{prefix}{unit}" for prefix in _PREFIXES for unit in _BASES)
    every = {*_EXACT.values(), *_FOLDED.values(), *_CANONICAL.values(), *spelled} - _OWN.keys()
    return frozenset(unit for unit in every if not _TIMES.fullmatch(unit))


def canonical() -> tuple[str, ...]:
    """The units that channels are kept in."""
    return tuple(_CANONICAL.values())


@lru_cache(maxsize=1)
def registry() -> Any:
    """Pint's registry of units, which takes half a second to load; its numbers are fractions."""
    import pint

    made: Any = pint.UnitRegistry(non_int_type=Fraction)
    made.define("inHg_0 = 3386389/1000 * pascal")
    return made


@lru_cache(maxsize=256)
def _pint_reads(text: str) -> str | None:
    try:
        unit = registry().parse_units(text)
        return str(unit) or None
    except Exception:  # anything pint cannot read is no unit
        return None
