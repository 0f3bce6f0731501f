"""Bench procedures by command, and what flights take from them."""

import json
from datetime import date, timedelta

import pytest
from front import run
from made import draft, source
from msgspec.structs import replace

from analyser.bench.procedures import BenchRecord, Procedure
from analyser.core.aircraft import Aircraft, Engine, FlightContext, Tank
from spooldown import register
from spooldown.bench.checklist import checklists, items_in, shown_on, ticks
from spooldown.bench.checklist import keep as keep_list
from spooldown.bench.kept import Scales, bench_records, keep
from spooldown.logbook.book import Logbook
from spooldown.problems import UsageProblem
from spooldown.upkeep.checking import check

DAY = date(2031, 4, 5)
HERON = Aircraft("Heron", engines=(Engine("left", tank="left"),), tanks=(Tank("left", 3600.0),))


def flow(day=DAY, **values):
    return BenchRecord(Procedure.FLOW, day, "Heron", "left", {k: (v,) for k, v in values.items()})


def test_added_listed_removed_by_command(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    typed = ("bench", "add", "supply", "lowest_v=6.4", "--aircraft", "Heron", "--logbook", "book")
    assert "Would keep" in run(*typed, "--dry-run").stdout
    done = run(*typed)
    assert (done.returncode, "Kept as bench record 1" in done.stdout) == (0, True)
    assert "Already there" in run(*typed).stdout
    listed = json.loads(run("bench", "list", "--json", "--logbook", "book").stdout)
    assert listed["records"]["1"]["values"]["lowest_v"] == [6.4]
    assert run("bench", "remove", "7", "--logbook", "book").returncode == 4
    assert "removed" in run("bench", "remove", "1", "--logbook", "book").stdout
    assert "No bench records yet" in run("bench", "list", "--logbook", "book").stdout


def test_readings_need_a_name(tmp_path):
    done = run("bench", "add", "supply", "6.4", "--aircraft", "Heron", "--logbook", tmp_path / "book")
    assert done.returncode == 2
    assert "NAME=NUMBER" in done.stderr
    assert not (tmp_path / "book").exists()


def test_flights_take_the_latest_calibration_before_them():
    scales = Scales(
        [
            flow(measured_ml=500.0, sensor_ml=520.0),
            flow(DAY + timedelta(9), measured_ml=500.0, sensor_ml=500.0),
            flow(DAY + timedelta(9), measured_ml=600.0, pump_percent_min=75.0),
        ]
    )
    context = FlightContext("f", HERON)
    assert scales.given_to(context, DAY - timedelta(1)) is context
    assert scales.given_to(context, None) is context
    assert scales.given_to(context, DAY).sensor_scales["left"].value == pytest.approx(500 / 520)
    late = scales.given_to(context, DAY + timedelta(20))
    assert late.sensor_scales["left"].value == pytest.approx(1.0)
    assert late.aircraft.engines[0].pump_ml_per_min_at_full == pytest.approx(800.0)
    assert late.pump_scales["left"].value == pytest.approx(1.0)
    other = replace(context, aircraft=replace(HERON, name="Gull"))
    assert scales.given_to(other, DAY) is other


def test_a_record_outlives_its_catalogue_and_damage_is_told(tmp_path):
    record = flow(measured_ml=500.0, sensor_ml=520.0)
    with Logbook(tmp_path / "book") as book:
        assert keep(book, record) == ("1", True)
        assert keep(book, record) == ("1", False)
    (tmp_path / "book" / "catalogue.sqlite").unlink()
    check(tmp_path / "book", repair=True)
    with Logbook(tmp_path / "book") as book:
        assert bench_records(book) == {"1": record}
        book.change_records("bench", lambda _: {"2": '{"procedure": "juggling"}'})
        assert bench_records(book) == {"1": record}
        assert "bench 2 in the catalogue is damaged" in "".join(map(str, book.left_out))


def test_a_sheet_is_kept_whole_or_not_at_all(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with Logbook(tmp_path / "book") as book:
        register.add(book, register.EXAMPLE.encode(), "heron.toml")
    head = "procedure,aircraft,of,day,readings,remarks\n"
    good = (
        "priming,Heron,main,2026-04-04,volume_ml=1200 air=few_bubbles,windy\nsupply,Heron,,2026-04-05,lowest_v=6.4,\n"
    )
    (tmp_path / "bench.csv").write_text(head + good)
    (tmp_path / "slip.csv").write_text(head + good + "supply,Heron,,2026-04-06,lowest_w=6.4,\n")
    done = run("bench", "add", "--sheet", "slip.csv", "--logbook", "book")
    assert done.returncode == 3
    assert "line 4" in done.stderr
    assert "did you mean 'lowest_v'" in done.stderr
    assert "Kept 2\xa0bench records" in run("bench", "add", "--sheet", "bench.csv", "--logbook", "book").stdout
    assert "2 already there" in run("bench", "add", "--sheet", "bench.csv", "--logbook", "book").stdout
    with Logbook(tmp_path / "book") as book:
        first, _ = bench_records(book).values()
        assert first.choices == {"air": "few bubbles"}
    assert (
        "a bench sheet"
        in run("import", "bench.csv", "--logbook", "book").stdout
        + run("import", "bench.csv", "--logbook", "book").stderr
    )


def test_a_checklist_is_begun_changed_and_ticked(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with Logbook(tmp_path / "book") as book:
        register.add(book, register.EXAMPLE.encode(), "heron.toml")
        (flight,) = book.add([source()], [draft()], aircraft="Heron")
    where = ("--logbook", "book")
    assert "common practice, no source" in run("checklist", "start", "heron", *where).stdout
    assert run("checklist", "start", "heron", *where).returncode == 2
    (tmp_path / "mine.txt").write_text("# mine\nPacks charged\nTanks full\n\nHatches locked\n")
    assert "3\xa0items" in run("checklist", "set", "Heron", "mine.txt", *where).stdout
    assert "  2. Tanks full" in run("checklist", "show", "Heron", *where).stdout
    assert "Ticked 2 of 3" in run("checklist", "tick", flight, "1", "3", *where).stdout
    assert "no item 4" in run("checklist", "tick", flight, "4", *where).stderr
    assert run("checklist", "tick", flight, *where).returncode == 2
    with Logbook(tmp_path / "book") as book:
        assert shown_on(checklists(book), ticks(book), "Heron", flight) == (
            ("Packs charged", True),
            ("Tanks full", False),
            ("Hatches locked", True),
        )
        keep_list(book, "Heron", ["Tanks full"])  # what was ticked stays with its flight
        assert ("Packs charged", True) in shown_on(checklists(book), ticks(book), "Heron", flight)


@pytest.mark.parametrize(
    ("text", "said"),
    [("\n# x\n", "empty"), ("a\n" * 2, "twice"), ("a" * 300, "too long"), ("\n".join(map(str, range(99))), "99")],
)
def test_a_list_that_is_none_is_refused(text, said):
    with pytest.raises(UsageProblem, match=said):
        items_in(text)
