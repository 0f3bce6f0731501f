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


def fade(level: Level) -> Event:
    return Event("fade_together", "link.rx1", 5.0, 6.0, level, "all antennas faded")


def brown_out() -> Event:
    return Event("brown_out", "bus.main", 3.0, 3.4, Level.ACT, "fell to 5.8 V")


def flight(name: str, *events: Event, margin: Figure = NONE) -> Any:
    """The n-th flight of Tern; its number is the digit in its name."""
    fuel = Bag(tanks=(Bag(name="left", margin_ml=margin),))
    result = Bag(events=lambda: iter(events), fuel=fuel, phases=Bag(touch_down_s=400.0))
    return Bag(flight_id=name, number=int(name[1:]), aircraft="Tern", result=result)


def season(change: Level = Level.FINE, difference: Figure = NONE, engine: Level = Level.FINE) -> Any:
    return Bag(
        aircraft=Bag(name="Tern"),
        engines=(Bag(name="left", level=engine, sentence="service due", hours_to_service=NONE),),
        fuel=Bag(
            tanks=(Bag(name="left", step=NONE, level=change, sentence="burns more"),),
            imbalance=(),
            imbalance_level=change,
            imbalance_sentence="left burns more than right",
        ),
        layouts=Bag(layouts=(), comparisons=(Bag(antenna="rx1.antenna2", difference_db=difference, verdict="worse"),)),
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
    assert "worst of 8 in 2 flights, last in flight 2" in line.reason
    assert line.figure is not None


def test_what_has_not_happened_lately_ranks_lower() -> None:
    old = [flight("f1", brown_out()), *(flight(f"f{n}") for n in range(2, 7))]
    (line,) = rank_attention(old, [], [])
    assert line.level == Level.WATCH
    assert rank_attention([flight("f1", sag(Level.WATCH, 1, 0.2)), *old[1:]], [], []) == ()


def test_a_change_of_burn_is_told_when_the_history_states_it() -> None:
    assert rank_attention([], [season()], []) == ()
    assert [a.reason for a in rank_attention([], [season(change=Level.WATCH)], [])] == [
        "burns more",
        "left burns more than right",
    ]


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
