"""Sentences that claim a relation hold it, whatever the figures: every such text is known, and rules are drawn against.

The rules are the words' own meaning (no source): "below" is below, a whole interval lies on one side, "alike" is within
what is said. Drawn seasons and the sample flights are held against the same rules in ``test_one_value.py`` and
``test_story.py``.
"""

from __future__ import annotations

import math
import re
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.core.figures import Figure, Method, Trace
from analyser.core.findings import Finding
from analyser.core.levels import Level
from analyser.fuel.balance import imbalance
from analyser.fuel.remaining import reserve_events
from analyser.link.fades import find_low_margin
from analyser.packs.codes import PackCode
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.retirement import Limit
from reports.words.catalogue import text
from tests.claims import CLAIMS, NO_RELATION, OF_FIGURES, claiming, texts, untrue

number = st.floats(-500.0, 500.0, allow_nan=False)
size = st.floats(0.5, 300.0, allow_nan=False)
few = settings(max_examples=30, deadline=None, database=None)


def test_every_text_that_claims_a_relation_has_a_rule_or_relates_nothing() -> None:
    known = set(CLAIMS) | set(OF_FIGURES) | NO_RELATION
    assert claiming() - known == set(), "give it a rule in tests/claims.py"
    assert known - set(texts()) == set(), "no such text any more"
    assert not set(CLAIMS) & NO_RELATION


def figure(value: float, half: float, unit: str = "mL") -> Figure:
    return Figure("drawn", value, unit, Method.ESTIMATED, low=value - half, high=value + half)


@few
@given(number, size)
def test_what_is_said_of_the_reserve(margin: float, half: float) -> None:
    t = np.arange(0.0, 60.0)
    trace = Trace("left", "mL", t, np.linspace(900.0, 300.0 + margin, t.size))
    events = list(reserve_events("left", figure(margin, half), trace, figure(300.0, 1.0), 59.0))
    assert untrue(events) == []
    # Silent only where the whole interval keeps the reserve.
    assert bool(events) == (margin < 0.0 or margin - half < 0.0)


@few
@given(st.floats(50.0, 400.0), st.floats(50.0, 400.0), size, st.booleans())
def test_what_is_said_of_two_sides(one: float, other: float, half: float, checked: bool) -> None:
    def tank(name: str, rate: float) -> SimpleNamespace:
        applied = SimpleNamespace(checked=checked)
        return SimpleNamespace(
            name=name, measured=True, rate=figure(rate, half, "mL/min"), scale=SimpleNamespace(applied=applied)
        )

    found, said = imbalance([tank("left", one), tank("right", other)])  # type: ignore[list-item]
    assert untrue(said) == []
    assert isinstance(said, Finding)
    if said.code == "fuel.burn_alike" and checked:
        assert abs(found.value or 0.0) <= said.values["within"]
    if said.code in ("fuel.burned_more", "fuel.reads_more"):
        assert said.values["more"] == ("left" if one > other else "right")


@few
@given(st.floats(0.5, 3.0), st.floats(0.0, 2.0), st.sampled_from([0.05, 0.5, 1.0]))
def test_what_is_said_of_a_limit(now: float, half: float, digits_of: float) -> None:
    at = Limit(
        of=SeasonPackCode.RESISTANCE, what=SeasonPackCode.TIMES_NEW, rule=SeasonPackCode.YOUR_RATIO,
        now=figure(now, half * digits_of, "×"), limit=2.0, fresh=1.0, values=np.empty(0),
        trend=Figure.unavailable("trend", "×", "none"), scale=None, digits=1,
    )  # fmt: skip
    reason = at.reason()
    if reason is None:
        return
    level, said = reason
    assert untrue(said) == []
    # What asks for an act lies beyond the limit with the whole of its interval.
    assert level < Level.ACT or now - half * digits_of > 2.0
    # An interval on both sides of the limit is told so, or leaves the pack open.
    if said.code == SeasonPackCode.NEAR:
        assert at.settled
    assert re.search(r"\d", text(said))


@few
@given(st.lists(st.floats(-8.0, 12.0), min_size=5, max_size=40))
def test_what_is_said_of_a_thin_margin(over: list[float]) -> None:
    values = np.repeat(np.array(over), 5) - 95.0
    level = SimpleNamespace(unit="dBm", values=values, time_s=np.arange(values.size) * 0.2)
    lowest, events = find_low_margin(level, -95.0, "link.rx.antenna1")  # type: ignore[arg-type]
    assert untrue(events) == []
    for e in events:
        said = text(e.summary)
        shown_db = float(re.findall(r"([\d.]+) dB", said)[0])
        signed = -shown_db if "below" in said else shown_db
        assert e.depth is not None
        assert signed == pytest.approx(e.depth.value, abs=0.051)
    assert lowest.value == pytest.approx(min(over), abs=1e-9)


@pytest.mark.parametrize(("to_v", "level_v"), [(5.2, 6.0), (5.996, 6.0), (5.9951, 6.0)])
def test_a_voltage_said_to_be_below_a_level_is_printed_below_it(to_v: float, level_v: float) -> None:
    said = text(Finding(PackCode.FELL_BELOW, {"subject": "bus", "to_v": to_v, "level_v": level_v, "seconds": 1.0,
                                              "causes": ()}))  # fmt: skip
    low, level = (float(x) for x in re.findall(r"([\d.]+) V", said)[:2])
    assert low < level
    assert math.isclose(level, level_v)
