"""Limits: what a value deserves, flights judged anew, figures and channels that passed one, and a trial of others."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Engine, FlightContext
from analyser.core.events import Event, Level, happened
from analyser.core.levels import COMMON_PRACTICE, Limit, Limits, Origin
from analyser.flight import FlightResult, analyse_flight
from analyser.programme.limits import crossings, figures_passed, judged, passed
from analyser.programme.measures import Row, rows_of
from analyser.programme.starting import starting_set
from analyser.programme.trial import nuisance_rates, try_limits
from analyser.record import FlightRecord
from reports.words.catalogue import text
from tests.analyser.flown import egt, telemetry, truth

FLOWN = truth(5.0)
LOG = telemetry(FLOWN.time_s, engine__left__speed_rpm=FLOWN.speed_rpm, engine__left__egt_c=egt(FLOWN.time_s))
ENGINE = Engine("left", max_egt_c=650.0)
CONTEXT = FlightContext(aircraft=Aircraft("Tern", engines=(ENGINE,)))


@pytest.fixture(scope="module")
def flight() -> FlightResult:
    return analyse_flight(LOG, CONTEXT)


def row(value: float, low: float | None = None, high: float | None = None) -> Row:
    return Row("pack.state_after", "pack.rx1", "R1", value, low, high, "%", "estimated", doubtful=False)


LOW = Limit("low", "figure", "pack.state_after", below={"watch": 30.0, "act": 20.0}, unit="%")


@pytest.mark.parametrize(
    ("value", "level"), [(31, Level.FINE), (30, Level.FINE), (29.9, Level.WATCH), (19, Level.ACT), (None, Level.FINE)]
)
def test_a_number_is_passed_not_reached(value: float | None, level: Level) -> None:
    assert LOW.judge(value) is level


@pytest.mark.parametrize(
    ("value", "low", "high", "level", "sure"),
    [
        (15.0, None, None, Level.ACT, True),
        (15.0, 12.0, 18.0, Level.ACT, True),
        (15.0, 5.0, 25.0, Level.WATCH, False),  # surely below 30, perhaps below 20
        (28.0, 20.0, 36.0, Level.NOTE, False),  # perhaps below 30
        (35.0, 10.0, 60.0, None, None),  # may be below, but the value is not
    ],
)
def test_what_an_interval_leaves_open_is_told_a_level_lower(
    value: float, low: float | None, high: float | None, level: Level | None, sure: bool | None
) -> None:
    found = passed(row(value, low, high), LOW)
    assert (found and (found.level, found.sure)) == (None if level is None else (level, sure))


def test_the_passed_figure_says_its_limit_and_where_that_comes_from() -> None:
    (event,) = figures_passed([row(15.0)], Limits((LOW,)), 500.0)
    assert (event.kind, event.subject, event.level, event.limit) == ("limit", "pack.rx1", Level.ACT, "low")
    assert text(event.summary) == (
        "Pack rx1: state of charge after 15\u00a0%, below the limit 'low' of 20\u00a0% (common practice)."
    )


def test_a_limit_of_one_part_goes_before_that_of_all_and_may_name_the_pack() -> None:
    own = Limit("worn", "figure", "pack.state_after", below={"watch": 10.0}, part="R1")
    assert list(figures_passed([row(15.0)], Limits((LOW, own)), 0.0)) == []


def test_channels_beyond_a_limit_by_hand() -> None:
    """Exhaust temperature falls linearly 600 → 500 between 90 and 480 s: above 550 until 285 s, by hand."""
    result = analyse_flight(LOG, CONTEXT)
    limit = Limit("egt", "channel", "engine.egt_c", above={"watch": 550.0, "act": 700.0}, for_s=60.0, unit="°C")
    (event,) = crossings(LOG, result.phases, [limit])
    assert event.subject == "engine.left"
    # The peak of the start passes 700 for seconds only: not as long as the limit asks for.
    assert event.level is Level.WATCH
    assert event.end_s == pytest.approx(285.0, abs=0.5)
    at_once = replace(limit, for_s=0.0)
    assert max(e.level for e in crossings(LOG, result.phases, [at_once])) is Level.ACT
    airborne = replace(at_once, phase="cool-down")
    assert crossings(LOG, result.phases, [airborne]) == ()
    assert crossings(LOG, result.phases, [replace(at_once, part="engine.right")]) == ()


def test_owners_limits_judge_events_anew(flight: FlightResult) -> None:
    (hot,) = [e for e in flight.events() if e.kind == "over_temperature"]
    assert hot.level is Level.ACT
    quiet = COMMON_PRACTICE.with_own([Limit("hot", "event", "over_temperature", Level.NOTE, source=Origin.OWNER)])
    (again,) = [e for e in judged(flight, quiet, rows_of(flight)).events() if e.kind == "over_temperature"]
    assert (again.level, replace(again, level=hot.level)) == (Level.NOTE, hot)
    other_phase = COMMON_PRACTICE.with_own(
        [Limit("hot", "event", "over_temperature", Level.ACT, phase="after shutdown")]
    )
    (again,) = [e for e in judged(flight, other_phase, rows_of(flight)).events() if e.kind == "over_temperature"]
    assert again.level is Level.FINE


def test_common_practice_judges_every_kind_as_it_is_made() -> None:
    assert happened("sag", "pack.rx1", (1.0, 2.0), "x", size=15.0).level is Level.NOTE
    assert happened("sag", "pack.rx1", (1.0, 2.0), "x", size=15.1).level is Level.WATCH
    assert happened("failsafe", "link.rx1", (1.0, 2.0), "x", size=0.0).level is Level.ACT, "on the ground too"
    assert happened("failsafe", "link.rx1", (1.0, 2.0), "x", size=0.1).level is Level.ACT


def test_a_trial_says_what_would_change(flight: FlightResult) -> None:
    records = [FlightRecord(f"f{n}", n, None, CONTEXT, flight) for n in (1, 2)]
    egt_limit = Limit("egt", "figure", "engine.highest_egt", above={"watch": 600.0}, unit="°C")
    after = COMMON_PRACTICE.with_own([Limit("hot", "event", "over_temperature", Level.FINE), egt_limit])
    trial = try_limits(records, (COMMON_PRACTICE, after))
    assert trial.flights == 2
    assert [(c.number, c.event.kind, c.before, c.after) for c in trial.changes] == [
        (1, "over_temperature", Level.ACT, Level.FINE), (1, "limit", Level.FINE, Level.WATCH),
        (2, "over_temperature", Level.ACT, Level.FINE), (2, "limit", Level.FINE, Level.WATCH),
    ]  # fmt: skip
    by = {t.limit: t for t in trial.tallies}
    assert (by["egt"].before, by["egt"].after, by["egt"].flights_after) == (0, 2, 2)
    assert (by["over-temperature"].before, by["over-temperature"].after) == (2, 0)
    assert try_limits(records, (after, after)).changes == ()


def test_the_starting_set_marks_the_makers_numbers() -> None:
    limits = starting_set(CONTEXT.aircraft)
    maker = [x for x in limits if x.source is Origin.MAKER]
    assert [(x.of, x.part, x.above["act"]) for x in maker] == [("engine.highest_egt", "engine.left", 650.0)]
    assert {x.source for x in limits} == {Origin.MAKER, Origin.PRACTICE}
    assert len({x.name for x in limits}) == len(limits)


def test_nuisance_rates() -> None:
    assert nuisance_rates([("a", "real"), ("a", "nuisance"), ("a", "sensor"), ("b", "real")]) == {
        "a": (2, 3), "b": (0, 1)
    }  # fmt: skip


def test_every_kind_of_event_has_a_limit() -> None:
    """A kind that nobody set a limit on would be shown as fine, whatever it is."""
    import ast
    from pathlib import Path

    root = Path(__file__).resolve().parents[2] / "analyser"
    kinds = {
        call.args[0].value
        for path in root.rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "happened"
        if isinstance(call.args[0], ast.Constant)
    }
    assert len(kinds) > 12
    assert {k for k in kinds if COMMON_PRACTICE.find("event", k) is None} == set()


def test_an_event_without_size_keeps_what_it_deserves_anyway() -> None:
    event = Event("sag", "pack.rx1", 0.0, 1.0, Level.NOTE, "x")
    assert COMMON_PRACTICE.level_of("event", event.kind, event.size) is Level.NOTE
    assert COMMON_PRACTICE.level_of("event", "sag", float("nan")) is Level.NOTE
