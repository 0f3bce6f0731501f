"""Clocks that count days: those of a spreadsheet, and the Julian and modified Julian days of astronomers."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analyser.core.findings import say
from importers.clock.codes import ClockCode
from importers.clock.model import Clock
from importers.meaning.columns import Heading
from importers.meaning.words import fold

PER_SECOND = 1 / 86_400
_SHEET_NS = (date(1899, 12, 30) - date(1970, 1, 1)).days * 86_400 * 10**9
"""Day 0 of spreadsheets (ISO/IEC 29500-1, 18.17.4.1, with the leap day that 1900 never had left out)."""
_JULIAN_NS = -(24_405_875 * 86_400 * 10**8)
"""Julian day 0: day 2,440,587.5 is the midnight on which 1970 began (a test compares with pandas)."""
_MODIFIED_NS = -(40_587 * 86_400 * 10**9)
"""Modified Julian day 0: the Julian day less 2,400,000.5 (IAU 1973, resolution 4)."""
_SHEET_STEP = 10 / 86_400
_ASTRONOMERS = ("julian", "julien", "giulian")
_LETTERS = {"jd", "mjd", "jdn"}


def julian(heading: Heading) -> bool:
    """Whether a heading speaks of Julian days, in any of five languages."""
    text = fold(heading.plain)
    return any(w in text for w in _ASTRONOMERS) or text.strip(" []()_") in _LETTERS


def counted(
    clock: Clock, heading: Heading, x: npt.NDArray[np.float64], rows: float, zone: str, answers: Mapping[str, str]
) -> Clock | None:
    """The clock that a column of days with decimals is; None where it counts none.

    Parameters
    ----------
    clock : Clock
        What is known of it.
    x : ndarray
        Its numbers, none of them missing.
    rows : float
        How many rows the file may have.
    zone : str
        That of a spreadsheet's days; Julian ones are in UTC.
    """
    unit = answers.get("time_unit", heading.unit)
    if unit not in (None, "d", "j") or bool(np.all(x == np.rint(x))):
        return None
    low, high = float(x.min()), float(x.max())
    astronomers = replace(clock, per_second=PER_SECOND, absolute=True, zone="UTC", why=say(ClockCode.JULIAN))
    if julian(heading):
        if low > 2_400_000 and high < 2_500_000:
            return replace(astronomers, zero_ns=_JULIAN_NS)
        return replace(astronomers, zero_ns=_MODIFIED_NS) if low > 40_587 and high < 100_000 else None
    steps = np.diff(x)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else np.inf
    short = "time_unit" not in answers and step * rows < 1 and np.ptp(x) < 3
    if low > 20_000 and high < 80_000 and step < _SHEET_STEP and (unit == "d" or short):
        why = say(ClockCode.SPREADSHEET_DAYS, zone=zone)
        return replace(clock, per_second=PER_SECOND, absolute=True, zone=zone, zero_ns=_SHEET_NS, why=why)
    return None
