"""A flight without a fuel sensor is told by what its aircraft's others teach, in whatever order the logs came in."""

from datetime import timedelta

import numpy as np
import pyarrow as pa
import pytest
from made import START, source

from analyser.core.aircraft import FuelNote
from importers.model import FlightDraft
from reports.words.catalogue import text
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.note import FlightNote
from spooldown.work import results
from tests.analyser import flown

SPEED_ONLY = 2
"""Of the flights, oldest first, the one without a fuel sensor."""


def _log(number):
    true = flown.truth(2.0, seed=number)
    columns = {"engine.main.speed_rpm": true.speed_rpm, **flown.motion(true.time_s)}
    if number != SPEED_ONLY:
        columns["fuel.main.used_ml"] = np.round(true.burned_ml * (1.0 + 0.004 * number))
    table = pa.table({"time_s": true.time_s, **columns})
    utc = START + timedelta(days=number)
    return FlightDraft(table.schema, iter(table.to_batches()), utc, 1, {"mapping": "made"}, [])


def _fill(book, order):
    for number in order:
        book.add([source(f"{number}.csv", f"{number:02x}")], [_log(number)], aircraft="Heron")


@pytest.fixture
def fresh(monkeypatch):
    """Remember which flights were analysed afresh."""
    seen = []
    whole = results.spread

    def spread(function, work):
        seen.extend(w.flight.flight_id for w in work)
        return whole(function, work)

    monkeypatch.setattr(results, "spread", spread)
    return seen


def _told(book):
    return {a.flight.flight_id: to_bytes(a.record.result.fuel) for a in results.analysed(book, register.load(book))}


def test_the_order_of_import_does_not_matter(tmp_path):
    with Logbook(tmp_path / "one") as one, Logbook(tmp_path / "other") as other:
        _fill(one, [0, 1, 2, 3])
        _fill(other, [2, 3])
        _told(other)  # analysed in between, before there was enough to learn from
        _fill(other, [1, 0])
        first, second = _told(one), _told(other)
        assert list(first) == sorted(first)
        assert first == second
        found = results.analysed(one, register.load(one))
    (tank,) = found[SPEED_ONLY].record.result.fuel.tanks
    assert tank.source == "shaft speed"
    assert "learned over 3 flights" in text(tank.burned.how)
    assert set(found[SPEED_ONLY].record.context.learned_burn) == {"main"}
    assert not any(a.record.context.learned_burn for n, a in enumerate(found) if n != SPEED_ONLY)


def test_one_flight_more_works_out_anew_only_what_learns_from_it(tmp_path, fresh):
    with Logbook(tmp_path / "book") as book:
        _fill(book, [0, 1, 2, 3])
        _told(book)
        assert len(fresh) == 4
        fresh.clear()
        _told(book)
        assert fresh == []
        ids = [f.flight_id for f in book.flights()]
        _fill(book, [4])
        after = _told(book)
        new = next(i for i in after if i not in ids)
        assert fresh == [new, ids[SPEED_ONLY]]
        fresh.clear()
        # Taking it away again brings the old answer back, and nothing else is touched.
        book.remove([new])
        _told(book)
        assert fresh == [ids[SPEED_ONLY]]


def test_a_volume_noted_for_one_flight_sets_the_others_right(tmp_path):
    with Logbook(tmp_path / "book") as book:
        _fill(book, [0, 1, 3])
        before = {a.flight.flight_id: a for a in results.analysed(book, register.load(book))}
        first, *others = before
        (tank,) = before[first].record.result.fuel.tanks
        book.note({first: FlightNote(fuel={"main": FuelNote(put_in_ml=1.05 * tank.by_sensor.burned.value)})})
        after = {a.flight.flight_id: a for a in results.analysed(book, register.load(book))}
        one = {a.flight.flight_id: a for a in results.analysed(book, register.load(book), only=[others[0]])}
    for flight_id in others:
        (old,), (new,) = (x[flight_id].record.result.fuel.tanks for x in (before, after))
        assert "never checked" in text(old.burned.how)
        assert "sensor corrected" in text(new.burned.how)
        assert new.burned.half_width < 0.5 * old.burned.half_width
        assert before[flight_id].key != after[flight_id].key
    assert to_bytes(one[others[0]].record.result.fuel) == to_bytes(after[others[0]].record.result.fuel)
    assert one[others[0]].key == after[others[0]].key
