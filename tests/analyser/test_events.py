"""The dip detector against the rule read aloud sample by sample, and on waveforms whose answer is known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.core.events import find_dips, runs_of
from analyser.core.figures import FloatArray

# Quarter steps are exact in binary, so that the two ways of summing can't differ by rounding.
quarters = st.integers(-8, 8).map(lambda i: i / 4)
steps = st.sampled_from([0.25, 0.5, 5.0])


@st.composite
def traces(draw: st.DrawFn) -> tuple[FloatArray, FloatArray, FloatArray, float, float]:
    n = draw(st.integers(0, 40))
    time_s = np.cumsum(draw(st.lists(steps, min_size=n, max_size=n)) or [0.0])[:n]
    values = np.array(draw(st.lists(quarters, min_size=n, max_size=n)), float)
    moving = np.array(draw(st.lists(st.sampled_from([-0.25, 0.0, 0.25]), min_size=n, max_size=n)), float)
    return time_s, values, moving, draw(st.sampled_from([0.0, 0.25, 1.0])), draw(st.sampled_from([1.0, np.inf]))


def slowly(
    t: FloatArray, v: FloatArray, threshold: FloatArray, hysteresis: float, max_gap_s: float
) -> list[tuple[int, int, float, float, float]]:
    """The rule of IEC 61000-4-30, 5.4, one sample at a time: (first, one past last, end time, depth, residual)."""
    found: list[tuple[int, int, float]] = []
    begun: int | None = None
    for i in range(len(v)):
        if i and t[i] - t[i - 1] > max_gap_s and begun is not None:
            found.append((begun, i, t[i - 1]))
            begun = None
        if begun is None and v[i] < threshold[i]:
            begun = i
        elif begun is not None and v[i] >= threshold[i] + hysteresis:
            found.append((begun, i, t[i]))
            begun = None
    if begun is not None:
        found.append((begun, len(v), t[-1]))
    return [
        (a, b, end, max(threshold[k] - v[k] for k in range(a, b)), min(v[k] for k in range(a, b)))
        for a, b, end in found
    ]


@given(traces())
def test_agrees_with_the_rule_read_aloud(case: tuple[FloatArray, FloatArray, FloatArray, float, float]) -> None:
    t, v, threshold, hysteresis, max_gap_s = case
    expected = slowly(t, v, threshold, hysteresis, max_gap_s)
    dips = find_dips(t, v, threshold, hysteresis, max_gap_s=max_gap_s)
    got = zip(dips.start_index, dips.end_index, dips.end_s, dips.depth, dips.residual, strict=True)
    assert [tuple(map(float, row)) for row in got] == [tuple(map(float, row)) for row in expected]
    assert np.array_equal(dips.start_s, t[dips.start_index])
    # The lowest point lies in its own dip, shows the depth, and is the first to do so.
    for a, b, low, depth in zip(dips.start_index, dips.end_index, dips.lowest_index, dips.depth, strict=True):
        deviation = threshold[a:b] - v[a:b]
        assert low == a + int(deviation.argmax())
        assert deviation.max() == depth


@given(traces(), st.sampled_from([0.0, 0.5, 2.0]))
def test_short_dips_are_dropped_and_nothing_else(
    case: tuple[FloatArray, FloatArray, FloatArray, float, float], shortest: float
) -> None:
    t, v, threshold, hysteresis, max_gap_s = case
    every = find_dips(t, v, threshold, hysteresis, max_gap_s=max_gap_s)
    some = find_dips(t, v, threshold, hysteresis, max_gap_s=max_gap_s, min_duration_s=shortest)
    keep = every.end_s - every.start_s >= shortest
    for name in ("start_s", "end_s", "start_index", "end_index", "residual", "depth", "lowest_index"):
        assert np.array_equal(getattr(some, name), getattr(every, name)[keep])


def test_value_in_the_band_after_a_hole_is_no_dip() -> None:
    t = np.array([0.0, 0.1, 0.2, 9.0, 9.1, 9.2])
    v = np.array([8.0, 6.0, 6.0, 7.1, 7.1, 8.0])  # the threshold is 7, the band ends at 7.2
    dips = find_dips(t, v, 7.0, 0.2, max_gap_s=1.0)
    assert dips.end_s.tolist() == [0.2]
    assert dips.end_index.tolist() == [3]
    unbroken = find_dips(t, v, 7.0, 0.2)
    assert unbroken.end_s.tolist() == [9.2]


def test_dip_still_open_ends_at_the_last_sample() -> None:
    dips = find_dips(np.array([0.0, 1.0, 2.0]), np.array([8.0, 6.0, 6.5]), 7.0, 0.1)
    assert (dips.end_s.tolist(), dips.end_index.tolist()) == ([2.0], [3])


def test_nothing_in_nothing_out() -> None:
    assert len(find_dips(np.empty(0), np.empty(0), 1.0, 0.0)) == 0


@pytest.mark.parametrize(
    ("t", "v", "threshold", "hysteresis", "complaint"),
    [
        ([0.0, 1.0], [1.0], 0.0, 0.0, "one shape"),
        ([0.0], [1.0], 0.0, -0.1, "negative"),
        ([0.0], [np.nan], 0.0, 0.1, "NaN"),
        ([0.0], [1.0], np.nan, 0.1, "NaN"),
    ],
)
def test_refuses_what_it_cannot_judge(
    t: list[float], v: list[float], threshold: float, hysteresis: float, complaint: str
) -> None:
    with pytest.raises(ValueError, match=complaint):
        find_dips(np.array(t), np.array(v), threshold, hysteresis)


@given(st.lists(st.booleans(), max_size=30))
def test_runs_rebuild_the_mask(mask: list[bool]) -> None:
    rebuilt = np.zeros(len(mask), bool)
    runs = runs_of(np.array(mask, bool))
    for a, b in runs:
        assert a < b
        rebuilt[a:b] = True
    assert rebuilt.tolist() == mask
    assert all(later[0] > earlier[1] for earlier, later in itertools.pairwise(runs))
