"""Steps, the usual, and before and after: stated rates kept on histories that other rules made."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from analyser.programme.histories import (
    FigureColumns,
    Flown,
    History,
    columns_of,
    histories,
    histories_of,
    likeness,
)
from analyser.programme.measures import BY_ID, Row
from analyser.programme.remedies import Verdict, compare, shift
from analyser.programme.steps import FALSE_STEPS, find_steps, strongest
from analyser.programme.unusual import FEWEST, PER_FLIGHT, unlike, usual_of
from reports.words.catalogue import Reader, reading, text


def alike(rng: np.random.Generator, n: int, rho: float, *, heavy: bool = False) -> NDArray[np.float64]:
    """An unchanged history of unit variance, alike from flight to flight; Student's t with 3 degrees where heavy."""
    noise = rng.standard_t(3, n + 60) / np.sqrt(3) if heavy else rng.normal(size=n + 60)
    return np.asarray(signal.lfilter([1.0], [1.0, -rho], noise)[60:] * np.sqrt(1 - rho**2))


def history(values, measure: str = "pack.resistance", part: str = "pack.rx1", thing: str = "R1") -> History:
    n = len(values)
    return History(
        BY_ID[measure], part, thing, tuple(f"f{k + 1}" for k in range(n)), np.arange(1.0, n + 1),
        tuple(date(2031, 1, 1) + timedelta(k) for k in range(n)), np.asarray(values, float), BY_ID[measure].unit,
    )  # fmt: skip


@pytest.mark.parametrize(("n", "rho", "heavy"), [(60, 0.0, False), (60, 0.6, False), (120, 0.3, True)])
def test_false_steps_come_no_more_often_than_stated(n: int, rho: float, heavy: bool) -> None:
    rng = np.random.default_rng(n)
    chances = [(strongest(alike(rng, n, rho, heavy=heavy)) or (0, 1.0))[1] for _ in range(600)]
    # Of 600 at 5 %: 30 expected, 43 with the scatter of such a count (99 %).
    assert sum(c <= 0.05 for c in chances) <= 43


def test_a_review_of_many_unchanged_figures_is_quiet() -> None:
    rng = np.random.default_rng(3)
    reviews = 25
    wrong = 0
    for _ in range(reviews):
        past = {
            h.key: h
            for k in range(30)
            for h in [history(alike(rng, 60, 0.3), "antenna.level", f"link.rx{k}.antenna1", "")]
        }
        wrong += bool(find_steps(past))
    assert wrong <= 25 * FALSE_STEPS + 4


def test_a_planted_step_is_dated_and_sized() -> None:
    rng = np.random.default_rng(8)
    inside = dated = found = 0
    for _ in range(60):
        values = 20.0 + 0.5 * alike(rng, 50, 0.2)
        values[30:] += 1.5
        steps = find_steps({("x", "y"): history(values)})
        if steps:
            found += 1
            (step,) = steps[:1]
            dated += step.first <= 31 <= step.last
            inside += step.size.low <= 1.5 <= step.size.high
    assert found >= 50
    assert dated >= 0.9 * found
    assert inside >= 0.88 * found


def test_two_steps_are_both_found() -> None:
    rng = np.random.default_rng(1)
    values = rng.normal(0, 0.3, 120)
    values[40:] += 2.0
    values[80:] -= 1.5
    assert [s.number for s in find_steps({("x", "y"): history(values)})] == [81, 41]


def test_a_step_is_said_in_both_languages() -> None:
    values = np.r_[np.full(20, 10.0), np.full(20, 12.0)] + np.tile([0.1, -0.1, 0.05, -0.05], 10)
    (step,) = find_steps({("x", "y"): history(values)})
    assert text(step.sentence).startswith("Pack R1" if "R1" in text(step.sentence) else "Pack rx1")
    assert "from 10.0\u00a0mΩ to 12.0\u00a0mΩ with flight 21" in text(step.sentence)
    with reading(Reader("de")):
        assert "ging mit Flug 21 von 10,0\u00a0mΩ auf 12,0\u00a0mΩ" in text(step.sentence)


@pytest.mark.parametrize("values", [[], [1.0] * 5, [3.0] * 50, [1.0, 2.0] * 5])
def test_little_or_nothing_shows_no_step(values: list[float]) -> None:
    assert find_steps({("x", "y"): history(values)} if values else {}) == ()


@pytest.mark.parametrize(
    ("n", "m", "rho", "heavy"), [(12, 6, 0.0, False), (20, 20, 0.3, False), (20, 12, 0.0, True), (6, 3, 0.0, False)]
)
def test_the_interval_before_and_after_holds_the_truth(n: int, m: int, rho: float, heavy: bool) -> None:
    rng = np.random.default_rng(n + m)
    hits = 0
    for _ in range(400):
        values = alike(rng, n + m, rho, heavy=heavy)
        change, half = shift(values[:n], values[n:] + 1.0)
        hits += abs(change - 1.0) <= half
    assert hits >= 400 * 0.92


def test_a_remedy_that_works_and_one_that_does_not() -> None:
    rng = np.random.default_rng(4)
    base = rng.normal(30.0, 1.0, 40)
    mended, useless = base.copy(), base.copy()
    mended[20:] -= 6.0
    worked = compare(history(mended), 21.0)
    assert worked.verdict is Verdict.WORKED
    assert worked.change.low <= -6.0 <= worked.change.high
    assert "It worked" in text(worked.sentence)
    did_not = compare(history(useless), 21.0, worth=3.0)
    assert did_not.verdict is Verdict.DID_NOT
    assert "did not work" in text(did_not.sentence)
    # More is better for a margin: the same change is then no remedy at all.
    assert compare(history(mended), 21.0, wanted="high").verdict is Verdict.DID_NOT


def test_useless_remedies_are_seldom_said_to_have_worked() -> None:
    rng = np.random.default_rng(6)
    said = [compare(history(alike(rng, 30, 0.3)), 21.0).verdict for _ in range(300)]
    assert sum(v is Verdict.WORKED for v in said) <= 300 * 0.025 + 9


def test_too_few_flights_say_how_many_more_would_tell() -> None:
    rng = np.random.default_rng(2)
    values = rng.normal(30.0, 1.0, 22)
    values[20:] -= 6.0
    early = compare(history(values), 21.0)
    assert (early.verdict, early.more) == (Verdict.CANT_TELL, 1)
    noisy = np.r_[rng.normal(30.0, 1.0, 20), 29.2, 30.1, 28.6, 29.9]
    open_ = compare(history(noisy), 21.0)
    assert open_.verdict is Verdict.CANT_TELL
    assert open_.more is not None
    assert 1 <= open_.more < 200
    assert compare(history(noisy), 2.0).verdict is Verdict.CANT_TELL  # one flight before


def test_counts_by_the_ratio_of_their_rates() -> None:
    """Poisson rates 3 and 0.3 a flight; the true ratio is 0.1."""
    rng = np.random.default_rng(9)
    counts = np.r_[rng.poisson(3.0, 12), rng.poisson(0.3, 12)].astype(float)
    found = compare(history(counts, "bus.brown_outs", "bus.main", ""), 13.0)
    assert found.verdict is Verdict.WORKED
    assert found.change.low <= 0.1 <= found.change.high
    same = compare(history(rng.poisson(3.0, 40).astype(float), "bus.brown_outs", "bus.main", ""), 21.0)
    assert same.verdict is Verdict.DID_NOT
    never = compare(history(np.zeros(20), "bus.brown_outs", "bus.main", ""), 11.0)
    assert (never.verdict, never.change.value) == (Verdict.CANT_TELL, None)


def test_counts_interval_is_the_published_exact_one() -> None:
    """Przyborowski and Wilenski's conditional interval by hand: 8 in 10 and 2 in 10 events, ratio 0.25.

    The binomial share 2/10 has the Clopper–Pearson interval 0.0252 … 0.5561 (any table of it); odds of these ends.
    """
    counts = np.r_[[1.0] * 8, 0.0, 0.0, [1.0] * 2, [0.0] * 8]
    found = compare(history(counts, "bus.brown_outs", "bus.main", ""), 11.0)
    assert found.change.low == pytest.approx(0.0252 / 0.9748, rel=5e-3)
    assert found.change.high == pytest.approx(0.5561 / 0.4439, rel=5e-3)


def test_an_unremarkable_flight_is_seldom_unusual_and_an_odd_one_is() -> None:
    rng = np.random.default_rng(12)
    wrong = 0
    flights = 150
    for k in range(flights):
        past = {
            (f"m{i}", ""): history(alike(rng, 25, 0.2, heavy=i % 3 == 0), "antenna.level", f"link.r{i}.antenna1", "")
            for i in range(40)
        }
        wrong += bool(unlike("f25", past).unusual)
        assert k < flights
    assert wrong <= flights * PER_FLIGHT + 12
    values = rng.normal(20.0, 1.0, 25)
    values[24] = 45.0
    (odd,) = unlike("f25", {("a", "b"): history(values)}).unusual
    assert odd.usual.low < 20.0 < odd.usual.high < 45.0
    assert "more than in 24 earlier flights" in text(odd.sentence).replace("\u00a0", " ")


def test_few_flights_say_until_when() -> None:
    waiting = unlike("f5", {("a", "b"): history(np.arange(5.0))})
    assert (waiting.unusual, waiting.judged, waiting.waiting, waiting.more) == ((), 0, 1, FEWEST - 4)
    assert usual_of(history(np.arange(5.0))) is None


def test_counts_that_are_mostly_nought_are_not_all_unusual() -> None:
    rng = np.random.default_rng(13)
    counts = rng.poisson(0.2, 200).astype(float)
    told = sum(bool(unlike(f"f{n}", {("a", "b"): history(counts, "pack.sags")}).unusual) for n in range(40, 201))
    assert told <= 161 * PER_FLIGHT
    counts[199] = 9.0
    assert unlike("f200", {("a", "b"): history(counts, "pack.sags")}).unusual


def test_a_pack_is_followed_wherever_it_sat() -> None:
    def flown(n: int, part: str, thing: str, unit: str = "mΩ") -> Flown:
        row = Row("pack.resistance", part, thing, 20.0 + n, None, None, unit, "estimated", doubtful=False)
        return Flown(f"f{n}", n, date(2031, 1, n), (row,))

    found = histories([flown(1, "pack.rx1", "R1"), flown(2, "pack.rx2", "R1"), flown(3, "pack.rx1", "R9")])
    assert {k: list(h.values) for k, h in found.items()} == {
        ("pack.resistance", "R1"): [21.0, 22.0], ("pack.resistance", "R9"): [23.0]
    }  # fmt: skip
    assert found["pack.resistance", "R1"].part == "pack.rx2"
    other = histories([flown(1, "pack.rx1", "R1", "Ω"), flown(2, "pack.rx1", "R1")])
    assert list(other["pack.resistance", "R1"].values) == [22.0]


@pytest.mark.parametrize(("rho", "low", "high"), [(0.0, 0.0, 0.1), (0.5, 0.4, 0.6)])
def test_likeness_is_hardly_biased(rho: float, low: float, high: float) -> None:
    rng = np.random.default_rng(21)
    seen = []
    for _ in range(300):
        values = alike(rng, 40, rho)
        seen.append(likeness(values - values.mean()))
    assert low <= float(np.mean(seen)) <= high


def test_a_figure_of_other_aircraft_alone_is_no_history():
    """Columns may name figures of which these flights have no row: they were cut out of a longer table."""
    rows = [Row("pack.resistance", "pack.rx1", "R1", 12.0, None, None, "mΩ", "measured", False)]
    named = columns_of([rows])
    none = np.array([], np.intp)
    empty = FigureColumns(named.kinds, none, none, *(np.array([], float),) * 3)
    assert histories_of([Flown("f1", 1, date(2031, 1, 1), ())], empty) == {}
