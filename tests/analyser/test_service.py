"""Service: what a component ran, what is left, when it will be due; it keeps its history in another aircraft."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Engine
from analyser.core.events import Event, Level
from analyser.programme.histories import Flown, histories
from analyser.programme.measures import Row
from analyser.programme.service import (
    Component,
    Fit,
    Serviced,
    Used,
    Uses,
    forecast,
    registered,
    runs_of,
    service_state,
    uses_of,
)
from analyser.programme.year import happened, year_of
from reports.words.catalogue import Reader, reading, text

TODAY = date(2031, 7, 1)


def row(measure: str, part: str, value: float, thing: str = "", unit: str = "min") -> Row:
    return Row(measure, part, thing, value, None, None, unit, "integrated", doubtful=False)


def flown(n: int, day: date | None, minutes: float, part: str = "engine.left") -> Flown:
    rows = (row("engine.run_time", part, minutes), row("engine.starts", part, 1.0, unit=""),
            row("flight.duration", "", minutes + 2), row("pack.charge_used", "pack.rx1", 9.0, "R1", "mAh"))  # fmt: skip
    return Flown(f"f{n}", n, day, rows)


ENGINE = Component(
    "old one", "engine", (Fit("Tern", "engine.left", date(2031, 1, 1)),), {"hours": 2.0, "starts": 20.0},
    Used(0.5, 3.0), done=(),
)  # fmt: skip


def test_hours_and_starts_by_hand() -> None:
    flights = [flown(n, date(2031, 5, n), 10.0) for n in range(1, 7)]
    state = service_state(ENGINE, uses_of(ENGINE, {"Tern": runs_of(flights)}), TODAY)
    assert (state.total.hours, state.total.starts, state.total.flights) == (pytest.approx(1.5), 9.0, 6.0)
    hours = next(d for d in state.due if d.unit == "hours")
    assert hours.left.value == pytest.approx(0.5)
    assert hours.flights.value == pytest.approx(3.0)
    assert hours.level is Level.FINE
    serviced = replace(ENGINE, done=(Serviced(date(2031, 5, 4)),))
    again = service_state(serviced, uses_of(serviced, {"Tern": runs_of(flights)}), TODAY)
    assert again.since_service.hours == pytest.approx(20 / 60)
    assert again.total.hours == pytest.approx(1.5)


def test_a_moved_component_keeps_its_history() -> None:
    moved = ENGINE.moved("Plover", "engine.main", date(2031, 5, 4))
    flights = {
        "Tern": [flown(n, date(2031, 5, n), 10.0) for n in range(1, 7)],
        "Plover": [flown(n, date(2031, 5, n), 30.0, "engine.main") for n in range(1, 7)],
    }
    uses = uses_of(moved, {name: runs_of(own) for name, own in flights.items()})
    # Three flights in the one, three in the other.
    assert uses.total.hours == pytest.approx((3 * 10 + 3 * 30) / 60)
    assert moved.sits == Fit("Plover", "engine.main", date(2031, 5, 4))
    with pytest.raises(ValueError, match="2031-05-04"):
        moved.moved("Tern", "engine.left", date(2031, 4, 1))


def test_a_pack_is_known_by_its_name() -> None:
    pack = Component("R1", "pack", (), {"flights": 10.0})
    flights = {"Tern": runs_of([flown(1, TODAY, 10.0)]), "Plover": runs_of([flown(1, None, 10.0)])}
    assert service_state(pack, uses_of(pack, flights), TODAY).total.flights == 2.0


def test_calendar_and_overdue_are_said_plainly() -> None:
    switch = Component("switch", "switch", (Fit("Tern"),), {"months": 12.0}, since=date(2030, 6, 1))
    (due,) = service_state(switch, Uses.of([]), TODAY).due
    assert (due.level, due.day) == (Level.ACT, date(2031, 6, 1))
    assert "1.0 over" in text(due.sentence)
    with reading(Reader("de")):
        assert "1,0 darüber" in text(due.sentence)
    near = replace(switch, since=date(2030, 8, 1))
    assert service_state(near, Uses.of([]), TODAY).due[0].level is Level.WATCH
    assert service_state(replace(switch, since=None), Uses.of([]), TODAY).due == ()


def test_registered_engines_come_by_themselves() -> None:
    tern = Aircraft("Tern", engines=(Engine("left", service_interval_h=25.0, hours_before_log=3.0), Engine("right")))
    (one,) = registered([tern]).values()
    assert (one.name, one.every, one.before.hours) == ("Tern left", {"hours": 25.0}, 3.0)


@pytest.mark.parametrize(("rate", "left"), [(0.08, 3.0), (0.3, 5.0)])
def test_forecasts_hold_what_happens(rate: float, left: float) -> None:
    """Days of flying by a Poisson process, hours a day by a gamma distribution: what the interval does not assume."""
    rng = np.random.default_rng(17)
    hits = told = 0
    for _ in range(300):
        flew = np.flatnonzero(rng.random(1500) < rate)
        hours = rng.gamma(3.0, 0.25, flew.size)
        past = flew < 200
        uses = [
            (TODAY - timedelta(days=int(200 - d)), Used(float(h))) for d, h in zip(flew[past], hours[past], strict=True)
        ]
        found = forecast(left, Uses.of(uses), "hours", TODAY)
        later = np.cumsum(hours[~past])
        if found is None or not (later >= left).any():
            continue
        told += 1
        when = flew[~past][int((later >= left).argmax())] - 200
        hits += found[1] <= when + 1 and when <= found[2]
    assert told > 200
    assert hits >= 0.92 * told


def test_few_days_forecast_nothing() -> None:
    uses = Uses.of((TODAY - timedelta(days=k), Used(1.0)) for k in (1, 2, 3))
    assert forecast(5.0, uses, "hours", TODAY) is None
    assert forecast(5.0, Uses.of((TODAY - timedelta(days=k), Used()) for k in range(9)), "hours", TODAY) is None


def test_a_year_by_hand() -> None:
    def one(n: int, day: date | None, burn: float, *events: Event) -> tuple[Flown, tuple[Event, ...]]:
        rows = (
            row("flight.airborne", "", 6.0), row("flight.fuel_burned", "", 2000.0, unit="mL"),
            row("tank.burn_rate_by_sensor", "fuel.left", burn, unit="mL/min"), row("engine.starts", "engine.left", 1.0),
        )  # fmt: skip
        return Flown(f"f{n}", n, day, rows), events

    sag = Event("sag", "pack.rx1", 1.0, 2.0, Level.WATCH, "x")
    wrong = replace(sag, level=Level.FINE, mark="nuisance")
    flights = [one(n, date(2030, 5, n), 300.0 + n % 3) for n in range(1, 9)]
    flights += [one(8 + n, date(2031, 5, n // 2 + 1), 330.0 + n % 3, sag, wrong) for n in range(8)]
    flights += [one(99, None, 500.0, sag)]
    past = histories([f for f, _ in flights[:-1]])
    flown = [f for f, _ in flights], happened([events for _, events in flights])
    found = year_of("Tern", 2031, flown, past, ((), ()), (32, 40))
    assert (found.flights, found.days, found.starts) == (8, 4, 8)
    assert (found.airborne_h, found.burned_l) == (pytest.approx(0.8), pytest.approx(16.0))
    ((counted),) = found.events
    assert (counted.times, counted.flights, counted.nuisance, counted.worst) == (16, 8, 8, Level.WATCH)
    (moved,) = found.moved
    assert moved.change.low <= 30.0 <= moved.change.high
    assert (found.figures, found.wanted) == (32, 40)
    empty = year_of("Tern", 1999, flown, past, ((), ()), (32, 40))
    assert (empty.flights, empty.events, empty.moved) == (0, (), ())
