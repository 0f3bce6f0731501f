"""One value of one quantity on every page, over two small seasons drawn by simulators of other make."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyser.gathering import gathered
from analyser.season.analysis import analyse_season
from reports.events import grouped
from reports.model import OverFlights, Site
from tests.claims import untrue
from tests.coverage.seasons import records_of
from tests.one_value import not_adding_up, pages_of, strangers, written_by
from tests.simulators import event, kinematic
from tests.simulators.flight import Maker
from tests.simulators.season import Plan, fly_season


@pytest.mark.parametrize("maker", [event, kinematic], ids=lambda m: m.name)
def test_pages_of_a_drawn_season_show_one_value(maker: Maker, tmp_path: Path) -> None:
    rng = np.random.default_rng([521, len(maker.name)])
    build = maker.build(rng, rate_hz=2.0 if maker is event else 4.0)
    planned, flown = fly_season(maker, build, Plan(flights=3, minutes=2.5, noted=bool(rng.random() < 0.5)), rng)
    records = records_of(planned, flown)
    logs = {f.context.flight_id: f.telemetry for f in flown}
    site = Site("Drawn", pages_of(records, logs.__getitem__), OverFlights(analyse_season(records)), "2031-08-01 12:00")
    written = written_by(site, tmp_path)
    assert len(written.figures) > 300
    assert strangers(written, site) == {}
    assert not_adding_up(records) == []
    assert untrue(records, site.season) == []
    for r in records:
        events = tuple(r.result.events())
        # A flight without faults is told in a few lines, and every one of its events stands in one of them.
        alone, groups = grouped(events, r.result.link.bridging)
        assert len(groups) + sum(e.level.name == "NOTE" for _, e in alone) <= 8
        assert sorted([i for i, _ in alone] + [i for g in groups for i, _ in g.events]) == list(range(len(events)))
        # The export's rows are the page's lines.
        told, lines = gathered(events, r.result.link.bridging)
        assert [e for _, e in told] == [e for _, e in alone]
        assert [(g.subject, len(g.events)) for g in lines] == [(g.subject, len(g.events)) for g in groups]
        for g in lines:
            one = g.as_one()
            assert one.start_s <= min(e.start_s for _, e in g.events)
            assert one.end_s >= max(e.end_s for _, e in g.events)
        assert untrue([g.as_one() for g in lines]) == []
