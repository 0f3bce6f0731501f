"""The reader's units: a figure in millilitres, degrees Celsius or metres as fluid ounces, degrees Fahrenheit or feet.

The factors are pint's. Only what a reader asked for is converted; everything is stored and computed in SI and mL.
"""

from __future__ import annotations

import functools
import math
import re
from typing import TYPE_CHECKING

from msgspec import Struct

from reports.words.reader import reader

if TYPE_CHECKING:
    from analyser.core.figures import FloatArray

CHOICES: dict[str, tuple[str, str]] = {
    "volume": ("mL", "fl oz"),
    "temperature": ("°C", "°F"),
    "length": ("m", "ft"),
}
"""What a reader may choose: the unit the analyser works in, and the other one. Fluid ounces are the US ones."""

_OTHER = {"mL": "fl oz", "L": "fl oz", "°C": "°F", "m": "ft"}
_SHOWN = {"L": "US gal"}
_WRITTEN = {"1/min": "/min"}
"""How the trade writes what the analyser calls otherwise."""
_PINT = {
    **{"mL": "milliliter", "L": "liter", "fl oz": "US_fluid_ounce", "US gal": "US_liquid_gallon"},
    **{"°C": "degC", "°F": "degF", "m": "meter", "ft": "foot"},
}


_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:[mkM]?(?:V|A|Ah|W|Wh|Ω|Hz|B|L|g|m)|mAh|cm|mm|s|min|h|J|°C|°F|K|%|×|dBm?|dBi|rpm|ft|fl oz|US gal)"
    r"(?![^\W\d_]))"
)


def kept_together(text: str) -> str:
    r"""Put a no-break space between a number and its unit, so that no line ends between them.

    Examples
    --------
    >>> kept_together("for 1.6 s, 162 J drawn in 3 flights")
    'for 1.6\xa0s, 162\xa0J drawn in 3 flights'
    """
    return _BEFORE_UNIT.sub("\u00a0", text) if " " in text else text


class Conversion(Struct, frozen=True):
    """From a unit to the reader's: ``value · scale + offset``, with ``digits`` more decimals."""

    unit: str
    scale: float = 1.0
    offset: float = 0.0
    digits: int = 0

    @property
    def behind(self) -> str:
        """What stands behind a number: a space that no line breaks at and the unit; nothing where there is none."""
        return "" if self.unit in ("", "1") else f"\u00a0{self.unit}"

    def value(self, value: float, *, difference: bool = False) -> float:
        """Convert a value; of a difference only the scale counts."""
        return value * self.scale + (0.0 if difference else self.offset)

    def array(self, values: FloatArray) -> FloatArray:
        """Convert a curve."""
        import numpy as np  # the terminal needs units, and few of its commands any numbers

        return values if self.scale == 1.0 and not self.offset else np.asarray(values, float) * self.scale + self.offset


def conversion(unit: str) -> Conversion:
    r"""Find how the reader wants values of this unit.

    Examples
    --------
    >>> from reports.words.reader import Reader, reading
    >>> conversion("mL/min").unit
    'mL/min'
    >>> conversion("1/min").behind
    '\xa0/min'
    >>> with reading(Reader(units=frozenset({"fl oz"}))):
    ...     conversion("mL/min").unit
    'fl oz/min'
    """
    return _conversion(unit, reader().units)


@functools.lru_cache(1024)
def _conversion(unit: str, wanted: frozenset[str]) -> Conversion:
    head, slash, rest = unit.partition("/")
    other = _OTHER.get(head)
    if other is None or other not in wanted or rest == "s²":
        return Conversion(_WRITTEN.get(unit, unit))
    shown = _SHOWN.get(head, other)
    scale, offset = _factors(head, shown)
    digits = max(0, round(-math.log10(scale)))
    return Conversion(shown + slash + rest, scale, 0.0 if slash else offset, digits)


@functools.cache
def _factors(unit: str, shown: str) -> tuple[float, float]:
    from pint import UnitRegistry

    registry: UnitRegistry[float] = UnitRegistry(cache_folder=None)
    at = [float(registry.Quantity(v, _PINT[unit]).to(_PINT[shown]).magnitude) for v in (0.0, 1.0)]
    return at[1] - at[0], at[0]
