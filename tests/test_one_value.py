"""One value of one quantity on every page, over two small seasons drawn by simulators of other make."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyser.link.fades import gather_bridged
from analyser.season.analysis import analyse_season
from reports.model import Site
from reports.pages.flight import grouped
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
    planned, flown = fly_season(maker, build, Plan(flights=4, minutes=3.0, noted=bool(rng.random() < 0.5)), rng)
    records = records_of(planned, flown)
    logs = {f.context.flight_id: f.telemetry for f in flown}
    site = Site("Drawn", pages_of(records, logs.__getitem__), analyse_season(records), "2031-08-01 12:00")
    written = written_by(site, tmp_path)
    assert len(written.figures) > 300
    assert strangers(written, site) == {}
    assert not_adding_up(records) == []
    assert untrue(records, site.season) == []
    for r in records:
        events = tuple(r.result.events())
        # A flight without faults is told in a few lines, and every one of its events stands in one of them.
        alone, groups = grouped(events)
        assert len(groups) + sum(e.level.name == "NOTE" for _, e in alone) <= 8
        assert len(alone) + sum(len(g.events) for g in groups) == len(events)
        bridging = [x.name for x in r.result.link.receivers if x.fades_saved.value is not None]
        kept, bridged = gather_bridged(events, bridging)
        assert len(kept) + sum(len(b.events) for b in bridged) == len(events)
        assert all(b.as_one().end_s >= b.events[-1].end_s for b in bridged)
