"""What asks for attention: order, grouping, and silence where the log says nothing."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace as Bag
from typing import Any

import pytest

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.flight import analyse_flight
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from analyser.season.attention import rank_attention, watched
from analyser.season.link.range_check import RangeCheck, RangeCheckResult, analyse_range_checks
from reports.words.catalogue import text
from tests.analyser.link_flights import aircraft, context, fly, level, tail_null

NONE = Figure.unavailable("x", "mL", "no sensor")


def sag(level: Level, at: float, depth: float) -> Event:
    return Event("sag", "pack.rx2", at, at + 0.3, level, f"sag at {at:g}", Figure("d", depth, "V", Method.MEASURED))


def fade(level: Level) -> Event:
    return Event("fade_together", "link.rx1", 5.0, 6.0, level, "all antennas faded")


def brown_out() -> Event:
    return Event("brown_out", "bus.main", 3.0, 3.4, Level.ACT, "fell to 5.8 V")


def flight(name: str, *events: Event, margin: Figure = NONE, packs: Any = None) -> Any:
    """The n-th flight of Tern; its number is the digit in its name."""
    fuel = Bag(tanks=(Bag(name="left", margin=margin),))
    result = Bag(events=lambda: iter(events), fuel=fuel, phases=Bag(touch_down_s=400.0))
    found = Bag(flight_id=name, number=int(name[1:]), aircraft="Tern", result=result, context=Bag(packs=packs or {}))
    return watched(found)  # type: ignore[arg-type]


def season(
    change: Level = Level.FINE,
    difference: Figure = NONE,
    engine: Level = Level.FINE,
    lost: Figure = NONE,
    range_checks: RangeCheckResult | None = None,
) -> Any:
    moved = Bag(antenna="rx1.antenna2", difference_db=difference, difference_lost_per_min=lost, verdict="worse")
    return Bag(
        aircraft=Bag(name="Tern"),
        engines=(Bag(name="left", level=engine, verdict="service due", hours_to_service=NONE),),
        fuel=Bag(
            tanks=(Bag(name="left", burn=Bag(step=NONE, level=change, verdict="burns more")),),
            imbalance=Bag(values=(), level=change, verdict="left burns more than right"),
        ),
        layouts=Bag(layouts=(), flown=None, comparisons=(moved,)),
        range=range_checks or RangeCheckResult((), ""),
    )


def pack(level: Level) -> Any:
    return Bag(
        pack=Bag(name="R2"),
        level=level,
        reasons=("resistance doubled",),
        sentence="",
        flight_ids=("f1",),
        matter=None,
    )


def test_nothing_known_raises_nothing() -> None:
    assert rank_attention([flight("f1", sag(Level.NOTE, 1, 0.2))], [season()], [pack(Level.NOTE)]) == ()


def test_worst_first_then_season_then_latest_flight() -> None:
    flights = [flight("f1", sag(Level.WATCH, 1, 0.2)), flight("f2", fade(Level.WATCH)), flight("f3", brown_out())]
    lines = rank_attention(flights, [season(engine=Level.WATCH)], [pack(Level.ACT)])
    assert [(a.level, a.flight_id) for a in lines] == [
        (Level.ACT, ""),
        (Level.ACT, "f3"),
        (Level.WATCH, ""),
        (Level.WATCH, "f2"),
        (Level.WATCH, "f1"),
    ]


def test_many_events_of_a_kind_make_one_line_led_by_the_deepest() -> None:
    many = [sag(Level.WATCH, float(i), 0.1 * (5 - abs(i - 3))) for i in range(7)]
    (line,) = rank_attention([flight("f1", *many), flight("f2", sag(Level.WATCH, 50.0, 0.1))], [], [])
    assert line.at_s == 3.0
    assert line.flight_id == "f1"
    assert "worst of 8 in 2 flights, last in flight 2" in text(line.reason)
    assert line.figure is not None


def test_what_has_not_happened_lately_ranks_lower() -> None:
    old = [flight("f1", brown_out()), *(flight(f"f{n}") for n in range(2, 7))]
    (line,) = rank_attention(old, [], [])
    assert line.level == Level.WATCH
    assert rank_attention([flight("f1", sag(Level.WATCH, 1, 0.2)), *old[1:]], [], []) == ()


def test_a_change_of_burn_is_told_when_the_history_states_it() -> None:
    assert rank_attention([], [season()], []) == ()
    (line,) = rank_attention([], [season(change=Level.WATCH)], [])
    assert line.reason == "burns more"
    assert [w.reason for w in line.witnesses] == ["left burns more than right"]


def test_a_worn_pack_is_one_entry_with_its_sags_and_the_buss_brown_outs_as_witnesses() -> None:
    fitted = {"rx1": Bag(name="R1"), "rx2": Bag(name="R2")}
    flights = [flight("f1", sag(Level.WATCH, 1, 0.2), brown_out(), packs=fitted)]
    (line,) = rank_attention(flights, [], [pack(Level.ACT)])
    assert (line.level, line.page) == (Level.ACT, "packs/R2")
    assert [(w.subject, w.level) for w in line.witnesses] == [("bus.main", Level.ACT), ("pack.rx2", Level.WATCH)]
    apart = rank_attention(flights, [], [pack(Level.NOTE)])
    assert {a.subject for a in apart} == {"bus.main", "pack.rx2"}
    elsewhere = [flight("f1", brown_out(), packs={"rx1": Bag(name="R1")})]
    assert len(rank_attention(elsewhere, [], [pack(Level.ACT)])) == 2


def test_a_failsafe_never_ranks_below_act() -> None:
    gone = Event("failsafe", "link.rx1", 1.0, 2.0, Level.ACT, "failsafe")
    (line,) = rank_attention([flight("f1", gone), *(flight(f"f{n}") for n in range(2, 8))], [], [])
    assert line.level is Level.ACT


def test_a_layout_that_lost_signal_is_told_and_one_that_gained_is_not() -> None:
    gained = Figure("d", 8.0, "dB", Method.ESTIMATED, 6.0, 10.0)
    lost = Figure("d", -8.0, "dB", Method.ESTIMATED, -10.0, -6.0)
    assert rank_attention([], [season(difference=gained)], []) == ()
    assert [a.reason for a in rank_attention([], [season(difference=lost)], [])] == ["worse"]
    # Of a count of lost packets it is the rise that is worse.
    assert rank_attention([], [season(lost=lost)], []) == ()
    assert [a.figure for a in rank_attention([], [season(lost=gained)], [])] == [gained]
    unsure = Figure("d", 1.0, "1/min", Method.ESTIMATED, -0.5, 2.5)
    assert rank_attention([], [season(lost=unsure)], []) == ()


@pytest.mark.parametrize(("last_m", "told"), [(38.0, False), (18.0, True)])
def test_a_range_check_that_fell_below_the_earlier_ones_is_told(last_m: float, told: bool) -> None:
    walked = [RangeCheck(date(2026, 4 + k, 1), "rx1", 2, d, 30.0) for k, d in enumerate((40.0, 44.0, last_m))]
    lines = rank_attention([], [season(range_checks=analyse_range_checks(walked))], [])
    assert [(a.level, a.subject, a.page) for a in lines] == [
        (Level.WATCH, "link.rx1.antenna2", "antennas/Tern") for _ in range(told)
    ]
    for line in lines:
        assert "2026-06-01" in text(line.reason)
        assert "below your earlier checks" in text(line.reason)
        assert line.figure is not None
        assert line.figure.unit == "dB"
        assert line.figure.high is not None
        assert line.figure.high < 0


@pytest.mark.parametrize(("first", "then", "told"), [(2.0, 18.0, True), (18.0, 2.0, False)])
def test_real_flights_with_an_antenna_moved_for_the_worse_are_told(first: float, then: float, told: bool) -> None:
    """Whole analysis, not stand-ins: the difference is after less before, so that only a loss asks for attention."""
    tern, old, new = aircraft()
    records = []
    for k in range(6):
        gains = {"rx1.antenna1": level, "rx1.antenna2": tail_null(first if k < 3 else then)}
        of = context(old if k < 3 else new, tern, f"f{k}")
        result = analyse_flight(fly(gains, seed=k, rate_hz=4.0).telemetry, of)
        records.append(FlightRecord(f"f{k}", k + 1, None, of, result))
    whole = analyse_season(records, [tern])
    (comparison,) = whole.aircraft[0].layouts.comparisons
    assert comparison.difference_db.value is not None
    assert (comparison.difference_db.value < 0) == told
    lines = [x for a in whole.attention for x in (a, *a.witnesses) if x.figure == comparison.difference_db]
    assert len(lines) == told
    for line in whole.attention:
        assert line.level >= Level.WATCH
        assert line.reason
        assert line.page or line.flight_id in {r.flight_id for r in records}


def test_landing_below_the_reserve_is_told_by_how_sure_it_is() -> None:
    sure = Figure("m", -200.0, "mL", Method.ESTIMATED, -260.0, -140.0)
    unsure = Figure("m", -20.0, "mL", Method.ESTIMATED, -80.0, 40.0)
    lines = rank_attention([flight("f1", margin=sure), flight("f2", margin=unsure)], [], [])
    (line,) = lines
    assert [(a.level, a.flight_id, a.at_s) for a in (line, *line.witnesses)] == [
        (Level.ACT, "f1", 400.0),
        (Level.WATCH, "f2", 400.0),
    ]
