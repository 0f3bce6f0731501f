"""Layouts over flights: the hole astern is named, the move is told to have helped, and doubt is told as doubt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, AntennaLayout
from analyser.flight import FlightResult, analyse_flight
from analyser.link.maps import find_nulls
from analyser.link.sides import name_direction
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from analyser.season.link.layouts import analyse_layouts, follow_layouts
from reports.words.catalogue import text
from spooldown.logbook.codec import to_bytes
from tests.analyser.link_flights import aircraft, context, fly, level, tail_null

TERN, OLD, NEW = aircraft()


def season(first: float, then: float, *, flights: tuple[int, int] = (8, 4), **how: object) -> list[FlightRecord]:
    out = []
    for k in range(sum(flights)):
        layout: AntennaLayout = OLD if k < flights[0] else NEW
        gains = {"rx1.antenna1": level, "rx1.antenna2": tail_null(first if k < flights[0] else then)}
        sim = fly(gains, seed=100 + k, **how)  # type: ignore[arg-type]
        of = context(layout, TERN, f"f{k}")
        result: FlightResult = analyse_flight(sim.telemetry, of)
        out.append(FlightRecord(f"f{k}", k + 1, None, of, result))
    return out


def test_flights_of_older_layouts_are_not_read_again() -> None:
    third = replace(NEW, name="third")
    first, *records = season(18.0, 2.0, flights=(2, 5), attitude=False, rate_hz=4.0)
    records = [first, *records[:3], *(replace(r, context=replace(r.context, layout=third)) for r in records[3:])]
    by_id = {r.flight_id: r for r in records}
    kept: dict[tuple[str, tuple[str, ...]], Any] = {}
    asked: list[str] = []

    def keep(name: str, ids: Sequence[str], kind: type[Any], make: Callable[[], Any]) -> Any:
        if (name, tuple(ids)) not in kept:
            kept[name, tuple(ids)] = make()
        assert isinstance(kept[name, tuple(ids)], kind)
        return kept[name, tuple(ids)]

    def read(flight_id: str) -> FlightRecord:
        asked.append(flight_id)
        return by_id[flight_id]

    flown = {OLD.name: ["f0", "f1"], NEW.name: ["f2", "f3"], "third": ["f4", "f5"]}
    follow_layouts(flown, read, TERN, keep)
    asked.clear()
    grown = follow_layouts({**flown, "third": ["f4", "f5", "f6"]}, read, TERN, keep)
    assert set(asked) == {"f1", "f2", "f3", "f4", "f5", "f6"}  # of the oldest only what its flights were flown with
    assert to_bytes(grown) == to_bytes(analyse_layouts(records, TERN))
    assert len(grown.layouts) == 3
    assert grown.layouts[0].measured


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"attitude": False, "rate_hz": 5.0},
        {"unit": "percent"},
        {"unit": "none", "counters": True, "attitude": False, "rate_hz": 4.0},
    ],
    ids=["dBm", "no attitude", "percent", "counters only"],
)
def test_moving_the_fin_antenna_helped(how: dict[str, object]) -> None:
    result = analyse_layouts(season(18.0, 2.0, **how), TERN)
    first, moved = result.layouts
    fin = next(m for m in first.measured if m.antenna == "rx1.antenna2")
    assert fin.nulls
    assert text(fin.nulls[0]).startswith("tail-on")
    assert [c.antenna for c in result.comparisons] == ["rx1.antenna2"]  # the belly antenna did not move
    verdict = text(result.comparisons[0].verdict)
    assert "helped" in verdict
    assert "tail-on" in verdict
    assert moved.flight_ids == ("f8", "f9", "f10", "f11")
    if "unit" not in how:
        tail = next(f for f in result.comparisons[0].sectors if "tail-on" in text(f.label).lower())
        assert tail.value is not None
        assert 12.0 < tail.value < 18.0


def test_no_change_is_told_as_doubt() -> None:
    verdict = analyse_layouts(season(10.0, 10.0, flights=(4, 3)), TERN).comparisons[0].verdict
    verdict = text(verdict)
    assert verdict.startswith("Can't tell yet")
    assert "more flights" in verdict


def test_one_flight_is_not_enough() -> None:
    comparison = analyse_layouts(season(18.0, 2.0, flights=(2, 1)), TERN).comparisons[0]
    assert comparison.difference_db.value is None
    assert text(comparison.verdict).startswith("Can't tell yet")


def test_planned_maps_need_no_flight() -> None:
    result = analyse_layouts([], TERN)
    assert [m.layout for m in result.layouts] == ["first", "moved"]
    assert all(m.planned and m.planned_best is not None and not m.measured for m in result.layouts)
    assert result.comparisons == ()


@pytest.mark.parametrize(
    ("azimuth", "elevation", "words"),
    [(180, 0, "tail-on"), (-180, 0, "tail-on"), (0, -40, "nose-on, from below"), (-90, 10, "left wing"),
     (90, 40, "right wing, from above"), (12, -80, "straight from below")],
)  # fmt: skip
def test_direction_words(azimuth: float, elevation: float, words: str) -> None:
    assert text(name_direction(azimuth, elevation)) == words


def test_a_null_across_the_tail_is_one_null() -> None:
    gain = np.zeros((24, 8))
    gain[[0, -1], 3:5] = -15.0
    gain[5, 7] = np.nan
    assert len(find_nulls(gain, np.ones((24, 8)))) == 1
    assert text(find_nulls(gain, np.ones((24, 8)))[0]).startswith("tail-on: 15 dB")


def attention_of(records: list[FlightRecord], of: Aircraft) -> list[str]:
    whole = analyse_season(records, [of])
    return [text(x.reason) for a in whole.attention for x in (a, *a.witnesses) if x.page == "antennas/Tern"]


def flown_with(gain: Callable[..., np.ndarray], layout: AntennaLayout, of: Aircraft, **how: Any) -> list[FlightRecord]:
    out = []
    for k in range(4):
        where = context(layout, of, f"f{k}")
        sim = fly({"rx1.antenna1": level, "rx1.antenna2": gain}, seed=300 + k, rate_hz=4.0, **how)
        out.append(FlightRecord(f"f{k}", k + 1, None, where, analyse_flight(sim.telemetry, where)))
    return out


def test_a_dipoles_own_null_is_no_defect_and_a_departure_from_plan_is() -> None:
    # The fin antenna of the first layout lies along the aircraft: nothing off its ends is what was planned.
    def dipole(azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> np.ndarray:
        c = np.clip(np.cos(np.radians(azimuth_deg)) * np.cos(np.radians(elevation_deg)), -0.999, 0.999)
        return np.maximum(20 * np.log10(np.abs(np.cos(np.pi / 2 * c)) / np.sqrt(1 - c * c) + 1e-6), -18.0)

    assert not any("fin" in x for x in attention_of(flown_with(dipole, OLD, TERN), TERN))
    # The same hole in an antenna that stands upright was not planned.
    (line,) = [x for x in attention_of(flown_with(tail_null(17.0), NEW, TERN), TERN) if "less than planned" in x]
    assert "tail-on" in line


def test_a_null_is_found_without_attitude_or_its_absence_explained() -> None:
    records = flown_with(tail_null(17.0), NEW, TERN, attitude=False)
    (line,) = [x for x in attention_of(records, TERN) if "less than planned" in x]
    assert "tail-on" in line
    # Without height no direction is told, and the flight says so instead.
    blind = records[0].result.link
    assert blind.directions_from
    assert any("attitude" in text(m.what).lower() for m in blind.missing)


def test_a_planned_layout_that_has_not_flown_silences_nothing() -> None:
    planned = replace(NEW, name="next year")
    later = replace(TERN, layouts=(*TERN.layouts, planned))
    records = flown_with(tail_null(17.0), NEW, later)
    result = analyse_layouts(records, later)
    assert result.layouts[-1].layout == "next year"
    assert result.flown is not None
    assert result.flown.layout == "moved"
    assert any("less than planned" in x for x in attention_of(records, later))


def test_a_direction_that_no_antenna_covers_is_told() -> None:
    out = []
    for k in range(4):
        where = context(NEW, TERN, f"f{k}")
        sim = fly({"rx1.antenna1": tail_null(17.0), "rx1.antenna2": tail_null(17.0)}, seed=400 + k, rate_hz=4.0)
        out.append(FlightRecord(f"f{k}", k + 1, None, where, analyse_flight(sim.telemetry, where)))
    assert any(x.startswith("No antenna covers: tail-on") for x in attention_of(out, TERN))
    # With one that hears there, nothing is left uncovered.
    assert not any(x.startswith("No antenna") for x in attention_of(flown_with(tail_null(17.0), NEW, TERN), TERN))
