"""Intervals that hold what they say on the simulators of other make, with few flights and fixed draws.

The whole table is printed by ``python -m tests.coverage.table``; here stand the figures that hold in it, so that a
change which breaks one is seen at once.
"""

from __future__ import annotations

import re
from fnmatch import fnmatchcase

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from tests.coverage.antennas import count_antennas
from tests.coverage.by_figure import OVER_FLIGHTS, by_figure, checks, figures_of_flights
from tests.coverage.currents import CASES as CHARGING
from tests.coverage.currents import count_currents
from tests.coverage.flights import any_condition, common_name, count_flights
from tests.coverage.odds import CASES, count_odds
from tests.coverage.page import ROOT, references, row_of, tables
from tests.coverage.seasons import count_seasons, draw_plan
from tests.coverage.tally import Row, Tally, without_split
from tests.simulators import event, kinematic, stepwise
from tests.simulators.flight import Maker
from tests.simulators.season import Plan

MAKERS: tuple[Maker, ...] = (kinematic, event)
"""Flown in every test here; the third, whose flights take longest to march, in that of single flights."""
FLIGHTS_HOLD = (
    "phases.airborne_min",
    "phases.take_off_s",
    "phases.touch_down_s",
    "fuel.tanks.burn.burned",
    "fuel.tanks.scale.own",
    "fuel.tanks.content.left",
    "fuel.tanks.content.start",
    "fuel.tanks.content.margin",
    "fuel.tanks.content.endurance",
    "fuel.tanks.burn.rate",
    "fuel.tanks.burn.airborne",
    "fuel.tanks.burn.before_take_off",
    "fuel.tanks.phases.flight.burned",
    "fuel.tanks.phases.take-off.burned",
    "fuel.tanks.bands.80-100.burned",
    "fuel.burned",
    "fuel.rate",
    "fuel.endurance",
    "packs.packs.capacity.by_discharge_mah",
    "packs.packs.capacity.by_charge_mah",
    "packs.packs.capacity.flights_left",
    "packs.packs.resistance.as_read_mohm",
    "packs.packs.resistance.value_mohm",
    "packs.packs.resistance.sag_at_load_v",
    "packs.packs.resistance.by_steps_mohm",
    "packs.packs.resistance.leads_mohm",
    "packs.packs.charge.used_mah",
    "packs.packs.charge.airborne_mah_per_min",
    "packs.packs.voltage.rest_before_v",
    "packs.packs.voltage.rest_after_v",
    "packs.buses.path_drop_v",
    "packs.packs.voltage.deepest_sag_v",
    "packs.packs.charge.phases.before start.used_mah",
    "packs.packs.charge.phases.take-off.used_mah",
    "packs.buses.alone.failed_now_v",
    "packs.buses.alone.failed_before_v",
    "packs.packs.state.temperature_c",
    "link.max_range_m",
    "link.antennas.distance_exponent",
)
SEASONS_HOLD = (
    "season.engines.start_duration_trend",
    "season.fuel.tanks.rates",
    "season.fuel.tanks.scale.factor",
    "season.fuel.tanks.burn.trend",
    "season.packs.resistance.activation_kj_per_mol",
    "season.packs.resistance.over_new",
    "season.packs.resistance.trend",
    "season.packs.resistance.figures",
    "season.packs.sags_v",
)
ANTENNAS_HOLD = ("season.layouts.difference_db, all round", "season.layouts.difference_db, by sector")
ODDS_HOLD = ("nothing special, checked sensor", "3 flights", "unchecked sensor, 6 % low")


def eight_flights(rng: np.random.Generator) -> Plan:
    """A season as any other, but short."""
    plan = draw_plan(rng)
    return replace(plan, flights=8, step_at=4 if plan.step else 0)


def broken(tally: Tally, names: tuple[str, ...]) -> list[str]:
    """Rows of these names that are surely short, plainly low in a fixed draw, or were never looked at."""
    rows = [r for r in tally if r.name in names or without_split(r.name) in names]
    seen = {name for r in rows for name in (r.name, without_split(r.name))}
    low = [r for r in rows if r.verdict == "short" or (r.n >= 8 and r.kept < 0.75)]
    short = [f"{r.name}: {r.hits} of {r.n} ({r.simulator})" for r in low]
    return short + [f"{name}: never seen" for name in names if name not in seen]


@pytest.mark.parametrize("maker", [*MAKERS, stepwise], ids=lambda m: m.name)
def test_intervals_of_single_flights_hold(maker: Maker) -> None:
    tally = Tally()
    count_flights(tally, maker, 8 if maker in MAKERS else 5, 511, any_condition)
    # Few flights of the third take enough from a pack to tell its capacity.
    told = [name for name in FLIGHTS_HOLD if maker in MAKERS or "capacity.by_" not in name]
    assert broken(tally, tuple(told)) == []


@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: m.name)
def test_intervals_of_seasons_hold(maker: Maker) -> None:
    tally = Tally()
    count_seasons(tally, maker, 2, 513, eight_flights)
    assert broken(tally, SEASONS_HOLD) == []


@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: m.name)
def test_a_moved_antenna_is_told_within_its_interval(maker: Maker) -> None:
    tally = Tally()
    count_antennas(tally, maker, 1 if maker is kinematic else 2, 517)
    assert broken(tally, ANTENNAS_HOLD) == []


def test_advised_times_keep_the_reserve() -> None:
    tally = Tally()
    count_odds(tally, event, 6, 519, {case: CASES[case] for case in ODDS_HOLD})
    assert broken(tally, tuple(f"season.fuel.timer advised, {case}" for case in ODDS_HOLD)) == []


def test_what_charges_teach_of_current_sensors_holds() -> None:
    """With every second flight charged and noted, the sensor's scale, and all that follows it, is told half as wide."""
    tally = Tally()
    count_currents(tally, 1, 523, {
        case: replace(CHARGING[case], flights=10) for case in ("two flights a charge", "never noted")
    })  # fmt: skip
    names = tuple(f"season.packs.scale {what}, {case}" for what in ("charge used", "factor", "resistance")
                  for case in ("two flights a charge", "never noted"))  # fmt: skip
    assert broken(tally, names) == []
    half = {r.name: float(np.median(r.half_widths)) for r in tally}
    learned, never = (half[f"season.packs.scale factor, {c}"] for c in ("two flights a charge", "never noted"))
    assert learned < 0.65 * never


def test_a_broken_promise_is_called_short() -> None:
    """Thirty of forty is no 95 %; the interval of the count is Clopper and Pearson's, as scipy has it."""
    row = Row("figure", "simulator")
    for k in range(40):
        row.add(k, 1.0, 0.5, 1.5, 1.0 if k < 30 else 2.0)
    expected = stats.binomtest(30, 40).proportion_ci(0.95, "exact")
    assert row.interval == pytest.approx((expected.low, expected.high))
    assert (row.verdict, row.above, row.below) == ("short", 10, 0)


def test_looks_of_one_season_are_not_counted_as_many() -> None:
    """Ten seasons of ten looks, each all hit or all missed, are worth ten looks."""
    row = Row("figure", "simulator")
    for k in range(10):
        for _ in range(10):
            row.add_outcome(k, k < 9)
    assert row.n == 100
    assert row.independent == pytest.approx(10.0, rel=0.12)
    assert row.verdict == "holds"


def test_a_wide_row_says_why() -> None:
    """Wide by what is stated, by what another simulator needs, or by nothing that anybody knows."""
    rng = np.random.default_rng(1)
    tally = Tally()
    for name, stated, other in (("a", 0.51, 0.2), ("b", 0.2, 0.51), ("c", 0.2, 0.2)):
        rows = (tally.row(name, "one"), tally.as_stated(name, "one"), tally.row(name, "two"))
        for k in range(300):
            for row, sd in zip(rows, (0.2, stated, other), strict=True):
                row.add(k, 0.0, -1.0, 1.0, float(rng.normal(0.0, sd)))
    assert [tally.reason(tally.row(name, "one")) for name in "abc"] == ["prior", "elsewhere", "unexplained"]
    assert tally.row("c", "one").enough == pytest.approx(1.96 * 0.2, rel=0.1)
    assert row_of(tally.row("c", "one"), "unexplained").endswith("| wide: unexplained |")


def test_looks_that_share_an_error_are_few_though_none_misses() -> None:
    """Twenty seasons of twelve looks, each season off by one error of its own: worth about twenty looks, not 240."""
    rng = np.random.default_rng(2)
    shared, own = Row("figure", "simulator"), Row("figure", "simulator")
    for k in range(20):
        error = float(rng.normal(0.0, 0.2))
        for _ in range(12):
            shared.add(k, 0.0, -1.0, 1.0, error + float(rng.normal(0.0, 0.02)))
            own.add(k, 0.0, -1.0, 1.0, float(rng.normal(0.0, 0.2)))
    assert shared.kept == own.kept == 1.0
    assert shared.independent == pytest.approx(20.0, rel=0.1)
    assert own.independent > 150.0
    assert shared.verdict == "holds"
    assert own.verdict == "wide"


def test_names_lose_their_instances() -> None:
    assert common_name("packs.buses.receivers.alone.rx1.failed_now_v") == "packs.buses.alone.failed_now_v"
    assert common_name("link.receivers.rx.antennas.rx.antenna2.distance_exponent") == "link.antennas.distance_exponent"
    assert common_name("fuel.tanks.left.phases.flight.burned") == "fuel.tanks.phases.flight.burned"
    assert common_name("fuel.tanks.left.content.left") == "fuel.tanks.content.left"


def test_the_page_lists_every_outside_check_and_every_row() -> None:
    """Nothing is left out of the page: all modules of tests/reference with what they say, all rows under a subject."""
    listed = references()
    for path in (ROOT / "tests" / "reference").glob("test_*.py"):
        assert f"`{path.name}`: " in listed
        assert not listed.partition(f"`{path.name}`: ")[2].startswith("\n"), f"{path.name} says not what it checks"
    tally = Tally()
    names = {*FLIGHTS_HOLD, *SEASONS_HOLD, *ANTENNAS_HOLD, "season.fuel.timer advised_min, x"}
    for name in names:
        tally.row(name, "kinematic").add(0, 1.0, 0.5, 1.5, 1.0)
    page = tables(tally)
    assert all(page.count(f"| {name} | kinematic | 1 | 100 % |") == 1 for name in names)


def test_every_outside_check_names_figures_that_there_are() -> None:
    about = checks()
    assert len(about) == len(list((ROOT / "tests" / "reference").glob("test_*.py"))), "say in CHECKS what it checks"
    known = (*figures_of_flights(), *OVER_FLIGHTS)
    for module, names in about.items():
        for name in names:
            assert any(fnmatchcase(figure, name) for figure in known), (module, name)
    said = by_figure(["fuel.mass", "packs.packs.resistance.value_mohm"])
    assert "| `fuel.mass` | jet_fuel | yes |" in said
    assert re.search(r"\| `season.packs.life.cycles` \| rainflow", said)
    # The page that stands in docs is of today's checks.
    page = (ROOT / "docs" / "coverage.md").read_text("utf-8")
    for module in about:
        assert f"`{module}.py`" in page, "python -m tests.coverage.page --references-only"
