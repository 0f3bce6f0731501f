"""What a clock column is: which columns hold it and how their cells are read."""

from __future__ import annotations

from fractions import Fraction

from msgspec import Struct

from analyser.core.findings import Text

NUMBER_FORM = "number"
NO_COLUMN = -1
"""The column of a clock that no column tells: rows are counted, ``per_second`` of them."""


class Clock(Struct, frozen=True):
    """How the time of each row is read.

    ``column`` is that of the times, :data:`NO_COLUMN` where rows are counted instead; ``form`` is ``number``, ``hms``,
    ``ms`` (minutes and seconds) or ``stamp``; ``per_second`` counts a number's units in a second (frames of film for
    ``hms``, where these are its fourth part), and 0 is ``zero_ns`` since 1970;
    ``week_column`` counts GPS weeks beside seconds; ``pieces`` are
    columns to be added, each with its seconds in a unit; ``day_columns`` are those of year, month and day; ``wraps``
    are the values at which a counter starts anew, ``laps`` round ones at which it may; ``order`` is ``ymd``, ``dmy``
    or ``mdy``; ``backwards`` where the newest row comes first; ``sparse`` where rows without a time share that of the
    row above; ``beside`` a column that only counts, ``beside_per_second`` to a second, and tells where this one is set,
    ``beside_even`` where it does so to the last digit.
    """

    column: int
    form: str
    per_second: float = 1
    wraps: tuple[int, ...] = ()
    laps: tuple[int, ...] = ()
    date_column: int | None = None
    order: str = "ymd"
    zone: str = ""
    absolute: bool = False
    why: Text = ""
    backwards: bool = False
    zero_ns: int = 0
    week_column: int | None = None
    pieces: tuple[tuple[int, float], ...] = ()
    day_columns: tuple[int, int, int] | None = None
    sparse: bool = False
    beside: int | None = None
    beside_per_second: float = 1
    beside_even: bool = False

    @property
    def columns(self) -> tuple[int, ...]:
        """All columns that it is read from."""
        more = (self.date_column, self.week_column, *(c for c, _ in self.pieces), *(self.day_columns or ()))
        own = () if self.column == NO_COLUMN else (self.column,)
        return (*own, *(c for c in more if c is not None))

    @property
    def unit_ns(self) -> Fraction:
        """Nanoseconds in a unit of a number."""
        return 10**9 / Fraction(self.per_second).limit_denominator(10**9)
