"""What asks for attention: order, grouping, and silence where the log says nothing."""

from __future__ import annotations

from types import SimpleNamespace as Bag
from typing import Any

from analyser.attention import rank_attention
from analyser.events import Event, Level
from analyser.figures import Figure, Method

NONE = Figure.unavailable("x", "mL", "no sensor")


def sag(level: Level, at: float, depth: float) -> Event:
    return Event("sag", "pack.rx2", at, at + 0.3, level, f"sag at {at:g}", Figure("d", depth, "V", Method.MEASURED))


def flight(name: str, *events: Event, margin: Figure = NONE) -> Any:
    fuel = Bag(tanks=(Bag(name="left", margin_ml=margin),))
    return Bag(flight_id=name, result=Bag(events=lambda: iter(events), fuel=fuel, phases=Bag(touch_down_s=400.0)))


def season(step: Figure = NONE, difference: Figure = NONE, engine: Level = Level.FINE) -> Any:
    return Bag(
        aircraft=Bag(name="Tern"),
        engines=(Bag(name="left", level=engine, sentence="service due", hours_to_service=NONE),),
        fuel=Bag(
            tanks=(Bag(name="left", step=step, sentence="burns more"),), imbalance_step=NONE, imbalance_sentence=""
        ),
        layouts=Bag(comparisons=(Bag(antenna="rx1.antenna2", difference_db=difference, verdict="worse"),)),
    )


def pack(level: Level) -> Any:
    return Bag(
        pack=Bag(name="R2"),
        level=level,
        reasons=("resistance doubled",),
        sentence="",
        flight_ids=("f1",),
        resistance_ratio=NONE,
        capacity_now_percent=NONE,
    )


def test_nothing_known_raises_nothing() -> None:
    assert rank_attention([flight("f1", sag(Level.NOTE, 1, 0.2))], [season()], [pack(Level.NOTE)]) == ()


def test_worst_first_then_season_then_latest_flight() -> None:
    flights = [flight("f1", sag(Level.WATCH, 1, 0.2)), flight("f2", sag(Level.WATCH, 2, 0.2)), flight("f3")]
    flights[2] = flight("f3", sag(Level.ACT, 3, 0.9))
    lines = rank_attention(flights, [season(engine=Level.WATCH)], [pack(Level.ACT)])
    assert [(a.level, a.flight_id) for a in lines] == [
        (Level.ACT, ""),
        (Level.ACT, "f3"),
        (Level.WATCH, ""),
        (Level.WATCH, "f2"),
        (Level.WATCH, "f1"),
    ]


def test_many_events_of_a_kind_make_one_line_led_by_the_deepest() -> None:
    (line,) = rank_attention(
        [flight("f1", *(sag(Level.WATCH, float(i), 0.1 * (5 - abs(i - 3))) for i in range(7)))], [], []
    )
    assert line.at_s == 3.0
    assert "7 such" in line.reason
    assert line.figure is not None


def test_a_step_counts_only_when_its_interval_leaves_nought() -> None:
    unsure = Figure("s", 8.0, "%", Method.ESTIMATED, -1.0, 17.0)
    clear = Figure("s", 8.0, "%", Method.ESTIMATED, 5.0, 11.0)
    assert rank_attention([], [season(step=unsure)], []) == ()
    assert [a.figure for a in rank_attention([], [season(step=clear)], [])] == [clear]


def test_a_layout_that_lost_signal_is_told_and_one_that_gained_is_not() -> None:
    gained = Figure("d", 8.0, "dB", Method.ESTIMATED, 6.0, 10.0)
    lost = Figure("d", -8.0, "dB", Method.ESTIMATED, -10.0, -6.0)
    assert rank_attention([], [season(difference=gained)], []) == ()
    assert [a.reason for a in rank_attention([], [season(difference=lost)], [])] == ["worse"]


def test_landing_below_the_reserve_is_told_by_how_sure_it_is() -> None:
    sure = Figure("m", -200.0, "mL", Method.ESTIMATED, -260.0, -140.0)
    unsure = Figure("m", -20.0, "mL", Method.ESTIMATED, -80.0, 40.0)
    lines = rank_attention([flight("f1", margin=sure), flight("f2", margin=unsure)], [], [])
    assert [(a.level, a.flight_id, a.at_s) for a in lines] == [(Level.ACT, "f1", 400.0), (Level.WATCH, "f2", 400.0)]
