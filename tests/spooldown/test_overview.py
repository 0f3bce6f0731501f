"""The columns beside the logbook: the same whatever the way there, read only where something changed, made again."""

from __future__ import annotations

import shutil
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from made import draft, source
from msgspec.structs import replace

import spooldown
from analyser.flight import FlightResult
from analyser.season.brief import brief
from spooldown import register
from spooldown.logbook import columns
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.note import FlightNote
from spooldown.site import checks_of, fleet_of
from spooldown.upkeep.checking import check
from spooldown.work import kept, overview, results
from tests.few_flights import fill


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented scenario, built at once."""
    place = tmp_path_factory.mktemp("scenario")
    folder = fill(place)
    with Logbook(folder) as book:
        overview.overview(book, register.load(book))
    return folder


def seen(book: Logbook, found: overview.Overview) -> dict[str, object]:
    """Everything that must not depend on the way there."""
    table = columns.Columns(book.folder)
    return {
        # Lists that only counts need are read apart from their rows; what they come to is in the tables below.
        "rows": {
            e.flight.flight_id: (e.number, replace(e.row, engines=(), packs=(), counted=())) for e in found.flights
        },
        "season": to_bytes(found.season(checks_of(book))),
        "briefs": [to_bytes(found.brief(e.flight.flight_id).result) for e in found.flights],
        **{name: table.read(name).sort_by([("flight", "ascending")]).to_pylist() for name in columns.SCHEMAS},
    }


def test_flight_by_flight_comes_to_the_same_as_all_at_once(scenario: Path, tmp_path: Path) -> None:
    with Logbook(scenario) as book:
        known = register.load(book)
        whole = seen(book, overview.overview(book, known))
        ids = book.flight_ids()
        notes = book.notes()
    grown = tmp_path / "grown"
    shutil.copytree(scenario, grown)
    shutil.rmtree(grown / columns.FOLDER)
    for path in (grown / "cache").rglob("*"):  # results by themselves stay; what others taught them goes
        if path.is_file() and (kept.BRIEF in path.name or path.parent.name == kept.SEASON):
            path.unlink()
    with Logbook(grown) as book:
        book.remove(ids[::2])
        overview.overview(book, known)
        for some in (ids[::4], ids[2::4]):
            book.bring_back(some)
            found = overview.overview(book, known)
        assert len(columns.Columns(grown)._index["figures"]) > 0
        assert seen(book, found) == whole
        noted = next(i for i in ids if any(f.put_in_ml for f in notes.get(i, FlightNote()).fuel.values()))
        book.set_notes({noted: FlightNote()})
        without = overview.overview(book, known)
        assert seen(book, without) != whole
        book.set_notes({noted: notes[noted]})
        assert seen(book, overview.overview(book, known)) == whole


def test_it_says_what_the_whole_results_say(scenario: Path) -> None:
    with Logbook(scenario) as book:
        known = register.load(book)
        found = overview.overview(book, known)
        one_by_one = results.analysed(book, known)
        for entry, one in zip(found.flights, one_by_one, strict=True):
            flight_id = entry.flight.flight_id
            assert (flight_id, entry.key, entry.number) == (one.flight.flight_id, one.key, one.record.number)
            assert to_bytes(found.whole(flight_id).result) == to_bytes(one.record.result)
        assert to_bytes(found.season(checks_of(book))) == to_bytes(
            results.season(book, one_by_one, known, checks_of(book))
        )
        assert found.totals(book.flight_ids()).flight_ids == book.flight_ids()


def test_a_brief_reads_back_as_it_was_with_its_maps(scenario: Path) -> None:
    with Logbook(scenario) as book:
        found = overview.overview(book, register.load(book))
        entry = next(e for e in found.flights if len(e.context.packs) == 4)
        flight_id, key = entry.flight.flight_id, entry.key
        whole = brief(found.whole(flight_id)).result
        antennas = [a for r in whole.link.receivers for a in r.antennas if a.bins is not None]
        assert antennas
        read = kept.load(book.cache_folder, flight_id + kept.BRIEF, key, FlightResult)
        assert read is not None
        assert to_bytes(read) == to_bytes(whole)
        assert kept.load(book.cache_folder, flight_id + kept.BRIEF, "0" * 64, FlightResult) is None


@pytest.fixture
def book(tmp_path: Path):
    with Logbook(tmp_path / "book") as opened:
        opened.add([source()], [draft(1), draft(2), draft(3)], aircraft="Heron")
        yield opened


def test_nothing_is_read_where_nothing_changed(book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    known = register.load(book)
    overview.overview(book, known).season()
    read: list[str] = []
    load = kept.load
    monkeypatch.setattr(kept, "load", lambda folder, name, *a: read.append(name) or load(folder, name, *a))
    monkeypatch.setattr(columns.Columns, "extend", lambda *a: pytest.fail("written without need"))
    found = overview.overview(book, known)
    assert read == []
    found.season()
    assert read
    assert not [name for name in read if name.startswith("heron")]


@pytest.mark.parametrize("spoil", ["index", "file", "bit", "gone", "brief", "result"])
def test_what_does_not_read_is_made_again(book: Logbook, spoil: str) -> None:
    known = register.load(book)
    before = seen(book, overview.overview(book, known))
    folder = book.folder / columns.FOLDER
    (flights,) = folder.glob("flights-*.parquet")
    target = {
        "index": folder / columns.INDEX,
        "file": flights,
        "bit": flights,
        "gone": flights,
        "brief": book.cache_folder / f"{book.flight_ids()[0]}{kept.BRIEF}{kept.ENDING}",
        "result": book.cache_folder / f"{book.flight_ids()[0]}{kept.ENDING}",
    }[spoil]
    data = target.read_bytes()
    if spoil == "gone":
        target.unlink()
    elif spoil == "bit":
        target.write_bytes(data[: len(data) // 2] + bytes([data[len(data) // 2] ^ 4]) + data[len(data) // 2 + 1 :])
    else:
        target.write_bytes(b"x" if spoil in ("index", "file") else data[: len(data) // 2])
    damaged = {"index": [columns.INDEX], "brief": [], "result": []}.get(spoil, ["flights"])
    assert columns.damaged(book.folder) == damaged
    assert seen(book, overview.overview(book, known)) == before
    assert columns.damaged(book.folder) == []


def test_tables_of_another_version_are_made_again_and_are_no_damage(book: Logbook) -> None:
    known = register.load(book)
    before = seen(book, overview.overview(book, known))
    index = book.folder / columns.FOLDER / columns.INDEX
    index.write_text(index.read_text().replace(columns.FORMAT, "spooldown columns 1"))
    assert columns.damaged(book.folder) == []
    assert columns.Columns(book.folder).files("flights") == ()
    assert seen(book, overview.overview(book, known)) == before


def test_a_logbook_that_cannot_be_written_is_read_all_the_same(book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    known = register.load(book)
    expected = [to_bytes(a.record.result) for a in results.analysed(book, known)]

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(kept, "write", full)
    monkeypatch.setattr(columns.Columns, "extend", full)
    shutil.rmtree(book.cache_folder)
    found = overview.overview(book, known)
    assert [to_bytes(found.whole(e.flight.flight_id).result) for e in found.flights] == expected
    assert found.season().aircraft[0].flights == 3


def test_files_stay_few_and_every_row_the_newest(tmp_path: Path) -> None:
    def rows(flight: str, value: float) -> dict[str, list[dict[str, object]]]:
        return {
            "flights": [{"flight": flight, "aircraft": "Heron", "level": 0}],
            "figures": [{"flight": flight, "aircraft": "Heron", "measure": "m", "value": value}],
        }

    table = columns.Columns(tmp_path)
    names = [f"f{n:03}" for n in range(40)]
    for n, name in enumerate(names):
        table.extend(rows(name, float(n)))
        assert len(table._index["figures"]) <= 8
    table.extend(rows("f003", 99.0))
    table.extend({"flights": [{"flight": "f004", "aircraft": "Heron", "level": 2}]}, None, [])
    fresh = columns.Columns(tmp_path)
    found = dict(zip(*fresh.read("figures", ["value"]).to_pydict().values(), strict=True))
    assert found == {name: 99.0 if name == "f003" else float(n) for n, name in enumerate(names)}
    some = fresh.read("figures", ["value"], where={"flight": ["f003", "f010"]})
    assert sorted(some.column("value").to_pylist()) == [10.0, 99.0]
    levels = dict(zip(*fresh.read("flights", ["level"]).to_pydict().values(), strict=True))
    assert (levels["f004"], levels["f005"]) == (2, 0)
    # A flight that has no such figure any more: its old rows don't come back.
    fresh.extend({"flights": [{"flight": "f010", "aircraft": "Heron", "level": 0}]})
    assert len(fresh.read("figures", where={"flight": ["f010"]})) == 0
    assert len(columns.Columns(tmp_path).read("figures", ["value"])) == 39
    # Any program reads them.
    for path in (tmp_path / columns.FOLDER).glob("figures-*.parquet"):
        assert "measure" in pq.read_schema(path).names


def test_the_library_reads_figures_over_flights(scenario: Path) -> None:
    found = spooldown.figures(scenario, measures=["flight.airborne", "tank.burn_rate"], aircraft=["Tern"])
    assert set(found["measure"]) == {"flight.airborne", "tank.burn_rate"}
    assert set(found["aircraft"]) == {"Tern"}
    assert found["utc_start"].is_monotonic_increasing
    assert set(found.loc[found["measure"] == "tank.burn_rate", "part"]) == {"fuel.left", "fuel.right"}
    rates = found[(found["measure"] == "tank.burn_rate") & found["value"].notna()]
    assert (rates["low"] < rates["value"]).all()
    assert spooldown.figures(scenario, flights=[found["flight"][0]])["flight"].nunique() == 1


def test_check_names_a_damaged_table_and_repair_makes_room_for_a_new_one(book: Logbook) -> None:
    known = register.load(book)
    before = seen(book, overview.overview(book, known))
    assert check(book.folder) == []
    (figures,) = (book.folder / columns.FOLDER).glob("figures-*.parquet")
    figures.write_bytes(figures.read_bytes()[:-9])
    (damage,) = check(book.folder)
    assert "columns/figures" in str(damage)
    (damage,) = check(book.folder, repair=True)
    assert "pages make it again" in str(damage)
    assert check(book.folder) == []
    assert seen(book, overview.overview(book, known)) == before


def test_a_fleet_is_compared_from_the_kept_figures_alone(scenario: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two aircraft have flown: packs of one type beside each other, without reading any flight's result."""
    with Logbook(scenario) as book:
        whole = overview.overview(book, register.load(book))
        monkeypatch.setattr(overview.Overview, "whole", None)
        page = fleet_of(whole, register.load(book))
        assert page is not None
        fleet = page.made()
        (packs,) = (g for g in fleet.groups if "R1" in {m.thing for m in g.kind.members})
        assert {m.thing for m in packs.kind.members} == {"R1", "R2", "P1"}
        assert fleet.judged == 0  # three of a type are too few
        known = {s.member.thing: s for s in packs.compared[0].standings}
        rows = whole.figures([e.flight.flight_id for e in whole.flights], ["pack.resistance"])
        own = [r.value for found in rows.values() for r in found if r.thing == "R1" and not r.doubtful and r.value]
        assert known["R1"].flights == len(own)
        assert {r.measure for found in rows.values() for r in found} <= {"pack.resistance", overview.ALWAYS}
        assert page.mark == fleet_of(whole, register.load(book)).mark  # type: ignore[union-attr]
