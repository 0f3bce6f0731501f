"""When each flight of a file began, in UTC where the file knows it and else by its local clock."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from analyser.core.findings import coded, say
from importers.clock.forms import read_text, utc
from importers.clock.model import Clock
from importers.clock.order import FloatArray
from importers.clock.setting import KNOWN_FROM_NS
from importers.clock.start import DAY_NS, to_utc
from importers.codes import ReadCode
from importers.model import Plan
from importers.split import Begin


def witness_ns(witness: Clock, times: FloatArray, column: pa.Array) -> int | None:
    """What a second clock says of the instant 0 of the first, ns since 1970; None while it says nothing credible."""
    if witness.form == "number":
        seconds = np.asarray(pc.fill_null(column, 0).to_numpy(zero_copy_only=False)) / witness.per_second
        ns, good = np.asarray(seconds * 1e9).astype(np.int64) + witness.zero_ns, np.asarray(column.is_valid())
    else:
        ns, good = read_text(column, witness.form, witness.order)
    good = good & (ns > KNOWN_FROM_NS)
    if not good.any():
        return None
    stamps = ns[good]
    late = 5e8 if not (stamps % 10**9).any() and np.ptp(stamps) else 0.0  # whole seconds are cut, not rounded
    since = stamps - stamps[0] - (times[good] - times[0]) * 1e9 + late
    return int(stamps[0] + np.median(since) - times[0] * 1e9)


def when(plan: Plan, start: Begin, base_ns: int, first_s: float) -> tuple[datetime | None, dict[str, str]]:
    """UTC of a flight's first row, or None, and metadata: where it is known from, or the local time.

    Parameters
    ----------
    base_ns : int
        The instant 0 of the file's clock, ns since 1970 where the clock knows the date.
    first_s : float
        The file's first row on that clock.
    """
    time, begin = plan.time, plan.begin
    if time.absolute:
        base, zone, how = base_ns, time.zone, say(ReadCode.UTC_CLOCK_COLUMN)
    elif start.witness_ns is not None and plan.witness:
        how = say(ReadCode.UTC_COLUMN, column=plan.dialect.headings[plan.witness.column])
        base, zone = start.witness_ns, plan.witness.zone
    elif begin.ns is None or start.resets:
        return None, {}
    elif time.form == "hms" and (time.zone or not begin.utc()):
        base, zone = base_ns + begin.ns // DAY_NS * DAY_NS, time.zone
        how = say(ReadCode.UTC_CLOCK_AND_DAY, day=begin.why)
    elif begin.timed:
        base, zone = begin.ns - int(first_s * 1e9), begin.zone
        how = say(ReadCode.UTC_FIRST_ROW, start=begin.why)
    else:
        day = utc(begin.ns, 0.0)
        return None, {"local_day": f"{day:%Y-%m-%d}", "local_day_from": coded(begin.why)} if day else {}
    reading_s = start.absolute_s - start.moved_s
    if time.absolute and base + reading_s * 1e9 < KNOWN_FROM_NS:
        return None, {}  # the clock had not been set
    known = to_utc(base, reading_s, zone, second=start.resets > 0 or start.moved_s > 0)
    if known is not None:
        return known, {"utc_from": coded(how)}
    local = utc(base, reading_s)
    if local is None:
        return None, {}
    return None, {
        "local_start": local.replace(tzinfo=None).isoformat(),
        "local_start_from": coded(say(ReadCode.ZONE_UNKNOWN, clock=how)),
    }
