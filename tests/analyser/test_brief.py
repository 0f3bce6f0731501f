"""Histories come out the same from briefs as from whole results, and rest on bounded windows of flights."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, AntennaLayout, FlightContext, Pack
from analyser.season import window
from analyser.season.analysis import analyse_aircraft, analyse_pack, analyse_season, compose_season
from analyser.season.brief import brief
from analyser.season.counts import laid_out
from analyser.season.lineup import Lineup, facts_of
from analyser.season.teaching import corrected
from analyser.season.totals import totals_of
from analyser.season.window import windows_of
from spooldown import library
from spooldown.logbook.codec import to_bytes
from tests.few_flights import fill


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> library.LogbookResults:
    return library.analyse_logbook(fill(tmp_path_factory.mktemp("scenario")))


def test_briefs_say_the_same_as_whole_results(scenario: library.LogbookResults) -> None:
    flights = corrected(scenario.flights)
    whole = analyse_season(flights)
    windows = windows_of(Lineup((f.flight_id, facts_of(f.context)) for f in flights))
    totals = {f.flight_id: totals_of(f) for f in flights}
    briefs = {f.flight_id: brief(f) for f in flights}
    known = {f.aircraft: f.context.aircraft for f in flights}
    parts = [
        analyse_aircraft(known[name], briefs.__getitem__, laid_out([totals[i] for i in ids]), windows)
        for name, ids in sorted(windows.flown.items())
    ]
    packs = [
        analyse_pack(name, [briefs[i] for i in ids], laid_out([totals[i] for i in windows.uses[name]]))
        for name, ids in windows.packs.items()
    ]
    made = compose_season(parts, [p for p in packs if p], [f.flight_id for f in flights])
    assert len(made.aircraft) > 1
    assert len(made.packs) > 3
    assert to_bytes(made) == to_bytes(whole)
    size = [len(to_bytes(f.result)) for f in (flights[0], briefs[flights[0].flight_id])]
    assert size[1] < 0.5 * size[0]


def test_a_long_log_reads_its_newest_flights(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(window, "FLIGHTS", 5)
    monkeypatch.setattr(window, "USES", 4)
    monkeypatch.setattr(window, "FIRST_USES", 2)
    monkeypatch.setattr(window, "PER_LAYOUT", 3)
    pack, other = Pack("R1"), Pack("R2")
    heron = Aircraft("Heron")
    contexts = [
        FlightContext(
            f"f{n}",
            aircraft=heron,
            layout=AntennaLayout("first" if n < 6 else "second", antennas=()),
            packs={"rx1": pack if n < 10 else other},
        )
        for n in range(12)
    ]
    found = windows_of(Lineup((c.flight_id, facts_of(c)) for c in contexts))
    assert found.aircraft["Heron"] == [f"f{n}" for n in range(7, 12)]
    assert found.needed("Heron") == ["f3", "f4", "f5", *(f"f{n}" for n in range(7, 12))]
    assert found.packs == {"R1": ["f0", "f1", "f6", "f7", "f8", "f9"], "R2": ["f10", "f11"]}
    assert len(found.uses["R1"]) == 10
    assert found.needed("Plover") == []


def test_counts_are_over_every_flight(scenario: library.LogbookResults, monkeypatch: pytest.MonkeyPatch) -> None:
    tern = [f for f in corrected(scenario.flights) if f.aircraft == "Tern"]
    whole = analyse_season(tern)
    monkeypatch.setattr(window, "FLIGHTS", 3)
    monkeypatch.setattr(window, "USES", 3)
    monkeypatch.setattr(window, "FIRST_USES", 1)
    short = analyse_season(tern)
    assert len(short.aircraft[0].flight_ids) == 3 < short.aircraft[0].flights == len(tern)
    for one, other in zip(whole.aircraft[0].engines, short.aircraft[0].engines, strict=True):
        assert one.hours_since_service == other.hours_since_service
        assert one.starts_since_service == other.starts_since_service
        assert one.failed_starts == other.failed_starts
    lives = {p.pack.name: p for p in whole.packs}
    assert {p.pack.name: p.life for p in short.packs} == {name: p.life for name, p in lives.items()}
    cut = [p for p in short.packs if len(p.flight_ids) == 4]
    assert cut
    assert all(p.flights == lives[p.pack.name].flights > 4 for p in cut)
    # The place of a flight in the pack's life is its own, whatever lies between: the trend is the same line.
    for one in cut:
        slope = lives[one.pack.name].resistance.trend
        if slope.value is not None and one.resistance.trend.value is not None:
            assert slope.low is not None
            assert slope.high is not None
            assert slope.low <= one.resistance.trend.value <= slope.high
    assert replace(short.aircraft[0].range) == whole.aircraft[0].range
