"""Exact factors of the units that logs are written in, so that the whole registry of units is seldom loaded.

Reading that registry takes most of a second, longer than a log of ten minutes takes. What is not in this table is asked
of it (:mod:`importers.meaning.units`); a test holds every entry against it.
"""

from __future__ import annotations

from fractions import Fraction

_KINDS: dict[str, dict[str, str]] = {
    "V": {"V": "1", "dV": "1/10", "cV": "1/100", "mV": "1/1000"},
    "A": {"A": "1", "cA": "1/100", "mA": "1/1000"},
    "mA*h": {"mA*h": "1", "A*h": "1000", "A*s": "5/18", "mA*s": "1/3600"},
    "mL": {
        "mL": "1", "cL": "10", "dL": "100", "L": "1000", "cm**3": "1", "US_fluid_ounce": "473176473/16000000",
        "US_liquid_gallon": "473176473/125000", "imperial_fluid_ounce": "454609/16000",
        "imperial_gallon": "454609/100",
    },
    "mL/min": {
        "mL/min": "1", "mL/s": "60", "mL/h": "1/60", "L/min": "1000", "L/h": "50/3",
        "US_fluid_ounce/min": "473176473/16000000", "US_liquid_gallon/h": "157725491/2500000",
    },
    "Pa": {
        "Pa": "1", "hPa": "100", "kPa": "1000", "mbar": "100", "bar": "100000", "inHg_0": "3386389/1000",
        "atm": "101325", "torr": "20265/152", "psi": "8896443230521/1290320000",
    },
    "deg": {"deg": "1", "centideg": "1/100"},
    "m": {"m": "1", "dm": "1/10", "cm": "1/100", "mm": "1/1000", "km": "1000", "ft": "381/1250"},
    "m/s": {
        "m/s": "1", "cm/s": "1/100", "m/min": "1/60", "km/h": "5/18", "mi/h": "1397/3125", "knot": "463/900",
        "ft/s": "381/1250", "ft/min": "127/25000",
    },
    "m/s**2": {"m/s**2": "1", "g_0": "196133/20000", "millig_0": "196133/20000000"},
    "degC": {"degC": "1", "K": "1", "degF": "5/9"},
    "s": {"s": "1", "ms": "1/1000", "us": "1/1000000", "ns": "1/1000000000", "min": "60", "h": "3600"},
    "W": {"W": "1"},
    "N": {"N": "1"},
}  # fmt: skip
"""Unit of each kind → units of that kind, and how much of the first each of them is."""
_ZERO = {"K": Fraction(-5463, 20), "degF": Fraction(-160, 9)}
"""What nought of a unit is in the first of its kind, where it is not nought."""
FACTORS = {
    unit: (kind, Fraction(factor), _ZERO.get(unit, Fraction(0)))
    for kind, units in _KINDS.items()
    for unit, factor in units.items()
}
"""Unit → its kind, its size and its nought in the first unit of that kind."""


def between(found: str, wanted: str) -> tuple[Fraction, Fraction] | None:
    """Factor and offset from one unit to another, None where they differ in kind.

    Raises
    ------
    KeyError
        If one of them is not in the table.

    Examples
    --------
    >>> between("degF", "degC")
    (Fraction(5, 9), Fraction(-160, 9))
    """
    kind, size, zero = FACTORS[found]
    wanted_kind, wanted_size, wanted_zero = FACTORS[wanted]
    return (size / wanted_size, (zero - wanted_zero) / wanted_size) if kind == wanted_kind else None
