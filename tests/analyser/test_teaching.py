"""Which flights teach which: the order of analysis, and who is asked for whose sake."""

from __future__ import annotations

from analyser.core.aircraft import Aircraft, Engine, FlightContext, FuelNote, Pack, Tank
from analyser.season.teaching import lessons_of, number_flights, teachers_of, with_learned_burn

PLOVER = Aircraft("Plover", engines=(Engine("main", tank="main", max_rpm=1e5),), tanks=(Tank("main"),))
HERON = Aircraft("Heron")
SPEED, FLOW = "engine.main.speed_rpm", "fuel.main.flow_ml_per_min"


def _context(flight_id: str, aircraft: Aircraft | None = PLOVER, put_in_ml: float | None = None) -> FlightContext:
    notes = {} if put_in_ml is None else {"main": FuelNote(put_in_ml=put_in_ml)}
    return FlightContext(flight_id, aircraft=aircraft, fuel_notes=notes)


def test_a_flight_told_by_a_curve_comes_after_those_that_teach_it() -> None:
    contexts = [_context("a"), _context("b"), _context("c", HERON), _context("d", None)]
    channels = {"a": [SPEED], "b": [SPEED, FLOW], "c": [FLOW], "d": [SPEED]}
    assert lessons_of(contexts, channels) == {"a": ("b",)}


def test_a_flight_is_shown_with_those_that_noted_a_volume_or_flew_its_packs() -> None:
    pack = Pack("R1")
    contexts = [
        _context("a", put_in_ml=1000.0),
        FlightContext("b", aircraft=HERON, packs={"rx1": pack}),
        FlightContext("c", aircraft=PLOVER, packs={"rx1": pack}),
        _context("d", HERON),
    ]
    assert teachers_of(contexts, {"c"}) == {"a", "b", "c"}
    assert teachers_of(contexts, {"d"}) == {"d"}


def test_each_aircraft_counts_its_own_flights() -> None:
    contexts = [_context("a"), _context("b", HERON), _context("c"), _context("d", None), _context("e", None)]
    assert number_flights(contexts) == {"a": 1, "b": 1, "c": 2, "d": 1, "e": 2}


def test_without_teachers_a_pupil_keeps_its_context() -> None:
    contexts = [_context("a"), _context("b", None)]
    assert with_learned_burn(contexts, {"a": 1, "b": 1}, []) == contexts
