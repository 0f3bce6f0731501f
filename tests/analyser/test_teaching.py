"""Which flights teach which: the order of analysis, and who is asked for whose sake."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from analyser.core.aircraft import Aircraft, Engine, FlightContext, FuelNote, Pack, Tank
from analyser.fuel.sources import wants_curve
from analyser.season.lineup import Lineup, facts_of
from analyser.season.packs.resistance import LESSONS, TEACH
from analyser.season.teaching import (
    lessons_of,
    number_flights,
    taught,
    teachers_of,
    teaching_digests,
    with_learned_burn,
)

PLOVER = Aircraft("Plover", engines=(Engine("main", tank="main", max_rpm=1e5),), tanks=(Tank("main"),))
HERON = Aircraft("Heron")
SPEED, FLOW = "engine.main.speed_rpm", "fuel.main.flow_ml_per_min"


def _context(flight_id: str, aircraft: Aircraft | None = PLOVER, put_in_ml: float | None = None) -> FlightContext:
    notes = {} if put_in_ml is None else {"main": FuelNote(put_in_ml=put_in_ml)}
    return FlightContext(flight_id, aircraft=aircraft, fuel_notes=notes)


def _lineup(contexts: list[FlightContext], channels: dict[str, list[str]] | None = None) -> Lineup:
    logged = channels or {}
    return Lineup(
        (c.flight_id, facts_of(c, learns=wants_curve(logged.get(c.flight_id, ()), c.aircraft))) for c in contexts
    )


def test_a_flight_told_by_a_curve_comes_after_those_that_teach_it() -> None:
    contexts = [_context("a"), _context("b"), _context("c", HERON), _context("d", None)]
    channels = {"a": [SPEED], "b": [SPEED, FLOW], "c": [FLOW], "d": [SPEED]}
    assert lessons_of(_lineup(contexts, channels)) == {"a": ("b",)}


def test_a_flight_is_shown_with_those_that_noted_a_volume_or_flew_its_packs() -> None:
    pack = Pack("R1")
    earlier = [f"b{n}" for n in range(LESSONS[0])]
    contexts = [
        _context("a", put_in_ml=1000.0),
        *(FlightContext(i, aircraft=HERON, packs={"rx1": pack}) for i in earlier),
        FlightContext("c", aircraft=PLOVER, packs={"rx1": pack}),
        _context("d", HERON),
    ]
    lineup = _lineup(contexts)
    assert teachers_of(lineup, taught(lineup), {"c"}) == {"a", *earlier, "c"}
    assert teachers_of(lineup, taught(lineup), {"d"}) == {"d"}


def test_a_later_flight_changes_no_lesson_of_a_pack_but_at_few_counts() -> None:
    packs = {"rx1": Pack("R1"), "rx2": Pack("R2")}
    made = [(FlightContext(f"f{n:03}", aircraft=PLOVER, packs=packs), f"own {n}") for n in range(3 * TEACH)]
    changed = {}
    before: dict[str, str] = {}
    for count in range(1, len(made) + 1):
        after = _around(made[:count])
        changed[count] = sum(after[i] != digest for i, digest in before.items())
        before = after
    assert {count for count, flights in changed.items() if flights} == set(LESSONS)
    assert max(changed.values()) == TEACH - 1


def test_each_aircraft_counts_its_own_flights() -> None:
    contexts = [_context("a"), _context("b", HERON), _context("c"), _context("d", None), _context("e", None)]
    assert number_flights(_lineup(contexts)) == {"a": 1, "b": 1, "c": 2, "d": 1, "e": 2}


def test_without_teachers_a_pupil_keeps_its_context() -> None:
    contexts = [_context("a"), _context("b", None)]
    assert with_learned_burn(contexts, {"a": 1, "b": 1}, []) == contexts


def _around(made: list[tuple[FlightContext, str]]) -> dict[str, str]:
    lineup = _lineup([context for context, _ in made])
    own = np.frombuffer(b"".join(hashlib.sha256(text.encode()).digest() for _, text in made), "<u8").reshape(-1, 4)
    found = teaching_digests(lineup, taught(lineup), lessons_of(lineup), own)
    return {flight_id: digest.tobytes().hex() for flight_id, digest in zip(lineup.ids, found, strict=True)}


@pytest.mark.parametrize("seed", range(4))
def test_a_digest_changes_with_each_teacher_and_with_nothing_else(seed: int) -> None:
    """Each change, by plain search over all flights: whoever it may teach has another digest, and nobody else."""
    rng = np.random.default_rng(seed)
    packs = [Pack(name) for name in "RST"]
    made: list[tuple[FlightContext, str]] = []
    for n in range(300):
        fitted = {f"rx{k}": packs[i] for k, i in enumerate(rng.choice(3, int(rng.integers(0, 3)), replace=False))}
        owner = [PLOVER, HERON][int(rng.integers(2))]
        notes = {"main": FuelNote(put_in_ml=1000.0)} if rng.random() < 0.4 else {}
        made.append((FlightContext(f"f{n:03}", aircraft=owner, packs=fitted, fuel_notes=notes), f"own {n}"))
    before = _around(made)
    at = int(rng.integers(300))
    for changed in (
        [*made[:at], (made[at][0], "another"), *made[at + 1 :]],
        [*made[:at], *made[at + 1 :]],
        [*made[:at], made[at + 1], made[at], *made[at + 2 :]] if at < 299 else made[::-1],
    ):
        after = _around(changed)
        lineups = [_lineup([c for c, _ in flights]) for flights in (made, changed)]
        texts = [{c.flight_id: text for c, text in flights} for flights in (made, changed)]
        for flight_id in after:
            taught_by = [
                [
                    [(i, text[i]) for i in lineup.named(g.teachers[g.first[k] : g.last[k]])]
                    for g in taught(lineup)
                    for k in np.flatnonzero(g.pupils == lineup.at[flight_id]).tolist()
                ]
                for lineup, text in zip(lineups, texts, strict=True)
            ]
            same = sorted(taught_by[0]) == sorted(taught_by[1]) and texts[0][flight_id] == texts[1][flight_id]
            assert (before[flight_id] == after[flight_id]) == same
