"""Which column is the clock, and how it is read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analyser.core.findings import Finding, Text, say
from importers.clock import beside, pieces, rates
from importers.clock.codes import ClockCode
from importers.clock.finding.candidates import (
    MANY,
    RUNS,
    by_unit_alone,
    number_clock,
    numbers_in,
    text_clock,
    unmarked,
    weekly,
)
from importers.clock.finding.headings import (
    HOURS,
    counts_down,
    of_another_kind,
    of_part,
    of_seconds,
    timely,
)
from importers.clock.forms import Open, date_order, form_of, order_said
from importers.clock.model import NUMBER_FORM, Clock
from importers.meaning.columns import Heading
from importers.meaning.words import fold

_STILL_S, _STILL = 4.0, 4.0
"""A clock stands still for no longer, nor for so many of its usual waits: common practice, no source."""
_BEHIND = 3.0
"""Row numbers come behind every other clock."""
_Found = list[tuple[float, Clock, list[Open]]]
_MOST_LEAPS = 3


def zoned(why: Text, zone: str) -> Text:
    """How a clock is read, with its zone where that was not known yet."""
    if not isinstance(why, Finding):
        return why
    inside = {name: zoned(value, zone) if isinstance(value, Finding) else value for name, value in why.values.items()}
    return Finding(why.code, {**inside, "zone": inside["zone"] or zone} if "zone" in inside else inside)


def find_clock(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], rows_estimate: float, answers: dict[str, str],
    numbers: Mapping[int, npt.NDArray[np.float64]] | None = None,
) -> tuple[Clock | None, list[Open], tuple[int, ...], Clock | None]:  # fmt: skip
    """Choose the clock among a file's columns.

    Parameters
    ----------
    numbers : mapping of int to ndarray, optional
        What columns of plain numbers hold, where that is known: most can be no clock, and are passed over.

    Returns
    -------
    clock : Clock or None
    open : list of Open
        Questions that must be answered before reading.
    spare : tuple of int
        Other columns that tell the time.
    witness : Clock or None
        One of them that knows the date, where the clock does not.
    """
    found: list[tuple[float, Clock, list[Open]]] = []
    dates: list[tuple[int, list[str]]] = []
    named = _named(headings, answers)
    whole = pieces.assembled(headings, cells, [])
    parts = set(whole.columns) if whole else set()
    for i, heading in enumerate(headings):
        if i in parts:
            continue
        told = i == named or (timely(heading) and not counts_down(heading) and not of_another_kind(heading.unit))
        if not told and not of_seconds(heading.unit) and _of_few_digits((numbers or {}).get(i)):
            continue  # a number that nothing calls a time
        values = list(filter(None, cells[i]))
        if not values:
            continue
        of_a_part = of_part(heading) and i != named
        form = form_of(values, dates="date" in heading.ideas)
        if not form or (form == "number" and not (told or by_unit_alone(heading, values))):
            continue
        different = len(set(values))
        if len(values) > 1 and different == 1 and form != "date":
            continue  # it stands still
        fullness = len(values) / max(len(cells[i]), 1)
        fullness -= 0.25 * (1 - different / len(values))  # of two clocks the finer one
        if form == "date" and told and i != named:
            dates.append((i, values))
            continue
        if form in ("hms", "ms", "stamp"):
            clock, asks = text_clock(i, form, heading, values, answers)
            found.append((2.0 * fullness + told + (0.3 if clock.absolute else 0) - 0.5 * bool(of_a_part), clock, asks))
        elif form == "number" and told and (of_day := unmarked(i, heading, values, answers)):
            found.append((2.0 * fullness + told, *of_day))
        elif form == "number":
            numeric = number_clock(i, heading, values, rows_estimate, answers)
            if numeric is not None:
                clock, asks = numeric
                clock = weekly(clock, headings, cells)
                weight = 0.1 * bool(heading.unit) + 0.3 * (clock.week_column is not None)
                weight -= _BEHIND * (i != named and rates.counts_rows(heading, cells[i]))
                found.append((2.0 * fullness + told + weight - 0.5 * bool(of_a_part), clock, asks))
    if whole and (whole := pieces.assembled(headings, cells, [i for i, _ in dates])) and named in (None, *parts):
        order, asks = "ymd", []
        if whole.date_column is not None:
            order, asks = date_order(dates[0][1], headings[whole.date_column].text, answers)
        zone = "UTC" if any("utc" in headings[i].ideas for i in whole.columns) else answers.get("zone", "")
        found.append((3.0 + 0.3 * whole.absolute, replace(whole, order=order, zone=zone), asks))
    if not found and named is None and (unnamed := _unnamed(headings, cells, rows_estimate, answers)):
        found.append((1.0, *unnamed))
    if not found:
        return None, [], tuple(i for i, _ in dates), None
    found = [(weight, pieces.finer(c, headings, cells), asks) for weight, c, asks in found]
    parts = {n for _, c, _ in found for n in c.columns if n != c.column}
    found = [f for f in found if f[1].column not in parts]  # milliseconds of a second are no clock of their own
    found.sort(key=lambda f: (named not in (None, *f[1].columns), -f[0], f[1].column))
    found = [f for f in found if f is found[0] or not _counts_use(f[1], headings[f[1].column])]
    if named is None:
        found = _against(found, headings, cells)
    _, clock, asks = found[0]
    clock = pieces.dated(clock, headings, cells) if clock.form == "hms" and not dates else clock
    spare = [i for _, c, _ in found[1:] if _goes_on(clock, c, cells) for i in c.columns]
    if clock.form == "hms" and dates:
        column, values = dates[0]
        order, more = date_order(values, headings[column].text, answers)
        # A day that stays behind at midnight (the log's first) is carried on; one that does not leaves no step back.
        clock = replace(clock, wraps=(86400,), date_column=column, order=order, absolute=True,
                        why=say(ClockCode.WITH_DATE, clock=clock.why, column=headings[column].text,
                                order=order_said(values, order)))  # fmt: skip
        asks = [*asks, *more]
    if clock.backwards:
        clock = replace(clock, why=say(ClockCode.NEWEST_FIRST, clock=clock.why))
    against = {i for _, c, _ in found[1:] if c.backwards != clock.backwards and c.form == NUMBER_FORM
               for i in c.columns}  # fmt: skip
    spare = [i for i in spare if i not in against]  # what runs out while time goes on is a countdown
    spare += [i for i, _ in dates]
    spare = [i for i in dict.fromkeys(spare) if i not in clock.columns]
    witness = None if clock.absolute else next((c for _, c, _ in found[1:] if c.absolute), None)
    return clock, asks, tuple(spare), witness


def _of_few_digits(numbers: npt.NDArray[np.float64] | None) -> bool:
    """Whether plain numbers are too small for a day and time without marks between them, 20260510140307."""
    return numbers is not None and not bool((np.abs(numbers) >= 1e7).any())


def _against(found: _Found, headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> _Found:
    """Hear the best clock against one that only counts.

    Where the best one is set meanwhile, it leaps and the other goes on: that one is then the clock. A leap ahead beside
    a count that is even to the last digit is asked: it may count rows, and the leap be a pause. Where both agree, the
    count is kept to tell of leaps further on. A leap of a minute or more begins another flight.
    """
    weight, best, asks = found[0]
    if best.form == NUMBER_FORM and not best.absolute:
        return found
    x = pieces.seconds(best, cells)
    for n, (own, other, more) in enumerate(found[1:], 1):
        if other.form != NUMBER_FORM or other.absolute or other.pieces or more or of_part(headings[other.column]):
            continue
        y = pieces.seconds(other, cells)
        both = np.isfinite(x) & np.isfinite(y)
        if both.sum() < MANY or (np.diff(y[both]) < 0).any():
            continue
        leaps = beside.leaps(x[both], y[both], of_day=best.form == "hms")
        steps = np.diff(y[both])
        drift = float(np.diff(x[both] - y[both])[~leaps.at].sum()) if best.form != "hms" else 0.0
        if leaps.at.sum() > _MOST_LEAPS or abs(drift) > 1 + 0.01 * float(steps.sum()):
            continue
        even = bool(np.ptp(np.round(steps, 6)) == 0)
        if not leaps.at.any():
            kept = replace(best, beside=other.column, beside_per_second=other.per_second, beside_even=even)
            return [(weight, kept, asks), *found[1:]]
        by = tuple(float(s) for s in leaps.by[leaps.at])
        if even and max(by) > 0:
            ways = (headings[best.column].text, headings[other.column].text)
            asked = say(ClockCode.ASK_CLOCK, leaps=ways[0], goes_on=ways[1], seconds=by)
            return [(weight, best, [*asks, Open("clock", asked, ways)]), *found[1:]]
        why = say(ClockCode.STEADIER, clock=other.why, other=headings[best.column].text, seconds=by)
        return [(own, replace(other, why=why), more), *found[:n], *found[n + 1 :]]
    return found


def _goes_on(clock: Clock, other: Clock, cells: Sequence[Sequence[str]]) -> bool:
    """Whether a number beside the clock runs on as that does: no age of a reading, and no time since an event."""
    if other.form != NUMBER_FORM or other.absolute or other.pieces or other.week_column is not None:
        return True
    x, y = (pieces.seconds(c, cells) for c in (clock, other))
    both = np.isfinite(x) & np.isfinite(y)
    x, y = pieces.steady(x[both]), y[both]
    if x.size < MANY or (np.diff(x) < 0).any() or np.ptp(x) <= 0:
        return True
    moves = np.flatnonzero(np.diff(y))
    waits = np.diff(x[np.r_[0, moves + 1, x.size - 1]]) if moves.size else np.array([np.ptp(x)])
    still = max(_STILL_S, _STILL * float(np.median(waits)))
    return bool(waits.max() <= still and np.ptp(y) > 0 and np.corrcoef(x, y)[0, 1] ** 2 > RUNS)


def _counts_use(clock: Clock, heading: Heading) -> bool:
    """Whether a number beside another clock is how long a part, or the aircraft, has run: hours are counted so."""
    hours = clock.per_second < 1 / 60 or HOURS & set(heading.words)
    return clock.form == NUMBER_FORM and not clock.absolute and bool(of_part(heading) or hours)


def _named(headings: Sequence[Heading], answers: Mapping[str, str]) -> int | None:
    """The column that the answer ``clock`` names."""
    said = answers.get("clock", "").strip()
    found = next((i for i, h in enumerate(headings) if said and fold(h.text) == fold(said)), None)
    by_number = found is None and said.isdecimal() and 0 < int(said) <= len(headings)
    return int(said) - 1 if by_number else found


def _unnamed(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], rows_estimate: float, answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    """A clock without a heading, where no other column is one: its unit is asked. Whole numbers may count rows."""
    for i, heading in enumerate(headings):
        values = [c for c in cells[i] if c]
        if heading.text.strip() or len(values) < MANY or len(values) < len(cells[i]) or form_of(values) != "number":
            continue
        x = numbers_in(values)
        if (np.diff(x) <= 0).any() or (x == np.rint(x)).all():
            continue
        numeric = number_clock(i, heading, values, rows_estimate, answers)
        if numeric is None or "time_unit" in answers or numeric[0].absolute:
            return numeric
        asked = say(ClockCode.ASK_UNNAMED, number=i + 1, examples=tuple(values[:3]))
        return numeric[0], [Open("time_unit", asked, ("s", "ms", "us", "min", "h"))]
    return None


def standing(headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> str:
    """Heading of a column that would tell the time if it did not stand still; '' where there is none."""
    for heading, column in zip(headings, cells, strict=True):
        values = [c for c in column if c]
        stands = timely(heading) and len(values) > 1 and len(set(values)) == 1
        if stands and form_of(values, dates=True) not in ("", "date"):
            return heading.text
    return ""


def turning(headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> tuple[str, int] | None:
    """Heading of a column that would tell the time if it did not run both ways, and the row in which it first turns."""
    for heading, column in zip(headings, cells, strict=True):
        steps = np.diff(pieces.numbers(column)) if timely(heading) else np.empty(0)
        if np.isfinite(steps).all() and min((steps > 0).sum(), (steps < 0).sum()) > 0:
            return heading.text, int(np.argmax(np.sign(steps) == -np.sign(steps[np.flatnonzero(steps)[0]]))) + 1
    return None
