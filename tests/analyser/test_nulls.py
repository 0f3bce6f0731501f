"""A 17 dB hole in an antenna flown by the step-by-step simulator: found, with and without attitude.

The simulator (``tests/simulators/stepwise.py``) is of other make than the analyser: polarisation, a ground ray,
airframes of their own unevenness. Its antennas lie as the layout says: only the hole departs from the plan.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from analyser.season.link.layouts import analyse_layouts
from reports.words.catalogue import text
from tests.coverage.seasons import records_of
from tests.simulators import stepwise
from tests.simulators.season import Plan, fly_season

HOLE_DB, WIDTH_DEG = 17.0, 40.0


@cache
def flown(holes: tuple[int, ...], attitude: bool) -> tuple[Aircraft, tuple[FlightRecord, ...]]:
    """Three short flights; the antennas named hear 17 dB less where the pilot is behind the tail."""
    rng = np.random.default_rng([1, 5])
    build = stepwise.build(rng, attitude=attitude, twin=False, slim=False, rate_hz=4.0)
    edge = np.cos(np.radians(WIDTH_DEG))
    for number in holes:
        pattern = build.gain[f"rx.antenna{number}"]
        body = pattern.body  # type: ignore[attr-defined]
        # Full depth over two thirds of the way to the edge, in body axes (x forward).
        pattern.body = lambda to, body=body: body(to) - HOLE_DB * np.clip(3.0 * (-to[:, 0] - edge) / (1.0 - edge), 0, 1)  # type: ignore[attr-defined]
    planned, flights = fly_season(stepwise, build, Plan(flights=3, minutes=2.5), rng)
    return build.aircraft, tuple(records_of(planned, flights))


def said(records: tuple[FlightRecord, ...], of: Aircraft) -> list[str]:
    whole = analyse_season(records, [of])
    return [text(x.reason) for line in whole.attention for x in (line, *line.witnesses)]


@pytest.mark.parametrize("attitude", [True, False])
def test_a_hole_is_found_and_an_antennas_own_null_is_not(attitude: bool) -> None:
    aircraft, records = flown((2,), attitude)
    (line,) = [x for x in said(records, aircraft) if "planned" in x or x.startswith("No antenna")]
    assert line.startswith("Rx, antenna 2")
    assert "tail-on" in line
    # Without attitude the directions are doubted, and the flight says what they come from.
    assert all(bool(r.result.link.directions_from) for r in records)


def test_what_no_antenna_covers_is_told_whatever_is_planned_next() -> None:
    aircraft, records = flown((1, 2), True)
    (line,) = [x for x in said(records, aircraft) if x.startswith("No antenna covers")]
    assert "tail-on" in line
    later = replace(aircraft, layouts=(*aircraft.layouts, replace(aircraft.layouts[0], name="next year")))
    assert analyse_layouts(records, later).layouts[-1].layout == "next year"
    assert line in said(records, later)
